"""Trials in the store, on both engines. Invented trials."""

from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, event, text

from app.engine.errors import InputError, UnknownId
from app.services.backup import restore_backup
from app.store import archive, pending, trials
from app.store.changed import Changed
from app.store.opening import Store, migrate, open_in_memory, open_store
from app.store.restoring import restore
from tests.store.test_archive import holding, rows_of, with_manifest, written
from tests.store.test_products import LATER, NOW


def document(**told: Any) -> dict[str, Any]:
    plot = {"weed": "wild-violet", "days_after": 28, "treatment": "triclopyr", "rep": "1", "control_pct": 71.5}
    return {"treatments": [{"name": "triclopyr"}], "plots": [plot], **told}


def seen(weed: str, **told: Any) -> dict[str, Any]:
    """What a trial adds to the records of one weed."""
    rate = {"value": 1.0, "unit": "lb ae/acre"}
    made = {"name": "Fennick", "kind": "plots", "treatment": "triclopyr", "active": "triclopyr", "rate": rate}
    figures = {"stage": "flowering", "days_after": 28, "n": 4, "control_pct": 71.5, "log_odds": 0.92, "variance": 0.02}
    return {**made, **figures, "weed": weed, "season": None, **told}


EVIDENCE = [seen("wild-violet"), seen("dandelion", control_pct=90.0, n=3)]


def put(store: Store, *names: str) -> tuple[trials.Stored, ...]:
    with store.session() as session:
        return trials.insert(session, [(name, document(notes=name), EVIDENCE) for name in names], NOW)


def kept(store: Store) -> tuple[trials.Stored, ...]:
    with store.reading() as session:
        return trials.every(session)


def test_what_is_put_in_comes_out(store: Store) -> None:
    made = put(store, "Fennick violets, é", "Alder Green")
    assert kept(store) == (made[1], made[0])
    with store.reading() as session:
        found = trials.by_slug(session, "fennick-violets-e")
    assert found == trials.Stored(
        "fennick-violets-e", "Fennick violets, é", document(notes="Fennick violets, é"), EVIDENCE, 1, NOW
    )


def test_trials_come_in_together_or_not_at_all(store: Store) -> None:
    put(store, "Fennick")
    with pytest.raises(InputError, match="one of these names is that of another trial already"):
        put(store, "Alder", "FENNICK ")
    with pytest.raises(InputError, match="stands twice"):
        put(store, "Birch", "birch")
    with pytest.raises(InputError, match="'fennick' is the name of another trial already; choose another name"):
        put(store, "fennick")
    assert [item.name for item in kept(store)] == ["Fennick"]


def test_an_id_hides_no_page_or_call(store: Store) -> None:
    made = put(store, "Fen 1", "Fen-1", "Synthesis", "Import", "Analyse", "Ratings")
    assert [item.slug for item in made] == ["fen-1", "fen-1-2", "synthesis-1", "import-1", "analyse-1", "ratings-1"]


def test_a_change_needs_the_version_it_was_made_on(store: Store) -> None:
    (made,) = put(store, "Fennick")
    with store.session() as session:
        changed = trials.update(session, made.slug, "Fennick 2027", document(), [], made.version, LATER)
    assert changed == trials.Stored(made.slug, "Fennick 2027", document(), [], made.version + 1, LATER)
    assert kept(store) == (changed,)
    with pytest.raises(Changed) as caught, store.session() as session:
        trials.update(session, made.slug, "Mine", document(notes="mine"), [], made.version, LATER)
    told = caught.value
    assert (told.kind, told.key, told.name, told.version) == ("trial", made.slug, "Fennick 2027", changed.version)
    assert told.stored == {"name": "Fennick 2027", **document()}
    with pytest.raises(Changed), store.session() as session:
        trials.delete(session, made.slug, made.version)
    assert kept(store) == (changed,)
    with store.session() as session:
        trials.delete(session, made.slug, changed.version)
    assert kept(store) == ()
    with pytest.raises(Changed, match="removed") as gone, store.session() as session:
        trials.update(session, made.slug, "Mine", document(), [], changed.version, LATER)
    assert (gone.value.stored, gone.value.version) == (None, None)


