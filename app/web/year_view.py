"""What the page of a year shows: its calendar as places on a line, its visits, its bars; nothing is judged here."""

from __future__ import annotations

import calendar
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date as Date
from datetime import timedelta
from typing import Any

from app.engine.output import Amount
from app.season.property import Property
from app.season.year_output import Allowance, FrontierPoint, Relax, Span, WeedWindow, YearPlan, YearVisit
from app.services import knowledge_service
from app.services.year_compare import treatment, whole
from app.services.years import KeptYear
from app.web.choices import MONTHS

KIND_WORDS = {
    "emerging": "comes up",
    "stands": "stands",
    "seeds": "sets seed",
    "best": "best time to spray",
    "wasted": "a spray is wasted",
}
# What a weed does stands above the line of its row, what a spray does below.
_LIFE = ("emerging", "stands", "seeds")
_FIRST_PURPOSE = "preemergence"
_PURPOSES = {"preemergence": "before it comes up", "postemergence": "on what stands"}
# The drawing of cost and control, in its own units.
_WIDE, _HIGH, _LEFT, _TOP = 320.0, 150.0, 34.0, 10.0


@dataclass(frozen=True)
class Bar:
    """A span of the year as a place on its line [percent], and what it says."""

    x: float
    width: float
    kind: str
    told_by: str
    words: str


@dataclass(frozen=True)
class Lane:
    """A weed's row of the calendar: its life above, below what sprays do, one row for each purpose."""

    weed: str
    name: str
    pressure: str
    life: tuple[Bar, ...]
    sprays: tuple[tuple[Bar, ...], ...]


@dataclass(frozen=True)
class VisitMark:
    """A visit as a mark of the calendar, and the days on which it does about as much."""

    number: int
    x: float
    bar: Bar
    sprayed: bool
    date: Date


@dataclass(frozen=True)
class Month:
    """A month of the calendar: its place [percent], and what begins in it, in words."""

    name: str
    x: float
    width: float
    begins: tuple[str, ...]


@dataclass(frozen=True)
class Calendar:
    """The year by weeks: months, the row of visits and a row for each weed; `kinds` are the spans that occur."""

    months: tuple[Month, ...]
    weeks: tuple[float, ...]
    visits: tuple[VisitMark, ...]
    lanes: tuple[Lane, ...]
    kinds: frozenset[str]

    @property
    def two_rows(self) -> bool:
        """Whether a weed has a row of sprays before it comes up and one on what stands."""
        return any(len(lane.sprays) > 1 for lane in self.lanes)


@dataclass(frozen=True)
class VisitPart:
    """What a visit does on areas that are treated alike."""

    visit: YearVisit
    areas: tuple[str, ...]
    names: str


@dataclass(frozen=True)
class ShownVisit:
    """A visit with all its areas, those that are treated alike together."""

    number: int
    date: Date
    parts: tuple[VisitPart, ...]
    sprayed: bool
    groups: tuple[int, ...]


@dataclass(frozen=True)
class AllowanceBar:
    """How much of its yearly ceiling an active uses, as shares of a bar [percent]."""

    told: Allowance
    area: str
    before: float | None
    now: float | None
    used: Amount
    maximum: Amount | None


@dataclass(frozen=True)
class FrontierDot:
    """A plan on the drawing of control against cost or visits.

    `number` is its place in the plan's own order; `best` whether nothing does as much for less: what is not does
    it on fewer visits.
    """

    number: int
    point: FrontierPoint
    x: float
    y: float
    best: bool


def page_of(kept: KeptYear, place: Property) -> dict[str, Any]:
    """What the page of a plan needs."""
    plan = kept.plan
    base = knowledge_service.knowledge_base()
    names = area_names(kept, place)
    sizes = {area.id: area.area for area in kept.asked.areas}
    by_cost = all(point.cost is not None for point in plan.frontier)
    return {
        "plan": plan,
        "asked": kept.asked,
        "note": kept.note,
        "area_names": names,
        "area_sizes": sizes,
        "control": whole(plan.control),
        "calendar": calendar_of(plan),
        "kind_words": KIND_WORDS,
        "visits": visits_of(plan.visits, names),
        "allowance": [allowance_bar(item, names) for item in plan.allowance],
        "dots": frontier_dots(plan.frontier, by_cost=by_cost),
        "by_cost": by_cost,
        "numbers": {key: number for number, key in enumerate(plan.sources, start=1)},
        "weed_names": {key: weed.name for key, weed in base.weed_names.items()},
        "stale": plan.knowledge_version != base.version,
        "sure": sure_words(plan),
        "short_day": short_day,
        "treatment": treatment,
        "amount_of": lambda value, unit: Amount(value=value, unit=unit),
    }


