"""The password: set, checked, limited in its attempts; and the key that signs what browsers keep."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from werkzeug.security import check_password_hash, generate_password_hash

from app.engine.errors import FieldFault, InputError
from app.store import settings
from app.store.opening import Store

SHORTEST_PASSWORD, LONGEST_PASSWORD = 10, 200
MOST_FAILURES = 5
FAILURES_COUNT_FOR = timedelta(minutes=5)
_KEY_BYTES = 32


def checked_password(password: str) -> str:
    """The password, where it can be one.

    Raises
    ------
    InputError
        When it is too short or too long.
    """
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        what = f"must have {SHORTEST_PASSWORD} to {LONGEST_PASSWORD} characters"
        raise InputError([FieldFault("password", what)])
    return password


def hash_of(password: str) -> str:
    """What is kept of a password."""
    return generate_password_hash(checked_password(password))


def set_password(store: Store, password: str) -> None:
    """Keep a new password; every log-in made with the former one ends."""
    kept = hash_of(password)
    with store.session() as session:
        settings.put(session, settings.PASSWORD_HASH, kept)
        settings.forget_failed_logins(session)


def remove_password(store: Store) -> None:
    """Forget the password."""
    with store.session() as session:
        settings.remove(session, settings.PASSWORD_HASH)


def kept_hash(store: Store) -> str | None:
    """What is kept of the password, None where none is set."""
    with store.reading() as session:
        return settings.get(session, settings.PASSWORD_HASH)


def epoch_of(hashed: str) -> str:
    """A short mark of a password, which a log-in carries and which ends with the password."""
    return hashlib.sha256(hashed.encode()).hexdigest()[:16]


def try_password(store: Store, hashed: str, password: str, now: datetime) -> str | None:
    """Check a password; the sentence to show where it fails, or None.

    Failures are counted in the store, over all visitors and workers: a local app has few.
    """
    since = now - FAILURES_COUNT_FOR
    with store.session() as session:
        # Counted first and taken back, so that attempts made at once count too.
        if not settings.note_failed_login(session, now, since, MOST_FAILURES):
            return f"too many failed attempts; wait {FAILURES_COUNT_FOR.seconds // 60} minutes"
    if not check_password_hash(hashed, password[:LONGEST_PASSWORD]):
        return "this is not the password"
    with store.session() as session:
        settings.forget_failed_logins(session)
    return None


def signing_key(store: Store) -> str:
    """The key that signs cookies; made once, so that a restart ends no log-in."""
    with store.reading() as session:
        kept = settings.get(session, settings.SECRET_KEY)
    return kept or settings.put_first(store, settings.SECRET_KEY, secrets.token_hex(_KEY_BYTES))