def test_a_new_name_that_is_taken_changes_nothing(store: Store) -> None:
    first, second = put(store, "Fennick", "Alder")
    with pytest.raises(InputError, match="'ALDER' is the name of another trial"), store.session() as session:
        trials.update(session, first.slug, "ALDER", document(), [], first.version, LATER)
    assert kept(store) == (second, first)


def test_of_two_at_once_one_wins_and_the_other_is_told(store: Store) -> None:
    (made,) = put(store, "Fennick")
    together, outcomes = threading.Barrier(2), list[str]()

    def change(mark: str) -> None:
        together.wait(timeout=10)
        try:
            with store.session() as session:
                trials.update(session, made.slug, "Fennick", document(notes=mark), [], made.version, LATER)
        except Changed:
            outcomes.append("told")
        else:
            outcomes.append(mark)

    threads = [threading.Thread(target=change, args=(mark,)) for mark in ("first", "second")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    (winner,) = [mark for mark in outcomes if mark != "told"]
    assert sorted(outcomes) == sorted(["told", winner])
    (now,) = kept(store)
    assert now.document["notes"] == winner


def test_of_two_that_bring_one_name_one_is_refused(store: Store) -> None:
    together, outcomes = threading.Barrier(2), list[str]()

    def bring() -> None:
        together.wait(timeout=10)
        try:
            put(store, "Fennick")
        except InputError as error:
            outcomes.append(error.faults[0].path)
        else:
            outcomes.append("kept")

    threads = [threading.Thread(target=bring) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert sorted(outcomes) == ["kept", "name"]
    assert len(kept(store)) == 1


def test_evidence_is_read_of_those_alone_that_name_a_weed(store: Store) -> None:
    told = [("Alder", document(), [seen("henbit")]), ("Fennick", document(), EVIDENCE)]
    with store.session() as session:
        trials.insert(session, told, NOW)
    with store.reading() as session:
        names = {
            key: [name for _, name, _ in trials.evidence(session, {key})] for key in ("henbit", "dandelion", "violet")
        }
        assert names == {"henbit": ["Alder"], "dandelion": ["Fennick"], "violet": []}
        assert len(trials.evidence(session, {"henbit", "wild-violet"})) == 2
        assert trials.evidence(session, set()) == ()
        # Signs that stand for any text in a search stand for themselves here.
        assert trials.evidence(session, {"%", "_enbit"}) == ()


def test_evidence_is_read_without_the_documents(store: Store) -> None:
    put(store, "Fennick", "Alder")
    asked = list[str]()

    @event.listens_for(store.engine, "before_cursor_execute")
    def listen(_connection: Any, _cursor: Any, statement: str, *_: Any) -> None:
        asked.append(statement)

    with store.reading() as session:
        assert trials.evidence(session) == (("alder", "Alder", EVIDENCE), ("fennick", "Fennick", EVIDENCE))
    assert any("evidence" in statement for statement in asked)
    assert not any("document" in statement for statement in asked)


@pytest.mark.parametrize("slug", ["", "not-there", "a\0b", "\ud800", "A", "é"])
def test_an_id_that_is_not_there_is_said(store: Store, slug: str) -> None:
    with pytest.raises(UnknownId), store.reading() as session:
        trials.by_slug(session, slug)
    with pytest.raises(Changed, match="removed"), store.session() as session:
        trials.delete(session, slug, 1)


def test_trials_go_through_an_archive_and_back(store: Store) -> None:
    put(store, "Fennick \u2028 \U0001f33f", "Alder")
    other = open_in_memory()
    put(other, "Goes away")
    assert restore(other, written(store))["trial"] == 2
    assert kept(other) == kept(store)
    restore(store, written(other))
    assert kept(store) == kept(other)
    # Ids go on counting behind the highest.
    put(store, "One more")
    assert len(kept(store)) == 3


def test_a_form_opened_before_a_restore_does_not_fit_what_was_restored(store: Store) -> None:
    (made,) = put(store, "Fennick")
    data = written(store)
    with store.session() as session:
        opened = trials.update(session, made.slug, "Fennick", document(), [], made.version, LATER)
    restore(store, data)
    (now,) = kept(store)
    assert (now.document, now.version) == (made.document, opened.version + 1)


def with_trial(data: bytes, **told: object) -> bytes:
    """An archive whose first trial is another."""
    first, *others = rows_of(data, "trial")
    return holding(data, trial="".join(json.dumps(row) + "\n" for row in ({**first, **told}, *others)).encode())


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"document": []}, "does not hold what it should in document"),
        ({"document": "text"}, "does not hold what it should in document"),
        ({"document": {"plots": []}}, "trial that cannot be used"),
        ({"document": {**document(), "unknown": 1}}, "trial that cannot be used"),
        ({"document": {**document(), "place": 7}}, "trial that cannot be used"),
        ({"evidence": {}}, "does not hold what it should in evidence"),
        ({"evidence": None}, "does not hold what it should in evidence"),
        ({"evidence": [1]}, "trial that cannot be used"),
        ({"evidence": [seen("wild-violet", variance=0.0)]}, "trial that cannot be used"),
        ({"evidence": [seen("wild-violet", log_odds="much")]}, "trial that cannot be used"),
        ({"evidence": [seen("wild-violet", log_odds=1e300)]}, "trial that cannot be used"),
        ({"evidence": [seen("wild-violet", variance=5e-324)]}, "trial that cannot be used"),
        ({"evidence": [seen("wild-violet", stage="x" * 41)]}, "trial that cannot be used"),
        ({"version": "1"}, "does not hold what it should in version"),
        ({"name": None}, "does not hold what it should in name"),
    ],
)
def test_a_trial_that_cannot_be_read_back_is_refused(store: Store, told: dict[str, object], said: str) -> None:
    put(store, "Fennick")
    before = kept(store)
    restore_backup(store, written(store), NOW)
    with pytest.raises(InputError, match=said) as caught:
        restore_backup(store, with_trial(written(store), **told), NOW)
    assert "nothing was changed" in str(caught.value)
    assert kept(store) == before