def area_names(kept: KeptYear, place: Property) -> dict[str, str]:
    """Names of the areas of a plan, by id; as the property tells them now where it still has them."""
    told = {area.id: area.name or area.id for area in kept.asked.areas}
    return told | {area.id: area.name for area in place.areas if area.id in told}


def short_day(day: Date) -> str:
    """A day of the season in words.

    >>> short_day(Date(2027, 5, 4))
    '4 May'
    """
    return f"{day.day} {MONTHS[str(day.month)]}"


def _percent(day: Date, year: int) -> float:
    """Where a day begins on the line of its year [percent]; days before and after lie at the ends."""
    days = 366 if calendar.isleap(year) else 365
    return round(100 * min(max((day - Date(year, 1, 1)).days, 0), days) / days, 2)


def bar_of(span: Span, year: int, kind: str, told_by: str, words: str) -> Bar:
    """A span on the line of a year, its last day within."""
    start, end = _percent(span.start, year), _percent(span.end + timedelta(days=1), year)
    return Bar(start, round(max(end - start, 0.3), 2), kind, told_by, words)


def calendar_of(plan: YearPlan) -> Calendar:
    """The plan on the line of its year."""
    year = plan.year
    lanes = []
    for weed in plan.weeds:
        bars = [
            (window, bar_of(window, year, window.kind, window.told_by, _window_words(window)))
            for window in weed.windows
        ]
        life = tuple(bar for window, bar in bars if window.kind in _LIFE)
        rows: dict[str, list[Bar]] = {}
        for window, bar in sorted(bars, key=lambda pair: pair[0].purpose != _FIRST_PURPOSE):
            if window.kind not in _LIFE:
                rows.setdefault(window.purpose, []).append(bar)
        lanes.append(Lane(weed.weed, weed.name, weed.pressure, life, tuple(tuple(row) for row in rows.values())))
    visits = []
    for shown in visits_of(plan.visits, {}):
        span = _together(shown)
        bar = bar_of(span, year, "visit", "plan", _span_words(span))
        visits.append(VisitMark(shown.number, _percent(shown.date, year), bar, shown.sprayed, shown.date))
    months = []
    for number in range(1, 13):
        first_day = Date(year, number, 1)
        last = Date(year, number, calendar.monthrange(year, number)[1])
        x = _percent(first_day, year)
        width = round(_percent(last + timedelta(days=1), year) - x, 2)
        months.append(Month(MONTHS[str(number)], x, width, tuple(_begins(plan, number))))
    weeks = tuple(_percent(Date(year, 1, 1) + timedelta(weeks=week), year) for week in range(1, 52))
    kinds = frozenset(window.kind for weed in plan.weeds for window in weed.windows)
    return Calendar(tuple(months), weeks, tuple(visits), tuple(lanes), kinds)


def _together(shown: ShownVisit) -> Span:
    """The days on which a visit does about as much on every area that it sprays."""
    windows = [part.visit.window for part in shown.parts if part.visit.applications]
    start = max((window.start for window in windows), default=shown.date)
    end = min((window.end for window in windows), default=shown.date)
    return Span(start=min(start, shown.date), end=max(end, shown.date))


def _begins(plan: YearPlan, month: int) -> Iterable[str]:
    """What begins in a month, by day: visits, and the windows of the weeds."""
    found: list[tuple[Date, str]] = []
    for shown in visits_of(plan.visits, {}):
        if shown.date.month == month:
            names = dict.fromkeys(treatment(part.visit) for part in shown.parts if part.visit.applications)
            words = "; ".join(names) or "nothing is sprayed"
            found.append((shown.date, f"{short_day(shown.date)}: visit {shown.number}, {words}"))
    for weed in plan.weeds:
        for window in weed.windows:
            if window.start.month == month and window.start.year == plan.year:
                name = f"{weed.name[:1].upper()}{weed.name[1:]}"
                why = "" if window.kind in _LIFE else f" {window.text}"
                found.append((window.start, f"{name}, {_window_words(window)}.{why}".rstrip()))
    return [words for _, words in sorted(found, key=lambda item: item[0])]


