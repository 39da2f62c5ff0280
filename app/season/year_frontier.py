"""Expected control against cost and visits, and what one more visit would buy."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from app.engine.wording import listed
from app.season.daily import day_words
from app.season.year_output import FrontierPoint
from app.season.year_problem import Builder
from app.season.year_rows import BUDGET, Dates, Rows, in_a_row_rows
from app.season.year_solve import Row, Solution, solve
from app.season.year_solving import Solved, broken, grid

# Shares of the best plan's cost at which a dearer plan is held against a cheaper one.
_SHARES = (0.25, 0.5, 0.75)
# At most so many numbers of visits are reckoned below the plan's own.
_COUNTS = 7
# Points within which two plans do as much.
_ALIKE = 0.05
_BESIDE = 14
# The first choice is allowed so many times the gap of the plan itself.
_COARSE = 5.0


@dataclass(frozen=True)
class _Point:
    cost: float | None
    control: float
    visits: int
    proven: bool


def frontier(held: Solved) -> tuple[FrontierPoint, ...]:
    """Plans that nothing beats at their cost, or at their number of visits where prices are unknown, the least first.

    Every plan keeps the locks, limits and stops of the one asked for, and sprays on some of its days.
    """
    own = _point(held, held.solution)
    found = [own, _Point(0.0 if held.products is not None else None, round(held.points(()), 2), 0, True)]
    if own.visits > 1:
        most = own.visits
        counts = sorted({max(1, round(most * step / _COUNTS)) for step in range(1, _COUNTS)} - {most})
        if own.cost:
            reckoned = [_solve(held, most, own.cost * share) for share in _SHARES]
        else:
            reckoned = [_solve(held, count, None) for count in counts if count < most]
        found += [_point(held, one) for one in reckoned if one.chosen]
    return _with_knee(_unbeaten(found))


def _point(held: Solved, solution: Solution) -> _Point:
    choices = [held.builder.choices[at] for at in solution.chosen or ()]
    visits = len({choice.day for choice in choices})
    cost: float | None = None
    if held.products is not None:
        # By the ground that each block has.
        told = sum(c.part.cost * held.builder.blocks[c.block].share for c in choices)
        cost = round(told, 4) if math.isfinite(told) else None
    return _Point(cost, round(held.points(solution.chosen or ()), 2), visits, solution.proven)


def _solve(held: Solved, most: int, budget: float | None) -> Solution:
    """The best of so many of the plan's days, within a budget where one is told."""
    dates = Dates(held.dates.days, True, most, held.dates.gap)
    rows = Rows(held.builder, dates, frozenset(f"locks.{number}" for number in range(len(held.asked.locks))))
    elsewhere = tuple((day, 1.0) for day in range(len(dates.days)) if day not in held.visited)
    bound = [*rows.all(), *_kept_locks(held), Row((), most=0.0, visits=elsewhere)]
    if budget is not None:
        bound = [row for row in bound if row.name != BUDGET]
        bound += [rows.budget_row(block, budget) for block in range(len(held.builder.blocks))]
    problem = replace(held.problem, rows=tuple(bound), days=len(dates.days) + rows.extra)
    return solve(problem, held.asked.options.time_limit_s, _gap(held), _faults(held, held.builder, rows))


def _kept_locks(held: Solved) -> Iterator[Row]:
    """What locks hold, on the days on which the plan keeps them."""
    visited = held.visited
    for lock in held.asked.locks:
        number = lock.visit
        days = held.rows.days_named(lock) if lock.date is not None or not held.dates.chosen else []
        if not days and number is not None and number <= len(visited):
            days = [visited[number - 1]]
        for block, group in enumerate(held.builder.blocks):
            if lock.area is not None and all(area.id != lock.area for area in group.areas):
                continue
            for day in days:
                mine = [at for at, c in enumerate(held.builder.choices) if c.block == block and c.day == day]
                if not lock.actives:
                    yield Row(tuple((at, 1.0) for at in mine), most=0.0)
                for active in lock.actives:
                    holding = [at for at in mine if active in held.builder.choices[at].part.actives]
                    yield Row(tuple((at, 1.0) for at in holding), least=1.0)


def _gap(held: Solved) -> float:
    return _COARSE * held.base.parameter("year-tolerance")


def _faults(held: Solved, builder: Builder, rows: Rows) -> Callable[[tuple[int, ...], tuple[int, ...]], Sequence[Row]]:
    def faults(chosen: tuple[int, ...], _: tuple[int, ...]) -> Sequence[Row]:
        return [*in_a_row_rows(rows, chosen), *broken(held.base, builder, rows.dates, chosen)]

    return faults


