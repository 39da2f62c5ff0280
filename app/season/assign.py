"""Which tanks to fill, and which stop is sprayed from which: the fewest losses with so many tanks, proved.

The order of aims is fixed: serve as many stops as can be, then give up as little expected control, then fill as few
tanks, then spend as little. Each aim is a mixed-integer program of its own, solved to its proved optimum by HiGHS
(through scipy), with what the aims before it reached held fast.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.engine.control import Floats, Ints

# Losses and counts are whole, so half of one tells two values apart.
_HALF = 0.5
# What a stop that is not served counts as, beyond all that every stop of a round can give up together.
_UNSERVED = 100_000.0
_TURNS = 300
# What the solver calls a limit of time that was reached.
_TIME_OUT = 1


@dataclass(frozen=True)
class Assigned:
    """The best that so many tanks can do.

    Attributes
    ----------
    tanks : tuple of int
        Tanks to fill, by their place, in rising order.
    of : tuple of int or None
        Tank of each stop; None where none of them may be sprayed there.
    loss : float
        Sum over the stops that are served [percentage points].
    cost : float
        Sum over the stops that are served, in the currency.
    bound : float
        What the solver proved that no choice can stay below, of the loss.
    gap : float
        How far loss and bound lie apart, as a share; 0 where it is proved.
    proven : bool
        Whether every aim was solved to its proved optimum.
    """

    tanks: tuple[int, ...]
    of: tuple[int | None, ...]
    served: int
    loss: float
    cost: float
    bound: float
    gap: float
    proven: bool


@dataclass(frozen=True)
class _Stage:
    chosen: NDArray[np.bool_]
    bound: float
    gap: float
    proven: bool


def assign(loss: Floats, cost: Floats, at_most: int, time_limit: float | None = None) -> Assigned:
    """Choose tanks and give each stop one of them.

    Parameters
    ----------
    loss : array (stops, tanks)
        What a stop gives up by a tank, in whole percentage points, zero or more; NaN where a stop of the rules
        stands against it.
    cost : array (stops, tanks)
        What a stop costs from a tank, zero or more. A cost that is not known must be given as one.
    at_most : int
        Tanks that may be filled, one or more.
    time_limit : float, optional
        Seconds after which each aim takes the best found so far; what was reached is then not proved.

    Returns
    -------
    Assigned
        Of equal choices the solver's, which is the same for the same arrays.

    Raises
    ------
    ValueError
        For shapes that differ, fewer than one tank, or losses that are not whole.
    """
    _check(loss, cost, at_most)
    stops, able = len(loss), np.isfinite(loss)
    worth = np.flatnonzero(able.any(axis=0))
    rows = np.flatnonzero(able.any(axis=1))
    if not len(worth):
        return Assigned((), (None,) * stops, 0, 0.0, 0.0, 0.0, 0.0, True)
    lost, spent = loss[np.ix_(rows, worth)], cost[np.ix_(rows, worth)]
    few = worth[_undominated(lost, np.zeros_like(lost))]
    few = few[_hopeful(loss[np.ix_(rows, few)], at_most, _found_quickly(loss[np.ix_(rows, few)], at_most))]
    stages = list(_Model(loss[np.ix_(rows, few)], at_most, time_limit).solved())
    # Where time ran out before anything was found, what the aim before it reached stands.
    best = next((few[stage.chosen] for stage in reversed(stages) if stage.chosen.any()), few[:1])
    of, total, _ = _given(loss, cost, best)
    left = float(sum(of[row] is None for row in rows))
    priced = worth[_undominated(lost, spent)]
    priced = priced[_hopeful(loss[np.ix_(rows, priced)], len(best), left * _UNSERVED + total)]
    held = (left, total, float(len(best)))
    cheap = _cheapest(loss[np.ix_(rows, priced)], cost[np.ix_(rows, priced)], held, time_limit)
    if cheap.chosen.any():
        best = priced[cheap.chosen]
    of, total, money = _given(loss, cost, best)
    served = sum(tank is not None for tank in of)
    used = tuple(sorted({tank for tank in of if tank is not None}))
    second, proven = stages[1], all(stage.proven for stage in (*stages, cheap))
    return Assigned(used, of, served, total, money, second.bound, second.gap, proven)


def _check(loss: Floats, cost: Floats, at_most: int) -> None:
    if loss.ndim != 2 or loss.shape != cost.shape:
        raise ValueError("loss and cost must be arrays of one shape (stops, tanks)")
    if at_most < 1:
        raise ValueError("at least one tank must be allowed")
    told = loss[np.isfinite(loss)]
    if (told < 0).any() or not np.array_equal(told, np.round(told)):
        raise ValueError("a loss must be whole percentage points, zero or more")
    if not (np.isfinite(cost) & (cost >= 0))[np.isfinite(loss)].all():
        raise ValueError("a cost must be a figure, zero or more")


def _given(loss: Floats, cost: Floats, tanks: Ints) -> tuple[tuple[int | None, ...], float, float]:
    """Each stop's tank among those that are filled: the least loss, then the least cost, then the first."""
    of: list[int | None] = []
    total = spent = 0.0
    for stop in range(len(loss)):
        able = [int(t) for t in tanks if np.isfinite(loss[stop, t])]
        best = min(able, key=lambda t: (loss[stop, t], cost[stop, t], t), default=None)
        of.append(best)
        if best is not None:
            total += float(loss[stop, best])
            spent += float(cost[stop, best])
    return tuple(of), total, spent


