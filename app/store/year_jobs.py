"""Planning many properties in one go, in the store: jobs, the situations they fold into, and who stands for which."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import delete, func, insert, select, update
from sqlalchemy.orm import Session

from app.engine.errors import UnknownId
from app.store.keyed import Document, Keyed, is_key
from app.store.models import YearFoldRow, YearJobRow, YearPlaceRow

JOBS = Keyed("plan of the branch", YearJobRow)
WAITING, PLANNED, FAILED = "waiting", "planned", "failed"
PAGE = 50


@dataclass(frozen=True)
class StoredJob:
    """A job as it is kept."""

    key: str
    season: int
    state: str
    document: Document
    version: int
    changed_at: datetime


@dataclass(frozen=True)
class StoredFold:
    """A situation of a job; `place` is where it stands in the table, `figures` the few figures of its plan."""

    place: int
    fold: str
    state: str
    figures: Document


@dataclass(frozen=True)
class StoredPlace:
    """A property of a job; `fold` is None where it cannot be planned, with the reason in its document."""

    place: int
    property: str
    fold: str | None
    document: Document


def one(session: Session, key: str) -> StoredJob:
    """A job.

    Raises
    ------
    UnknownId
        When there is none of that key.
    """
    row = session.scalar(select(YearJobRow).where(YearJobRow.key == key)) if is_key(key) else None
    if row is None:
        raise UnknownId(JOBS.kind, key, (), "that is kept")
    return _job(row)


def latest(session: Session, limit: int = 20) -> tuple[StoredJob, ...]:
    """Jobs, the latest first."""
    return tuple(_job(row) for row in session.scalars(select(YearJobRow).order_by(YearJobRow.id.desc()).limit(limit)))


def locked(session: Session, key: str) -> YearJobRow:
    """The row of a job, which nobody else changes until this session ends.

    Raises
    ------
    UnknownId
        When there is none of that key.
    """
    row = locked_if_any(session, key)
    if row is None:
        raise UnknownId(JOBS.kind, key, (), "that is kept")
    return row


def locked_if_any(session: Session, key: str) -> YearJobRow | None:
    """The row of a job, which nobody else changes until this session ends; None where there is none."""
    return session.scalar(select(YearJobRow).where(YearJobRow.key == key).with_for_update()) if is_key(key) else None


def _job(row: YearJobRow) -> StoredJob:
    return StoredJob(row.key, row.season, row.state, row.document, row.version, row.changed_at)


def counts(session: Session, job: str) -> dict[str, int]:
    """How many situations of a job are in each state."""
    asked = select(YearFoldRow.state, func.count()).where(YearFoldRow.job == job).group_by(YearFoldRow.state)
    return {str(state): int(count) for state, count in session.execute(asked)}


def places_told(session: Session, job: str) -> tuple[int, int]:
    """How many properties of a job there are, and how many of them can be planned."""
    asked = select(func.count(), func.count(YearPlaceRow.fold)).where(YearPlaceRow.job == job)
    whole, plannable = session.execute(asked).one()
    return int(whole), int(plannable)


def known_folds(session: Session, job: str, folds: Sequence[str]) -> set[str]:
    """Those of these situations that a job has already."""
    asked = select(YearFoldRow.fold).where(YearFoldRow.job == job, YearFoldRow.fold.in_(folds))
    return set(session.scalars(asked)) if folds else set()


def add(
    session: Session, job: str, folds: dict[str, Document], places: Sequence[tuple[str, str | None, Document]]
) -> None:
    """Keep new situations by what tells them apart, and properties (id, situation, document)."""
    rows = [{"job": job, "fold": f, "state": WAITING, "asked": asked, "document": {}} for f, asked in folds.items()]
    if rows:
        session.execute(insert(YearFoldRow), rows)
    if places:
        told = [{"job": job, "property": key, "fold": f, "document": document} for key, f, document in places]
        session.execute(insert(YearPlaceRow), told)


def waiting(session: Session, job: str, after: int, limit: int) -> tuple[tuple[int, Document], ...]:
    """The next situations that wait, each as its place in the table and what is asked."""
    asked = select(YearFoldRow.id, YearFoldRow.asked).where(
        YearFoldRow.job == job, YearFoldRow.state == WAITING, YearFoldRow.id > after
    )
    return tuple((place, told) for place, told in session.execute(asked.order_by(YearFoldRow.id).limit(limit)))


def settle(session: Session, place: int, state: str, document: Document) -> None:
    """Keep what became of a situation."""
    session.execute(update(YearFoldRow).where(YearFoldRow.id == place).values(state=state, document=document))


def wait_again(session: Session, job: str) -> int:
    """Let the situations that failed wait again; how many."""
    asked = update(YearFoldRow).where(YearFoldRow.job == job, YearFoldRow.state == FAILED)
    done = session.execute(asked.values(state=WAITING, document={}))
    return int(done.rowcount)  # type: ignore[attr-defined]


def figures(session: Session, job: str, state: str | None = None) -> Iterator[StoredFold]:
    """The situations of a job with the figures of their plans, one after the other."""
    asked = select(YearFoldRow.id, YearFoldRow.fold, YearFoldRow.state, _FIGURES).where(YearFoldRow.job == job)
    if state is not None:
        asked = asked.where(YearFoldRow.state == state)
    found = session.execute(asked.order_by(YearFoldRow.id).execution_options(yield_per=PAGE))
    for place, fold, told, document in found:
        yield StoredFold(place, fold, told, document or {})


def figures_of(session: Session, job: str, fold: str) -> StoredFold:
    """One situation of a job with the figures of its plan.

    Raises
    ------
    UnknownId
        When the job has none of that name.
    """
    asked = select(YearFoldRow.id, YearFoldRow.state, _FIGURES)
    found = session.execute(asked.where(YearFoldRow.job == job, YearFoldRow.fold == fold)).one_or_none()
    if found is None:
        raise UnknownId("situation", fold, (), "of this plan of the branch")
    return StoredFold(found[0], fold, found[1], found[2] or {})


def whole_fold(session: Session, job: str, fold: str) -> Document:
    """All that is kept of the plan of a situation of a job.

    Raises
    ------
    UnknownId
        When the job has none of that name.
    """
    asked = select(YearFoldRow.document).where(YearFoldRow.job == job, YearFoldRow.fold == fold)
    found = session.scalar(asked)
    if found is None:
        raise UnknownId("situation", fold, (), "of this plan of the branch")
    return dict(found)


def place_of(session: Session, job: str, key: str) -> StoredPlace:
    """A property of a job.

    Raises
    ------
    UnknownId
        When the job has no such property.
    """
    row = session.scalar(select(YearPlaceRow).where(YearPlaceRow.job == job, YearPlaceRow.property == key))
    if row is None:
        raise UnknownId("property", key, (), "of this plan of the branch")
    return _place(row)


def places(session: Session, job: str) -> Iterator[StoredPlace]:
    """The properties of a job, those of one situation together, one after the other."""
    asked = select(YearPlaceRow).where(YearPlaceRow.job == job).order_by(YearPlaceRow.fold, YearPlaceRow.id)
    for row in session.scalars(asked.execution_options(yield_per=PAGE)):
        found = _place(row)
        session.expunge(row)
        yield found


def page_of_places(session: Session, job: str, page: int) -> tuple[tuple[StoredPlace, ...], int, int]:
    """A page of the properties, first those that can be planned; which page it is, and how many there are."""
    found = session.scalar(select(func.count()).select_from(YearPlaceRow).where(YearPlaceRow.job == job)) or 0
    pages = max(1, -(-found // PAGE))
    number = min(max(page, 1), pages)
    asked = select(YearPlaceRow).where(YearPlaceRow.job == job)
    ordered = asked.order_by(YearPlaceRow.fold.is_(None), YearPlaceRow.property).limit(PAGE)
    return tuple(_place(row) for row in session.scalars(ordered.offset((number - 1) * PAGE))), number, pages


def _place(row: YearPlaceRow) -> StoredPlace:
    return StoredPlace(row.id, row.property, row.fold, row.document)


def remove(session: Session, key: str) -> None:
    """Forget a job with all that hangs on it."""
    for table in (YearPlaceRow, YearFoldRow):
        session.execute(delete(table).where(table.job == key))
    session.execute(delete(YearJobRow).where(YearJobRow.key == key))


def every(session: Session) -> tuple[StoredJob, ...]:
    """Every job, the first one first."""
    return tuple(_job(row) for row in session.scalars(select(YearJobRow).order_by(YearJobRow.id)))


def whole_folds(session: Session, job: str) -> Iterator[tuple[StoredFold, Document, Document]]:
    """The situations of a job, each with what is asked and all that is kept of its plan."""
    asked = select(YearFoldRow).where(YearFoldRow.job == job).order_by(YearFoldRow.id)
    for row in session.scalars(asked.execution_options(yield_per=PAGE)):
        figures = row.document.get("figures") or {}
        yield StoredFold(row.id, row.fold, row.state, figures), row.asked, row.document
        session.expunge(row)


def jobs_of_rows(session: Session) -> set[str]:
    """The jobs that situations and properties name."""
    return {job for table in (YearFoldRow, YearPlaceRow) for job in session.scalars(select(table.job).distinct())}


# The figures stand beside the plan, so that sums over a branch read no plan.
_FIGURES = YearFoldRow.document["figures"]
