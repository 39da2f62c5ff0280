"""Plans of a property's year in the store: versions that follow each other, one of them chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, UnknownId
from app.store.changed import Changed
from app.store.keyed import Keyed
from app.store.models import PropertyRow, YearRow

KIND = "plan of the year"
YEARS = Keyed(KIND, YearRow)
_AT_ONCE = 500
# A property has no more versions of one year: whoever tries on past this forgets nothing, and is told.
MOST_VERSIONS = 200


@dataclass(frozen=True)
class StoredYear:
    """One version of the plan of a property's year; `number` counts from one."""

    key: str
    property: str
    season: int
    number: int
    chosen: bool
    document: dict[str, Any]
    changed_at: datetime


@dataclass(frozen=True)
class StoredBrief:
    """What a list tells of a version, read without its document.

    `objective` is expected control [points of 100]; `cost` per 1000 ft2, None where a price is unknown.
    """

    property: str
    season: int
    number: int
    chosen: bool
    headline: str
    objective: float
    cost: float | None
    currency: str
    changed_at: datetime


def versions(session: Session, property: str, season: int) -> tuple[StoredBrief, ...]:
    """Every version of a property's year, the first one first."""
    told = (YearRow.property == property, YearRow.season == season)
    return tuple(_briefs(session, told))


def one(session: Session, property: str, season: int, number: int) -> StoredYear:
    """A version by its number.

    Raises
    ------
    UnknownId
        When there is none of that number.
    """
    asked = select(YearRow).where(YearRow.property == property, YearRow.season == season, YearRow.number == number)
    row = session.scalar(asked)
    if row is None:
        raise UnknownId("version", str(number), (), f"of the plan of {season} for this property")
    return _of(row)


def chosen(session: Session, property: str, season: int) -> StoredYear | None:
    """The version that is chosen, None where the year is not planned."""
    asked = select(YearRow).where(YearRow.property == property, YearRow.season == season, YearRow.chosen.is_(True))
    row = session.scalar(asked)
    return _of(row) if row is not None else None


def chosen_briefs(session: Session, season: int, properties: Sequence[str]) -> dict[str, StoredBrief]:
    """What a list tells of the chosen plans of these properties, by property."""
    found: dict[str, StoredBrief] = {}
    for start in range(0, len(properties), _AT_ONCE):
        part = properties[start : start + _AT_ONCE]
        told = (YearRow.season == season, YearRow.chosen.is_(True), YearRow.property.in_(part))
        found |= {item.property: item for item in _briefs(session, told)}
    return found


def seasons(session: Session, property: str | None = None) -> dict[int, int]:
    """How many properties have a plan, by season; of one property where that is told.

    Whoever has a version has a chosen one, so the index tells it and no document is read.
    """
    asked = select(YearRow.season, func.count(YearRow.property.distinct()))
    if property is not None:
        asked = asked.where(YearRow.property == property)
    rows = session.execute(asked.group_by(YearRow.season).order_by(YearRow.season))
    return {season: count for season, count in rows}  # noqa: C416 - rows are no pairs to the type checker


def every(session: Session) -> tuple[StoredYear, ...]:
    """Every version of every year."""
    asked = select(YearRow).order_by(YearRow.property, YearRow.season, YearRow.number)
    return tuple(_of(row) for row in session.scalars(asked))


def mark(session: Session, property: str, season: int) -> int:
    """At which version the year as a whole stands, 0 where nothing is kept; every change makes it greater."""
    asked = select(func.sum(YearRow.version)).where(YearRow.property == property, YearRow.season == season)
    return int(session.scalar(asked) or 0)


def keep(
    session: Session,
    key: str,
    property: str,
    season: int,
    document: dict[str, Any],
    at: int,
    now: datetime,
    *,
    choose: bool = True,
) -> StoredYear:
    """Keep a further version, and choose it; the same key keeps it once.

    Parameters
    ----------
    at : int
        The mark on which it was made.

    Raises
    ------
    Changed
        When somebody else kept or chose another meanwhile.
    InputError
        Where there are too many.
    """
    _hold(session, property)
    before = session.scalar(select(YearRow).where(YearRow.key == key))
    if before is not None:
        return _of(before)
    _check(session, property, season, at)
    last = session.scalar(
        select(func.max(YearRow.number)).where(YearRow.property == property, YearRow.season == season)
    )
    number = (last or 0) + 1
    if number > MOST_VERSIONS:
        what = f"{MOST_VERSIONS} versions of {season} are kept already; no more are, choose one of them"
        raise InputError([FieldFault("version", what)])
    # The first is chosen whatever was asked, so that a year that is planned always has a chosen plan.
    chosen_now = choose or last is None
    if chosen_now:
        _choose_none(session, property, season)
    columns = {"property": property, "season": season, "number": number, "chosen": chosen_now}
    YEARS.keep(session, key, document, columns, now)
    return one(session, property, season, number)


def choose(session: Session, property: str, season: int, number: int, at: int) -> StoredYear:
    """Choose a version that is kept.

    Raises
    ------
    Changed
        When somebody else kept or chose another meanwhile.
    UnknownId
        When there is none of that number.
    """
    _hold(session, property)
    one(session, property, season, number)
    _check(session, property, season, at)
    _choose_none(session, property, season)
    asked = select(YearRow).where(YearRow.property == property, YearRow.season == season, YearRow.number == number)
    row = session.scalars(asked).one()
    row.chosen = True
    session.flush()
    return _of(row)


def forget(session: Session, property: str) -> int:
    """Forget the years of a property that goes; how many versions they were."""
    rows = session.scalars(select(YearRow).where(YearRow.property == property)).all()
    for row in rows:
        session.delete(row)
    session.flush()
    return len(rows)


def _hold(session: Session, property: str) -> None:
    """Let two people change the years of a property one after the other."""
    session.scalar(select(PropertyRow.id).where(PropertyRow.slug == property).with_for_update())


def _check(session: Session, property: str, season: int, at: int) -> None:
    now_at = mark(session, property, season)
    if now_at != at:
        held = chosen(session, property, season)
        name = f"The plan of {season}"
        raise Changed(KIND, f"{property}/{season}", name, held.document if held is not None else None, now_at)


def _choose_none(session: Session, property: str, season: int) -> None:
    asked = select(YearRow).where(YearRow.property == property, YearRow.season == season, YearRow.chosen.is_(True))
    for row in session.scalars(asked):
        row.chosen = False
    session.flush()


def _briefs(session: Session, told: Sequence[Any]) -> list[StoredBrief]:
    plan = YearRow.document["plan"]
    asked = select(
        YearRow.property,
        YearRow.season,
        YearRow.number,
        YearRow.chosen,
        plan["headline"].as_string(),
        plan["objective"].as_float(),
        plan["cost"].as_float(),
        plan["currency"].as_string(),
        YearRow.changed_at,
    ).where(*told)
    return [StoredBrief(*row) for row in session.execute(asked.order_by(YearRow.property, YearRow.number))]


def _of(row: YearRow) -> StoredYear:
    return StoredYear(row.key, row.property, row.season, row.number, row.chosen, row.document, row.changed_at)