def _undominated(loss: Floats, cost: Floats) -> Ints:
    """Tanks of which no other does as well at every stop: taking the other in its place loses nothing.

    A tank that is barred where the other is not counts as worse there.
    """
    filled = np.where(np.isfinite(loss), loss, np.inf)
    spent = np.where(np.isfinite(loss), cost, np.inf)
    # The first of equals, the least loss first, so that each is held against those before it alone.
    sums = np.where(np.isfinite(filled), filled, 1e6).sum(axis=0)
    order = np.lexsort((np.arange(loss.shape[1]), np.where(np.isfinite(spent), spent, 1e9).sum(axis=0), sums))
    kept: list[int] = []
    for tank in order.tolist():
        if kept:
            better = (filled[:, kept] <= filled[:, [tank]]) & (spent[:, kept] <= spent[:, [tank]])
            if better.all(axis=0).any():
                continue
        kept.append(tank)
    return np.asarray(sorted(kept), dtype=np.int64)


def _found_quickly(loss: Floats, at_most: int) -> float:
    """What a good choice gives up, unserved stops counted with it: tanks added one by one, then exchanged."""
    filled = np.where(np.isfinite(loss), loss, _UNSERVED)
    chosen: list[int] = []
    for _ in range(min(at_most, filled.shape[1])):
        kept = filled[:, chosen].min(axis=1, initial=_UNSERVED)
        chosen.append(int(np.argmin(np.minimum(kept[:, None], filled).sum(axis=0))))
    best = float(filled[:, chosen].min(axis=1).sum())
    better = True
    while better:
        better = False
        for place in range(len(chosen)):
            others = [tank for at, tank in enumerate(chosen) if at != place]
            kept = filled[:, others].min(axis=1, initial=_UNSERVED)
            sums = np.minimum(kept[:, None], filled).sum(axis=0)
            if sums.min() < best - _HALF:
                chosen[place], best, better = int(np.argmin(sums)), float(sums.min()), True
    return best


