"""The plants of a weed through a year: who stands when, at which stage, and when the season is judged.

Annuals come in cohorts: plants that emerge early, in the main flush and late in it by the calendar of the zone, and
a late flush behind them. Winter annuals stand since last autumn and come anew in this one. A perennial or biennial
is one stand, judged in midsummer, when it is seen most, and at the year's end.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date as Date
from datetime import timedelta

from app.engine.understood import NOT_EMERGED, stages_by_calendar
from app.season.course import Course, courses, day_of
from knowledge.base import KnowledgeBase
from knowledge.models import Weed

# Places in a population by emergence: the middles of its early, main and late third.
_THIRDS = (("early", 1 / 6), ("main", 1 / 2), ("late", 5 / 6))
_ANNUAL = ("summer-annual", "winter-annual")
_RIPE = ("seed-set", "mature")
_MIDDLE = 1 / 2
# A flush that takes no longer than this is one cohort [days].
_SHORT = 14
# Days behind the last entry after which a straggler comes where no wasted window tells when emergence is over.
_BEHIND = 30
_NEW_YEAR, _SUMMER = (1, 1), (6, 30)
# Days before seedlings come up in which what holds the soil may still meet them.
_SOIL = 120


@dataclass(frozen=True)
class Unit:
    """Plants of a weed that fare alike.

    Attributes
    ----------
    name : str
        Which plants, in words, for example ``main flush``.
    share : float
        Part of the weed's weight, 0 to 1; those of a weed sum to 1.
    judged : date
        The day by which control must have come to count.
    soil_until : date
        The day on which what holds the soil before emergence is judged.
    steps : tuple of (date, str)
        The stages of an annual with the days on which they are entered; empty where the calendar tells.
    born : date or None
        First day on which an application can matter; None where plants always stand.
    late_by : int
        Days by which the spring of what always stands runs behind the calendar.
    """

    weed: Weed
    zone: str
    name: str
    share: float
    judged: Date
    soil_until: Date
    steps: tuple[tuple[Date, str], ...] = ()
    over: Date | None = None
    born: Date | None = None
    late_by: int = 0

    @property
    def key(self) -> tuple[object, ...]:
        """Equal for plants that fare alike."""
        return (self.weed.id, self.zone, self.name, self.judged, self.share, self.steps, self.late_by)

    def stages_on(self, day: Date) -> tuple[str, ...]:
        """Every stage in which they may be on a day; empty before their time and once they are gone."""
        if self.born is not None and day < self.born:
            return ()
        if not self.steps:
            # Warmth that comes late holds the spring back; by autumn the year has caught up.
            spring = day <= Date(day.year, *_SUMMER)
            return stages_by_calendar(self.weed, self.zone, day - timedelta(days=self.late_by) if spring else day)
        if self.over is not None and day > self.over:
            return ()
        entered = [stage for since, stage in self.steps if since <= day]
        return (entered[-1],) if entered else (NOT_EMERGED,)

    @property
    def emerges(self) -> Date | None:
        """When they come up; None where they always stand."""
        return self.steps[0][0] if self.steps else None


def units_of(base: KnowledgeBase, weed: Weed, zone: str, year: int, late_by: int = 0) -> tuple[Unit, ...]:
    """The plants of a weed in a year.

    Parameters
    ----------
    late_by : int
        Days by which warmth, and what it drives, comes later than the calendar of the zone.
    """
    if weed.life_cycle not in _ANNUAL:
        return _stand(base, weed, zone, year, late_by)
    found: list[Unit] = []
    # What comes up in autumn does not wait for a spring that was late.
    this = _cohorts(base, weed, zone, year, late_by if weed.life_cycle == "summer-annual" else 0)
    if weed.life_cycle == "winter-annual":
        before = _cohorts(base, weed, zone, year - 1, 0)
        carried = base.parameter("year-carry-over") if before and this else float(bool(before))
        found += [_standing(unit, zone, year, carried) for unit in before if unit.name == "main flush"]
        found += [replace(unit, share=unit.share * (1 - carried)) for unit in this]
    else:
        found += this
    return tuple(unit for unit in found if unit.share > 0) or _stand(base, weed, zone, year, late_by)


def _stand(base: KnowledgeBase, weed: Weed, zone: str, year: int, late_by: int) -> tuple[Unit, ...]:
    """A stand that is there all year, judged twice, and the seedlings that come up beside it."""
    summer = base.parameter("year-summer-share")
    middle = Date(year, 1, 1) + timedelta(days=round(base.parameter("year-midsummer")) - 1)
    first, end = Date(year, 1, 1), Date(year, 12, 31)
    young = _seedlings(base, weed, zone, year, late_by)
    rest = 1 - summer - sum(unit.share for unit in young)
    return (
        Unit(weed, zone, "stand by midsummer", summer, middle, middle, born=first, late_by=late_by),
        Unit(weed, zone, "stand at the year's end", rest, end, end, born=first, late_by=late_by),
        *young,
    )


def _seedlings(base: KnowledgeBase, weed: Weed, zone: str, year: int, late_by: int) -> tuple[Unit, ...]:
    """Plants that a perennial or biennial raises from seed in the year, which earlier sprays do not meet."""
    spans = [w for w in weed.calendar if zone in w.zones and w.stage == "seedling" and w.start <= w.end]
    if weed.life_cycle in _ANNUAL or not spans:
        return ()
    found = []
    for span in spans:
        up, last = (day_of(year, text) + timedelta(days=late_by) for text in (span.start, span.end))
        grown = last + timedelta(days=_BEHIND)
        steps = ((up + (last - up) / 2, "seedling"), (grown, "vegetative"))
        share = base.parameter("year-seedling-share") / len(spans)
        born = up - timedelta(days=_SOIL)
        found.append(Unit(weed, zone, "seedlings of the year", share, Date(year, 12, 31), grown, steps, None, born))
    return tuple(unit for unit in found if unit.steps[0][0] < unit.judged)


def _cohorts(base: KnowledgeBase, weed: Weed, zone: str, year: int, late_by: int) -> tuple[Unit, ...]:
    """Early, main and late plants of the flush that begins in a year, and the stragglers behind."""
    window = _dormant_until(weed, zone, year)
    if window is None:
        return ()
    start, end = window
    told = courses(weed, zone, NOT_EMERGED, end, 0)
    if not told or len(told[0].steps) < 2:
        return ()
    course, shift = told[0], timedelta(days=late_by)
    late = base.parameter("year-late-flush")
    until = _emergence_over(weed, zone, course)
    last = Date.fromordinal(course.steps[1].last)
    straggles = until or last + timedelta(days=_BEHIND)
    short = course.steps[1].last - course.steps[1].first <= _SHORT
    parts = (("main", _MIDDLE),) if short else _THIRDS
    found = [
        _unit(weed, zone, f"{name} flush", (1 - late) / len(parts), course, place, shift, start, straggles)
        for name, place in parts
    ]
    middle = _entered(course.steps[1].first, course.steps[1].last, _MIDDLE)
    comes = last + (straggles - last) / 2
    lag = max(comes - middle, timedelta(0))
    found.append(_unit(weed, zone, "stragglers", late, course, _MIDDLE, shift + lag, start, straggles + shift))
    return tuple(found)


def _unit(
    weed: Weed,
    zone: str,
    name: str,
    share: float,
    course: Course,
    place: float,
    shift: timedelta,
    start: Date,
    straggles: Date,
) -> Unit:
    steps = tuple((_entered(s.first, s.last, place) + shift, s.stage) for s in course.steps[1:])
    # A later stage is never entered before an earlier one.
    ordered: list[tuple[Date, str]] = []
    for day, stage in steps:
        ordered.append((max(day, ordered[-1][0]) if ordered else day, stage))
    over = Date.fromordinal(course.over) if course.over is not None else None
    # The year of the calendar's flush, wherever warmth moves it.
    end = Date(Date.fromordinal(course.steps[1].first).year, 12, 31)
    ripe = next((day for day, stage in ordered if stage in _RIPE), over or end)
    wasted = _wasted(weed, zone, "postemergence", ordered[0][0])
    judged = min((day for day in (ripe, wasted, end) if day is not None and day > ordered[0][0]), default=end)
    return Unit(weed, zone, name, share, judged, straggles, tuple(ordered), over, start)


def _standing(unit: Unit, zone: str, year: int, share: float) -> Unit:
    """Plants that came up last autumn, as they stand this year."""
    spring = Date(year, *_NEW_YEAR)
    ripe = next((day for day, stage in unit.steps if stage in _RIPE and day >= spring), unit.over)
    wasted = _wasted(unit.weed, zone, "postemergence", spring + timedelta(days=_BEHIND))
    ends = [day for day in (ripe, wasted) if day is not None and day.year == year]
    judged = min(ends, default=Date(year, 6, 30))
    return replace(unit, name="plants of last autumn", share=share, judged=judged)


def _entered(first: int, last: int, place: float) -> Date:
    return Date.fromordinal(round(first + place * (last - first)))


def _dormant_until(weed: Weed, zone: str, year: int) -> tuple[Date, Date] | None:
    """The dormant window that ends in a year: its first and last day. Of several the one before the larger flush."""
    spans = [w for w in weed.calendar if zone in w.zones and w.stage == NOT_EMERGED]
    found = []
    for span in spans:
        end = day_of(year, span.end)
        start = day_of(year if span.start <= span.end else year - 1, span.start)
        found.append((start, end))
    return max(found, key=lambda pair: pair[1] - pair[0], default=None)


def _emergence_over(weed: Weed, zone: str, course: Course) -> Date | None:
    """When a preemergence application comes too late for the year, by the wasted window after the flush."""
    first = Date.fromordinal(course.steps[1].first)
    found = _wasted(weed, zone, "preemergence", first)
    return found if found is not None and found <= first + timedelta(days=180) else None


def _wasted(weed: Weed, zone: str, purpose: str, after: Date) -> Date | None:
    """The first day of the next wasted window of a purpose after a day."""
    starts = [
        day_of(year, w.start)
        for w in weed.windows
        if w.kind == "wasted" and w.purpose == purpose and zone in w.zones
        for year in (after.year, after.year + 1)
    ]
    return min((day for day in starts if day > after), default=None)


def is_wasted(weed: Weed, zone: str, purpose: str, day: Date) -> bool:
    """Whether an application of a purpose is wasted on a weed on a day."""
    key = f"{day.month:02d}-{day.day:02d}"
    return any(w.kind == "wasted" and w.purpose == purpose and zone in w.zones and w.holds(key) for w in weed.windows)


def emerges_first(weed: Weed, zone: str, year: int) -> Date | None:
    """When the first plants of an annual usually come up by the calendar; None for what always stands."""
    window = _dormant_until(weed, zone, year) if weed.life_cycle in _ANNUAL else None
    told = courses(weed, zone, NOT_EMERGED, window[1], 0) if window is not None else ()
    if not told or len(told[0].steps) < 2:
        return None
    return Date.fromordinal(told[0].steps[1].first)