def _window_words(window: WeedWindow) -> str:
    purpose = f" {_PURPOSES.get(window.purpose, window.purpose)}" if window.purpose else ""
    told = "by the weather" if window.told_by == "weather" else "by the calendar"
    return f"{KIND_WORDS[window.kind]}{purpose}: {_span_words(window)}, {told}"


def _span_words(span: Span) -> str:
    return f"{short_day(span.start)} to {short_day(span.end)}"


def visits_of(visits: Sequence[YearVisit], names: dict[str, str]) -> tuple[ShownVisit, ...]:
    """The visits by number, areas that get the same for the same weeds together."""
    found = []
    for number in dict.fromkeys(visit.number for visit in visits):
        here = [visit for visit in visits if visit.number == number]
        alike: dict[Any, list[YearVisit]] = {}
        for visit in here:
            tank = tuple((a.products, a.adjuvant, a.carrier) for a in visit.applications)
            alike.setdefault((tank, visit.against, visit.window, visit.locked), []).append(visit)
        parts = tuple(
            VisitPart(same[0], tuple(v.area for v in same), _listed([names.get(v.area, v.area) for v in same]))
            for same in alike.values()
        )
        groups = tuple(sorted({group for visit in here for group in visit.groups}))
        sprayed = any(visit.applications for visit in here)
        found.append(ShownVisit(number, here[0].date, parts, sprayed, groups))
    return tuple(found)


def _listed(names: Sequence[str]) -> str:
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last


def allowance_bar(told: Allowance, names: dict[str, str]) -> AllowanceBar:
    """An allowance as a bar; without a ceiling by rate, by its number of applications where that is bounded."""
    used = Amount(value=told.used, unit=told.unit)
    maximum = Amount(value=told.maximum, unit=told.unit) if told.maximum is not None else None
    area = names.get(told.area, told.area)
    if not told.maximum:
        return AllowanceBar(told, area, None, None, used, maximum)
    before = 100 * min(told.before / told.maximum, 1)
    return AllowanceBar(told, area, before, 100 * min(told.used / told.maximum, 1) - before, used, maximum)


def frontier_dots(frontier: Sequence[FrontierPoint], *, by_cost: bool) -> tuple[FrontierDot, ...]:
    """The points of the frontier on its drawing: control upward from 0 to 100, cost or visits to the right."""
    across = [(point.cost or 0.0) if by_cost else float(point.visits) for point in frontier]
    most = max(across, default=0.0) or 1.0
    found, reached = [], -1.0
    for number in sorted(range(len(frontier)), key=lambda n: (across[n], -frontier[n].control)):
        value, point = across[number], frontier[number]
        x = _LEFT + (_WIDE - _LEFT - 12) * value / most
        y = _TOP + (_HIGH - _TOP - 24) * (1 - point.control / 100)
        found.append(FrontierDot(number, point, round(x, 1), round(y, 1), point.control > reached))
        reached = max(reached, point.control)
    return tuple(found)


def sure_words(plan: YearPlan) -> str:
    """How sure it is that nothing does better, in words."""
    if plan.proven:
        return "Proved: within what was asked, no other plan is expected to do better."
    more = plan.bound - plan.objective
    return (
        f"Not proved to be the best: another plan might do up to {more:.1f} points better, {plan.bound:.1f} of 100 at "
        "most. The search was ended by its time."
    )


def signed(points: float) -> str:
    """A difference with its sign.

    >>> signed(-6.04), signed(1.25)
    ('−6.0', '+1.2')
    """
    return f"{points:+.1f}".replace("-", "\N{MINUS SIGN}")


def loosen_words(item: Relax, currency: str) -> str:
    """What the button says that loosens a constraint."""
    field = item.constraint.partition(".")[0]
    if field == "locks":
        return "Leave this visit to the plan"
    if field == "forbid":
        return "Allow it again"
    if item.constraint == "limits.budget_per_1000_ft2":
        return f"Allow {item.least:.2f} {currency} per 1000 ft2" if item.least is not None else "Leave out the bound"
    if item.least is not None:
        word = "products a visit" if item.constraint.startswith("limits") else "visits"
        return f"Allow {item.least:.0f} {word}"
    return "Loosen this"


def seasons_near(planned: dict[int, int], season: int, today: Date) -> dict[int, str]:
    """The seasons to choose from, with how many properties are planned."""
    years = sorted({*planned, season, today.year, today.year + 1})
    return {year: f"{year} ({planned[year]} planned)" if year in planned else str(year) for year in years}
