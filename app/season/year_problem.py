"""From what is asked of a year to the choices, what they do, and what binds them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date as Date

import numpy as np

from app.engine.control import Floats
from app.engine.doses import stated_dose
from app.engine.product import Product
from app.engine.responses import ControlFacts
from app.engine.situation import PastApplication
from app.season.year import YearArea, YearAsked, YearWeed
from app.season.year_candidates import (
    DayHere,
    Effect,
    Part,
    Place,
    YearMemo,
    adjuvant_for,
    day_here,
    group_of,
    understood_on,
)
from app.season.year_cohorts import Unit, units_of
from app.season.year_effects import apart, effect_of, effects
from app.season.year_solve import Effects, Problem, Row
from app.season.year_weather import shift_of
from knowledge.base import KnowledgeBase

# Of each unit of a weed so many of the strongest are considered a day, and so many of each mechanism.
_STRONGEST, _OF_MECHANISM = 3, 1
# What takes less than this off the log of survivors does nothing that is seen (one percent).
_NOTHING = 0.01
_SAME = 1e-9
_PERCENT = 100.0


@dataclass(frozen=True)
class Block:
    """Areas that are treated alike, since all that is told of them is alike.

    Attributes
    ----------
    areas : tuple of YearArea
        The first stands for all.
    share : float
        Part of the objective, 0 to 1.
    """

    areas: tuple[YearArea, ...]
    place: Place
    weeds: tuple[YearWeed, ...]
    share: float


@dataclass(frozen=True)
class Choice:
    """A part on a day on the areas of a block; `day` is -1 for what was applied before, on the date `done`."""

    block: int
    day: int
    part: Part
    done: Date | None = None


@dataclass(frozen=True)
class Judged:
    """A unit of a weed on the areas of a block, with its weight [points]."""

    block: int
    weed: YearWeed
    unit: Unit
    weight: float


def weeds_of(asked: YearAsked, area: YearArea) -> tuple[YearWeed, ...]:
    """The weeds of an area."""
    return tuple(weed for weed in asked.weeds if not weed.areas or area.id in weed.areas)


def blocks_of(asked: YearAsked, places: Sequence[Place]) -> tuple[Block, ...]:
    """Areas that are alike together; larger ones weigh more where every size is told."""
    sizes = [area.area.quantity.base if area.area is not None else None for area in asked.areas]
    told = [size for size in sizes if size is not None]
    weights = [size if size is not None and len(told) == len(sizes) else 1.0 for size in sizes]
    found: dict[object, list[int]] = {}
    for number, (area, place) in enumerate(zip(asked.areas, places, strict=True)):
        locks = tuple(i for i, lock in enumerate(asked.locks) if lock.area == area.id)
        found.setdefault((place.key, weeds_of(asked, area), locks), []).append(number)
    whole = sum(weights)
    return tuple(
        Block(
            tuple(asked.areas[n] for n in numbers),
            places[numbers[0]],
            weeds_of(asked, asked.areas[numbers[0]]),
            sum(weights[n] for n in numbers) / whole,
        )
        for numbers in found.values()
    )


def units_judged(base: KnowledgeBase, asked: YearAsked, blocks: Sequence[Block], memo: YearMemo) -> tuple[Judged, ...]:
    """Every unit with its weight; the weights sum to 100 points."""
    raw: list[tuple[int, YearWeed, Unit, float]] = []
    for number, block in enumerate(blocks):
        importance = {w.weed: w.priority * base.parameter(f"year-pressure-{w.pressure}") for w in block.weeds}
        whole = sum(importance.values())
        for weed in block.weeds:
            late, _ = weed_shift(base, asked, weed.weed, memo)
            key = (weed.weed, asked.zone, asked.year, late)
            if key not in memo.units:
                memo.units[key] = units_of(base, base.weeds[weed.weed], *key[1:])
            for unit in memo.units[key]:
                raw.append((number, weed, unit, block.share * importance[weed.weed] / whole * unit.share))
    total = sum(weight for *_, weight in raw)
    return tuple(Judged(b, w, u, _PERCENT * weight / total) for b, w, u, weight in raw)


def weed_shift(base: KnowledgeBase, asked: YearAsked, weed: str, memo: YearMemo) -> tuple[int, bool]:
    """Days by which a weed runs behind the calendar, and whether temperatures told it; reckoned once."""
    key = (weed, asked.zone, asked.year, asked.spring_shift_days, asked.weather.daily)
    if key not in memo.shifts:
        memo.shifts[key] = shift_of(base, asked, base.weeds[weed])
    return memo.shifts[key]


class Builder:
    """Gathers choices and what they do, then what binds them."""

    def __init__(
        self,
        base: KnowledgeBase,
        asked: YearAsked,
        blocks: Sequence[Block],
        products: Sequence[Product] | None,
        memo: YearMemo,
    ) -> None:
        self.base, self.asked, self.blocks = base, asked, tuple(blocks)
        self.products, self.memo = products, memo
        self.units = units_judged(base, asked, blocks, memo)
        self.groups: dict[str, int] = {}
        self.choices: list[Choice] = []
        self.here: dict[tuple[int, int], DayHere] = {}
        self.spread: dict[tuple[int, int], tuple[float, float]] = {}
        self._of: list[tuple[int, int, int, float]] = []

    def units_in(self, block: int) -> list[tuple[YearWeed, list[int]]]:
        """The weeds of a block with the places of their units."""
        found: dict[str, tuple[YearWeed, list[int]]] = {}
        for place, judged in enumerate(self.units):
            if judged.block == block:
                found.setdefault(judged.weed.weed, (judged.weed, []))[1].append(place)
        return list(found.values())

    def effects_on(self, block: int, here: DayHere, parts: Sequence[Part] | None) -> Effect:
        """What parts do to all units of a block, those of the day where `parts` is None."""
        sizes, spreads, squares = [], [], []
        for weed, places in self.units_in(block):
            units = [self.units[place].unit for place in places]
            fact = self.base.weeds[weed.weed]
            if parts is None:
                place = self.blocks[block].place
                found = effects(self.base, place, here, fact, weed.resistant_to, units, self.memo)
            else:
                found = effect_of(self.base, here, parts, fact, weed.resistant_to, units)
            sizes.append(found.size)
            spreads.append(found.spread)
            squares.append(found.squares)
        if not sizes:
            # An area of which no weed is told has nothing to be done to.
            told = here.parts if parts is None else parts
            nothing = np.zeros((len(told), 0))
            return Effect(
                np.zeros((len(told), 0, max((len(part.groups) for part in told), default=1))), nothing, nothing
            )
        return Effect(np.concatenate(sizes, axis=1), np.concatenate(spreads, axis=1), np.concatenate(squares, axis=1))

    def order_in(self, block: int) -> list[int]:
        """Places of the units of a block as `effects_on` has them."""
        return [place for _, places in self.units_in(block) for place in places]

    def add_days(self, days: Sequence[Date], wanted: frozenset[str]) -> None:
        """Choices on each day: all that is worth considering, and what holds a wanted active."""
        for block in range(len(self.blocks)):
            order = self.order_in(block)
            weight = np.asarray([self.units[place].weight for place in order])
            for number, day in enumerate(days):
                here = day_here(self.base, self.blocks[block].place, day, self.products, self.memo)
                self.here[block, number] = here
                if not here.parts:
                    continue
                found = self.effects_on(block, here, None)
                kept = _worth_considering(here.parts, found.size, weight, self.worth_from(block, 1), wanted)
                self._add(block, number, [here.parts[p] for p in kept], kept, found, order)

    def add_done(self, *, helped: bool = False) -> list[int]:
        """What was applied before, each day's actives as one choice; the places of these.

        Which adjuvant it had is not told, so none is counted, unless it is `helped` by the usual one.
        """
        first = len(self.choices)
        for block, held in enumerate(self.blocks):
            order = self.order_in(block)
            by_day: dict[Date, list[PastApplication]] = defaultdict(list)
            for past in held.place.applied:
                by_day[past.date].append(past)
            for day, applied in sorted(by_day.items()):
                understood = understood_on(self.base, held.place, day, self.products, (), ())
                told = {p.active: p.rate for p in applied}
                doses = {a: stated_dose(self.base, understood, a, None, rate, "applied") for a, rate in told.items()}
                groups = tuple(dict.fromkeys(group_of(self.base, dose.active) for dose in doses.values()))
                held_doses = tuple(doses.values())
                adjuvant = adjuvant_for(self.base, understood, held_doses) if helped else None
                part = Part("applied", held_doses, adjuvant or "none", groups, (), 0.0)
                here = DayHere(understood, ControlFacts(self.base, understood, self.memo.cells), (part,), ())
                found = self.effects_on(block, here, (part,))
                self._add(block, -1, [part], [0], found, order, day)
        return list(range(first, len(self.choices)))

    def _add(
        self,
        block: int,
        day: int,
        parts: Sequence[Part],
        rows: Sequence[int],
        found: Effect,
        order: Sequence[int],
        done: Date | None = None,
    ) -> None:
        for part, row in zip(parts, rows, strict=True):
            at = len(self.choices)
            self.choices.append(Choice(block, day, part, done))
            for column, unit in enumerate(order):
                for g, group in enumerate(part.groups):
                    size = float(found.size[row, column, g])
                    if size > _NOTHING:
                        self._of.append((unit, self.groups.setdefault(group, len(self.groups)), at, size))
                if found.spread[row, column] > 0:
                    self.spread[unit, at] = (float(found.spread[row, column]), float(found.squares[row, column]))

    def effects(self) -> list[tuple[int, int, int, float]]:
        """What choices do: unit, mechanism, choice, size."""
        return self._of

    def memo_apart(self, here: DayHere, first: Part, second: Part) -> bool:
        """Whether two parts may not share a tank, remembered for the turf and season that it hangs on."""
        situation = here.understood.situation
        key = (situation.turf, situation.site_use, first.key, second.key)
        if key not in self.memo.apart:
            self.memo.apart[key] = apart(self.base, here, first, second)
        return self.memo.apart[key]

    def problem(self, days: int, rows: Iterable[Row], done: Sequence[int]) -> Problem:
        """The program as arrays."""
        told = np.asarray(self._of, dtype=np.float64).reshape(-1, 4)
        ints = told[:, :3].astype(np.int64)
        penalty = np.asarray([self.worth_from(c.block, len(c.part.doses)) for c in self.choices], dtype=np.float64)
        if self.products is not None:
            # Of equal control the cheaper: far too little to outweigh control that can be seen.
            cost = np.asarray([choice.part.cost for choice in self.choices])
            penalty += self.base.parameter("year-cost-weight") * np.where(np.isfinite(cost), cost, 0.0)
        penalty[list(done)] = 0.0
        return Problem(
            weight=np.asarray([judged.weight for judged in self.units]),
            rho=self._rho(),
            effects=Effects(ints[:, 0], ints[:, 1], ints[:, 2], told[:, 3]),
            day=np.asarray([choice.day for choice in self.choices], dtype=np.int64),
            penalty=penalty,
            days=days,
            rows=tuple(rows),
            done=tuple(done),
        )

    def worth_from(self, block: int, actives: int) -> float:
        """Points that something of so many actives must bring on a block to be worth spraying.

        It is so much control of one weed of middling weight, whatever the number of weeds and the size of the block.
        """
        held = self.blocks[block]
        least = self.base.parameter("year-least-gain") + self.base.parameter("year-active-gain") * (actives - 1)
        return held.share * least / max(len(held.weeds), 1)

    def _rho(self) -> Floats:
        """How alike repeated uses of a mechanism are on each unit, array (units, groups)."""
        usual = self.base.parameter("rho-default")
        rho = np.full((len(self.units), max(len(self.groups), 1)), usual)
        for u, judged in enumerate(self.units):
            own = {item.group: item.rho for item in self.base.weeds[judged.weed.weed].mixture_rho}
            for group, g in self.groups.items():
                rho[u, g] = own.get(group, usual)
        return rho


def _worth_considering(
    parts: Sequence[Part], size: Floats, weight: Floats, least: float, wanted: frozenset[str]
) -> list[int]:
    """Places of the parts to consider on a day.

    What would not be worth its place by itself never is, since what it adds beside others is less. Of the rest the
    strongest on each unit, the strongest of each mechanism there, the cheapest of each that do nearly as much, and
    whatever holds a wanted active.
    """
    total = size.sum(axis=2)
    alone = (1 - np.exp(-total)) @ weight
    worth = alone > least
    kept = {p for p, part in enumerate(parts) if wanted & set(part.actives)}
    able = [p for p in range(len(parts)) if worth[p] and not _beaten(p, parts, total)]
    for unit in range(total.shape[1]):
        ranked = sorted((p for p in able if total[p, unit] > _NOTHING), key=lambda p: (-total[p, unit], parts[p].key))
        kept.update(ranked[:_STRONGEST])
        held: dict[tuple[str, ...], int] = defaultdict(int)
        for p in ranked:
            if held[parts[p].groups] < _OF_MECHANISM:
                held[parts[p].groups] += 1
                kept.add(p)
    return sorted(kept)


def _beaten(p: int, parts: Sequence[Part], total: Floats) -> bool:
    """Whether another part of the same mechanisms and actives does as much on every unit and costs no more."""
    mine = parts[p]
    for q, other in enumerate(parts):
        if q == p or other.groups != mine.groups or set(other.actives) != set(mine.actives):
            continue
        dearer = np.isfinite(mine.cost) and (not np.isfinite(other.cost) or other.cost > mine.cost + _SAME)
        more = any(o.rate.base > m.rate.base * (1 + _SAME) for o, m in zip(other.doses, mine.doses, strict=True))
        if dearer or more or (total[q] < total[p] - _SAME).any():
            continue
        # Of two that are the same in all of it the first stays.
        if (total[q] > total[p] + _SAME).any() or other.cost < mine.cost - _SAME or q < p:
            return True
    return False
