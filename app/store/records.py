"""Application records in the store: kept, changed and voided, never removed; with their history and follow-ups."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, func, select, update
from sqlalchemy.orm import Session

from app.engine.errors import UnknownId
from app.store.keyed import Document, Keyed
from app.store.models import ApplicationChangeRow, ApplicationRow, BranchRow, FollowUpRow
from app.store.names import name_key

KIND = "record"
RECORDS = Keyed(KIND, ApplicationRow)
FOLLOW_UPS = Keyed("rating", FollowUpRow)
_AT_ONCE = 500


@dataclass(frozen=True)
class StoredRecord:
    """A record as it is kept, with what it took off the shelf (`stock`)."""

    key: str
    document: Document
    version: int
    changed_at: datetime
    unfinished: bool
    stock: Document


@dataclass(frozen=True)
class StoredChange:
    """What a record held before it was changed."""

    at: datetime
    by: str
    why: str
    before: Document


@dataclass(frozen=True)
class StoredFollowUp:
    """What was seen after an application, and in which plots of which trials it stands."""

    key: str
    application: str
    document: Document
    version: int
    changed_at: datetime
    fed: Document


@dataclass(frozen=True)
class Wanted:
    """Which records are asked for; what is None or empty leaves them all."""

    first: date | None = None
    last: date | None = None
    property: str | None = None
    technician: str = ""
    round: str | None = None
    unfinished: bool = False
    live: bool = False


def columns_of(document: Mapping[str, Any], day: date, next_due: date | None) -> dict[str, Any]:
    """What stands beside the document of a record."""
    return {
        "property": document.get("property"),
        "area": document.get("area"),
        "round": document.get("round"),
        "day": day,
        "applicator": name_key(document.get("applicator", "")),
        "void": bool(document.get("void")),
        "next_due": next_due,
    }


def by_key(session: Session, key: str, *, hold: bool = False) -> StoredRecord:
    """One record; held until the session ends, where that is asked.

    Raises
    ------
    UnknownId
        When there is none of that key.
    """
    RECORDS.by_key(session, key)
    asked = select(ApplicationRow).where(ApplicationRow.key == key)
    if hold:
        asked = asked.with_for_update().execution_options(populate_existing=True)
    return _stored(session.scalars(asked).one())


def known(session: Session, key: str) -> bool:
    """Whether a record of that key is kept."""
    return session.scalar(select(ApplicationRow.id).where(ApplicationRow.key == key)) is not None


def put_stock(session: Session, key: str, stock: Document) -> None:
    """Keep what a record took off the shelf; its version stands."""
    session.execute(update(ApplicationRow).where(ApplicationRow.key == key).values(stock=stock))


def found(
    session: Session, wanted: Wanted, *, unfinished_first: bool = False, limit: int | None = None, offset: int = 0
) -> tuple[StoredRecord, ...]:
    """Records, the latest day first; those that are not finished before all, where that is asked."""
    asked = select(ApplicationRow).where(*_told(wanted))
    if unfinished_first:
        asked = asked.order_by(ApplicationRow.unfinished.desc())
    asked = asked.order_by(ApplicationRow.day.desc(), ApplicationRow.id.desc())
    return tuple(_stored(row) for row in session.scalars(asked.limit(limit).offset(offset)))


def count(session: Session, wanted: Wanted) -> int:
    """How many records there are."""
    return session.scalar(select(func.count()).select_from(ApplicationRow).where(*_told(wanted))) or 0


def due_next(session: Session, first: date, last: date) -> tuple[StoredRecord, ...]:
    """Live records whose next application is due in a span of days, the earliest first."""
    asked = select(ApplicationRow).where(
        ApplicationRow.void.is_(False), ApplicationRow.next_due >= first, ApplicationRow.next_due <= last
    )
    return tuple(_stored(row) for row in session.scalars(asked.order_by(ApplicationRow.next_due, ApplicationRow.id)))


def of_properties(session: Session, slugs: Sequence[str], first: date | None = None) -> tuple[StoredRecord, ...]:
    """Live records of some properties, since a day where one is told; the latest first."""
    rows: list[StoredRecord] = []
    asked = list(dict.fromkeys(slugs))
    for start in range(0, len(asked), _AT_ONCE):
        told: list[ColumnElement[bool]] = [
            ApplicationRow.void.is_(False),
            ApplicationRow.property.in_(asked[start : start + _AT_ONCE]),
        ]
        if first is not None:
            told.append(ApplicationRow.day >= first)
        query = select(ApplicationRow).where(*told).order_by(ApplicationRow.day.desc(), ApplicationRow.id.desc())
        rows += [_stored(row) for row in session.scalars(query)]
    return tuple(rows)


def of_round(session: Session, slug: str) -> dict[tuple[str, str], str]:
    """Key of the record that counts of each (property, area) of a round; no document is read."""
    columns = select(ApplicationRow.property, ApplicationRow.area, ApplicationRow.key)
    found = session.execute(columns.where(ApplicationRow.round == slug, ApplicationRow.void.is_(False)))
    return {(property, area): key for property, area, key in found if property and area}


def void_in_round(session: Session, slug: str, property: str, area: str) -> int:
    """How many records of a stop were made void."""
    told = (ApplicationRow.round == slug, ApplicationRow.property == property, ApplicationRow.area == area)
    return session.scalar(select(func.count()).where(*told, ApplicationRow.void.is_(True))) or 0


def names_used(session: Session) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Applicators (in one case) and rounds that records name."""
    people = session.scalars(select(ApplicationRow.applicator).where(ApplicationRow.applicator != "").distinct())
    rounds = session.scalars(select(ApplicationRow.round).where(ApplicationRow.round.is_not(None)).distinct())
    return tuple(sorted(people)), tuple(sorted(item for item in rounds if item is not None))