def _hopeful(loss: Floats, filled: int, reached: float) -> Ints:
    """Tanks that some choice of so many may hold that gives up no more than was reached.

    By Lagrange: for any prices of the stops, what a choice gives up is at least the sum of the prices less what its
    tanks save on them. A tank for which that bound lies above what was reached is in no best choice. The prices are
    found by steps along the subgradient; however good they are, the bound holds.
    """
    cost = np.where(np.isfinite(loss), loss, _UNSERVED)
    price = np.sort(cost, axis=1)[:, : max(filled, 1) + 1].mean(axis=1)
    best, kept = -np.inf, np.zeros(cost.shape[1])
    step = 1.0
    for turn in range(_TURNS):
        saved = np.maximum(np.minimum(price, _UNSERVED)[:, None] - cost, 0.0).sum(axis=0)
        order = np.argsort(-saved, kind="stable")
        top = order[:filled]
        bound = float(np.minimum(price, _UNSERVED).sum() - saved[top].sum())
        # With this tank among them: it takes the place of the least of those that save most.
        least = saved[order[min(filled, len(order)) - 1]]
        with_it = bound + np.maximum(least - saved, 0.0)
        kept = np.maximum(kept, with_it) if turn else with_it
        if bound > best + _HALF / 10:
            best = bound
        elif turn % 10 == 0:
            step *= 0.7
        cover = (cost[:, top] < price[:, None]).sum(axis=1)
        slope = 1.0 - cover
        size = float((slope**2).sum())
        if not size or reached - best < _HALF / 100:
            break
        price = np.maximum(price + step * max(reached - bound, 1.0) / size * slope, 0.0)
    return np.flatnonzero(kept <= reached + _HALF)


class _Model:
    """The mixed-integer programs of one choice by loss alone.

    A tank is filled or not (binary). For each stop and each loss that some tank gives it, one variable between 0 and
    1 says that no filled tank does as well; the sum of the steps it has to climb is what the stop gives up. Since
    every step up costs something the variable comes out whole by itself; where it saves something (a stop that is not
    served gives up nothing) it is binary.
    """

    def __init__(self, loss: Floats, at_most: int, time_limit: float | None) -> None:
        # A stop that none of the hopeful tanks may be sprayed on is served by no best choice.
        self.loss = loss[np.isfinite(loss).any(axis=1)]
        self.at_most, self.time_limit = at_most, time_limit
        self.tanks = loss.shape[1]

    def solved(self) -> tuple[_Stage, _Stage, _Stage]:
        """The first three aims one after another: unserved stops, loss, tanks filled."""
        levels = _Levels(self.loss)
        unserved = self._solve(levels, levels.unserved, [])
        left = float(np.sum(~np.isfinite(self.loss[:, unserved.chosen]).any(axis=1)))
        held: list[tuple[Floats, float]] = [(levels.unserved, left + _HALF)]
        least = self._solve(levels, levels.loss, held)
        reached = _loss_of(self.loss[:, least.chosen])
        few = self._solve(levels, levels.filled, [*held, (levels.loss, reached - levels.base + _HALF)])
        return unserved, _with_base(least, levels.base, reached), few

    def _solve(self, levels: _Levels, aim: Floats, held: Sequence[tuple[Floats, float]]) -> _Stage:
        # Imported here: no other question should pay for it.
        from scipy.optimize import LinearConstraint

        limits = [LinearConstraint(levels.cover, lb=1.0), LinearConstraint(levels.filled[None, :], ub=self.at_most)]
        limits += [LinearConstraint(row[None, :], ub=most) for row, most in held]
        return _solved(aim, np.maximum(levels.filled, levels.unserved), limits, self.tanks, self.time_limit)


def _loss_of(loss: Floats) -> float:
    """What is given up in all where only these tanks are filled."""
    able = np.where(np.isfinite(loss), loss, np.inf).min(axis=1)
    return float(able[np.isfinite(able)].sum())


def _solved(aim: Floats, binary: Floats, limits: Sequence[object], tanks: int, time_limit: float | None) -> _Stage:
    from scipy.optimize import Bounds, milp

    options = {"mip_rel_gap": 0.0, **({"time_limit": time_limit} if time_limit is not None else {})}
    asked = {"integrality": binary, "bounds": Bounds(0.0, 1.0), "constraints": limits}
    found = milp(aim, **asked, options=options)
    if found.x is None and found.status != _TIME_OUT:
        # Its presolve has called a feasible program infeasible; without it the same program is solved.
        found = milp(aim, **asked, options={**options, "presolve": False})
    if found.x is None:
        return _Stage(np.zeros(tanks, dtype=bool), -np.inf, np.inf, False)
    bound = found.mip_dual_bound if found.mip_dual_bound is not None else found.fun
    return _Stage(found.x[:tanks] > _HALF, float(bound), float(found.mip_gap or 0.0), found.status == 0)


