"""A second reckoning of a year's optimisation, written from its description alone: measure, limits, every choice.

Nothing here comes from the solver that it checks. A unit is a set of plants of one weed that emerge together, or a
stand on a day on which it is judged. A candidate is something that may be sprayed on one date; it takes a share of
the survivors of each unit by one or more mechanisms.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations, pairwise
from math import exp

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_SLACK = 1e-9


@dataclass(frozen=True)
class Instance:
    """One year to be planned, as arrays of units (u), mechanisms (g), candidates (x), dates (d) and actives (a).

    Attributes
    ----------
    weight : array (u,)
        Points of 100.
    gone : array (u, g, x)
        Negative log of the share that survives, by mechanism.
    mechanism : array (g, x)
        Which mechanisms a candidate holds, whether or not they do anything to these units.
    alike : array (u, g)
        How alike susceptibilities within one mechanism are, 0 to 1.
    pain : array (x,)
        What each candidate must at least add [points].
    date : array (x,)
        Place of each candidate's date in `days`.
    days : array (d,)
        Day of the year of each date, rising.
    most_dates : int or None
        How many dates may be used; None where every date is a visit.
    least_gap : int
        Days between two dates that are used, where dates are chosen.
    products : int
        Candidates on one date at most.
    rate, ceiling : array (a, x), array (a,)
        What a candidate uses of an active, and what is left of it.
    most_times : array (a,)
        Applications that are left of an active.
    interval : array (a,)
        Days until an active may follow itself.
    apart : set of pairs
        Candidates that may not stand on one date together.
    most_visits : array (g,)
        Visits that may hold a mechanism.
    not_in_a_row : set of int
        Mechanisms that two visits running may not rest on alone.
    money, budget : array (x,), float
        What each costs, and what may be spent.
    must, never : frozenset
        Candidates that are locked in, and locked out.
    """

    weight: Floats
    gone: Floats
    mechanism: NDArray[np.bool_]
    alike: Floats
    pain: Floats
    date: NDArray[np.int64]
    days: NDArray[np.int64]
    most_dates: int | None
    least_gap: int
    products: int
    rate: Floats
    ceiling: Floats
    most_times: Floats
    interval: Floats
    apart: frozenset[tuple[int, int]]
    most_visits: Floats
    not_in_a_row: frozenset[int]
    money: Floats
    budget: float
    must: frozenset[int] = field(default_factory=frozenset)
    never: frozenset[int] = field(default_factory=frozenset)

    @property
    def size(self) -> int:
        """How many candidates there are."""
        return len(self.pain)

    def groups(self, candidate: int) -> frozenset[int]:
        """Mechanisms of a candidate."""
        return frozenset(np.flatnonzero(self.mechanism[:, candidate]).tolist())


def control(told: Instance, chosen: Sequence[int]) -> list[float]:
    """Expected control of each unit by a set of candidates, 0 to 1."""
    found = []
    for unit in range(len(told.weight)):
        total = 0.0
        for group in range(told.gone.shape[1]):
            parts = [float(told.gone[unit, group, x]) for x in chosen]
            if parts:
                alike = float(told.alike[unit, group])
                total += (1 - alike) * sum(parts) + alike * max(parts)
        found.append(1 - exp(-total))
    return found


def measure(told: Instance, chosen: Sequence[int]) -> float:
    """Points of 100, less what each candidate must at least add."""
    reached = sum(float(q) * c for q, c in zip(told.weight, control(told, chosen), strict=True))
    return reached - sum(float(told.pain[x]) for x in chosen)


def broken(told: Instance, chosen: Sequence[int]) -> Iterator[str]:
    """Each limit that a set of candidates breaks, by its name."""
    by_date: dict[int, list[int]] = {}
    for x in chosen:
        by_date.setdefault(int(told.date[x]), []).append(x)
    used = [int(told.days[d]) for d in sorted(by_date)]
    if told.most_dates is not None:
        if len(used) > told.most_dates:
            yield "dates"
        if any(later - earlier < told.least_gap for earlier, later in pairwise(used)):
            yield "gap"
    if any(len(held) > told.products for held in by_date.values()):
        yield "products"
    if any((min(p), max(p)) in told.apart for held in by_date.values() for p in combinations(held, 2)):
        yield "apart"
    yield from _of_actives(told, chosen)
    yield from _of_mechanisms(told, by_date)
    if sum(float(told.money[x]) for x in chosen) > told.budget + _SLACK:
        yield "budget"
    if not told.must <= set(chosen) or told.never & set(chosen):
        yield "locks"


def _of_actives(told: Instance, chosen: Sequence[int]) -> Iterator[str]:
    for active in range(len(told.ceiling)):
        holders = [x for x in chosen if told.rate[active, x] > 0]
        if sum(float(told.rate[active, x]) for x in holders) > told.ceiling[active] + _SLACK:
            yield "ceiling"
        dates = sorted({int(told.date[x]) for x in holders})
        if len(dates) > told.most_times[active]:
            yield "times"
        days = [int(told.days[d]) for d in dates]
        if any(later - earlier < told.interval[active] for earlier, later in pairwise(days)):
            yield "interval"


def _of_mechanisms(told: Instance, by_date: dict[int, list[int]]) -> Iterator[str]:
    held = {d: frozenset[int]().union(*(told.groups(x) for x in every)) for d, every in by_date.items()}
    for group in range(told.gone.shape[1]):
        if sum(group in found for found in held.values()) > told.most_visits[group]:
            yield "mechanism"
        alone = [held[d] == {group} for d in sorted(held)]
        if group in told.not_in_a_row and any(a and b for a, b in pairwise(alone)):
            yield "in a row"


def best_of_all(told: Instance) -> tuple[float, tuple[int, ...]] | None:
    """The best choice by trying every one, None where none is allowed.

    Of equal measures the first in order of size and then of places.
    """
    best: tuple[float, tuple[int, ...]] | None = None
    for size in range(told.size + 1):
        for chosen in combinations(range(told.size), size):
            if next(broken(told, chosen), None) is None:
                reached = measure(told, chosen)
                if best is None or reached > best[0] + _SLACK:
                    best = reached, chosen
    return best


def greedy(told: Instance) -> tuple[float, tuple[int, ...]]:
    """The choice of someone who takes what adds most, again and again, as long as something does."""
    chosen: tuple[int, ...] = tuple(sorted(told.must))
    reached = measure(told, chosen)
    while True:
        tried = [
            (measure(told, more), more)
            for x in range(told.size)
            if x not in chosen and next(broken(told, more := tuple(sorted((*chosen, x)))), None) is None
        ]
        best = max(tried, key=lambda item: item[0], default=(reached, chosen))
        if best[0] <= reached + _SLACK:
            return reached, chosen
        reached, chosen = best


def random_instance(seed: int, dates: int, each: int, units: int, *, free_dates: bool = False) -> Instance:
    """A year made up from a seed: some candidates on each date, with limits that bind now and then."""
    rng = np.random.default_rng(seed)
    size, groups, actives = dates * each, max(2, min(12, each // 3)), max(2, each // 2)
    product = np.tile(np.arange(each), dates)
    active_of, group_of = rng.integers(0, actives, each), rng.integers(0, groups, actives)
    power = rng.gamma(1.2, 0.9, (units, each)) * (rng.random((units, each)) < 0.35)
    season = rng.random((units, dates)) * (rng.random((units, dates)) < 0.6)
    gone, mechanism = np.zeros((units, groups, size)), np.zeros((groups, size), dtype=bool)
    for x in range(size):
        mechanism[group_of[active_of[product[x]]], x] = True
        gone[:, group_of[active_of[product[x]]], x] = np.round(power[:, product[x]] * season[:, x // each], 4)
    rate = np.zeros((actives, size))
    rate[active_of[product], np.arange(size)] = np.round(0.25 + 0.75 * rng.random(each), 2)[product]
    raw = rng.random(units) + 0.1
    pairs = {(a, b) for d in range(dates) for a, b in combinations(range(d * each, (d + 1) * each), 2)}
    return Instance(
        weight=100 * raw / raw.sum(),
        gone=gone,
        mechanism=mechanism,
        alike=np.round(rng.random((units, groups)), 2),
        pain=np.full(size, 0.5),
        date=np.repeat(np.arange(dates), each),
        days=np.cumsum(rng.integers(14, 50, dates)),
        most_dates=max(1, dates // 2) if free_dates else None,
        least_gap=21,
        products=int(rng.integers(1, 4)),
        rate=rate,
        ceiling=np.round(0.8 + 1.5 * rng.random(actives), 2),
        most_times=rng.integers(1, 4, actives).astype(np.float64),
        interval=rng.choice([0.0, 28.0, 60.0], actives),
        apart=frozenset(p for p in sorted(pairs) if rng.random() < 0.05),
        most_visits=rng.integers(1, 4, groups).astype(np.float64),
        not_in_a_row=frozenset(g for g in range(groups) if rng.random() < 0.5),
        money=np.round(1 + 5 * rng.random(each), 2)[product],
        budget=float(np.round(6 + 14 * rng.random(), 2)),
    )