def test_an_archive_that_lacks_its_trials_is_refused(store: Store) -> None:
    without = with_manifest(written(open_in_memory(to="0002")), revision="0003")
    with pytest.raises(InputError, match="lacks trial"):
        restore(store, without)


@pytest.mark.parametrize("revision", ["0001", "0002"])
def test_an_archive_from_before_there_were_trials_is_restored(store: Store, revision: str) -> None:
    older = open_in_memory(to=revision)
    with older.engine.begin() as connection:
        connection.execute(text("INSERT INTO setting (key, value) VALUES ('branch', 'Fennick')"))
    data = written(older)
    assert (archive.read(data).revision, "trial" in archive.read(data).rows) == (revision, False)
    put(store, "Goes away")
    counts, _ = restore_backup(store, data, NOW)
    assert {name: count for name, count in counts.items() if count} == {"setting": 1}
    assert kept(store) == ()
    put(store, "Fennick")
    assert len(kept(store)) == 1


def test_a_file_that_waits_while_an_older_store_is_brought_up_is_of_the_shelf(address: str, tmp_path: Path) -> None:
    older = Store(create_engine(address), tmp_path)
    migrate(older, to="0002")
    with older.engine.begin() as connection:
        connection.execute(
            text("INSERT INTO pending_import (key, text, seen, at) VALUES ('waiting', 'a file', '{}', :at)"),
            {"at": "2027-03-01 12:00:00+00" if older.engine.dialect.name == "postgresql" else "2027-03-01 12:00:00"},
        )
    older.close()
    store = open_store(tmp_path / "data", address)
    with store.reading() as session:
        assert pending.found(session, "waiting", NOW) == pending.Pending("a file", {})
        assert pending.found(session, "waiting", NOW, "trials") is None
    store.close()
