"""Backup and restore: exact on and across both engines, and nothing half-restored."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import text

from app.engine.errors import InputError
from app.store import archive, products, settings, sprayers
from app.store.opening import Store, newest_revision, open_in_memory
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


def test_what_is_restored_is_what_was_kept(store: Store) -> None:
    data = written(filled(store))
    other = open_in_memory()
    with other.session() as session:
        products.insert(session, [product("Goes away")], NOW)
        settings.put(session, settings.SECRET_KEY, "another")
    counts = archive.restore(other, data)
    assert counts == {"product": 2, "setting": 1, "sprayer": 1}
    assert kept(other) == kept(store)
    with other.reading() as session, store.reading() as of_store:
        assert sprayers.every(session) == sprayers.every(of_store)
    # The key that signs cookies stays with its installation.
    assert settings_of(other) == {"branch": "Fennick", settings.SECRET_KEY: "another"}
    # And back again on the engine at hand, where ids go on counting behind the highest.
    archive.restore(store, written(other))
    assert kept(store) == kept(other)
    with store.session() as session:
        products.insert(session, [product("One more")], NOW)
    assert len(kept(store)) == 3


def test_no_secret_is_in_it(store: Store) -> None:
    data = written(filled(store))
    with zipfile.ZipFile(io.BytesIO(data)) as opened:
        content = b"".join(opened.read(name) for name in opened.namelist())
    assert b"secret-of-this-installation" not in content
    assert b"Larkmere Plain" in content


def test_equal_stores_give_equal_archives(store: Store) -> None:
    filled(store)
    assert written(store) == written(store)


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


def flipped(data: bytes) -> bytes:
    """One bit of the first file's packed bytes turned."""
    place = data.index(b"product.jsonl") + len(b"product.jsonl") + 5
    return data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :]


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda _: b"", "damaged or no backup"),
        (lambda _: b"a text, no archive", "damaged or no backup"),
        (lambda data: data[: len(data) // 2], "damaged or no backup"),
        (flipped, "damaged"),
        (lambda data: changed(data, product_jsonl=b"{}\n"), "product.jsonl is not as it was written"),
        (lambda data: changed(data, product_jsonl=None), "product.jsonl is not as it was written"),
        (lambda data: changed(data, manifest_json=None), "manifest is missing"),
        (lambda data: changed(data, manifest_json=b"[]"), "manifest"),
        (lambda data: with_manifest(data, format=archive.FORMAT + 1), "newer version"),
        (lambda data: with_manifest(data, revision="9999"), "newer version"),
        (lambda data: with_manifest(data, files={"product.jsonl": {}}), "not complete"),
    ],
)
def test_what_cannot_be_restored_changes_nothing(store: Store, spoil, said: str) -> None:  # type: ignore[no-untyped-def]
    data = written(filled(store))
    before = (kept(store), settings_of(store))
    with pytest.raises(InputError, match=said) as caught:
        archive.restore(store, spoil(data))
    assert "nothing was changed" in str(caught.value)
    assert (kept(store), settings_of(store)) == before


def test_rows_that_do_not_fit_are_refused_whole(store: Store) -> None:
    import hashlib

    rows = b'{"key": "a", "value": "b"}\n{"key": "a", "value": "c"}\n'
    data = written(filled(store))
    told = {"setting.jsonl": {"sha256": hashlib.sha256(rows).hexdigest(), "rows": 2}}
    spoilt = changed(with_manifest(data, files=told), setting_jsonl=rows)
    before = kept(store)
    with pytest.raises(InputError, match="cannot be read back"):
        archive.restore(store, spoilt)
    assert kept(store) == before


def test_an_archive_that_unpacks_to_too_much_is_not_read(monkeypatch: pytest.MonkeyPatch) -> None:
    store = filled(open_in_memory())
    data = written(store)
    monkeypatch.setattr(archive, "MOST_BYTES", 100)
    with pytest.raises(InputError, match="and is not read"):
        archive.restore(store, data)


def test_an_older_archive_comes_up_through_the_migrations(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # A later revision made for this test alone: it splits the branch setting off under another key.
    import shutil

    from app.store import opening

    data = written(filled(open_in_memory()))
    later = tmp_path / "migrations"
    shutil.copytree(opening._MIGRATIONS, later, ignore=shutil.ignore_patterns("__pycache__"))
    (later / "versions" / "later.py").write_text(
        'from alembic import op\nrevision = "later"\ndown_revision = "' + newest_revision() + '"\n'
        "def upgrade():\n    op.execute(\"UPDATE setting SET key = 'place' WHERE key = 'branch'\")\n"
    )
    monkeypatch.setattr(opening, "_MIGRATIONS", later)
    store = open_in_memory()
    assert newest_revision() == "later"
    archive.restore(store, data)
    assert settings_of(store) == {"place": "Fennick"}
    assert len(kept(store)) == 2


def test_a_populated_older_store_is_kept_aside_and_brought_up(
    address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import shutil

    from app.services.backup import keep_aside
    from app.store import opening

    filled(opening.open_store(tmp_path, address)).close()
    first = newest_revision()
    later = tmp_path / "migrations"
    shutil.copytree(opening._MIGRATIONS, later, ignore=shutil.ignore_patterns("__pycache__"))
    (later / "versions" / "later.py").write_text(
        'from alembic import op\nimport sqlalchemy as sa\nrevision = "later"\n'
        f'down_revision = "{newest_revision()}"\n'
        "def upgrade():\n    op.add_column('sprayer', sa.Column('kind', sa.String(20), nullable=True))\n"
    )
    monkeypatch.setattr(opening, "_MIGRATIONS", later)
    aside = list[Path]()
    store = opening.open_store(
        tmp_path, address, before_migration=lambda s: aside.append(keep_aside(s, datetime(2027, 1, 1, tzinfo=UTC)))
    )
    assert len(kept(store)) == 2
    with store.engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT kind FROM sprayer").all() == [(None,)]
    store.close()
    assert aside[0].read_bytes()[:2] == b"PK"
    again = open_in_memory()
    with zipfile.ZipFile(aside[0]) as opened:
        assert json.loads(opened.read(archive.MANIFEST))["revision"] == first
    again.close()
