"""What an archive holds, and each reason for which one is refused. Both engines."""

from __future__ import annotations

import hashlib
import io
import json
import struct
import tracemalloc
import zipfile

import pytest
from sqlalchemy import text

from app.engine.errors import InputError
from app.store import archive, products, restoring, settings, sprayers
from app.store.opening import Store, open_in_memory
from tests.store.test_products import FULL, NOW, kept, product


def filled(store: Store) -> Store:
    with store.session() as session:
        products.insert(session, [FULL, product("Alder")], NOW)
        sprayers.insert(session, "Tank one", {"tank": 50, "note": "é"}, NOW)
        settings.put(session, "branch", "Fennick")
        settings.put(session, settings.SECRET_KEY, "secret-of-this-installation")
    return store


def written(store: Store) -> bytes:
    return archive.write(store, NOW, "0.1.0", "abc")


def settings_of(store: Store) -> dict[str, str]:
    with store.reading() as session:
        return {row.key: row.value for row in session.execute(text("SELECT key, value FROM setting"))}


def test_no_secret_is_in_it(store: Store) -> None:
    data = written(filled(store))
    with zipfile.ZipFile(io.BytesIO(data)) as opened:
        content = b"".join(opened.read(name) for name in opened.namelist())
    assert b"secret-of-this-installation" not in content
    assert b"Larkmere Plain" in content


def test_equal_stores_give_equal_archives(store: Store) -> None:
    filled(store)
    assert written(store) == written(store)


def test_the_manifest_tells_what_is_inside(store: Store) -> None:
    with zipfile.ZipFile(io.BytesIO(written(filled(store)))) as opened:
        manifest = json.loads(opened.read(archive.MANIFEST))
        held = opened.read("product.jsonl")
    assert (manifest["program"], manifest["knowledge"], manifest["written"]) == ("0.1.0", "abc", NOW.isoformat())
    assert manifest["files"]["product.jsonl"] == {"sha256": hashlib.sha256(held).hexdigest(), "rows": 2}


def changed(data: bytes, **files: bytes | None) -> bytes:
    """An archive with some files replaced or left out (names with `_` for `.`)."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as opened, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive_:
        for name in opened.namelist():
            held = files.get(name.replace(".", "_"), opened.read(name))
            if held is not None:
                archive_.writestr(name, held)
    return out.getvalue()


def with_manifest(data: bytes, **told: object) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as opened:
        manifest = json.loads(opened.read(archive.MANIFEST))
    return changed(data, manifest_json=json.dumps({**manifest, **told}).encode())


def holding(data: bytes, **tables: bytes) -> bytes:
    """An archive made by hand: other lines in some tables, under a manifest that fits them."""
    with zipfile.ZipFile(io.BytesIO(data)) as opened:
        files = json.loads(opened.read(archive.MANIFEST))["files"]
    for name, lines in tables.items():
        files[f"{name}.jsonl"] = {"sha256": hashlib.sha256(lines).hexdigest(), "rows": lines.count(b"\n")}
    return changed(with_manifest(data, files=files), **{f"{name}_jsonl": lines for name, lines in tables.items()})


def rows_of(data: bytes, table: str) -> list[dict[str, object]]:
    with zipfile.ZipFile(io.BytesIO(data)) as opened:
        return [json.loads(line) for line in opened.read(f"{table}.jsonl").decode().split("\n") if line]


def with_product(data: bytes, **told: object) -> bytes:
    """An archive whose first product is another."""
    first, *others = rows_of(data, "product")
    lines = "".join(json.dumps(row) + "\n" for row in ({**first, **told}, *others))
    return holding(data, product=lines.encode())


def flipped(data: bytes) -> bytes:
    """One bit of the first file's packed bytes turned."""
    place = data.index(b"product.jsonl") + len(b"product.jsonl") + 5
    return data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :]


