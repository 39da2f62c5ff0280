"""What a season asks of those who spray: visits, area and minutes, by week and technician."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date as Date
from datetime import timedelta

from app.engine.output import Output
from app.season.pricing import Pricing

WORKDAYS = 5
_MINUTES = 60
_THOUSAND = 1000


@dataclass(frozen=True)
class Stop:
    """A visit to a property: who goes there and what is treated [ft2]; None where a size is not told."""

    day: Date
    technician: str
    treated_ft2: float | None


class WeekLoad(Output):
    """What a week asks of a technician, or of all of them where `technician` is null.

    Attributes
    ----------
    week : date
        Its Monday.
    treated_ft2 : float
        Over the visits whose size is told [ft2].
    unmeasured : int
        Visits on which the size of an area is not told; only their fixed minutes are counted.
    minutes : float or None
        On the properties and on the way [min]; None where the branch has not told what a visit takes.
    hours_of_work : float or None
        What the technicians named here can work in it [h]; None where the hours of work are not told.
    busy : float or None
        Minutes as a share of the hours of work, 1 being all of them.
    """

    week: Date
    technician: str | None
    visits: int
    treated_ft2: float
    unmeasured: int
    minutes: float | None
    hours_of_work: float | None
    busy: float | None


class YearLoad(Output):
    """The load of a season: by week, and by week and technician."""

    weeks: tuple[WeekLoad, ...]
    technicians: tuple[WeekLoad, ...]
    notes: tuple[str, ...]


def year_load(stops: Iterable[Stop], pricing: Pricing | None, hours_a_day: float | None) -> YearLoad:
    """Sum the visits of a season by week and technician.

    A visit takes `minutes_per_visit`, `minutes_per_1000_ft2` on what is treated, and `travel_minutes`; a technician
    works on five days a week.

    Parameters
    ----------
    hours_a_day : float, optional
        From the start of work to its end [h].
    """
    held: dict[tuple[Date, str], _Sum] = {}
    for stop in stops:
        monday = stop.day - timedelta(days=stop.day.weekday())
        held.setdefault((monday, stop.technician), _Sum()).add(stop, pricing)
    each = tuple(_told(week, who, [held[week, who]], pricing, hours_a_day) for week, who in sorted(held))
    weeks = sorted({week for week, _ in held})
    whole = [
        _told(week, None, [told for (day, _), told in held.items() if day == week], pricing, hours_a_day)
        for week in weeks
    ]
    return YearLoad(weeks=tuple(whole), technicians=each, notes=_notes(held, pricing, hours_a_day))


@dataclass
class _Sum:
    visits: int = 0
    treated: float = 0.0
    unmeasured: int = 0
    minutes: float = 0.0

    def add(self, stop: Stop, pricing: Pricing | None) -> None:
        self.visits += 1
        self.treated += stop.treated_ft2 or 0.0
        self.unmeasured += stop.treated_ft2 is None
        if pricing is not None:
            self.minutes += pricing.minutes_per_visit + pricing.travel_minutes
            self.minutes += pricing.minutes_per_1000_ft2 * (stop.treated_ft2 or 0.0) / _THOUSAND


def _told(
    week: Date, who: str | None, parts: Sequence[_Sum], pricing: Pricing | None, hours_a_day: float | None
) -> WeekLoad:
    minutes = sum(part.minutes for part in parts) if pricing is not None else None
    hours = len(parts) * WORKDAYS * hours_a_day if hours_a_day is not None else None
    return WeekLoad(
        week=week,
        technician=who,
        visits=sum(part.visits for part in parts),
        treated_ft2=round(sum(part.treated for part in parts), 1),
        unmeasured=sum(part.unmeasured for part in parts),
        minutes=round(minutes, 1) if minutes is not None else None,
        hours_of_work=round(hours, 2) if hours is not None else None,
        busy=round(minutes / (hours * _MINUTES), 4) if minutes is not None and hours else None,
    )


def _notes(held: dict[tuple[Date, str], _Sum], pricing: Pricing | None, hours_a_day: float | None) -> tuple[str, ...]:
    found = ["Each visit counts in the week of its planned day; within its window it can be moved to a quieter one."]
    if pricing is None:
        found.append("Minutes are not told: the branch has not said what a visit and 1000 ft2 take.")
    elif pricing.travel_minutes:
        found.append(f"With {pricing.travel_minutes:g} minutes of driving a visit.")
    if hours_a_day is None:
        found.append("The hours of work are not told, so the load is not held against them.")
    else:
        found.append(f"A technician works {hours_a_day:g} hours on {WORKDAYS} days a week.")
    if lacking := sum(part.unmeasured for part in held.values()):
        found.append(f"On {lacking} visits the size of an area is not told; only their fixed minutes are counted.")
    return tuple(found)