def reckoned_otherwise(session: Session, asked: str) -> tuple[tuple[str, Document], ...]:
    """Key and document of records whose gaps were reckoned when something else was asked."""
    query = select(ApplicationRow.key, ApplicationRow.document).where(ApplicationRow.asked != asked)
    return tuple((row[0], row[1]) for row in session.execute(query))


def any_reckoned_otherwise(session: Session, asked: str) -> bool:
    """Whether there are such records."""
    return session.scalar(select(ApplicationRow.id).where(ApplicationRow.asked != asked).limit(1)) is not None


def put_reckoned(session: Session, told: Mapping[bool, Sequence[str]], asked: str) -> None:
    """Keep which records are unfinished by what is asked now; nothing that was told changes, so versions stand."""
    for unfinished, keys in told.items():
        for start in range(0, len(keys), _AT_ONCE):
            part = keys[start : start + _AT_ONCE]
            rows = update(ApplicationRow).where(ApplicationRow.key.in_(part))
            session.execute(rows.values(unfinished=unfinished, asked=asked))


def add_change(session: Session, key: str, before: Document, by: str, why: str, now: datetime) -> None:
    """Keep what a record held before."""
    session.add(ApplicationChangeRow(application=key, at=now, by=by, why=why, before=before))
    session.flush()


def changes(session: Session, key: str) -> tuple[StoredChange, ...]:
    """What a record held before each change, the first change first."""
    asked = select(ApplicationChangeRow).where(ApplicationChangeRow.application == key)
    rows = session.scalars(asked.order_by(ApplicationChangeRow.id))
    return tuple(StoredChange(row.at, row.by, row.why, row.before) for row in rows)


def follow_ups(session: Session, keys: Sequence[str]) -> tuple[StoredFollowUp, ...]:
    """Follow-ups of some records, by day."""
    rows: list[StoredFollowUp] = []
    for start in range(0, len(keys), _AT_ONCE):
        asked = select(FollowUpRow).where(FollowUpRow.application.in_(keys[start : start + _AT_ONCE]))
        rows += [_stored_follow_up(row) for row in session.scalars(asked.order_by(FollowUpRow.day, FollowUpRow.id))]
    return tuple(rows)


def follow_up(session: Session, application: str, key: str) -> StoredFollowUp:
    """One follow-up of a record.

    Raises
    ------
    UnknownId
        When the record has none of that key.
    """
    FOLLOW_UPS.by_key(session, key)
    asked = select(FollowUpRow).where(FollowUpRow.key == key, FollowUpRow.application == application)
    row = session.scalar(asked)
    if row is None:
        raise UnknownId(FOLLOW_UPS.kind, key, (), "of this record")
    return _stored_follow_up(row)


def put_fed(session: Session, key: str, fed: Document) -> None:
    """Keep in which plots of which trials a follow-up stands; its version stands."""
    session.execute(update(FollowUpRow).where(FollowUpRow.key == key).values(fed=fed))


def _told(wanted: Wanted) -> list[ColumnElement[bool]]:
    told: list[ColumnElement[bool]] = []
    if wanted.first is not None:
        told.append(ApplicationRow.day >= wanted.first)
    if wanted.last is not None:
        told.append(ApplicationRow.day <= wanted.last)
    if wanted.property:
        told.append(ApplicationRow.property == wanted.property)
    if wanted.technician.strip():
        told.append(ApplicationRow.applicator == name_key(wanted.technician))
    if wanted.round:
        told.append(ApplicationRow.round == wanted.round)
    if wanted.unfinished:
        told.append(ApplicationRow.unfinished.is_(True))
    if wanted.live:
        told.append(ApplicationRow.void.is_(False))
    return told


def _stored(row: ApplicationRow) -> StoredRecord:
    return StoredRecord(row.key, row.document, row.version, row.changed_at, row.unfinished, row.stock)


def _stored_follow_up(row: FollowUpRow) -> StoredFollowUp:
    return StoredFollowUp(row.key, row.application, row.document, row.version, row.changed_at, row.fed)


def branch_document(session: Session) -> Document:
    """What is kept of the branch; nothing where it was not told yet."""
    return session.scalar(select(BranchRow.document).order_by(BranchRow.id).limit(1)) or {}
