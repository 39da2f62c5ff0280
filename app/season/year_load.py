"""What a season asks of those who spray: visits, area and minutes, by week and technician."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date as Date
from datetime import timedelta

from app.engine.output import Output
from app.season.pricing import Pricing

WORKDAYS = 5
_MINUTES = 60
_WEEK = 7
_THOUSAND = 1000


@dataclass(frozen=True)
class Stop:
    """A visit to a property: who goes there and what is treated [ft2]; None where a size is not told.

    Within `first` and `last` it does about as much as on its day.
    """

    day: Date
    technician: str
    treated_ft2: float | None
    first: Date
    last: Date


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
    spread_visits, spread_minutes, spread_busy
        The same where visits are moved within their windows, so that the fullest weeks are less full.
    """

    week: Date
    technician: str | None
    visits: int
    treated_ft2: float
    unmeasured: int
    minutes: float | None
    hours_of_work: float | None
    busy: float | None
    spread_visits: int
    spread_minutes: float | None
    spread_busy: float | None


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
    windows: dict[tuple[str, Date, Date, Date], _Sum] = {}
    for stop in stops:
        week, who = _monday(stop.day), stop.technician
        held.setdefault((week, who), _Sum()).add(stop, pricing)
        # Each stays a window of weeks, so that a branch of any size takes no more room than its windows.
        windows.setdefault((who, _monday(stop.last), _monday(stop.first), week), _Sum()).add(stop, pricing)
    spread = _spread(windows, pricing is not None)
    weeks = sorted({week for week, _ in (*held, *spread)})
    people = sorted({who for _, who in held})
    reckoned = _Reckoning(held, spread, pricing is not None, hours_a_day)
    return YearLoad(
        weeks=tuple(reckoned.row(week, None, people) for week in weeks),
        technicians=tuple(
            reckoned.row(week, who, [who])
            for week in weeks
            for who in people
            if (week, who) in held or (week, who) in spread
        ),
        notes=_notes(held, pricing, hours_a_day),
    )


def _monday(day: Date) -> Date:
    return day - timedelta(days=day.weekday())


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


def _spread(windows: Mapping[tuple[str, Date, Date, Date], _Sum], timed: bool) -> dict[tuple[Date, str], _Sum]:
    """Visits moved within their windows: those that can wait least first, each to the week that is least full.

    Weeks alike full: the one nearest to the planned one. A visit of a window takes as long as they do on the mean.
    """
    found: dict[tuple[Date, str], _Sum] = {}
    for (who, last, first, planned), told in sorted(windows.items(), key=lambda item: item[0]):
        weeks = [first + timedelta(days=step) for step in range(0, (last - first).days + 1, _WEEK)]
        for week in weeks:
            found.setdefault((week, who), _Sum())
        for _ in range(told.visits):

            def full(week: Date, who: str = who, planned: Date = planned) -> tuple[float, int, Date]:
                here = found[week, who]
                return (here.minutes if timed else here.visits), abs((week - planned).days), week

            chosen = found[min(weeks, key=full), who]
            chosen.visits += 1
            chosen.minutes += told.minutes / told.visits
    return {key: told for key, told in found.items() if told.visits}


@dataclass(frozen=True)
class _Reckoning:
    held: Mapping[tuple[Date, str], _Sum]
    spread: Mapping[tuple[Date, str], _Sum]
    timed: bool
    hours_a_day: float | None

    def row(self, week: Date, technician: str | None, people: Sequence[str]) -> WeekLoad:
        """The load of some people in a week; hours are those of everybody who has a visit in the season."""
        planned = [self.held[week, who] for who in people if (week, who) in self.held]
        spread = [self.spread[week, who] for who in people if (week, who) in self.spread]
        hours = len(people) * WORKDAYS * self.hours_a_day if self.hours_a_day is not None else None
        minutes, moved = self._minutes(planned), self._minutes(spread)
        return WeekLoad(
            week=week,
            technician=technician,
            visits=sum(part.visits for part in planned),
            treated_ft2=round(sum(part.treated for part in planned), 1),
            unmeasured=sum(part.unmeasured for part in planned),
            minutes=minutes,
            hours_of_work=round(hours, 2) if hours is not None else None,
            busy=_share(minutes, hours),
            spread_visits=sum(part.visits for part in spread),
            spread_minutes=moved,
            spread_busy=_share(moved, hours),
        )

    def _minutes(self, parts: Sequence[_Sum]) -> float | None:
        return round(sum(part.minutes for part in parts), 1) if self.timed else None


def _share(minutes: float | None, hours: float | None) -> float | None:
    return round(minutes / (hours * _MINUTES), 4) if minutes is not None and hours else None


def _notes(held: dict[tuple[Date, str], _Sum], pricing: Pricing | None, hours_a_day: float | None) -> tuple[str, ...]:
    found = [
        "As planned, each visit counts in the week of its day; spread, it is moved within the days on which it does "
        "about as much, to the week that is least full. Intervals between visits are to be minded then."
    ]
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
