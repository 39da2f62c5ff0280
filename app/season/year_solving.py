"""The year of a property as a program, and its best plan: which days become visits, and what each holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date as Date
from datetime import timedelta

from app.engine.considered import stops_in
from app.engine.measures import Rate
from app.engine.product import Product
from app.engine.rules import Finding, Question, ask
from app.engine.rules.limits import least_interval
from app.engine.situation import PastApplication
from app.season.year import YearAsked
from app.season.year_candidates import Part, YearMemo, places_of, understood_on
from app.season.year_problem import Builder, blocks_of
from app.season.year_rows import Dates, Rows, in_a_row_rows
from app.season.year_solve import Problem, Row, Solution, solve
from knowledge.base import KnowledgeBase

# Days between those among which visits are chosen first; then each may move by whole weeks beside.
_STEP, _WEEK = 21, 7
# Rounds in which visits may move on by a week.
_ROUNDS = 3
# The first choice of dates is allowed so many times the gap of the last.
_COARSE = 3.0


@dataclass(frozen=True)
class Solved:
    """A property's year with its best plan.

    `past` are the dates of visits that lie before the first day that is planned, `season` the days among which
    visits were chosen on which something is worth considering, `tried` how many days were.
    """

    base: KnowledgeBase
    asked: YearAsked
    products: tuple[Product, ...] | None
    memo: YearMemo
    start: Date
    past: tuple[Date, ...]
    builder: Builder
    dates: Dates
    rows: Rows
    problem: Problem
    solution: Solution
    season: tuple[Date, ...] = ()
    tried: int = 0

    @property
    def visited(self) -> tuple[int, ...]:
        """Places of the days on which something is applied or that a lock holds free, and of the told dates all."""
        if not self.dates.chosen:
            return tuple(range(len(self.dates.days)))
        free = {lock.date for lock in self.asked.locks if not lock.actives and lock.date is not None}
        kept = {day for day, date in enumerate(self.dates.days) if date in free}
        return tuple(sorted({self.builder.choices[at].day for at in self.solution.chosen or ()} | kept))

    def on(self, block: int, day: int) -> list[int]:
        """Chosen places of a block on a day, by what they are."""
        mine = [at for at in self.solution.chosen or () if self._is(at, block, day)]
        return sorted(mine, key=lambda at: self.builder.choices[at].part.key)

    def _is(self, at: int, block: int, day: int) -> bool:
        choice = self.builder.choices[at]
        return choice.block == block and choice.day == day

    def points(self, chosen: Sequence[int] | None = None) -> float:
        """Expected control of a choice, the best where none is told [points of 100]."""
        held = self.solution.chosen or () if chosen is None else chosen
        return self.problem.value(held) + float(self.problem.penalty[list(held)].sum())


def first_planned(asked: YearAsked) -> Date:
    """The first day that may be planned: as told, else after all that was applied this year."""
    if asked.start is not None:
        return asked.start
    last = max((past.date for past in asked.applied_this_year), default=None)
    return last + timedelta(days=1) if last is not None and last.year == asked.year else Date(asked.year, 1, 1)


def solved(
    base: KnowledgeBase,
    asked: YearAsked,
    products: Sequence[Product] | None,
    memo: YearMemo,
    without: frozenset[str] = frozenset(),
) -> Solved:
    """The best plan of a year.

    Parameters
    ----------
    without : frozenset of str
        Names of constraints that are left out.
    """
    start = first_planned(asked)
    told = asked.visits.dates
    if told is not None:
        days = tuple(day for day in told if day >= start)
        past = tuple(day for day in told if day < start)
        return _solved(base, asked, products, memo, without, Dates(days, False, len(days), 0), start, past)
    most, gap = asked.visits.count or 0, round(base.parameter("year-visit-gap"))
    named = _named_days(asked)
    every = sorted({*grid(start, asked.year), *named})
    tolerance = _COARSE * base.parameter("year-tolerance")
    first = _solved(base, asked, products, memo, without, Dates(tuple(every), True, most, gap), start, (), tolerance)
    if first.solution.chosen is None or not first.visited:
        return first
    best, tried = first, set(every)
    for _ in range(_ROUNDS):
        held = [best.dates.days[d] for d in best.visited]
        near = {day + timedelta(days=shift) for day in held for shift in (-_WEEK, 0, _WEEK)}
        days = tuple(sorted(day for day in {*near, *named} if day >= start and day.year == asked.year))
        if best is not first and set(days) <= tried:
            break
        tried |= set(days)
        again = _solved(base, asked, products, memo, without, Dates(days, True, most, gap), start, ())
        if again.solution.chosen is None:
            break
        best = again
    season = tuple(sorted({every[choice.day] for choice in first.builder.choices if choice.day >= 0}))
    return replace(best, season=season, tried=len(tried))


def grid(start: Date, year: int) -> list[Date]:
    """The days among which visits are chosen first: Mondays, so that a plan does not move with the day it is asked."""
    day = start + timedelta(days=-start.weekday() % _WEEK)
    days = []
    while day.year == year:
        days.append(day)
        day += timedelta(days=_STEP)
    return days


def _named_days(asked: YearAsked) -> set[Date]:
    return {
        day for day in (*(lock.date for lock in asked.locks), *(item.date for item in asked.forbid)) if day is not None
    }


def _solved(
    base: KnowledgeBase,
    asked: YearAsked,
    products: Sequence[Product] | None,
    memo: YearMemo,
    without: frozenset[str],
    dates: Dates,
    start: Date,
    past: tuple[Date, ...],
    tolerance: float | None = None,
) -> Solved:
    held = tuple(products) if products is not None else None
    builder = Builder(base, asked, blocks_of(asked, places_of(asked, start, held)), held, memo)
    wanted = frozenset(active for lock in asked.locks for active in lock.actives)
    builder.add_days(dates.days, wanted)
    done = builder.add_done()
    rows = Rows(builder, dates, without)
    bound = rows.all()
    problem = builder.problem(len(dates.days) + rows.extra, bound, done)

    def faults(chosen: tuple[int, ...], _: tuple[int, ...]) -> Sequence[Row]:
        return [*in_a_row_rows(rows, chosen), *broken(base, builder, dates, chosen)]

    gap = tolerance if tolerance is not None else base.parameter("year-tolerance")
    solution = solve(problem, asked.options.time_limit_s, gap, faults)
    return Solved(base, asked, held, memo, start, past, builder, dates, rows, problem, solution)


def applied_before(
    builder: Builder, dates: Dates, chosen: Sequence[int], block: int, day: int
) -> list[PastApplication]:
    """What was applied before the plan and what it applies before a day, as the rules count it."""
    found = list(builder.blocks[block].place.applied)
    for at in chosen:
        choice = builder.choices[at]
        if choice.block == block and choice.day < day:
            found += as_applied(choice.part, dates.days[choice.day])
    return sorted(found, key=lambda past: (past.date, past.active))


def as_applied(part: Part, day: Date) -> list[PastApplication]:
    """What a part brings of each active, as the rules of the year count it."""
    product = part.product
    return [
        PastApplication(
            date=day,
            active=dose.active.id,
            rate=Rate(value=dose.rate.value, unit=dose.rate.unit),
            product=product.name if product is not None else None,
        )
        for dose in part.doses
    ]


def broken(base: KnowledgeBase, builder: Builder, dates: Dates, chosen: Sequence[int]) -> list[Row]:
    """Rows against every stop that the rules find of a plan, visit by visit with what came before it.

    The limits are written down beforehand; this holds the plan to every rule all the same.
    """
    found: list[Row] = []
    for at in chosen:
        choice = builder.choices[at]
        stops = stops_against(base, builder, dates, chosen, at)
        if not stops:
            continue
        held = set(choice.part.actives)
        earlier = [
            other
            for other in chosen
            if builder.choices[other].block == choice.block
            and builder.choices[other].day < choice.day
            and (
                held & set(builder.choices[other].part.actives)
                or builder.choices[other].part.label == choice.part.label
            )
        ]
        found.append(Row(tuple((place, 1.0) for place in (*earlier, at)), most=float(len(earlier))))
    return found + _injuring(base, builder, chosen)


def stops_against(
    base: KnowledgeBase, builder: Builder, dates: Dates, chosen: Sequence[int], at: int
) -> tuple[Finding, ...]:
    """The stops that stand against a choice after all that comes before it."""
    choice = builder.choices[at]
    held = set(choice.part.actives)
    past = applied_before(builder, dates, chosen, choice.block, choice.day)
    told = tuple(p for p in past if p.active in held)
    place, day = builder.blocks[choice.block].place, dates.days[choice.day]
    key = (place.key, day, choice.part.key, tuple(p.model_dump_json() for p in told))
    if key not in builder.memo.stops:
        understood = understood_on(base, place, day, builder.products, (), told)
        found: list[Finding] = []
        for dose in choice.part.doses:
            question = Question(base, understood, dose)
            found += stops_in((*ask(question, "dose"), *ask(question, "repeat")))
            wait, sources = least_interval(question)
            since = min(((day - p.date).days for p in told if p.active == dose.active.id), default=None)
            if since is not None and since < wait:
                values = {"active": dose.active.name, "days": str(wait), "since": str(since)}
                found.append(Finding("retreat-interval", "stop", values, sources))
        builder.memo.stops[key] = tuple(found)
    return builder.memo.stops[key]


def _injuring(base: KnowledgeBase, builder: Builder, chosen: Sequence[int]) -> list[Row]:
    """Rows against tanks whose parts together would injure a turf too much, where no two of them do."""
    tanks: dict[tuple[int, int], list[int]] = {}
    for at in chosen:
        tanks.setdefault((builder.choices[at].block, builder.choices[at].day), []).append(at)
    found = []
    for held in tanks.values():
        turfs = zip(*(builder.choices[at].part.injury for at in held), strict=True)
        share, ceiling = base.parameter("partner-injury"), base.parameter("injury-unacceptable")
        if any(max(told) + share * (sum(told) - max(told)) > ceiling for told in turfs):
            found.append(Row(tuple((at, 1.0) for at in held), most=float(len(held) - 1)))
    return found


def passes_on(solved_year: Solved, block: int, day: Date, part: Part) -> bool:
    """Whether a part passes the rules on another day, whatever else is planned."""
    base, place = solved_year.base, solved_year.builder.blocks[block].place
    understood = understood_on(base, place, day, solved_year.products)
    for dose in part.doses:
        question = Question(base, understood, dose, part.adjuvant)
        if stops_in((*ask(question, "dose"), *ask(question, "repeat"), *ask(question, "adjuvant"))):
            return False
    return True
