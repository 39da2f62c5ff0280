"""Files that wait for their confirmation, on each engine."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from app.store import pending
from app.store.opening import Store

NOW = datetime(2027, 3, 1, 12, tzinfo=UTC)


def test_a_file_waits_two_hours_and_no_longer(store: Store) -> None:
    with store.session() as session:
        key = pending.keep(session, "é, text\r\n", {"some-id": 3}, NOW)
    with store.reading() as session:
        found = pending.found(session, key, NOW + timedelta(hours=2))
        assert found == pending.Pending("é, text\r\n", {"some-id": 3})
        assert pending.found(session, key, NOW + timedelta(hours=2, seconds=1)) is None
        assert pending.found(session, "none", NOW) is None


def test_the_newest_few_are_kept_and_old_ones_forgotten(store: Store) -> None:
    with store.session() as session:
        keys = [
            pending.keep(session, str(number), {}, NOW + timedelta(minutes=number))
            for number in range(pending.MOST_KEPT + 3)
        ]
    later = NOW + timedelta(minutes=30)
    with store.reading() as session:
        kept = [key for key in keys if pending.found(session, key, later) is not None]
    assert kept == keys[-pending.MOST_KEPT :]
    with store.session() as session:
        pending.keep(session, "new", {}, NOW + timedelta(hours=9))
        pending.forget(session, keys[-1])
    with store.reading() as session:
        assert all(pending.found(session, key, NOW) is None for key in keys)


def test_a_key_of_one_kind_is_none_of_the_other(store: Store) -> None:
    with store.session() as session:
        shelf = pending.keep(session, "shelf", {}, NOW)
        trials = pending.keep(session, "trials", {"tall-fescue-2026": 2}, NOW, "trials")
    with store.reading() as session:
        assert pending.found(session, shelf, NOW) == pending.Pending("shelf", {})
        assert pending.found(session, trials, NOW, "trials") == pending.Pending("trials", {"tall-fescue-2026": 2})
        assert pending.found(session, shelf, NOW, "trials") is None
        assert pending.found(session, trials, NOW) is None
    with store.session() as session:
        pending.forget(session, trials)
        assert pending.found(session, trials, NOW, "trials") is not None
        pending.forget(session, trials, "trials")
        assert pending.found(session, trials, NOW, "trials") is None


def test_files_of_one_kind_push_out_none_of_the_other(store: Store) -> None:
    with store.session() as session:
        shelf = pending.keep(session, "shelf", {}, NOW)
        keys = [
            pending.keep(session, str(number), {}, NOW + timedelta(minutes=number), "trials")
            for number in range(1, pending.MOST_KEPT + 3)
        ]
        assert pending.found(session, shelf, NOW) is not None
        kept = [key for key in keys if pending.found(session, key, NOW, "trials") is not None]
    assert kept == keys[-pending.MOST_KEPT :]
