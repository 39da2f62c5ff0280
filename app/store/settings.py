"""Settings of this installation, and failed log-ins."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import delete, func, select, text
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.store.models import FailedLoginRow, SettingRow
from app.store.opening import Store

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


def put_first(store: Store, key: str, value: str) -> str:
    """Keep a setting unless it is there already; what is kept, whoever was first."""
    try:
        with store.session() as session:
            found = get(session, key)
            if found is None:
                # Inserted, never changed: what another puts there between the two lines is refused to us.
                session.add(SettingRow(key=key, value=value))
            return found or value
    except IntegrityError:
        # Somebody else was quicker by a moment: theirs counts.
        with store.reading() as session:
            found = get(session, key)
        if found is None:
            raise
        return found


def remove(session: Session, key: str) -> None:
    """Forget a setting."""
    session.execute(delete(SettingRow).where(SettingRow.key == key))


def note_failed_login(session: Session, now: datetime, since: datetime, most: int) -> bool:
    """Count a failed log-in, unless as many as may be have failed since a time; whether it was counted."""
    if session.get_bind().dialect.name == "postgresql":
        # Attempts made at once are counted one behind the other; SQLite lets one write at a time anyhow.
        session.execute(text("LOCK TABLE failed_login IN EXCLUSIVE MODE"))
    session.execute(delete(FailedLoginRow).where(FailedLoginRow.at < since))
    if (session.scalar(select(func.count()).select_from(FailedLoginRow)) or 0) >= most:
        return False
    session.add(FailedLoginRow(at=now))
    session.flush()
    return True


def forget_failed_logins(session: Session) -> None:
    """Forget every failed log-in."""
    session.execute(delete(FailedLoginRow))
