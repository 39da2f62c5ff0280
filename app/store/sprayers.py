"""Sprayers and spreaders in the store: a name and the document of their calibration."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, UnknownId
from app.store.changed import Changed
from app.store.models import SprayerRow
from app.store.names import is_slug, name_key, slug_of


@dataclass(frozen=True)
class StoredSprayer:
    """A sprayer as it is kept."""

    slug: str
    name: str
    document: dict[str, Any]
    version: int
    changed_at: datetime


def every(session: Session) -> tuple[StoredSprayer, ...]:
    """Every sprayer, by name."""
    return tuple(_stored(row) for row in session.scalars(select(SprayerRow).order_by(SprayerRow.name_key)))


def by_slug(session: Session, slug: str) -> StoredSprayer:
    """One sprayer.

    Raises
    ------
    UnknownId
        When there is none of that id.
    """
    row = session.scalar(select(SprayerRow).where(SprayerRow.slug == slug)) if is_slug(slug) else None
    if row is None:
        raise UnknownId("sprayer", slug, ())
    return _stored(row)


def insert(session: Session, name: str, document: dict[str, Any], now: datetime) -> StoredSprayer:
    """Keep a new sprayer.

    Raises
    ------
    InputError
        When the name is taken.
    """
    slug = slug_of(name, set(session.scalars(select(SprayerRow.slug))))
    row = SprayerRow(slug=slug, name=name, name_key=name_key(name), document=document, changed_at=now)
    session.add(row)
    _flush(session, name)
    return _stored(row)


def update(
    session: Session, slug: str, name: str, document: dict[str, Any], version: int, now: datetime
) -> StoredSprayer:
    """Change a sprayer that stands at a version; its id stays.

    Raises
    ------
    Changed
        When it was changed or removed meanwhile.
    InputError
        When the new name is that of another.
    """
    row = _row_at(session, slug, name, version)
    row.name, row.name_key, row.document, row.changed_at = name, name_key(name), document, now
    _flush(session, name)
    return _stored(row)


def delete(session: Session, slug: str, version: int) -> None:
    """Forget a sprayer that stands at a version.

    Raises
    ------
    Changed
        When it was changed or removed meanwhile.
    """
    session.delete(_row_at(session, slug, slug, version))
    session.flush()


def _row_at(session: Session, slug: str, name: str, version: int) -> SprayerRow:
    row = session.scalar(select(SprayerRow).where(SprayerRow.slug == slug).with_for_update()) if is_slug(slug) else None
    if row is None:
        raise Changed("sprayer", slug, name, None, None)
    if row.version != version:
        raise Changed("sprayer", slug, row.name, {"name": row.name, **row.document}, row.version)
    return row


def _flush(session: Session, name: str) -> None:
    try:
        session.flush()
    except IntegrityError as error:
        what = f"'{name}' is the name of another sprayer already; choose another name"
        raise InputError([FieldFault("name", what)]) from error


def _stored(row: SprayerRow) -> StoredSprayer:
    return StoredSprayer(row.slug, row.name, row.document, row.version, row.changed_at)
