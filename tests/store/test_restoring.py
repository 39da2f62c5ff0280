"""Backup and restore: exact on and across both engines, nothing half-restored, nobody overwritten unseen."""

from __future__ import annotations

import json
import shutil
import threading
import zipfile
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import pytest
from sqlalchemy import Connection

from app.engine.errors import InputError
from app.services.backup import keep_aside, restore_backup
from app.store import archive, opening, products, settings, sprayers
from app.store.changed import Changed
from app.store.opening import Store, newest_revision, open_in_memory
from app.store.restoring import restore
from tests.store.test_archive import filled, settings_of, with_product, written
from tests.store.test_products import FULL, LATER, NOW, kept, product


def test_what_is_restored_is_what_was_kept(store: Store) -> None:
    data = written(filled(store))
    other = open_in_memory()
    with other.session() as session:
        products.insert(session, [product("Goes away")], NOW)
        settings.put(session, settings.SECRET_KEY, "another")
    counts = restore(other, data)
    assert {name: count for name, count in counts.items() if count} == {"product": 2, "setting": 1, "sprayer": 1}
    assert kept(other) == kept(store)
    with other.reading() as session, store.reading() as of_store:
        assert sprayers.every(session) == sprayers.every(of_store)
    # The key that signs cookies stays with its installation.
    assert settings_of(other) == {"branch": "Fennick", settings.SECRET_KEY: "another"}
    # And back again on the engine at hand, where ids go on counting behind the highest.
    restore(store, written(other))
    assert kept(store) == kept(other)
    with store.session() as session:
        products.insert(session, [product("One more")], NOW)
    assert len(kept(store)) == 3


@pytest.mark.parametrize("notes", ["a\u2028b\u2029c\x85d", "e\x0bf\x1cg\r\nh\ti", "\U0001f33f \\ \" '"])
def test_every_letter_comes_back(store: Store, notes: str) -> None:
    with store.session() as session:
        sprayers.insert(session, "Tank one", {"notes": notes}, NOW)
    other = open_in_memory()
    restore(other, written(store))
    restore(store, written(other))
    for found in (store, other):
        with found.reading() as session:
            assert [item.document for item in sprayers.every(session)] == [{"notes": notes}]


def test_a_form_opened_before_a_restore_does_not_fit_what_was_restored(store: Store) -> None:
    with store.session() as session:
        (made,) = products.insert(session, [FULL], NOW)
    data = written(store)
    theirs = FULL.model_copy(update={"notes": "theirs"})
    with store.session() as session:
        opened = products.update(session, made.slug, theirs, made.version, LATER)
    restore(store, data)
    (now,) = kept(store)
    assert (now.product, now.version) == (made.product, opened.version + 1)
    with pytest.raises(Changed), store.session() as session:
        products.update(session, made.slug, theirs, opened.version, LATER)
    # What is the same stays as it is.
    restore(store, written(store))
    assert kept(store) == (now,)


def test_what_fails_at_the_last_moment_changes_nothing(store: Store) -> None:
    data = written(filled(store))
    with store.session() as session:
        products.insert(session, [product("Birch")], LATER)
    before = (kept(store), settings_of(store))

    def fails(_: Connection) -> None:
        raise InputError([opening.FieldFault("backup", "the disk is full")])

    with pytest.raises(InputError, match="disk is full"):
        restore(store, data, before=fails)
    assert (kept(store), settings_of(store)) == before


def test_what_this_database_does_not_take_changes_nothing(store: Store) -> None:
    # PostgreSQL keeps no zero byte in a text (its manual, 8.3, from memory); SQLite does.
    filled(store)
    before = kept(store)
    spoilt = with_product(written(store), name="a\0b")
    if store.engine.dialect.name == "sqlite":
        restore(store, spoilt)
        return
    with pytest.raises(InputError, match="this database does not take"):
        restore(store, spoilt)
    assert kept(store) == before


def test_what_somebody_writes_meanwhile_is_kept_aside_or_stays(store: Store, tmp_path: Path) -> None:
    data = written(filled(store))
    started = threading.Event()

    def write() -> None:
        started.wait(timeout=10)
        with store.session() as session:
            products.insert(session, [product("Birch")], LATER)

    other = threading.Thread(target=write)
    other.start()

    def before(connection: Connection) -> None:
        started.set()
        other.join(timeout=0.5)
        assert other.is_alive(), "nobody writes between what is kept aside and what is replaced"

    restore(store, data, before=before)
    other.join(timeout=30)
    assert [item.product.name for item in kept(store)] == ["Alder", "Birch", "Larkmere Plain"]


def test_an_archive_that_is_refused_leaves_no_file_aside(store: Store, tmp_path: Path) -> None:
    data = written(filled(store))
    before = kept(store)
    for spoilt in (data[:100], with_product(data, label={"name": "nothing else"})):
        with pytest.raises(InputError, match="nothing was changed"):
            restore_backup(store, spoilt, NOW)
    assert kept(store) == before
    assert not opening.backup_folder(store).exists()


def later_migrations(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, upgrade: str) -> None:
    """A revision behind the newest, made for a test alone."""
    later = tmp_path / "migrations"
    shutil.copytree(opening._MIGRATIONS, later, ignore=shutil.ignore_patterns("__pycache__"))
    (later / "versions" / "later.py").write_text(
        "from alembic import op\nimport sqlalchemy as sa\nrevision = 'later'\n"
        f"down_revision = '{newest_revision()}'\ndef upgrade():\n    {upgrade}\n"
    )
    monkeypatch.setattr(opening, "_MIGRATIONS", later)
    assert newest_revision() == "later"


def test_an_older_archive_comes_up_through_the_migrations(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = written(filled(open_in_memory()))
    later_migrations(tmp_path, monkeypatch, "op.execute(\"UPDATE setting SET key = 'place' WHERE key = 'branch'\")")
    restore(store, data)
    assert settings_of(store) == {"place": "Fennick"}
    assert len(kept(store)) == 2


def test_the_first_archives_can_still_be_restored(store: Store) -> None:
    first = open_in_memory(to="0001")
    with first.session() as session:
        products.insert(session, [FULL], NOW)
    data = written(first)
    assert archive.read(data).revision == "0001"
    restore(store, data)
    assert [item.product.name for item in kept(store)] == [FULL.name]
    assert kept(store)[0].changed_at == NOW


def test_a_populated_older_store_is_kept_aside_and_brought_up(
    address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    filled(opening.open_store(tmp_path, address)).close()
    first = newest_revision()
    later_migrations(
        tmp_path, monkeypatch, "op.add_column('sprayer', sa.Column('colour', sa.String(20), nullable=True))"
    )
    aside = list[Path]()
    store = opening.open_store(
        tmp_path, address, before_migration=lambda s: aside.append(keep_aside(s, datetime(2027, 1, 1, tzinfo=UTC)))
    )
    assert len(kept(store)) == 2
    with store.engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT colour FROM sprayer").all() == [(None,)]
    store.close()
    data = aside[0].read_bytes()
    assert aside[0].parent == tmp_path / opening.BACKUPS
    with zipfile.ZipFile(BytesIO(data)) as opened:
        assert json.loads(opened.read(archive.MANIFEST))["revision"] == first
    assert [row["name"] for row in archive.read(data).rows["product"]] == ["Larkmere Plain", "Alder"]
    assert {row["changed_at"] for row in archive.read(data).rows["product"]} == {NOW.isoformat()}
