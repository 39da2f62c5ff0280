"""Trials in the store: a name, the document of the trial, and the figures by which it moves the advice."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Text, cast, false, or_, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, UnknownId
from app.store.changed import Changed
from app.store.models import TrialRow
from app.store.names import is_slug, name_key, slug_of

Document = dict[str, Any]
Evidence = list[dict[str, Any]]


@dataclass(frozen=True)
class Stored:
    """A trial as it is kept."""

    slug: str
    name: str
    document: Document
    evidence: Evidence
    version: int
    changed_at: datetime


def every(session: Session) -> tuple[Stored, ...]:
    """Every trial, by name."""
    return tuple(_stored(row) for row in session.scalars(select(TrialRow).order_by(TrialRow.name_key)))


def by_slug(session: Session, slug: str) -> Stored:
    """One trial.

    Raises
    ------
    UnknownId
        When there is none of that id.
    """
    row = session.scalar(select(TrialRow).where(TrialRow.slug == slug)) if is_slug(slug) else None
    if row is None:
        raise UnknownId("trial", slug, ())
    return _stored(row)


def held(session: Session, *, slug: str | None = None, name: str | None = None) -> Stored | None:
    """A trial by its id or its name, held until the session ends so that nobody else changes it; None where none is."""
    asked = select(TrialRow).where(
        TrialRow.slug == slug if slug is not None else TrialRow.name_key == name_key(name or "")
    )
    row = session.scalar(asked.with_for_update().execution_options(populate_existing=True))
    return _stored(row) if row is not None else None


def states(session: Session, slug: str | None = None) -> tuple[tuple[str, int, datetime], ...]:
    """Id, version and last change of every trial, or of one, by id; no document is read."""
    columns = select(TrialRow.slug, TrialRow.version, TrialRow.changed_at).order_by(TrialRow.slug)
    if slug is not None:
        columns = columns.where(TrialRow.slug == slug if is_slug(slug) else false())
    return tuple((key, version, changed_at) for key, version, changed_at in session.execute(columns))


def evidence(session: Session, naming: Collection[str] | None = None) -> tuple[tuple[str, str, Evidence], ...]:
    """Id, name and evidence of every trial, by name; no document is read.

    Parameters
    ----------
    naming : collection of str, optional
        Only trials in whose evidence one of these ids stands somewhere; the others are not even decoded.
    """
    columns = select(TrialRow.slug, TrialRow.name, TrialRow.evidence).order_by(TrialRow.name_key)
    if naming is not None:
        told = cast(TrialRow.evidence, Text)
        columns = columns.where(or_(false(), *(told.contains(f'"{key}"', autoescape=True) for key in sorted(naming))))
    return tuple((slug, name, told) for slug, name, told in session.execute(columns))


def insert(session: Session, told: Sequence[tuple[str, Document, Evidence]], now: datetime) -> tuple[Stored, ...]:
    """Keep new trials (name, document, evidence), all or none.

    Raises
    ------
    InputError
        When a name is taken.
    """
    taken = set(session.scalars(select(TrialRow.slug)))
    rows = []
    for name, document, figures in told:
        slug = slug_of(name, taken)
        taken.add(slug)
        rows.append(_filled(TrialRow(slug=slug), name, document, figures, now))
    session.add_all(rows)
    _flush(session, [row.name for row in rows])
    return tuple(_stored(row) for row in rows)


def update(
    session: Session, slug: str, name: str, document: Document, evidence: Evidence, version: int, now: datetime
) -> Stored:
    """Change a trial that stands at a version; its id stays.

    Raises
    ------
    Changed
        When it was changed or removed meanwhile.
    InputError
        When the new name is that of another.
    """
    row = _filled(_row_at(session, slug, name, version), name, document, evidence, now)
    _flush(session, [name])
    return _stored(row)


def delete(session: Session, slug: str, version: int) -> None:
    """Forget a trial that stands at a version.

    Raises
    ------
    Changed
        When it was changed or removed meanwhile.
    """
    session.delete(_row_at(session, slug, slug, version))
    session.flush()


def _row_at(session: Session, slug: str, name: str, version: int) -> TrialRow:
    # Locked where the database can, so that the version is still this one when it is written.
    row = session.scalar(select(TrialRow).where(TrialRow.slug == slug).with_for_update()) if is_slug(slug) else None
    if row is None:
        raise Changed("trial", slug, name, None, None)
    if row.version != version:
        raise Changed("trial", slug, row.name, {**row.document, "name": row.name}, row.version)
    return row


def _flush(session: Session, names: Sequence[str]) -> None:
    try:
        session.flush()
    except IntegrityError as error:
        what = f"'{names[0]}' is the name of another trial already"
        if len(names) > 1:
            what = "one of these names is that of another trial already, or stands twice"
        raise InputError([FieldFault("name", f"{what}; choose another name")]) from error


def _filled(row: TrialRow, name: str, document: Document, figures: Evidence, now: datetime) -> TrialRow:
    row.name, row.name_key, row.changed_at = name, name_key(name), now
    row.document, row.evidence = document, figures
    return row


def _stored(row: TrialRow) -> Stored:
    return Stored(row.slug, row.name, row.document, row.evidence, row.version, row.changed_at)
