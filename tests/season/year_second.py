"""The same optimisation formulated anew for another solver (CBC, through pulp), with tangents added where they bind.

Control of a unit is concave in what is taken from its survivors, so tangents bound it from above. Each solve is an
upper bound; measuring its choice by `year_reference` is a lower one; tangents at that choice bring them together.
"""

from __future__ import annotations

from itertools import pairwise
from math import exp

import numpy as np
import pulp

from tests.season.year_reference import Instance, measure

# Where the first tangents touch: shares that survive of 100, 60, ... percent.
_FIRST = tuple(-np.log([1.0, 0.6, 0.35, 0.2, 0.1, 0.04, 0.01]))
_TURNS = 60
_CBC = pulp.PULP_CBC_CMD.pulp_cbc_path


def best_by_cbc(told: Instance, gap: float = 1e-4, seconds: float = 120) -> tuple[float, float, tuple[int, ...]]:
    """Measure of the best choice found, the bound above it [points], and the choice.

    Where one solve takes longer than so many seconds, the bound is the last that was proved.

    Raises
    ------
    ValueError
        Where nothing is allowed.
    """
    model, take, taken = _model(told)
    best, bound, chosen = -np.inf, np.inf, tuple[int, ...]()
    for _ in range(_TURNS):
        model.solve(pulp.COIN_CMD(path=_CBC, msg=False, gapRel=0.0, gapAbs=gap / 4, timeLimit=seconds, threads=1))
        if model.status != pulp.LpStatusOptimal:
            raise ValueError(f"nothing is allowed: {pulp.LpStatus[model.status]}")
        # Stopped by the limit of time it proves nothing; its choice is measured all the same.
        proven = model.sol_status == pulp.LpSolutionOptimal
        if proven:
            bound = min(bound, float(pulp.value(model.objective)) + gap / 4)
        found = tuple(x for x in range(told.size) if take[x].value() > 0.5)
        reached = measure(told, found)
        if reached > best:
            best, chosen = reached, found
        if bound - best <= gap or not proven:
            break
        for unit, (total, controlled) in enumerate(taken):
            _touch(model, total, controlled, sum(_of(told, unit, found)))
    return best, bound, chosen


def _of(told: Instance, unit: int, chosen: tuple[int, ...]) -> list[float]:
    parts = told.gone[unit][:, list(chosen)] if chosen else np.zeros((told.gone.shape[1], 1))
    return [(1 - told.alike[unit, g]) * row.sum() + told.alike[unit, g] * row.max() for g, row in enumerate(parts)]


def _touch(model: pulp.LpProblem, total: pulp.LpAffineExpression, controlled: pulp.LpVariable, at: float) -> None:
    model += controlled <= (1 - exp(-at)) + exp(-at) * (total - at)


Pair = tuple[pulp.LpAffineExpression, pulp.LpVariable]


def _model(told: Instance) -> tuple[pulp.LpProblem, list[pulp.LpVariable], list[Pair]]:
    model = pulp.LpProblem("year", pulp.LpMaximize)
    take = [model.add_variable(f"take_{x}", cat="Binary") for x in range(told.size)]
    taken: list[Pair] = []
    for unit in range(len(told.weight)):
        total = pulp.lpSum(_group_total(model, told, take, unit, g) for g in range(told.gone.shape[1]))
        controlled = model.add_variable(f"control_{unit}", 0, 1)
        for at in _FIRST:
            _touch(model, total, controlled, at)
        taken.append((total, controlled))
    reached = pulp.lpSum(float(q) * c for q, (_, c) in zip(told.weight, taken, strict=True))
    model.setObjective(reached - pulp.lpSum(float(p) * x for p, x in zip(told.pain, take, strict=True)))
    _limit_visits(model, told, take)
    _limit_actives(model, told, take)
    _limit_mechanisms(model, told, take)
    model += pulp.lpSum(float(m) * x for m, x in zip(told.money, take, strict=True)) <= told.budget
    for x in told.must:
        model += take[x] == 1
    for x in told.never:
        model += take[x] == 0
    return model, take, taken


