"""The year as a mixed-integer program: the exact choice of treatments, with its bound.

Survivors multiply, so their logarithms add: a choice x takes a[u, g, x] off the log of the surviving share of the
plants u by mechanism g. Plants that survive a mechanism once are harder to kill by it again, so of one mechanism
(1 - rho) of the sum counts and rho of the largest alone:

    S[u] = sum over g of (1 - rho[u, g]) sum(a) + rho[u, g] max(a),    control[u] = 1 - exp(-S[u]).

The objective, sum of weight[u] control[u] less what each choice costs in complexity, is concave in S. The largest is
linear through a share z of each choice in it (z <= x, sum z <= 1). Tangents bound the exponential from above; they
are added where the best choice found lies until bound and value meet, so that the optimum is exact (outer
approximation of Duran and Grossmann, 1986, Mathematical Programming 36, from memory). HiGHS solves each step.

The relaxation is tight, so few choices can be in an optimum: those whose reduced cost is small give a good answer
first, and what no answer better than that can hold is dropped by its reduced cost before the whole is solved.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import coo_array, vstack

from app.engine.control import Floats, Ints

# Survivors below this share are not told apart: e**-9 is a hundredth of a percent.
_MOST_LOG = 9.0
_FIRST_TANGENTS = (0.0, 0.25, 0.5, 0.8, 1.2, 1.7, 2.3, 3.0, 4.0, 5.5)
_MOST_STEPS = 60
_SAME = 1e-9
# Points of slack in the exponential that a relaxed optimum may keep; more is cut by further tangents.
_LOOSE = 0.02
# Choices whose making lowers the bound by less than this share of it are tried first.
_NEAR = 0.003
_OPTIMAL, _OUT_OF_TIME, _INFEASIBLE = 0, 1, 2


@dataclass(frozen=True)
class Row:
    """A linear constraint on choices and visits: at most `most`, at least `least`.

    Attributes
    ----------
    of : tuple of (int, float)
        Places of choices with their coefficients.
    visits : tuple of (int, float)
        Places of days with their coefficients.
    name : str
        What it says, for those who must loosen it; empty for what cannot be loosened.
    """

    of: tuple[tuple[int, float], ...]
    most: float = np.inf
    least: float = -np.inf
    visits: tuple[tuple[int, float], ...] = ()
    name: str = ""


@dataclass(frozen=True)
class Effects:
    """What choices do, as parallel arrays: unit, mechanism, choice, and what it takes off the log of survivors."""

    unit: Ints
    group: Ints
    choice: Ints
    size: Floats

    def __len__(self) -> int:
        return len(self.size)


@dataclass(frozen=True)
class Problem:
    """Choices, what they do, and what binds them.

    Attributes
    ----------
    weight : array (units,)
        Points of the objective that full control of each unit is worth.
    rho : array (units, groups)
        How alike repeated uses of one mechanism are on a unit, 0 to 1.
    day : array (choices,)
        Place of the day of each choice; -1 for what is done already.
    penalty : array (choices,)
        Points that each choice must bring to be worth it.
    days : int
        Number of days that may become visits.
    """

    weight: Floats
    rho: Floats
    effects: Effects
    day: Ints
    penalty: Floats
    days: int
    rows: tuple[Row, ...]
    done: tuple[int, ...] = ()

    @property
    def choices(self) -> int:
        """Number of choices."""
        return len(self.penalty)

    def log_killed(self, chosen: Sequence[int]) -> Floats:
        """S of each unit, array (units,)."""
        picked = np.zeros(self.choices, dtype=bool)
        picked[list(chosen)] = True
        picked[list(self.done)] = True
        e, on = self.effects, picked[self.effects.choice]
        total, largest = np.zeros(self.rho.shape), np.zeros(self.rho.shape)
        np.add.at(total, (e.unit[on], e.group[on]), e.size[on])
        np.maximum.at(largest, (e.unit[on], e.group[on]), e.size[on])
        return np.asarray(((1 - self.rho) * total + self.rho * largest).sum(axis=1))

    def value(self, chosen: Sequence[int]) -> float:
        """The objective of a choice [points]."""
        control = 1 - np.exp(-self.log_killed(chosen))
        return float(self.weight @ control - self.penalty[list(chosen)].sum())


@dataclass(frozen=True)
class Solution:
    """The best choice found, its value, the least upper bound that is proved, and whether both meet.

    `visits` are the places of the days that are visited; `chosen` is None where nothing is feasible.
    """

    chosen: tuple[int, ...] | None
    visits: tuple[int, ...]
    value: float
    bound: float
    proven: bool
    steps: int


@dataclass
class _Model:
    """Columns: choices, visits, S, control, shares z; rows as they are gathered."""

    problem: Problem
    extra: list[Row] = field(default_factory=list)

    def __post_init__(self) -> None:
        p = self.problem
        self.shared = _shared(p)
        self.at_visit = p.choices
        self.at_log = self.at_visit + p.days
        self.at_control = self.at_log + len(p.weight)
        self.at_share = self.at_control + len(p.weight)
        self.columns = self.at_share + len(self.shared)
        self._fixed = self._base()
        self._tangents: list[tuple[int, float]] = [(u, s) for u in range(len(p.weight)) for s in _FIRST_TANGENTS]

    def _base(self) -> _Rows:
        """Rows that never change: S of the choices, z below x, one z a mechanism, and those of the problem."""
        p, rows = self.problem, _Rows()
        e = p.effects
        kept = (1 - p.rho[e.unit, e.group]) * e.size
        logs = rows.block(np.zeros(len(p.weight)), np.zeros(len(p.weight)))
        rows.put(logs + np.arange(len(p.weight)), self.at_log + np.arange(len(p.weight)), np.ones(len(p.weight)))
        single = np.ones(len(e), dtype=bool)
        single[self.shared] = False
        # What stands alone in its mechanism is its own largest.
        rows.put(logs + e.unit, e.choice, np.where(single, -e.size, -kept))
        z = self.at_share + np.arange(len(self.shared))
        u, g, x = e.unit[self.shared], e.group[self.shared], e.choice[self.shared]
        rows.put(logs + u, z, -p.rho[u, g] * e.size[self.shared])
        below = rows.block(np.full(len(z), -np.inf), np.zeros(len(z)))
        rows.put(below + np.arange(len(z)), z, np.ones(len(z)))
        rows.put(below + np.arange(len(z)), x, -np.ones(len(z)))
        pairs, of = np.unique(u * p.rho.shape[1] + g, return_inverse=True)
        once = rows.block(np.full(len(pairs), -np.inf), np.ones(len(pairs)))
        rows.put(once + of, z, np.ones(len(z)))
        for row in p.rows:
            rows.add(row, self.at_visit)
        return rows

    def add_tangents(self, logs: Floats) -> int:
        """Tangents at these S where they are new; how many."""
        held = set(self._tangents)
        new = [(u, float(s)) for u, s in enumerate(np.minimum(logs, _MOST_LOG)) if (u, float(s)) not in held]
        self._tangents += new
        return len(new)

    def relaxed(self) -> tuple[float, Floats] | None:
        """The bound of the relaxation, its tangents settled, and by choice how much the bound falls where it is made.

        None where not even the relaxation is feasible.
        """
        cost, low, high, _ = self._columns()
        while True:
            told = self._rows_now().inequalities(self.columns)
            found = linprog(cost, **told, bounds=np.column_stack([low, high]), method="highs")
            if found.x is None:
                return None
            logs = found.x[self.at_log : self.at_control]
            loose = found.x[self.at_control : self.at_share] - (1 - np.exp(-logs))
            if self.problem.weight @ np.maximum(loose, 0.0) < _LOOSE or not self.add_tangents(logs):
                return -float(found.fun), np.asarray(found.lower.marginals[: self.problem.choices])

    def solve(
        self, time_limit: float, gap: float, open_: NDArray[np.bool_] | None = None
    ) -> tuple[int, NDArray[np.float64] | None, float]:
        """Status, columns and upper bound of one step; only choices that are open may be made."""
        cost, low, high, whole = self._columns()
        if open_ is not None:
            high[: self.problem.choices][~open_] = 0.0
            high[list(self.problem.done)] = 1.0
        told = {"constraints": self._rows_now().constraint(self.columns), "integrality": whole}
        options: dict[str, Any] = {"time_limit": max(time_limit, 0.05), "mip_rel_gap": gap}
        found = milp(cost, bounds=Bounds(low, high), options=options, **told)
        if found.status == _INFEASIBLE:
            # The presolve of HiGHS has called feasible programs infeasible: once more without it.
            found = milp(cost, bounds=Bounds(low, high), options={**options, "presolve": False}, **told)
        bound = -found.mip_dual_bound if found.mip_dual_bound is not None else np.inf
        return int(found.status), found.x, float(bound)

    def _columns(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Cost, bounds and which columns are whole."""
        p = self.problem
        cost = np.zeros(self.columns)
        cost[: p.choices] = p.penalty
        cost[list(p.done)] = 0.0
        cost[self.at_control : self.at_share] = -p.weight
        low, high = np.zeros(self.columns), np.ones(self.columns)
        low[list(p.done)] = 1.0
        high[self.at_log : self.at_control] = np.inf
        whole = np.zeros(self.columns)
        whole[: self.at_log] = 1
        return cost, low, high, whole

    def _rows_now(self) -> _Rows:
        """All rows with those found since and the tangents."""
        rows = self._fixed.copy()
        for row in self.extra:
            rows.add(row, self.at_visit)
        unit = np.asarray([u for u, _ in self._tangents], dtype=np.int64)
        at = np.asarray([s for _, s in self._tangents])
        # c <= 1 - e**-s + e**-s (S - s)
        first = rows.block(np.full(len(at), -np.inf), 1 - np.exp(-at) * (1 + at))
        rows.put(first + np.arange(len(at)), self.at_control + unit, np.ones(len(at)))
        rows.put(first + np.arange(len(at)), self.at_log + unit, -np.exp(-at))
        return rows


