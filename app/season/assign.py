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
    kept = worth[_undominated(loss[np.ix_(rows, worth)], cost[np.ix_(rows, worth)])]
    model = _Model(loss[np.ix_(rows, kept)], cost[np.ix_(rows, kept)], at_most, time_limit)
    stages = model.solved()
    open_ = kept[stages[-1].chosen]
    of, total, spent = _given(loss, cost, open_)
    served = sum(tank is not None for tank in of)
    used = tuple(sorted({tank for tank in of if tank is not None}))
    second = stages[1]
    return Assigned(used, of, served, total, spent, second.bound, second.gap, all(stage.proven for stage in stages))


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


class _Model:
    """The mixed-integer programs of one choice.

    A tank is filled or not (binary). For each stop and each level of what a tank costs it (loss, then money), one
    variable between 0 and 1 says that no filled tank is as good as that level; the sum of the steps it has to climb
    is what the stop gives up. Where every step up costs something the variable comes out whole by itself; where it
    may save something (a stop that is not served, a worse tank that is cheaper) it is binary.
    """

    def __init__(self, loss: Floats, cost: Floats, at_most: int, time_limit: float | None) -> None:
        self.loss, self.cost, self.at_most, self.time_limit = loss, cost, at_most, time_limit
        self.tanks = loss.shape[1]

    def solved(self) -> list[_Stage]:
        """The four aims one after another."""
        plain = _Levels(self.loss, np.zeros_like(self.cost))
        unserved = self._solve(plain, plain.unserved, [])
        left = float(np.sum(~np.isfinite(self.loss[:, unserved.chosen]).any(axis=1)))
        held: list[tuple[Floats, float]] = [(plain.unserved, left + _HALF)]
        least = self._solve(plain, plain.loss, held)
        reached = self._loss_of(least.chosen)
        held.append((plain.loss, reached - plain.base + _HALF))
        few = self._solve(plain, plain.filled, held)
        priced = _Levels(self.loss, self.cost)
        count = float(few.chosen.sum())
        held = [(priced.unserved, left + _HALF), (priced.loss, reached - priced.base + _HALF)]
        cheap = self._solve(priced, priced.money, [*held, (priced.filled, count + _HALF)], whole=True)
        return [unserved, _with_base(least, plain.base, reached), few, cheap]

    def _loss_of(self, chosen: NDArray[np.bool_]) -> float:
        able = np.where(np.isfinite(self.loss[:, chosen]), self.loss[:, chosen], np.inf).min(axis=1)
        return float(able[np.isfinite(able)].sum())

    def _solve(
        self, levels: _Levels, aim: Floats, held: Sequence[tuple[Floats, float]], *, whole: bool = False
    ) -> _Stage:
        # Imported here: no other question should pay for it.
        from scipy.optimize import Bounds, LinearConstraint, milp

        binary = np.ones_like(aim) if whole else np.maximum(levels.filled, levels.unserved)
        limits = [LinearConstraint(levels.cover, lb=1.0), LinearConstraint(levels.filled[None, :], ub=self.at_most)]
        limits += [LinearConstraint(row[None, :], ub=most) for row, most in held]
        options = {"mip_rel_gap": 0.0, **({"time_limit": self.time_limit} if self.time_limit is not None else {})}
        found = milp(aim, integrality=binary, bounds=Bounds(0.0, 1.0), constraints=limits, options=options)
        if found.x is None:
            raise RuntimeError(f"the solver gave no answer: {found.message}")
        bound = found.mip_dual_bound if found.mip_dual_bound is not None else found.fun
        return _Stage(found.x[: self.tanks] > _HALF, float(bound), float(found.mip_gap or 0.0), found.status == 0)


class _Levels:
    """Levels of each stop, and the rows over tanks and levels that count what is unserved, lost, filled and spent."""

    def __init__(self, loss: Floats, cost: Floats) -> None:
        from scipy.sparse import csr_matrix

        stops, tanks = loss.shape
        places: list[tuple[int, int]] = []
        steps: list[tuple[float, float, float]] = []
        start = tanks
        self.base = 0.0
        for stop in range(stops):
            able = np.flatnonzero(np.isfinite(loss[stop]))
            pairs = sorted({(loss[stop, t], cost[stop, t]) for t in able})
            self.base += pairs[0][0]
            for level, (lost, spent) in enumerate(pairs):
                reach = able[(loss[stop, able] < lost) | ((loss[stop, able] == lost) & (cost[stop, able] <= spent))]
                row = start + level - tanks
                places += [(row, int(t)) for t in reach] + [(row, start + level)]
                last = level == len(pairs) - 1
                after = pairs[level + 1] if not last else (0.0, 0.0)
                # Beyond the last level nothing is filled that may be sprayed here: it is served no more, and gives
                # up and costs nothing.
                steps.append((float(last), after[0] - lost, after[1] - spent))
            start += len(pairs)
        self.count = start - tanks
        rows, columns = zip(*places, strict=True)
        self.cover = csr_matrix((np.ones(len(places)), (rows, columns)), shape=(self.count, start))
        told = np.asarray(steps)
        none = np.zeros(tanks)
        self.unserved, self.loss, self.money = (np.concatenate([none, told[:, i]]) for i in range(3))
        self.filled = np.concatenate([np.ones(tanks), np.zeros(self.count)])


def _with_base(stage: _Stage, base: float, reached: float) -> _Stage:
    """The stage with its bound as a loss: the least of each stop, and what the solver counts above it."""
    bound = min(base + stage.bound, reached)
    return _Stage(stage.chosen, bound, (reached - bound) / reached if reached else 0.0, stage.proven)
