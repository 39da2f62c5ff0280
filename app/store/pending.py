"""Uploaded files that wait for their confirmation: few, and not for long."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from app.store.models import PendingImportRow

KEPT_FOR = timedelta(hours=2)
MOST_KEPT = 10


@dataclass(frozen=True)
class Pending:
    """A file as it was uploaded, and the version of each product that its preview saw."""

    text: str
    seen: dict[str, int]


def keep(session: Session, text: str, seen: dict[str, int], now: datetime) -> str:
    """Keep a file; the key under which it is found. Old ones, and all but the newest few, are forgotten."""
    session.execute(delete(PendingImportRow).where(PendingImportRow.at < now - KEPT_FOR))
    newest = session.scalars(
        select(PendingImportRow.key).order_by(PendingImportRow.at.desc(), PendingImportRow.key).limit(MOST_KEPT - 1)
    ).all()
    session.execute(delete(PendingImportRow).where(PendingImportRow.key.not_in(newest)))
    key = secrets.token_urlsafe(24)
    session.add(PendingImportRow(key=key, text=text, seen=seen, at=now))
    session.flush()
    return key


def found(session: Session, key: str, now: datetime) -> Pending | None:
    """The file of a key, None where it waited too long or was confirmed."""
    row = session.get(PendingImportRow, key)
    if row is None or row.at < now - KEPT_FOR:
        return None
    return Pending(row.text, {slug: int(version) for slug, version in row.seen.items()})


def forget(session: Session, key: str) -> None:
    """Forget a file."""
    session.execute(delete(PendingImportRow).where(PendingImportRow.key == key))
