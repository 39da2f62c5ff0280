"""What binds the choices of a year: tanks, visits, limits, rotation, money, locks and what is forbidden."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date as Date
from itertools import combinations, pairwise

import numpy as np

from app.engine.catalog import MAX_PARTS
from app.engine.doses import counted_rate
from app.engine.rules import Question
from app.engine.rules.limits import limits_on, recorded_interval
from app.season.year import Forbid, Lock
from app.season.year_candidates import group_of
from app.season.year_problem import Builder
from app.season.year_solve import Row
from knowledge.base import tolerance_for
from knowledge.models import Active

BUDGET, PRODUCTS, COUNT = "limits.budget_per_1000_ft2", "limits.max_products_per_visit", "visits.count"
_ROOM = 1 + 1e-9


@dataclass(frozen=True)
class Dates:
    """The days that may become visits.

    Attributes
    ----------
    chosen : bool
        Whether the solver chooses among them; otherwise every one is a visit.
    most : int
        Visits that there may be.
    gap : int
        Least days between two visits that are chosen.
    """

    days: tuple[Date, ...]
    chosen: bool
    most: int
    gap: int


class Rows:
    """The rows of a program; `extra` counts the columns beyond the days that locks by number need."""

    def __init__(self, builder: Builder, dates: Dates, without: frozenset[str] = frozenset()) -> None:
        self.builder, self.dates, self.without = builder, dates, without
        self.base = builder.base
        self.extra = 0
        self.by_day: dict[tuple[int, int], list[int]] = defaultdict(list)
        self.acting: dict[tuple[int, str], dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
        for at, choice in enumerate(builder.choices):
            if choice.day >= 0:
                self.by_day[choice.block, choice.day].append(at)

    def date_of(self, at: int) -> Date:
        """The day of a choice, or of what was applied before."""
        return self.builder.choices[at].done or self.dates.days[self.builder.choices[at].day]

    def all(self) -> tuple[Row, ...]:
        """Every row."""
        rows = [
            *self._visits(),
            *self._tanks(),
            *self._limits(),
            *self._rotation(),
            *self._last_year(),
            *self._money(),
            *self._locks(),
            *self._forbids(),
        ]
        return tuple(row for row in rows if not row.name or row.name not in self.without)

    def _visits(self) -> Iterator[Row]:
        """How many, and how far apart; where the dates are told every day is a visit."""
        dates = self.dates
        if not dates.chosen:
            yield from (Row((), least=1.0, visits=((day, 1.0),)) for day in range(len(dates.days)))
            return
        yield Row((), most=float(dates.most), visits=tuple((d, 1.0) for d in range(len(dates.days))), name=COUNT)
        for first, start in enumerate(dates.days):
            near = [d for d in range(first, len(dates.days)) if (dates.days[d] - start).days < dates.gap]
            if len(near) > 1:
                yield Row((), most=1.0, visits=tuple((d, 1.0) for d in near))

    def _tanks(self) -> Iterator[Row]:
        """So many products and actives on a visit, no active or mechanism twice, none that may not share a tank."""
        most = self.builder.asked.limits.max_products_per_visit
        for (block, day), places in self.by_day.items():
            visit = ((day, -1.0),)
            yield Row(_ones(places), most=0.0, visits=((day, -float(most)),), name=PRODUCTS)
            actives = tuple((at, float(len(self.builder.choices[at].part.doses))) for at in places)
            yield Row(actives, most=0.0, visits=((day, -float(MAX_PARTS)),))
            cliques: dict[str, list[int]] = defaultdict(list)
            for at in places:
                part = self.builder.choices[at].part
                for key in {*(f"active {a}" for a in part.actives), *(f"group {g}" for g in part.groups)}:
                    cliques[key].append(at)
            for held in {tuple(held) for held in cliques.values()}:
                yield Row(_ones(held), most=0.0, visits=visit)
            here = self.builder.here[block, day]
            for one, other in combinations(places, 2):
                first, second = self.builder.choices[one].part, self.builder.choices[other].part
                told = set(first.groups) & set(second.groups) or set(first.actives) & set(second.actives)
                if not told and self.builder.memo_apart(here, first, second):
                    yield Row(_ones((one, other)), most=0.0, visits=visit)

    def _limits(self) -> Iterator[Row]:
        """Yearly totals and counts of each active and product, and the days between two uses."""
        for block in range(len(self.builder.blocks)):
            held: dict[str, list[tuple[int, float]]] = defaultdict(list)
            sold: dict[str, list[int]] = defaultdict(list)
            for at, choice in enumerate(self.builder.choices):
                if choice.block == block and choice.day >= 0:
                    for dose in choice.part.doses:
                        held[dose.active.id].append((at, dose.rate.base))
                    if choice.part.product is not None:
                        sold[choice.part.label].append(at)
            for key, uses in sorted(held.items()):
                yield from self._limits_of(block, self.base.actives[key], uses)
            for places in sold.values():
                yield from self._limits_of_product(block, places)

    def _limits_of(self, block: int, active: Active, uses: Sequence[tuple[int, float]]) -> Iterator[Row]:
        place = self.builder.blocks[block].place
        turf = tuple(self.base.turf[key] for key in place.area.turf)
        limits = limits_on(active, turf, place.site_use)
        records = [tolerance_for(grass, active.id, place.site_use) for grass in turf]
        before = self.before(block, active)
        counts = [limit.max_applications for limit in limits if limit.max_applications is not None]
        counts += [r.max_applications for r in records if r is not None and r.max_applications is not None]
        totals = [limit.annual_max.base for limit in limits if limit.annual_max is not None]
        if not counts and not totals:
            counts = [1]
        if totals:
            yield Row(tuple(uses), most=max(0.0, min(totals) * _ROOM - sum(rate for _, rate in before)))
        if counts:
            yield Row(_ones([at for at, _ in uses]), most=float(max(0, min(counts) - len(before))))
        interval = self._interval(block, active, uses[0][0])
        yield from self._intervals([at for at, _ in uses], interval)

    def before(self, block: int, active: Active) -> list[tuple[Date, float]]:
        """Applications of an active before the plan in its year, with rates [g/ha]."""
        place, found = self.builder.blocks[block].place, []
        for past in place.applied:
            if past.active == active.id and past.date.year == place.year:
                counted = counted_rate(past.rate.quantity, active, active.forms[0])
                found.append((past.date, counted.base if counted is not None else past.rate.quantity.base))
        return found

    def _interval(self, block: int, active: Active, at: int) -> int:
        choice = self.builder.choices[at]
        dose = next(dose for dose in choice.part.doses if dose.active.id == active.id)
        understood = self.builder.here[block, choice.day].understood
        return recorded_interval(Question(self.base, understood, dose))[0]

    def _intervals(self, places: Sequence[int], interval: int) -> Iterator[Row]:
        """Of uses within an interval at most one."""
        days = self.dates.days
        ordered = sorted(places, key=lambda at: self.builder.choices[at].day)
        seen: set[tuple[int, ...]] = set()
        for first in sorted({self.builder.choices[at].day for at in ordered}):
            near = tuple(
                at for at in ordered if 0 <= (days[self.builder.choices[at].day] - days[first]).days < max(interval, 1)
            )
            if len(near) > 1 and near not in seen:
                seen.add(near)
                yield Row(_ones(near), most=1.0)

    def _limits_of_product(self, block: int, places: Sequence[int]) -> Iterator[Row]:
        product = self.builder.choices[places[0]].part.product
        assert product is not None, "asked of products alone"
        place = self.builder.blocks[block].place
        held = {part.active for part in product.actives}
        # What was applied by a product that was not told may have been this one.
        past = [p for p in place.applied if p.active in held and p.product in (None, product.name)]
        this_year = [p for p in past if p.date.year == place.year]
        if product.max_applications_per_year is not None:
            left = product.max_applications_per_year - len({p.date for p in this_year})
            yield Row(_ones(places), most=float(max(0, left)))
        if product.max_per_year is not None and not this_year:
            rates = [(at, self.builder.choices[at].part.doses[0].product) for at in places]
            told = [(at, use.rate.base) for at, use in rates if use is not None
                    and use.rate.dimension == product.max_per_year.quantity.dimension]  # fmt: skip
            if told:
                yield Row(tuple(told), most=product.max_per_year.quantity.base * _ROOM)
        if product.min_interval_days:
            yield from self._intervals(places, product.min_interval_days)

    def _rotation(self) -> Iterator[Row]:
        """Visits of a season on which one mechanism may be used, what was used this year counted."""
        for block in range(len(self.builder.blocks)):
            held: dict[str, list[int]] = defaultdict(list)
            for at, choice in enumerate(self.builder.choices):
                if choice.block == block and choice.day >= 0:
                    for group in choice.part.groups:
                        held[group].append(at)
            used = self._groups_used(block, self.builder.blocks[block].place.year)
            for group, places in sorted(held.items()):
                most = self.most_visits(places[0], group)
                yield Row(_ones(places), most=float(max(0, most - len(used.get(group, ())))))

    def most_visits(self, at: int, group: str) -> int:
        """Visits of a season on which a mechanism may be used."""
        actives = [d.active for d in self.builder.choices[at].part.doses if group_of(self.base, d.active) == group]
        return self.base.mechanisms[actives[0].mechanism.group].most_visits

    def _groups_used(self, block: int, year: int) -> dict[str, set[Date]]:
        """Days of a year on which each mechanism was applied before."""
        found: dict[str, set[Date]] = defaultdict(set)
        for past in self.builder.blocks[block].place.applied:
            if past.date.year == year:
                found[group_of(self.base, self.base.actives[past.active])].add(past.date)
        return found

    def _last_year(self) -> Iterator[Row]:
        """A mechanism of last year acts on a weed this year only where another does too."""
        for block, held in enumerate(self.builder.blocks):
            before = self._groups_used(block, held.place.year - 1)
            for weed in held.weeds:
                acting = self.acting_on(block, weed.weed)
                for group in sorted(set(before) & set(acting)):
                    number = self.number_of(acting[group][0], group)
                    if not self.base.must_alternate(number, weed.weed):
                        continue
                    others = sorted({at for other, places in acting.items() if other != group for at in places})
                    for at in acting[group]:
                        beside = [o for o in others if o != at]
                        if at not in others:
                            yield Row(((at, 1.0), *((o, -1.0) for o in beside)), most=0.0)

    def acting_on(self, block: int, weed: str) -> dict[str, list[int]]:
        """Choices that act on a weed of a block by mechanism, what was applied this year included."""
        key = (block, weed)
        if key not in self.acting:
            floor = -np.log(1 - self.base.parameter("partner-floor") / 100)
            units = {u for u, j in enumerate(self.builder.units) if j.block == block and j.weed.weed == weed}
            names = {number: group for group, number in self.builder.groups.items()}
            found: dict[str, set[int]] = defaultdict(set)
            for unit, group, at, size in self.builder.effects():
                if unit in units and size >= floor:
                    found[names[group]].add(at)
            for name, places in found.items():
                self.acting[key][name] = sorted(places)
        return self.acting[key]

    def number_of(self, at: int, group: str) -> str:
        """Group number of a mechanism that a choice holds."""
        part = self.builder.choices[at].part
        return next(d.active.mechanism.group for d in part.doses if group_of(self.base, d.active) == group)

    def _money(self) -> Iterator[Row]:
        """The products of the year within the budget; what has no price cannot be bought under one."""
        budget = self.builder.asked.limits.budget_per_1000_ft2
        if budget is None:
            return
        for block in range(len(self.builder.blocks)):
            yield self.budget_row(block, budget)

    def budget_row(self, block: int, budget: float) -> Row:
        """The products of a block within a budget [per 1000 ft2]."""
        of = [
            (at, choice.part.cost if np.isfinite(choice.part.cost) else budget + 1.0)
            for at, choice in enumerate(self.builder.choices)
            if choice.block == block and choice.day >= 0
        ]
        return Row(tuple(of), most=budget * _ROOM, name=BUDGET)

    def _locks(self) -> Iterator[Row]:
        for number, lock in enumerate(self.builder.asked.locks):
            name = f"locks.{number}"
            if name not in self.without:
                for block, held in enumerate(self.builder.blocks):
                    if lock.area is None or any(area.id == lock.area for area in held.areas):
                        yield from self._lock(name, lock, block)

    def _lock(self, name: str, lock: Lock, block: int) -> Iterator[Row]:
        days = self.days_named(lock)
        if not lock.actives:
            for day in days:
                yield Row(_ones(self.by_day.get((block, day), ())), most=0.0, name=name)
                if lock.date is not None:
                    # A visit that is held free is one of those there may be.
                    yield Row((), least=1.0, visits=((day, 1.0),), name=name)
            return
        able = {day: self._holders(block, day, lock.actives) for day in days}
        able = {day: held for day, held in able.items() if all(held)}
        if lock.date is not None or not self.dates.chosen:
            if not able:
                # Nothing that holds it passes there: no plan keeps this lock.
                yield Row((), least=1.0, name=name)
            for held in able.values():
                for places in held:
                    yield Row(_ones(places), least=1.0, name=name)
            return
        columns = {day: len(self.dates.days) + self.extra + at for at, day in enumerate(able)}
        self.extra += len(able)
        yield Row((), least=1.0, visits=tuple((column, 1.0) for column in columns.values()), name=name)
        before = float((lock.visit or 1) - 1)
        for day, held in able.items():
            is_it = columns[day]
            for places in held:
                yield Row(_ones(places), least=0.0, visits=((is_it, -1.0),), name=name)
            yield Row((), least=0.0, visits=((day, 1.0), (is_it, -1.0)), name=name)
            earlier = tuple((d, 1.0) for d in range(day))
            room = float(len(self.dates.days))
            yield Row((), most=before + room, visits=(*earlier, (is_it, room)), name=name)
            yield Row((), least=0.0, visits=(*earlier, (is_it, -before)), name=name)

    def days_named(self, item: Lock | Forbid) -> list[int]:
        """Places of the days that a lock or what is forbidden may mean."""
        if item.date is not None:
            return [d for d, day in enumerate(self.dates.days) if day == item.date]
        if item.visit is not None and not self.dates.chosen:
            return [item.visit - 1]
        return list(range(len(self.dates.days)))

    def _holders(self, block: int, day: int, actives: Sequence[str]) -> list[list[int]]:
        """Of each active the choices of a day that hold it."""
        places = self.by_day.get((block, day), ())
        return [[at for at in places if active in self.builder.choices[at].part.actives] for active in actives]

    def _forbids(self) -> Iterator[Row]:
        for number, item in enumerate(self.builder.asked.forbid):
            name = f"forbid.{number}"
            for block in range(len(self.builder.blocks)):
                for day in self.days_named(item):
                    held = self._holders(block, day, item.actives)
                    if all(held):
                        yield self._forbidden(name, held)

    def _forbidden(self, name: str, held: Sequence[Sequence[int]]) -> Row:
        """The tank does not hold all of these; a choice that holds several of them counts for each."""
        count: dict[int, float] = defaultdict(float)
        for places in held:
            for at in places:
                count[at] += 1.0
        return Row(tuple(count.items()), most=float(len(held) - 1), name=name)


def _ones(places: Sequence[int]) -> tuple[tuple[int, float], ...]:
    return tuple((at, 1.0) for at in places)


def in_a_row_rows(rows: Rows, chosen: Sequence[int]) -> list[Row]:
    """Rows against mechanisms that stand alone on a weed on two visits running, where this choice has such.

    What was applied this year before the plan counts too. Uses within a course are one.
    """
    builder, found = rows.builder, []
    done = [at for at, c in enumerate(builder.choices) if c.done is not None and c.done.year == builder.asked.year]
    for block, held in enumerate(builder.blocks):
        mine = [at for at in (*done, *chosen) if builder.choices[at].block == block]
        for weed in held.weeds:
            acting = rows.acting_on(block, weed.weed)
            of = {at: {g for g, places in acting.items() if at in places} for at in mine}
            dated = sorted((rows.date_of(at), at) for at in mine if of[at])
            for group in sorted({g for groups in of.values() for g in groups}):
                first = next(at for at in mine if group in of[at])
                if rows.base.mechanisms[rows.number_of(first, group)].in_a_row:
                    continue
                uses = [(day, at) for day, at in dated if group in of[at]]
                for earlier, later in pairwise(uses):
                    row = _alone_again(rows, block, group, earlier, later, acting, set(mine))
                    if row is not None:
                        found.append(row)
    return found


def _alone_again(
    rows: Rows,
    block: int,
    group: str,
    earlier: tuple[Date, int],
    later: tuple[Date, int],
    acting: Mapping[str, Sequence[int]],
    mine: set[int],
) -> Row | None:
    """The row against two uses of a mechanism with no other beside or between them; None where there is one."""
    (start, one), (end, other) = earlier, later
    choices = rows.builder.choices
    planned = [(at, 1.0) for at in (one, other) if choices[at].day >= 0]
    if (end - start).days <= rows.base.parameter("year-course-days") or not planned:
        return None
    beside = {
        at
        for name, places in acting.items()
        if name != group
        for at in places
        if choices[at].block == block and start <= rows.date_of(at) <= end
    }
    if beside & mine:
        return None
    free = sorted(at for at in beside - {one, other} if choices[at].day >= 0)
    return Row((*planned, *((at, -1.0) for at in free)), most=float(len(planned) - 1))