class _Rows:
    """Rows of a sparse matrix with their bounds, gathered piece by piece."""

    def __init__(self) -> None:
        self.least: list[Floats] = []
        self.most: list[Floats] = []
        self.row: list[Ints] = []
        self.column: list[Ints] = []
        self.size: list[Floats] = []
        self.count = 0

    def copy(self) -> _Rows:
        made = _Rows()
        for name in ("least", "most", "row", "column", "size"):
            setattr(made, name, list(getattr(self, name)))
        made.count = self.count
        return made

    def block(self, least: Floats, most: Floats) -> int:
        """Begin rows with these bounds; the place of the first."""
        self.least.append(least)
        self.most.append(most)
        start = self.count
        self.count += len(least)
        return start

    def put(self, row: Ints, column: Ints, size: Floats) -> None:
        self.row.append(np.asarray(row, dtype=np.int64))
        self.column.append(np.asarray(column, dtype=np.int64))
        self.size.append(np.asarray(size, dtype=np.float64))

    def add(self, row: Row, at_visit: int) -> None:
        start = self.block(np.asarray([row.least]), np.asarray([row.most]))
        told = [*row.of, *((at_visit + day, size) for day, size in row.visits)]
        self.put(
            np.full(len(told), start),
            np.asarray([c for c, _ in told], dtype=np.int64),
            np.asarray([s for _, s in told]),
        )

    def inequalities(self, columns: int) -> dict[str, Any]:
        """The same as rows below a bound, as linear programs take them."""
        told = self.constraint(columns)
        least, most = np.asarray(told.lb), np.asarray(told.ub)
        upper, lower = np.isfinite(most), np.isfinite(least)
        return {
            "A_ub": vstack([told.A[upper], -told.A[lower]]).tocsr(),
            "b_ub": np.concatenate([most[upper], -least[lower]]),
        }

    def constraint(self, columns: int) -> LinearConstraint:
        matrix = coo_array(
            (np.concatenate(self.size), (np.concatenate(self.row), np.concatenate(self.column))),
            shape=(self.count, columns),
        ).tocsr()
        return LinearConstraint(matrix, np.concatenate(self.least), np.concatenate(self.most))