def _unbeaten(points: Sequence[_Point]) -> list[_Point]:
    """Points that no other beats, the least first."""

    def key(point: _Point) -> tuple[float, int, float]:
        return (point.cost if point.cost is not None else 0.0, point.visits, -point.control)

    kept: list[_Point] = []
    for point in sorted(set(points), key=key):
        if not any(_beats(other, point) for other in points if other != point):
            if kept and (kept[-1].cost, kept[-1].visits) == (point.cost, point.visits):
                continue
            kept.append(point)
    return kept


def _beats(other: _Point, point: _Point) -> bool:
    if other.cost is not None and point.cost is not None:
        return other.cost <= point.cost and other.control >= point.control
    return other.visits <= point.visits and other.control >= point.control


def _with_knee(points: Sequence[_Point]) -> tuple[FrontierPoint, ...]:
    """The points, and which of them lies farthest above the line from the first to the last."""
    along = [point.cost if point.cost is not None else float(point.visits) for point in points]
    if points and along[-1] == along[0]:
        along = [float(point.visits) for point in points]
    knee = -1
    if len(points) > 2 and along[-1] > along[0]:
        rise = points[-1].control - points[0].control
        above = [
            point.control - points[0].control - rise * (x - along[0]) / (along[-1] - along[0])
            for point, x in zip(points, along, strict=True)
        ]
        knee = max(range(len(points)), key=lambda place: above[place])
        if above[knee] <= _ALIKE:
            knee = -1
    return tuple(
        FrontierPoint(cost=p.cost, control=p.control, visits=p.visits, knee=place == knee, proven=p.proven)
        for place, p in enumerate(points)
    )


def next_visit(held: Solved) -> str:
    """What one visit more would buy beside the plan as it stands."""
    taken = [held.dates.days[day] for day in held.visited]
    gap = held.dates.gap if held.dates.chosen else _BESIDE
    days = tuple(
        day for day in grid(held.start, held.asked.year) if all(abs((day - other).days) >= gap for other in taken)
    )
    chosen = held.solution.chosen or ()
    if not days:
        return "No further visit has room beside these."
    builder = Builder(held.base, held.asked, held.builder.blocks, held.products, held.memo)
    every = tuple(sorted({*days, *(held.dates.days[held.builder.choices[at].day] for at in chosen)}))
    builder.add_days(every, frozenset())
    done = builder.add_done()
    dates = Dates(every, True, len({held.builder.choices[at].day for at in chosen}) + 1, 0)
    rows = Rows(builder, dates)
    fixed = _same(held, builder, dates, chosen)
    if fixed is None:
        return ""
    hold = [Row(((at, 1.0),), least=1.0) for at in fixed]
    bound = [row for row in rows.all() if not row.name.startswith("locks.")]
    problem = builder.problem(len(every) + rows.extra, [*bound, *hold], done)
    found = solve(problem, held.asked.options.time_limit_s, _gap(held), _faults(held, builder, rows))
    more = [builder.choices[at] for at in found.chosen or () if at not in set(fixed)]
    new = sorted({choice.day for choice in more} - {builder.choices[at].day for at in fixed})
    if not new or problem.value(found.chosen or ()) <= problem.value(fixed):
        least = held.base.parameter("year-least-gain")
        free = held.dates.most - len(taken) if held.dates.chosen else 0
        if free > 0:
            are = "is" if free == 1 else "are"
            return f"{free} of the visits asked for {are} free: nothing more would add {least:g} % control of one weed."
        return f"One more visit would add less than {least:g} % control of one weed, which is not worth a product."
    points = problem.value(found.chosen or ()) + float(problem.penalty[list(found.chosen or ())].sum())
    names = [part_name(held, choice.part.label) for choice in more if choice.day in new]
    when = day_words(every[new[0]], every[new[0]])
    gain = points - held.points()
    return f"One more visit, about {when}, would add {gain:.1f} points of expected control with {listed(names)}."


def part_name(held: Solved, label: str) -> str:
    """What a part is called: its product, active, or the actives of its mixture."""
    if label in held.base.actives:
        return held.base.actives[label].name
    if label in held.base.mixtures:
        parts = held.base.mixtures[label].rates[0].parts
        return " + ".join(held.base.actives[part.active].name for part in parts)
    return label


def _same(held: Solved, builder: Builder, dates: Dates, chosen: Sequence[int]) -> list[int] | None:
    """Places in another builder of what is chosen; None where it does not consider one of them."""
    places = {(c.block, dates.days[c.day], c.part.key): at for at, c in enumerate(builder.choices) if c.day >= 0}
    found = []
    for at in chosen:
        choice = held.builder.choices[at]
        place = places.get((choice.block, held.dates.days[choice.day], choice.part.key))
        if place is None:
            return None
        found.append(place)
    return found
