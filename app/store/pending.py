"""Uploaded files that wait for their confirmation: few, and not for long."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from app.store.models import PendingImportRow

KEPT_FOR = timedelta(hours=2)
# Of each kind, so that whoever loads trials pushes out no file of the shelf.
MOST_KEPT = 10

Kind = Literal["shelf", "trials", "properties", "notes", "year"]


@dataclass(frozen=True)
class Pending:
    """A file as it was uploaded, and the version of everything stored that its preview saw."""

    text: str
    seen: dict[str, int]


def keep(session: Session, text: str, seen: dict[str, int], now: datetime, kind: Kind = "shelf") -> str:
    """Keep a file; the key under which it is found. Old ones, and all but the newest few of its kind, are forgotten."""
    session.execute(delete(PendingImportRow).where(PendingImportRow.at < now - KEPT_FOR))
    newest = session.scalars(
        select(PendingImportRow.key)
        .where(PendingImportRow.kind == kind)
        .order_by(PendingImportRow.at.desc(), PendingImportRow.key)
        .limit(MOST_KEPT - 1)
    ).all()
    older = PendingImportRow.key.not_in(newest)
    session.execute(delete(PendingImportRow).where(PendingImportRow.kind == kind, older))
    key = secrets.token_urlsafe(24)
    session.add(PendingImportRow(key=key, kind=kind, text=text, seen=seen, at=now))
    session.flush()
    return key


def found(session: Session, key: str, now: datetime, kind: Kind = "shelf") -> Pending | None:
    """The file of a key, None where it waited too long, was confirmed, or is of another kind."""
    row = session.get(PendingImportRow, key)
    if row is None or row.kind != kind or row.at < now - KEPT_FOR:
        return None
    return Pending(row.text, {slug: int(version) for slug, version in row.seen.items()})


def forget(session: Session, key: str, kind: Kind = "shelf") -> None:
    """Forget a file."""
    session.execute(delete(PendingImportRow).where(PendingImportRow.key == key, PendingImportRow.kind == kind))
