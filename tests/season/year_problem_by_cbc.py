"""A problem of the solver, as the planning makes it, solved again by CBC on a formulation of its own.

The rows are taken as they stand; what choices do to plants is formulated anew (the greatest of one mechanism climbs a
ladder of rungs, where the solver shares it out), with tangents added where the best choice lies.
"""

from __future__ import annotations

from itertools import pairwise
from math import exp

import numpy as np
import pulp

from app.season.year_solve import Problem, Row

_FIRST = tuple(-np.log([1.0, 0.7, 0.45, 0.25, 0.12, 0.05, 0.015]))
_TURNS = 40
_CBC = pulp.PULP_CBC_CMD.pulp_cbc_path
Choice = tuple[int, ...]


def value_of(problem: Problem, chosen: Choice) -> float:
    """The objective of a choice [points], reckoned one effect after another."""
    picked = {*chosen, *problem.done}
    parts: dict[tuple[int, int], list[float]] = {}
    e = problem.effects
    for unit, group, choice, size in zip(e.unit, e.group, e.choice, e.size, strict=True):
        if int(choice) in picked:
            parts.setdefault((int(unit), int(group)), []).append(float(size))
    logs = [0.0] * len(problem.weight)
    for (unit, group), told in parts.items():
        rho = float(problem.rho[unit, group])
        logs[unit] += (1 - rho) * sum(told) + rho * max(told)
    reached = sum(float(q) * (1 - exp(-s)) for q, s in zip(problem.weight, logs, strict=True))
    return reached - sum(float(problem.penalty[x]) for x in chosen if x not in problem.done)


def solved_by_cbc(problem: Problem, gap: float, seconds: float) -> tuple[float, float, Choice]:
    """Value of the best choice found, the bound above it [points; infinite where nothing is proved], and the choice."""
    told = _Formulated(problem)
    best, bound, chosen = -np.inf, np.inf, Choice()
    for _ in range(_TURNS):
        told.model.solve(pulp.COIN_CMD(path=_CBC, msg=False, gapRel=0.0, gapAbs=gap / 4, timeLimit=seconds, threads=1))
        if told.model.status != pulp.LpStatusOptimal:
            break
        proven = told.model.sol_status == pulp.LpSolutionOptimal
        if proven:
            bound = min(bound, float(pulp.value(told.model.objective)) + gap / 4)
        found = told.chosen()
        if value_of(problem, found) > best:
            best, chosen = value_of(problem, found), found
        if bound - best <= gap or not proven:
            break
        told.touch()
    return best, bound, chosen


class _Formulated:
    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.model = model = pulp.LpProblem("year", pulp.LpMaximize)
        done = set(problem.done)
        self.take = [model.add_variable(f"x{c}", int(c in done), 1, "Binary") for c in range(problem.choices)]
        self.visit = [model.add_variable(f"v{d}", 0, 1, "Binary") for d in range(problem.days)]
        self.control = [model.add_variable(f"c{u}", 0, 1) for u in range(len(problem.weight))]
        parts: dict[tuple[int, int], list[tuple[float, int]]] = {}
        e = problem.effects
        for unit, group, choice, size in zip(e.unit, e.group, e.choice, e.size, strict=True):
            parts.setdefault((int(unit), int(group)), []).append((float(size), int(choice)))
        self.log: list[pulp.LpAffineExpression] = []
        for unit in range(len(problem.weight)):
            mine = {g: told for (u, g), told in parts.items() if u == unit}
            total = pulp.lpSum(self._group(unit, g, told) for g, told in mine.items())
            s = model.add_variable(f"s{unit}", 0)
            model.addConstraint(s <= total)
            self.log.append(s)
            for at in _FIRST:
                self._tangent(unit, float(at))
        reached = pulp.lpSum(float(q) * c for q, c in zip(problem.weight, self.control, strict=True))
        pain = (float(p) * x for c, (p, x) in enumerate(zip(problem.penalty, self.take, strict=True)) if c not in done)
        model.setObjective(reached - pulp.lpSum(pain))
        for row in problem.rows:
            self._row(row)

    def _group(self, unit: int, group: int, told: list[tuple[float, int]]) -> pulp.LpAffineExpression:
        rho = float(self.problem.rho[unit, group])
        rungs = sorted({size for size, _ in told})
        climbed = []
        for number, (below, rung) in enumerate(pairwise([0.0, *rungs]) if rho > 0 else ()):
            held = self.model.add_variable(f"r{unit}_{group}_{number}", 0, 1)
            self.model.addConstraint(held <= pulp.lpSum(self.take[x] for size, x in told if size >= rung))
            climbed.append((rung - below) * held)
        return (1 - rho) * pulp.lpSum(size * self.take[x] for size, x in told) + rho * pulp.lpSum(climbed)

    def _tangent(self, unit: int, at: float) -> None:
        self.model.addConstraint(self.control[unit] <= (1 - exp(-at)) + exp(-at) * (self.log[unit] - at))

    def _row(self, row: Row) -> None:
        left = pulp.lpSum(size * self.take[x] for x, size in row.of)
        left += pulp.lpSum(size * self.visit[d] for d, size in row.visits)
        if np.isfinite(row.most):
            self.model.addConstraint(left <= float(row.most))
        if np.isfinite(row.least):
            self.model.addConstraint(left >= float(row.least))

    def chosen(self) -> Choice:
        """The choices of the last solve."""
        done = set(self.problem.done)
        return tuple(
            c for c, x in enumerate(self.take) if x.value() is not None and x.value() > 1 / 2 and c not in done
        )

    def touch(self) -> None:
        """Tangents where the last choice lies."""
        for unit, at in enumerate(self.problem.log_killed(self.chosen())):
            self._tangent(unit, float(at))
