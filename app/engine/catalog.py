"""Tanks and programs to consider, enumerated as index arrays over the doses."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from app.engine.control import Ints
from app.engine.doses import Dose

# A standard mixture holds up to four actives, and one more product may join it.
MAX_PARTS = 5
NO_DOSE = -1
# Bits of one word of a set of actives.
_WORD = 64


@dataclass(frozen=True)
class ProductChoice:
    """One thing that can be put into a tank: a single active in one form, or a mixture.

    `alone` and `partner` are the doses [indices] it brings by itself and beside another active
    of the same mechanism; they are equal where no lower partner rate is known.
    """

    label: str
    alone: tuple[int, ...]
    partner: tuple[int, ...]


@dataclass(frozen=True)
class Tanks:
    """Tanks as rows of dose indices, padded with `NO_DOSE`.

    Attributes
    ----------
    doses : array (tanks, MAX_PARTS)
        Dose indices of each tank.
    products : array (tanks,)
        Number of products in each tank.
    """

    doses: Ints
    products: Ints

    def __len__(self) -> int:
        return len(self.products)

    def take(self, chosen: Ints) -> Tanks:
        """The tanks at these places."""
        return Tanks(self.doses[chosen], self.products[chosen])


def single_choices(doses: Sequence[Dose], usable: Sequence[bool]) -> list[ProductChoice]:
    """Single actives, each form and use apart, with the dose to use beside a partner.

    Parameters
    ----------
    doses : sequence of Dose
        Doses of level `alone` and `partner`.
    usable : sequence of bool
        Which doses pass every rule on the dose itself.
    """
    places: dict[tuple[str, str, str | None], dict[str, int]] = {}
    for index, dose in enumerate(doses):
        if dose.level in ("alone", "partner"):
            places.setdefault((dose.active.id, dose.form.id, dose.timing), {})[dose.level] = index
    choices = []
    for (_, form, _), found in places.items():
        if "alone" not in found:
            continue
        alone = found["alone"]
        partner = found.get("partner", alone)
        if usable[alone] or usable[partner]:
            choices.append(ProductChoice(form, (alone,), (partner,)))
    return choices


def enumerate_tanks(
    doses: Sequence[Dose],
    choices: Sequence[ProductChoice],
    usable: Sequence[bool],
    max_products: int,
    partners: Collection[str],
) -> Tanks:
    """Every tank of one to `max_products` products that names no active twice.

    Beside another active of its mechanism, a single active goes in at its partner rate.
    Single actives are combined up to `max_products`; a mixture of several actives takes at most
    one further single beside it.

    Parameters
    ----------
    partners : collection of str
        Ids of the single actives that may share a tank; the others stand alone.
    """
    singles = [c for c in choices if len(c.alone) == 1]
    mixtures = [c for c in choices if len(c.alone) > 1]
    able = np.asarray([*usable, True], dtype=bool)
    sharing = [c for c in singles if doses[c.alone[0]].active.id in partners]
    rows = [_single_tanks(doses, singles, 1), _high_tanks(doses)]
    rows += [_single_tanks(doses, sharing, size) for size in range(2, max_products + 1)]
    rows.append(_mixture_tanks(doses, mixtures, sharing if max_products > 1 else []))
    matrix = np.concatenate([doses_ for doses_, _ in rows])
    products = np.concatenate([count for _, count in rows])
    keep = np.all(able[matrix], axis=1)
    return _distinct(Tanks(matrix[keep], products[keep]))


def enumerate_product_tanks(
    doses: Sequence[Dose], choices: Sequence[ProductChoice], max_products: int, sharing: Sequence[bool]
) -> Tanks:
    """Every tank of one to `max_products` products, each at one of its rates, that names no active twice.

    Parameters
    ----------
    choices : sequence of ProductChoice
        Products at one rate each; the doses of one product are the same in `alone` and `partner`.
    sharing : sequence of bool
        Which doses are of products that may share a tank; the others stand alone.
    """
    rows = [choice.alone for choice in choices if len(choice.alone) <= MAX_PARTS]
    singles = np.full((len(rows), MAX_PARTS), NO_DOSE, dtype=np.int64)
    for place, row in enumerate(rows):
        singles[place, : len(row)] = row
    able = [place for place, row in enumerate(rows) if all(sharing[d] for d in row)]
    shared = singles[able]
    bits, lengths = active_bits(doses, shared), (shared != NO_DOSE).sum(axis=1)
    parts, counts = [singles], [np.ones(len(singles), dtype=np.int64)]
    # Grown by one product at a time, in the order of the choices, so that no tank comes twice.
    last, tanks, held, filled = np.arange(len(shared)), shared, bits, lengths
    for size in range(2, max_products + 1):
        i, j = (grid.ravel() for grid in np.meshgrid(np.arange(len(tanks)), np.arange(len(shared)), indexing="ij"))
        fit = (j > last[i]) & ~(held[i] & bits[j]).any(axis=-1) & (filled[i] + lengths[j] <= MAX_PARTS)
        i, j = i[fit], j[fit]
        tanks = _merged(tanks[i], filled[i], shared[j])
        last, held, filled = j, held[i] | bits[j], filled[i] + lengths[j]
        parts.append(tanks)
        counts.append(np.full(len(tanks), size, dtype=np.int64))
    return Tanks(np.concatenate(parts), np.concatenate(counts))


def _merged(left: Ints, filled: Ints, right: Ints) -> Ints:
    """Rows of `left` with those of `right` put behind their filled places."""
    merged = left.copy()
    for column in range(right.shape[1]):
        rows = np.flatnonzero(right[:, column] != NO_DOSE)
        merged[rows, filled[rows] + column] = right[rows, column]
    return merged


def active_bits(doses: Sequence[Dose], tanks: Ints) -> NDArray[np.uint64]:
    """The actives of each tank as bits, so that a shared one is seen by `&`; array (tanks, words)."""
    active_of, _ = _numbers(doses)
    words = int(active_of.max(initial=0)) // _WORD + 1
    bits = np.zeros((len(doses) + 1, words), dtype=np.uint64)
    bits[np.arange(len(doses)), active_of // _WORD] = np.uint64(1) << (active_of % _WORD).astype(np.uint64)
    return np.asarray(np.bitwise_or.reduce(bits[tanks], axis=1))


def _padded(rows: Ints) -> Ints:
    short = MAX_PARTS - rows.shape[1]
    return np.pad(rows, ((0, 0), (0, short)), constant_values=NO_DOSE)


def _single_tanks(doses: Sequence[Dose], singles: Sequence[ProductChoice], size: int) -> tuple[Ints, Ints]:
    if len(singles) < size:
        return np.empty((0, MAX_PARTS), dtype=np.int64), np.empty(0, dtype=np.int64)
    active_of, group_of = _numbers(doses)
    alone = np.asarray([c.alone[0] for c in singles], dtype=np.int64)
    partner = np.asarray([c.partner[0] for c in singles], dtype=np.int64)
    sets = np.asarray(list(combinations(range(len(singles)), size)), dtype=np.int64)
    actives, groups = active_of[alone][sets], group_of[alone][sets]
    distinct = np.ones(len(sets), dtype=bool)
    mate = np.zeros(sets.shape, dtype=bool)
    for i in range(size):
        for j in range(size):
            if i != j:
                distinct &= actives[:, i] != actives[:, j]
                mate[:, i] |= groups[:, i] == groups[:, j]
    rows = np.where(mate, partner[sets], alone[sets])[distinct]
    return _padded(rows), np.full(len(rows), size, dtype=np.int64)


def _high_tanks(doses: Sequence[Dose]) -> tuple[Ints, Ints]:
    """Each active alone at its highest usual rate, for what is hard to kill."""
    places = [[index] for index, dose in enumerate(doses) if dose.level == "high"]
    rows = np.asarray(places, dtype=np.int64).reshape(-1, 1)
    return _padded(rows), np.ones(len(rows), dtype=np.int64)


def _mixture_tanks(
    doses: Sequence[Dose], mixtures: Sequence[ProductChoice], singles: Sequence[ProductChoice]
) -> tuple[Ints, Ints]:
    rows: list[tuple[int, ...]] = []
    counts: list[int] = []
    for mixture in mixtures:
        rows.append(mixture.alone)
        counts.append(1)
        inside = {doses[i].active.id for i in mixture.alone}
        groups = {doses[i].active.mechanism.group for i in mixture.alone}
        for single in singles:
            dose = doses[single.alone[0]]
            if dose.active.id in inside:
                continue
            extra = single.partner if dose.active.mechanism.group in groups else single.alone
            rows.append((*mixture.alone, *extra))
            counts.append(2)
    matrix = np.full((len(rows), MAX_PARTS), NO_DOSE, dtype=np.int64)
    for place, row in enumerate(rows):
        matrix[place, : len(row)] = row
    return matrix, np.asarray(counts, dtype=np.int64)


def _numbers(doses: Sequence[Dose]) -> tuple[Ints, Ints]:
    """Numbers for actives and mechanisms of the doses, equal where they are equal."""
    actives: dict[str, int] = {}
    for dose in doses:
        actives.setdefault(dose.active.id, len(actives))
    active_of = np.asarray([actives[d.active.id] for d in doses], dtype=np.int64)
    group_of = np.asarray([mechanism_number(d) for d in doses], dtype=np.int64)
    return active_of, group_of


def mechanism_number(dose: Dose) -> int:
    """Number of the mechanism; unknown mechanisms (group 0) are each their own."""
    number = int(dose.active.mechanism.group)
    return number if number else -100 - sum(ord(letter) * (i + 1) for i, letter in enumerate(dose.active.id))


def _distinct(tanks: Tanks) -> Tanks:
    """The first of tanks that hold the same doses."""
    if not len(tanks):
        return tanks
    ordered = np.sort(tanks.doses, axis=1)
    _, first = np.unique(ordered, axis=0, return_index=True)
    return tanks.take(np.sort(first))
