"""Tanks that several situations may share: what can be put into one, and what each does in a situation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from app.engine.catalog import MAX_PARTS, NO_DOSE
from app.engine.considered import build_catalog, by_target, sharing_products, stops_in
from app.engine.control import Floats, Ints
from app.engine.cost import cost_per_hectare
from app.engine.doses import Dose, ProductUse, doses_delivered, line_holding, stated_dose, turf_rate
from app.engine.measures import Rate
from app.engine.offers import adjuvants_offered, offered, required_by, spread_dry
from app.engine.responses import ControlFacts
from app.engine.screen import Programs, join
from app.engine.screening import Screened, adjuvant_masks, judged, pair_stops, used
from app.engine.tables import build_tables, usual_timing
from app.engine.understood import Understood
from knowledge.base import KnowledgeBase

_NONE = 0
# A situation, and what is known of control in it, worked out once for all that is asked.
Asked = tuple[Understood, ControlFacts]


@dataclass(frozen=True)
class Part:
    """One thing that is put into a tank at one rate: a product, a generic active, or a standard mixture.

    Attributes
    ----------
    label : str
        Name of the product or mixture, or id of the active.
    use : ProductUse or None
        The product and its rate; None for what is generic.
    stated : tuple of Dose
        The doses as first met; another situation holds the same actives at the same rates against its own limits.
    """

    label: str
    use: ProductUse | None
    stated: tuple[Dose, ...]

    @property
    def key(self) -> tuple[str, float, tuple[tuple[str, str, float, str], ...]]:
        """Equal for what is the same in the tank."""
        doses = tuple((d.active.id, d.form.id, round(d.rate.base, 4), d.timing or "") for d in self.stated)
        if self.use is None:
            return (self.label, 0.0, doses)
        # A product at a rate is one thing, by whichever line of its label it is used.
        return (self.label, round(self.use.rate.base, 6), tuple((a, f, r, "") for a, f, r, _ in doses))

    @property
    def actives(self) -> frozenset[str]:
        """Ids of what it holds."""
        return frozenset(dose.active.id for dose in self.stated)

    @property
    def cost(self) -> float:
        """Cost per hectare; NaN where no price is known."""
        cost = cost_per_hectare(self.use) if self.use is not None else None
        return cost if cost is not None else float("nan")

    def here(self, base: KnowledgeBase, understood: Understood) -> tuple[Dose, ...]:
        """Its doses in a situation, held against the limits of that turf and label."""
        if self.use is not None:
            line = line_holding(self.use.product, understood, self.use.rate)
            return doses_delivered(base, understood, self.use.product, self.use.rate, "catalog", line)
        return tuple(_restated(base, understood, dose) for dose in self.stated)


def _restated(base: KnowledgeBase, understood: Understood, dose: Dose) -> Dose:
    rate = Rate(value=dose.rate.value, unit=dose.rate.unit)
    made = stated_dose(base, understood, dose.active.id, dose.form.id, rate, "catalog")
    if dose.timing is None:
        return made
    return replace(made, timing=dose.timing, usual=turf_rate(dose.active, understood, dose.timing))


@dataclass(frozen=True)
class SharedTanks:
    """Every tank to consider for all the situations together.

    Attributes
    ----------
    parts : tuple of Part
        What goes into tanks, by name and rate.
    rows : array (tanks, MAX_PRODUCTS)
        Places of the parts of each tank, padded with `NO_DOSE`.
    adjuvant : array (tanks,)
        Places in `adjuvants`.
    """

    parts: tuple[Part, ...]
    rows: Ints
    adjuvant: Ints
    adjuvants: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.adjuvant)

    def cost(self) -> Floats:
        """Cost of the products of each tank per hectare, array (tanks,); NaN where a price is unknown."""
        prices = np.asarray([*(part.cost for part in self.parts), 0.0])
        return np.asarray(prices[self.rows].sum(axis=1))


def shared_tanks(base: KnowledgeBase, situations: Sequence[Asked], most: int) -> SharedTanks:
    """Tanks of one to `most` products made of what is on offer in any of the situations.

    Every product stands alone at each of its rates. Those that share a tank are chosen over all situations: of
    each of their weeds in turn the next that does most on it by itself, stopped or not.
    """
    parts, best = _offered(base, situations)
    chosen = sharing_products(best, base)
    ordered = tuple(sorted(parts.values(), key=lambda part: part.key))
    sharing = [part.label in chosen and not any(map(spread_dry, part.stated)) for part in ordered]
    rows = _rows(ordered, sharing, most)
    adjuvants = tuple(dict.fromkeys(a for understood, _ in situations for a in adjuvants_offered(understood)))
    return _with_adjuvants(ordered, rows, adjuvants)


def _offered(
    base: KnowledgeBase, situations: Sequence[Asked]
) -> tuple[dict[object, Part], dict[str, NDArray[np.float64]]]:
    """Parts by their key, and the best that each name does by itself on every weed of every situation."""
    timing = usual_timing(base)
    parts: dict[object, Part] = {}
    columns: list[dict[str, float]] = []
    for understood, facts in situations:
        doses, groups = offered(base, understood)
        told = by_target(base, understood, facts, timing, doses)
        best = [dict[str, float]() for _ in understood.targets]
        for label, places in _as_parts(doses, groups):
            held = tuple(doses[d] for d in places)
            part = Part(label, held[0].product, held)
            # The doses first met stand for all: they are the same, but for the turf they were held against.
            parts.setdefault(part.key, part)
            for target, names in enumerate(best):
                names[label] = max(names.get(label, 0.0), *(float(told[d, target]) for d in places))
        columns += best
    every = sorted({name for column in columns for name in column})
    return parts, {name: np.asarray([column.get(name, 0.0) for column in columns]) for name in every}


def _as_parts(
    doses: Sequence[Dose], groups: Sequence[tuple[str, tuple[int, ...]]]
) -> list[tuple[str, tuple[int, ...]]]:
    grouped = {d for _, places in groups for d in places}
    return [*((doses[d].active.id, (d,)) for d in range(len(doses)) if d not in grouped), *groups]


def _rows(parts: Sequence[Part], sharing: Sequence[bool], most: int) -> Ints:
    """Rows of parts, no active twice and no more than MAX_PARTS doses."""
    rows: list[tuple[int, ...]] = [(place,) for place in range(len(parts))]
    able = [place for place, shares in enumerate(sharing) if shares]
    for size in range(2, most + 1):
        for row in combinations(able, size):
            held = [parts[place].actives for place in row]
            count = sum(map(len, held))
            if count <= MAX_PARTS and len(frozenset().union(*held)) == count:
                rows.append(row)
    matrix = np.full((len(rows), max(most, 1)), NO_DOSE, dtype=np.int64)
    for place, row in enumerate(rows):
        matrix[place, : len(row)] = row
    return matrix


def _with_adjuvants(parts: tuple[Part, ...], rows: Ints, adjuvants: tuple[str, ...]) -> SharedTanks:
    """Each row with no adjuvant, and with each one that helps a part of it."""
    useful = np.zeros((len(adjuvants), len(parts) + 1), dtype=bool)
    for a, adjuvant in enumerate(adjuvants):
        for p, part in enumerate(parts):
            useful[a, p] = any(
                adjuvant in required_by(dose)
                or any(r.id == adjuvant and r.use in ("required", "recommended") for r in dose.active.adjuvants)
                for dose in part.stated
            )
    useful[_NONE] = True
    found = [(rows[useful[a][rows].any(axis=1)], a) for a in range(len(adjuvants))]
    return SharedTanks(
        parts,
        np.concatenate([chosen for chosen, _ in found]),
        np.concatenate([np.full(len(chosen), a, dtype=np.int64) for chosen, a in found]),
        adjuvants,
    )


@dataclass(frozen=True)
class TanksHere:
    """What each shared tank does in one situation.

    Attributes
    ----------
    control : array (tanks,)
        Likely control [percent] over the targets by their priority, by the program that begins with the tank and
        scores best; NaN where a stop stands against the tank.
    place : array (tanks,)
        Place of that program in `screened`; -1 where there is none.
    """

    screened: Screened
    control: Floats
    place: Ints

    @property
    def best(self) -> int | None:
        """The tank whose program scores best here, None where nothing passes."""
        passing = np.flatnonzero(self.place >= 0)
        if not len(passing):
            return None
        rank = np.empty(len(self.screened.order), dtype=np.int64)
        rank[self.screened.order] = np.arange(len(rank))
        return int(passing[np.argmin(rank[self.place[passing]])])


def tanks_here(base: KnowledgeBase, understood: Understood, facts: ControlFacts, tanks: SharedTanks) -> TanksHere:
    """Judge every shared tank in a situation: once, and twice where the situation allows two applications."""
    timing = usual_timing(base)
    doses: list[Dose] = []
    groups: list[tuple[str, tuple[int, ...]]] = []
    for part in tanks.parts:
        held = part.here(base, understood)
        groups.append((part.label, tuple(range(len(doses), len(doses) + len(held)))))
        doses += held
    catalog = build_catalog(base, understood, facts, timing, offer=(doses, groups))
    matrix = _dose_rows(tanks.rows, [places for _, places in groups])
    live = np.asarray([*(not catalog.stopped(d) for d in range(len(doses))), True], dtype=bool)
    passing = np.flatnonzero(live[matrix].all(axis=1))
    passing = passing[~_parted(pair_stops(base, understood, catalog), matrix[passing])]
    _, barred = adjuvant_masks(base, understood, catalog, tanks.adjuvants)
    passing = passing[~barred[tanks.adjuvant[passing, None], matrix[passing]].any(axis=1)]
    strong = np.asarray([*(catalog.activity >= base.parameter("activity-floor")), False], dtype=bool)
    passing = passing[strong[matrix[passing]].any(axis=1)]
    once = _once(matrix[passing], tanks.adjuvant[passing], (tanks.rows[passing] != NO_DOSE).sum(axis=1))
    of, programs = passing, once
    if understood.situation.options.max_applications > 1:
        again = np.asarray([*(not stops_in(f) for f in catalog.twice), True], dtype=bool)
        able = np.flatnonzero(again[once.first].all(axis=1))
        twice = once.take(able)
        programs = join([once, replace(twice, second=twice.first, second_adjuvant=twice.first_adjuvant)])
        of = np.concatenate([passing, passing[able]])
    tables = build_tables(base, understood, facts, catalog.doses, tanks.adjuvants, timing, used(programs))
    screened, kept = judged(base, understood, timing, facts, catalog, tables, programs)
    return _by_tank(screened, of[kept], len(tanks))


def _parted(apart: NDArray[np.bool_], matrix: Ints) -> NDArray[np.bool_]:
    return np.asarray(apart[matrix[:, :, None], matrix[:, None, :]].any(axis=(1, 2)))


def _dose_rows(rows: Ints, places: Sequence[tuple[int, ...]]) -> Ints:
    """Rows of parts as rows of their doses, array (tanks, MAX_PARTS)."""
    table = np.full((len(places) + 1, MAX_PARTS), NO_DOSE, dtype=np.int64)
    for part, held in enumerate(places):
        table[part, : len(held)] = held
    wide = table[rows].reshape(len(rows), -1)
    # Doses first and padding behind; no tank has more than MAX_PARTS of them.
    order = np.argsort(wide == NO_DOSE, axis=1, kind="stable")
    return np.asarray(np.take_along_axis(wide, order, axis=1)[:, :MAX_PARTS])


def _once(matrix: Ints, adjuvant: Ints, products: Ints) -> Programs:
    empty = np.full(matrix.shape, NO_DOSE, dtype=np.int64)
    return Programs(matrix, empty, adjuvant, np.zeros_like(adjuvant), products)


def _by_tank(screened: Screened, of: Ints, count: int) -> TanksHere:
    """Of the programs of each tank the one that scores best."""
    importance = np.asarray([target.priority for target in screened.understood.targets])
    whole = screened.band.likely @ (importance / importance.sum())
    control, place = np.full(count, np.nan), np.full(count, -1, dtype=np.int64)
    # The worst first, so that the best is written last.
    for at in screened.order[::-1].tolist():
        tank = int(of[at])
        control[tank], place[tank] = whole[at], at
    return TanksHere(screened, control, place)
