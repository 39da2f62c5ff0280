"""A year of the second reckoning as the solver's problem, its limits written as rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from app.season.year_solve import Effects, Problem, Row
from tests.season.year_reference import Instance, broken

Faults = Callable[[tuple[int, ...], tuple[int, ...]], Sequence[Row]]


class AsProblem:
    """Columns: candidates, then for each mechanism, and each active, whether a date holds it."""

    def __init__(self, told: Instance) -> None:
        self.told, self.dates = told, len(told.days)
        self.groups, self.actives = told.mechanism.shape[0], len(told.ceiling)
        self.size = told.size + (self.groups + self.actives) * self.dates

    def of_mechanism(self, group: int, date: int) -> int:
        """Column that says that a date holds a mechanism."""
        return self.told.size + group * self.dates + date

    def of_active(self, active: int, date: int) -> int:
        """Column that says that a date holds an active."""
        return self.told.size + (self.groups + active) * self.dates + date

    def problem(self) -> Problem:
        """The whole, but for what `faults` adds."""
        told = self.told
        unit, group, choice = np.nonzero(told.gone)
        extra = self.size - told.size
        return Problem(
            weight=told.weight,
            rho=told.alike,
            effects=Effects(unit, group, choice, told.gone[unit, group, choice]),
            day=np.concatenate([told.date, np.tile(np.arange(self.dates), self.groups + self.actives)]),
            penalty=np.concatenate([told.pain, np.zeros(extra)]),
            days=self.dates,
            rows=tuple(self._rows()),
        )

    def _rows(self) -> list[Row]:
        told, every = self.told, range(self.told.size)
        rows = [Row(tuple((x, float(told.money[x])) for x in every), most=told.budget)]
        rows += [Row(((x, 1.0),), least=1.0) for x in sorted(told.must)]
        rows += [Row(((x, 1.0),), most=0.0) for x in sorted(told.never)]
        rows += [Row(((a, 1.0), (b, 1.0)), most=1.0) for a, b in sorted(told.apart)]
        for date in range(self.dates):
            here = [x for x in every if told.date[x] == date]
            rows += [Row(((x, 1.0),), most=0.0, visits=((date, -1.0),)) for x in here]
            rows.append(Row(tuple((x, 1.0) for x in here), most=float(told.products)))
        if told.most_dates is not None:
            rows.append(Row((), most=float(told.most_dates), visits=tuple((d, 1.0) for d in range(self.dates))))
            rows += [Row((), most=1.0, visits=((a, 1.0), (b, 1.0))) for a, b in self._closer_than(told.least_gap)]
        for active in range(self.actives):
            rows += self._of_active(active)
        for group in range(self.groups):
            on = [self.of_mechanism(group, d) for d in range(self.dates)]
            holders = np.flatnonzero(told.mechanism[group]).tolist()
            rows += [Row(((x, 1.0), (on[int(told.date[x])], -1.0)), most=0.0) for x in holders]
            rows.append(Row(tuple((c, 1.0) for c in on), most=float(told.most_visits[group])))
        return rows

    def _of_active(self, active: int) -> list[Row]:
        told = self.told
        holders = np.flatnonzero(told.rate[active] > 0).tolist()
        on = [self.of_active(active, d) for d in range(self.dates)]
        return [
            Row(tuple((x, float(told.rate[active, x])) for x in holders), most=float(told.ceiling[active])),
            Row(tuple((c, 1.0) for c in on), most=float(told.most_times[active])),
            *(Row(((x, 1.0), (on[int(told.date[x])], -1.0)), most=0.0) for x in holders),
            *(Row(((on[a], 1.0), (on[b], 1.0)), most=1.0) for a, b in self._closer_than(told.interval[active])),
        ]

    def _closer_than(self, days: float) -> list[tuple[int, int]]:
        told = self.told.days
        return [(a, b) for a in range(self.dates) for b in range(a + 1, self.dates) if told[b] - told[a] < days]

    def chosen(self, columns: Sequence[int]) -> tuple[int, ...]:
        """The candidates among the columns that were chosen."""
        return tuple(x for x in columns if x < self.told.size)

    def faults(self, columns: tuple[int, ...], visits: tuple[int, ...]) -> list[Row]:
        """Two visits running rest on one mechanism alone only where something stands between or beside."""
        told, chosen = self.told, self.chosen(columns)
        if "in a row" not in set(broken(told, chosen)):
            return []
        held: dict[int, set[int]] = {}
        for x in chosen:
            held.setdefault(int(told.date[x]), set()).update(told.groups(x))
        rows = []
        for first, then in pairwise(sorted(held)):
            for group in told.not_in_a_row:
                if held[first] == held[then] == {group}:
                    freeing = [
                        x
                        for x in range(told.size)
                        if first < told.date[x] < then or (told.date[x] in (first, then) and told.groups(x) - {group})
                    ]
                    pair = [(self.of_mechanism(group, d), 1.0) for d in (first, then)]
                    rows.append(Row((*pair, *((x, -1.0) for x in freeing)), most=1.0))
        return rows