def _shared(problem: Problem) -> Ints:
    """Places of the effects that share unit and mechanism with another, where the largest is to be told apart."""
    e = problem.effects
    key = e.unit * problem.rho.shape[1] + e.group
    count = np.bincount(key, minlength=problem.rho.size)
    return np.flatnonzero((count[key] > 1) & (problem.rho[e.unit, e.group] > 0))


def solve(
    problem: Problem,
    time_limit: float,
    tolerance: float = 0.01,
    faults: Callable[[tuple[int, ...], tuple[int, ...]], Sequence[Row]] | None = None,
) -> Solution:
    """Solve to the tolerance or until the time is over.

    Parameters
    ----------
    time_limit : float
        Seconds for each step; nothing here looks at a clock.
    tolerance : float
        Points of the objective within which bound and value count as met.
    faults : callable, optional
        Rows that the best choice found breaks and that were not written down beforehand (chosen, visits); the
        choice is then no answer and the program is solved again with them.
    """
    model = _Model(problem)
    root = model.relaxed()
    if root is None:
        return Solution(None, (), -np.inf, -np.inf, True, 0)
    bound, falls = root
    best = Solution(None, (), -np.inf, bound, False, 0)
    reach = max(_NEAR * abs(bound), tolerance)
    # First among the choices near the relaxed optimum, then among all that could still do better.
    best, among = _steps(model, best, falls <= reach, time_limit, tolerance, faults, whole=False)
    if best.bound - best.value <= tolerance:
        return replace(best, proven=True)
    left = falls <= (bound - best.value if best.chosen is not None else np.inf) + _SAME
    if best.chosen is not None and not (left & (falls > reach)).any() and best.proven:
        # Nothing that was left out could do better, so the bound among the open ones holds for all.
        return replace(best, bound=max(best.value, min(best.bound, among)))
    return _steps(model, replace(best, proven=False), left, time_limit, tolerance, faults, whole=True)[0]