def packed_otherwise(data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as opened, zipfile.ZipFile(out, "w", zipfile.ZIP_BZIP2) as archive_:
        for name in opened.namelist():
            archive_.writestr(name, opened.read(name))
    return out.getvalue()


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda _: b"", "damaged or no backup"),
        (lambda _: b"a text, no archive", "damaged or no backup"),
        (lambda data: data[: len(data) // 2], "damaged or no backup"),
        (flipped, "damaged"),
        (packed_otherwise, "no backup"),
        (lambda data: changed(data, product_jsonl=b"{}\n"), "product.jsonl is not as it was written"),
        (lambda data: changed(data, product_jsonl=None), "product.jsonl is not as it was written"),
        (lambda data: changed(data, manifest_json=None), "manifest is missing"),
        (lambda data: changed(data, manifest_json=b"[]"), "manifest"),
        (lambda data: changed(data, manifest_json=b"[" * 100_000), "manifest"),
        (lambda data: with_manifest(data, format=archive.FORMAT + 1), "newer version"),
        (lambda data: with_manifest(data, revision="9999"), "newer version"),
        (lambda data: with_manifest(data, files={"product.jsonl": {}}), "not complete"),
        (lambda data: with_manifest(data, files={}), "lacks application, application_change, branch"),
        (lambda data: holding(data, setting=b'{"key": "a", "value": "b"'), "does not hold what it should"),
        (lambda data: holding(data, setting=b'{"key": "a", "value": "b"\n'), "setting.jsonl cannot be read"),
        (lambda data: holding(data, setting=b"\xff\n"), "setting.jsonl cannot be read"),
        (lambda data: holding(data, setting=b"null\n"), "does not hold what it should"),
        (lambda data: holding(data, setting=b'{"key": "a"}\n'), "does not hold what it should"),
        (lambda data: holding(data, setting=b'{"key": "a", "value": 7}\n'), "what it should in value"),
        (lambda data: holding(data, setting=b'{"key": "a", "value": "b"}\n' * 2), "cannot be read back"),
        (lambda data: with_product(data, version="first"), "what it should in version"),
        (lambda data: with_product(data, version=None), "what it should in version"),
        (lambda data: with_product(data, version=2**70), "cannot be read back"),
        (lambda data: with_product(data, stock_value=float("nan")), "product.jsonl cannot be read"),
        (lambda data: with_product(data, changed_at="yesterday"), "what it should in changed_at"),
        (lambda data: with_product(data, label=[]), "what it should in label"),
        (lambda data: with_product(data, slug="alder"), "cannot be read back"),
    ],
)
def test_what_cannot_be_restored_changes_nothing(store: Store, spoil, said: str) -> None:  # type: ignore[no-untyped-def]
    data = written(filled(store))
    before = (kept(store), settings_of(store))
    with pytest.raises(InputError, match=said) as caught:
        restoring.restore(store, spoil(data))
    assert "nothing was changed" in str(caught.value)
    assert (kept(store), settings_of(store)) == before


def test_an_archive_that_unpacks_to_too_much_is_not_read(monkeypatch: pytest.MonkeyPatch) -> None:
    store = filled(open_in_memory())
    data = written(store)
    monkeypatch.setattr(archive, "MOST_BYTES", len(data))
    with pytest.raises(InputError, match="and is not read"):
        restoring.restore(store, data)
    monkeypatch.setattr(archive, "MOST_BYTES", 100)
    with pytest.raises(InputError, match="and is not read"):
        restoring.restore(store, data)


def test_an_archive_that_hides_its_size_costs_no_memory() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as opened:
        opened.writestr(archive.MANIFEST, bytes(80_000_000))
    data = bytearray(out.getvalue())
    # The size of the content, in the head of the file and in the directory behind it (APPNOTE 4.3.7 and 4.3.12,
    # from memory): a hundred bytes, it says.
    data[22:26] = struct.pack("<I", 100)
    directory = data.index(b"PK\x01\x02")
    data[directory + 24 : directory + 28] = struct.pack("<I", 100)
    tracemalloc.start()
    with pytest.raises(InputError, match="nothing was changed"):
        archive.read(bytes(data))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 4_000_000


def test_a_key_in_an_archive_is_not_taken() -> None:
    data = holding(written(filled(open_in_memory())), setting=b'{"key": "secret-key", "value": "known"}\n')
    store = open_in_memory()
    assert restoring.restore(store, data)["setting"] == 0
    assert settings_of(store) == {}
