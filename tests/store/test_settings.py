"""Settings and failed log-ins, where several workers meet at the same moment. Both engines."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from app.services import accounts
from app.store import settings
from app.store.opening import Store, open_store

MOMENT = datetime(2027, 3, 1, 12, 0, tzinfo=UTC)


def at_once(count: int, act: Callable[[], Any]) -> list[Any]:
    """What an act answers to so many who do it at the same moment."""
    together, found = threading.Barrier(count), list[Any]()

    def one() -> None:
        together.wait(timeout=10)
        found.append(act())

    threads = [threading.Thread(target=one) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert len(found) == count, "each was answered"
    return found


def test_a_setting_is_kept_changed_and_forgotten(store: Store) -> None:
    with store.session() as session:
        assert settings.get(session, "branch") is None
        settings.put(session, "branch", "Fennick")
        settings.put(session, "branch", "Larkmere")
    with store.session() as session:
        assert settings.get(session, "branch") == "Larkmere"
        settings.remove(session, "branch")
    assert settings.put_first(store, "branch", "Fennick") == "Fennick"
    assert settings.put_first(store, "branch", "Larkmere") == "Fennick"


def test_workers_that_start_together_sign_with_one_key(store: Store) -> None:
    keys = at_once(6, lambda: accounts.signing_key(store))
    assert len(set(keys)) == 1
    assert accounts.signing_key(store) == keys[0]


def test_attempts_made_at_once_count_one_by_one(store: Store) -> None:
    hashed = accounts.hash_of("a long password")
    said = at_once(10, lambda: accounts.try_password(store, hashed, "not this one", MOMENT))
    assert said.count("this is not the password") == accounts.MOST_FAILURES
    assert sum("too many" in sentence for sentence in said) == 10 - accounts.MOST_FAILURES


def test_an_attempt_that_no_longer_counts_is_forgotten(store: Store) -> None:
    with store.session() as session:
        assert settings.note_failed_login(session, MOMENT, MOMENT - accounts.FAILURES_COUNT_FOR, 1)
    with store.session() as session:
        assert not settings.note_failed_login(session, MOMENT, MOMENT - accounts.FAILURES_COUNT_FOR, 1)
    later = MOMENT + accounts.FAILURES_COUNT_FOR * 2
    with store.session() as session:
        assert settings.note_failed_login(session, later, later - accounts.FAILURES_COUNT_FOR, 1)


def test_workers_that_open_a_new_store_together_all_get_in(address: str, tmp_path: Path) -> None:
    def act() -> str:
        opened = open_store(tmp_path / "data", address)
        try:
            return accounts.signing_key(opened)
        finally:
            opened.close()

    assert len(set(at_once(6, act))) == 1