def _group_total(
    model: pulp.LpProblem, told: Instance, take: list[pulp.LpVariable], unit: int, group: int
) -> pulp.LpAffineExpression:
    """Sum and greatest of one mechanism: the greatest climbs a ladder, each rung held by who reaches it."""
    parts = told.gone[unit, group]
    alike = float(told.alike[unit, group])
    able = np.flatnonzero(parts > 0).tolist()
    rungs = sorted({float(parts[x]) for x in able})
    climbed = []
    for number, (below, rung) in enumerate(pairwise([0.0, *rungs])):
        held = model.add_variable(f"rung_{unit}_{group}_{number}", 0, 1)
        model += held <= pulp.lpSum(take[x] for x in able if parts[x] >= rung)
        climbed.append((rung - below) * held)
    return (1 - alike) * pulp.lpSum(float(parts[x]) * take[x] for x in able) + alike * pulp.lpSum(climbed)


def _limit_visits(model: pulp.LpProblem, told: Instance, take: list[pulp.LpVariable]) -> None:
    used = [model.add_variable(f"used_{d}", cat="Binary") for d in range(len(told.days))]
    for d, day in enumerate(told.days):
        model += pulp.lpSum(take[x] for x in np.flatnonzero(told.date == d)) <= told.products * used[d]
        for x in np.flatnonzero(told.date == d):
            model += take[x] <= used[d]
        if told.most_dates is not None:
            for later in range(d + 1, len(told.days)):
                if told.days[later] - day < told.least_gap:
                    model += used[d] + used[later] <= 1
    if told.most_dates is not None:
        model += pulp.lpSum(used) <= told.most_dates
    for a, b in sorted(told.apart):
        model += take[a] + take[b] <= 1


def _limit_actives(model: pulp.LpProblem, told: Instance, take: list[pulp.LpVariable]) -> None:
    for active, rates in enumerate(told.rate):
        holders = np.flatnonzero(rates > 0).tolist()
        model += pulp.lpSum(float(rates[x]) * take[x] for x in holders) <= float(told.ceiling[active])
        once = _held_on(model, told, take, holders, f"active_{active}")
        model += pulp.lpSum(once) <= float(told.most_times[active])
        for d, day in enumerate(told.days):
            for later in range(d + 1, len(told.days)):
                if told.days[later] - day < told.interval[active]:
                    model += once[d] + once[later] <= 1


def _held_on(
    model: pulp.LpProblem, told: Instance, take: list[pulp.LpVariable], holders: list[int], name: str
) -> list[pulp.LpVariable]:
    """For each date whether any of these candidates stands on it."""
    once = [model.add_variable(f"{name}_{d}", cat="Binary") for d in range(len(told.days))]
    for x in holders:
        model += take[x] <= once[int(told.date[x])]
    for d, held in enumerate(once):
        model += held <= pulp.lpSum(take[x] for x in holders if told.date[x] == d)
    return once


def _limit_mechanisms(model: pulp.LpProblem, told: Instance, take: list[pulp.LpVariable]) -> None:
    groups = [told.groups(x) for x in range(told.size)]
    dates = range(len(told.days))
    for group in range(told.gone.shape[1]):
        holders = [x for x in range(told.size) if group in groups[x]]
        on = _held_on(model, told, take, holders, f"mechanism_{group}")
        model += pulp.lpSum(on) <= float(told.most_visits[group])
        if group not in told.not_in_a_row:
            continue
        others = [x for x in range(told.size) if groups[x] - {group}]
        beside = _held_on(model, told, take, others, f"beside_{group}")
        for d in dates:
            for later in range(d + 1, len(told.days)):
                between = pulp.lpSum(on[k] + beside[k] for k in range(d + 1, later))
                model += on[d] + on[later] <= 1 + beside[d] + beside[later] + between