def _steps(
    model: _Model,
    best: Solution,
    open_: NDArray[np.bool_],
    time_limit: float,
    tolerance: float,
    faults: Callable[[tuple[int, ...], tuple[int, ...]], Sequence[Row]] | None,
    *,
    whole: bool,
) -> tuple[Solution, float]:
    """Solve among the open choices until bound and value meet; the bound holds for all where `whole` is true.

    `proven` is then whether the best among the open ones is proved; with it comes the bound among them.
    """
    problem, among = model.problem, np.inf
    for _ in range(_MOST_STEPS):
        scale = max(abs(best.value), 1.0) if best.chosen is not None else 100.0
        status, x, bound = model.solve(time_limit, tolerance / (2 * scale), open_)
        best = replace(best, steps=best.steps + 1)
        if status == _INFEASIBLE:
            bound = best.value if whole and best.chosen is not None else best.bound
            return replace(best, proven=True, bound=bound), among
        among = min(among, bound)
        if whole:
            best = replace(best, bound=max(min(best.bound, among), best.value))
        if x is None:
            return best, among
        chosen, visits = _read(problem, x)
        broken = faults(chosen, visits) if faults is not None else ()
        if broken:
            model.extra += broken
            continue
        value = problem.value(chosen)
        if value > best.value + _SAME:
            best = replace(best, chosen=chosen, visits=visits, value=value, bound=max(best.bound, value))
        if min(among, best.bound) - best.value <= tolerance:
            return replace(best, proven=True), among
        if status == _OUT_OF_TIME or not model.add_tangents(problem.log_killed(chosen)):
            return best, among
    return best, among


def _read(problem: Problem, x: NDArray[np.float64]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    done = set(problem.done)
    chosen = tuple(int(c) for c in np.flatnonzero(x[: problem.choices] > 1 / 2) if c not in done)
    visits = tuple(int(d) for d in np.flatnonzero(x[problem.choices : problem.choices + problem.days] > 1 / 2))
    return chosen, visits
