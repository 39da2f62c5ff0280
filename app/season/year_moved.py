"""What a plan would do if a visit were left out or made on another day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date as Date
from datetime import timedelta

import numpy as np

from app.engine.control import Floats
from app.engine.responses import ControlFacts
from app.season.year_candidates import DayHere, understood_on
from app.season.year_solving import Solved, passes_on

_WEEK, _MOST_WEEKS = 7, 6
# Days that a visit keeps from those beside it when it is moved.
_BETWEEN = 14


def control_of(held: Solved, logs: Floats, block: int, weed: str) -> float:
    """Expected control of a weed on a block [percent] by the logs of the survivors of its units."""
    mine = [(u.weight, logs[at]) for at, u in enumerate(held.builder.units) if u.block == block and u.weed.weed == weed]
    whole = sum(weight for weight, _ in mine)
    return 100 * sum(weight * (1 - float(np.exp(-log))) for weight, log in mine) / whole if whole else 0.0


def without(held: Solved, places: Sequence[int]) -> list[int]:
    """The plan without some of its choices."""
    gone = set(places)
    return [at for at in held.solution.chosen or () if at not in gone]


def window_of(held: Solved, block: int, day: int) -> tuple[Date, Date]:
    """The first and last day on which what a visit holds does about as much, by whole weeks.

    It ends where a stop stands, where the loss exceeds what a window may cost (in points, and as a share of what the
    visit adds), or near the visits beside it.
    """
    own = held.dates.days[day]
    chosen = held.solution.chosen or ()
    adds = held.problem.value(chosen) - held.problem.value(without(held, held.on(block, day)))
    most = min(held.base.parameter("year-window-loss"), held.base.parameter("year-window-share") * max(adds, 0.0))
    ends = []
    for direction in (-1, 1):
        end = own
        for weeks in range(1, _MOST_WEEKS + 1):
            moved = own + timedelta(days=direction * weeks * _WEEK)
            if not _room(held, day, moved) or _loss(held, block, day, moved) > most:
                break
            end = moved
        ends.append(end)
    return ends[0], ends[1]


def _room(held: Solved, day: int, moved: Date) -> bool:
    if moved < held.start or moved.year != held.asked.year:
        return False
    beside = [held.dates.days[d] for d in held.visited if d != day]
    return all(abs((moved - other).days) >= _BETWEEN for other in beside)


def _loss(held: Solved, block: int, day: int, moved: Date) -> float:
    """Points of the objective that a visit costs on another day; infinite where a stop stands."""
    mine, builder = held.on(block, day), held.builder
    parts = [builder.choices[at].part for at in mine]
    if not all(passes_on(held, block, moved, part) for part in parts):
        return float("inf")
    understood = understood_on(held.base, builder.blocks[block].place, moved, held.products)
    here = DayHere(understood, ControlFacts(held.base, understood, held.memo.cells), tuple(parts), ())
    found = builder.effects_on(block, here, parts)
    order = builder.order_in(block)
    e = held.problem.effects
    kept = ~np.isin(e.choice, mine)
    new: list[tuple[int, int, int, float]] = []
    for row, at in enumerate(mine):
        for column, unit in enumerate(order):
            for g, group in enumerate(parts[row].groups):
                size = float(found.size[row, column, g])
                if size > 0 and group in builder.groups:
                    new.append((unit, builder.groups[group], at, size))
    told = np.asarray(new, dtype=np.float64).reshape(-1, 4)
    effects = replace(
        e,
        unit=np.concatenate([e.unit[kept], told[:, 0].astype(np.int64)]),
        group=np.concatenate([e.group[kept], told[:, 1].astype(np.int64)]),
        choice=np.concatenate([e.choice[kept], told[:, 2].astype(np.int64)]),
        size=np.concatenate([e.size[kept], told[:, 3]]),
    )
    changed = replace(held.problem, effects=effects)
    chosen = held.solution.chosen or ()
    return held.problem.value(chosen) - changed.value(chosen)