def _cheapest(loss: Floats, cost: Floats, held: tuple[float, float, float], time_limit: float | None) -> _Stage:
    """The last aim: of all choices that serve, give up and fill as much, the cheapest.

    Here a stop is given a tank outright, as one variable for each pair that can be part of such a choice: a tank that
    gives up more at one stop than all stops together may is none.

    Parameters
    ----------
    held : tuple of float
        Stops not served, loss in all, and tanks filled, as reached by the aims before.
    """
    from scipy.optimize import LinearConstraint
    from scipy.sparse import csr_matrix

    unserved, most, filled = held
    stops, tanks = loss.shape
    pairs = np.argwhere(np.where(np.isfinite(loss), loss, np.inf) <= most)
    count = len(pairs)
    size, at, none = tanks + count + stops, tanks + np.arange(count), tanks + count + np.arange(stops)
    rows, columns = np.concatenate([pairs[:, 0], np.arange(stops)]), np.concatenate([at, none])
    once = csr_matrix((np.ones(count + stops), (rows, columns)), (stops, size))
    both = np.concatenate([np.arange(count)] * 2), np.concatenate([at, pairs[:, 1]])
    open_ = csr_matrix((np.repeat([1.0, -1.0], count), both), (count, size))
    lost, left, open_tanks, money = (np.zeros(size) for _ in range(4))
    lost[at] = loss[pairs[:, 0], pairs[:, 1]]
    money[at] = cost[pairs[:, 0], pairs[:, 1]]
    left[none], open_tanks[:tanks] = 1.0, 1.0
    limits = [LinearConstraint(once, lb=1.0, ub=1.0), LinearConstraint(open_, ub=0.0)]
    told = ((lost, most), (left, unserved), (open_tanks, filled))
    limits += [LinearConstraint(row[None, :], ub=top) for row, top in told]
    return _solved(money, np.ones(size), limits, tanks, time_limit)


class _Levels:
    """Losses of each stop in rising order, and the rows that count what is unserved, lost and filled."""

    def __init__(self, loss: Floats) -> None:
        from scipy.sparse import csr_matrix

        stops, tanks = loss.shape
        places: list[tuple[int, int]] = []
        steps: list[tuple[float, float]] = []
        start = tanks
        self.base = 0.0
        for stop in range(stops):
            able = np.flatnonzero(np.isfinite(loss[stop]))
            told = sorted(set(loss[stop, able].tolist()))
            self.base += told[0]
            for level, lost in enumerate(told):
                row = start + level - tanks
                places += [(row, int(t)) for t in able[loss[stop, able] <= lost]] + [(row, start + level)]
                last = level == len(told) - 1
                # Beyond the last level nothing is filled that may be sprayed here: it is not served, and gives up
                # nothing.
                steps.append((float(last), (told[level + 1] if not last else 0.0) - lost))
            start += len(told)
        self.count = start - tanks
        rows, columns = zip(*places, strict=True)
        self.cover = csr_matrix((np.ones(len(places)), (rows, columns)), shape=(self.count, start))
        climbed = np.asarray(steps)
        none = np.zeros(tanks)
        self.unserved, self.loss = (np.concatenate([none, climbed[:, i]]) for i in range(2))
        self.filled = np.concatenate([np.ones(tanks), np.zeros(self.count)])


def _with_base(stage: _Stage, base: float, reached: float) -> _Stage:
    """The stage with its bound as a loss: the least of each stop, and what the solver counts above it."""
    bound = min(base + stage.bound, reached)
    return _Stage(stage.chosen, bound, (reached - bound) / reached if reached else 0.0, stage.proven)
