"""Settings of this installation, and failed log-ins."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from app.store.models import FailedLoginRow, SettingRow

SECRET_KEY = "secret-key"
PASSWORD_HASH = "password-hash"
# Settings that never leave this installation.
PRIVATE = (SECRET_KEY, PASSWORD_HASH)


def get(session: Session, key: str) -> str | None:
    """A setting, None where it was never set."""
    row = session.get(SettingRow, key)
    return row.value if row is not None else None


def put(session: Session, key: str, value: str) -> None:
    """Keep a setting."""
    row = session.get(SettingRow, key)
    if row is None:
        session.add(SettingRow(key=key, value=value))
    else:
        row.value = value
    session.flush()


def remove(session: Session, key: str) -> None:
    """Forget a setting."""
    session.execute(delete(SettingRow).where(SettingRow.key == key))


def note_failed_login(session: Session, now: datetime, forget_before: datetime) -> None:
    """Count a failed log-in, and forget those that no longer count."""
    session.execute(delete(FailedLoginRow).where(FailedLoginRow.at < forget_before))
    session.add(FailedLoginRow(at=now))
    session.flush()


def failed_logins_since(session: Session, since: datetime) -> int:
    """How many log-ins have failed since a time."""
    return session.scalar(select(func.count()).select_from(FailedLoginRow).where(FailedLoginRow.at >= since)) or 0


def forget_failed_logins(session: Session) -> None:
    """Forget every failed log-in."""
    session.execute(delete(FailedLoginRow))
