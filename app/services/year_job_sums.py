"""What a planned branch adds up to: expected control, gaps, the season's order and the load by week."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date as Date
from functools import lru_cache

from pydantic import ValidationError
from sqlalchemy.orm import Session

from app.engine.cost import adjuvant_used, used_per_hectare
from app.engine.errors import FieldFault, InputError
from app.engine.output import Amount, Output
from app.engine.product import Product
from app.season.year_load import Stop, YearLoad, year_load
from app.season.year_order import ProductOrder, product_order
from app.services.branch import branch
from app.services.knowledge_service import knowledge_base
from app.services.shelf import shelf_products
from app.services.year_job_figures import FoldFigures, Used, Work, read_figures
from app.services.year_job_shapes import PlaceDocument, PlacePart, kept_job
from app.store import year_jobs as kept
from app.store.opening import Store
from app.store.year_jobs import StoredPlace
from knowledge.base import KnowledgeBase
from knowledge.quantities import Quantity

# Properties come ordered by their situation, so that few have to be at hand at once.
_AT_HAND = 64
_TOP = 10
_SQUARE_FEET = "ft2"
_SQUARE_METRES_PER_HECTARE = 10_000


class WeedSummary(Output):
    """Expected control of a weed over the properties that have it [percent]; `worst` is the lowest likely one."""

    weed: str
    name: str
    properties: int
    low: float
    likely: float
    high: float
    worst: float


class YearSummary(Output):
    """What a planned branch adds up to.

    Attributes
    ----------
    planned, unplanned : int
        Properties with a plan, and those that cannot be or are not planned.
    reasons : dict
        Why, and of how many, the most frequent first; at most ten.
    objective : float or None
        Expected control on the mean over properties [points of 100].
    proven, folds : int
        Plans proved to be the best to the gap that is asked for, and plans in all.
    worst_gap : float or None
        How far the bound lies above the plan that is least proven [points].
    """

    planned: int
    unplanned: int
    reasons: dict[str, int]
    objective: float | None
    proven: int
    folds: int
    worst_gap: float | None
    weeds: tuple[WeedSummary, ...]


class ActiveNeed(Output):
    """What a month uses of an active that no product is named for."""

    active: str
    name: str
    month: int
    amount: Amount


class YearOrder(Output):
    """What a season needs of every product, in whole packs by month; `months` holds the price of each."""

    products: tuple[ProductOrder, ...]
    actives: tuple[ActiveNeed, ...]
    months: dict[int, float]
    currency: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Planned:
    """A part of a property with the figures of its plan."""

    place: StoredPlace
    told: PlaceDocument
    part: PlacePart
    figures: FoldFigures

    def size(self, area: str) -> float | None:
        """How large an area of the situation is here [ft2]; None where the size of a part of it is not told."""
        keys = [key for key, called in self.part.areas.items() if called == area]
        known = [self.part.sizes[key] for key in keys if key in self.part.sizes]
        return sum(known) if len(known) == len(keys) else None


def read_place(item: StoredPlace) -> PlaceDocument:
    """A property of a job as it is kept; raises InputError where that is damaged."""
    try:
        return PlaceDocument.model_validate(item.document)
    except ValidationError as error:
        what = f"what is kept of {item.property} is damaged; remove this plan of the branch and plan anew"
        raise InputError([FieldFault("job", what)]) from error


def parts(session: Session, key: str) -> Iterator[Planned]:
    """Every part of every property of a job that has its situation, one after the other."""

    @lru_cache(maxsize=_AT_HAND)
    def figures(fold: str) -> tuple[str, FoldFigures]:
        item = kept.figures_of(session, key, fold)
        return item.state, read_figures(item)

    for place in kept.places(session, key):
        told = read_place(place)
        for part in told.parts:
            state, found = figures(part.fold)
            if state != kept.WAITING:
                yield Planned(place, told, part, found)


def summary(store: Store, key: str) -> YearSummary:
    """What a job adds up to so far; raises UnknownId, and InputError where what is kept is damaged."""
    reasons: Counter[str] = Counter()
    weeds: dict[str, _Weed] = {}
    points: list[float] = []
    planned: set[int] = set()
    proven = folds = 0
    worst: float | None = None
    with store.reading() as session:
        kept_job(kept.one(session, key))
        whole, _ = kept.places_told(session, key)
        for item in kept.figures(session, key, kept.PLANNED):
            found = read_figures(item)
            if not found.reason:
                folds, proven = folds + 1, proven + found.proven
                worst = max(worst if worst is not None else 0.0, found.gap)
        for place in _without(session, key):
            reasons.update(_of_any(reason, place.name) for reason in place.reasons)
        for one in parts(session, key):
            if one.figures.reason:
                reasons[one.figures.reason] += 1
                continue
            planned.add(one.place.place)
            points.append(one.figures.objective)
            for weed in one.figures.control:
                weeds.setdefault(weed.weed, _Weed(weed.name)).add(weed.low, weed.likely, weed.high)
    return YearSummary(
        planned=len(planned),
        unplanned=whole - len(planned),
        reasons=dict(reasons.most_common(_TOP)),
        objective=round(sum(points) / len(points), 2) if points else None,
        proven=proven,
        folds=folds,
        worst_gap=worst,
        weeds=tuple(weeds[key].told(key) for key in sorted(weeds, key=lambda key: (-weeds[key].count, key))),
    )


def _without(session: Session, key: str) -> Iterator[PlaceDocument]:
    for place in kept.places(session, key):
        told = read_place(place)
        if told.reasons and not told.parts:
            yield told


def _of_any(reason: str, name: str) -> str:
    """A reason without the name of its property, so that equal ones are counted together."""
    told = reason.replace(name, "it")
    return told[:1].upper() + told[1:]


@dataclass
class _Weed:
    name: str
    count: int = 0
    sums: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    worst: float = 100.0

    def add(self, *band: float) -> None:
        self.count += 1
        self.sums = [before + more for before, more in zip(self.sums, band, strict=True)]
        self.worst = min(self.worst, band[1])

    def told(self, weed: str) -> WeedSummary:
        low, likely, high = (round(total / self.count, 1) for total in self.sums)
        return WeedSummary(
            weed=weed, name=self.name, properties=self.count, low=low, likely=likely, high=high, worst=self.worst
        )


def load(store: Store, key: str) -> YearLoad:
    """What a planned branch asks of its technicians, by week."""
    told, _ = branch(store)
    hours = _hours(told.work_from, told.work_to)
    with store.reading() as session:
        kept_job(kept.one(session, key))
        return year_load(_stops(session, key), told.pricing, hours)


def _stops(session: Session, key: str) -> Iterator[Stop]:
    """One for each property and day, whatever is treated on it; the parts of a property come one after the other."""
    before, days = 0, dict[Date, Stop]()
    for one in parts(session, key):
        if one.place.place != before:
            yield from days.values()
            before, days = one.place.place, {}
        for day, area, first, last in dict.fromkeys((w.date, w.area, w.first, w.last) for w in one.figures.work):
            told = Stop(day, one.told.technician, one.size(area), first, last)
            days[day] = _together(days[day], told) if day in days else told
    yield from days.values()


def _together(one: Stop, other: Stop) -> Stop:
    """Two areas treated on one visit, which can be moved as far as both can."""
    sizes = (one.treated_ft2, other.treated_ft2)
    treated = sum(size for size in sizes if size is not None) if None not in sizes else None
    return Stop(one.day, one.technician, treated, max(one.first, other.first), min(one.last, other.last))


def _hours(start: str | None, end: str | None) -> float | None:
    if not start or not end:
        return None
    begun, over = (int(told[:2]) + int(told[3:]) / 60 for told in (start, end))
    return over - begun


def order(store: Store, key: str) -> YearOrder:
    """What a planned branch has to buy, product by product and month by month."""
    base = knowledge_base()
    shelf = shelf_products(store)
    with store.reading() as session:
        job = kept_job(kept.one(session, key))
        # What was planned with and is no longer on the shelf is ordered by the label that it had.
        then = [Product.model_validate(item) for item in job.told.products or ()]
        needs = _Needs(base, {p.name: p for p in (*then, *shelf)})
        for one in parts(session, key):
            for work in one.figures.work:
                needs.add(work, one.size(work.area), one.place.property)
    return needs.told()


@dataclass
class _Needs:
    base: KnowledgeBase
    held: dict[str, Product]
    products: dict[str, dict[Date, float]] = field(default_factory=dict)
    actives: dict[tuple[str, str, int, str], float] = field(default_factory=dict)
    unmeasured: set[str] = field(default_factory=set)
    untold: set[str] = field(default_factory=set)

    def add(self, work: Work, size: float | None, place: str) -> None:
        """Count what is used on an area of a property [ft2]."""
        if size is None:
            self.unmeasured.add(place)
            return
        hectares = Quantity(size, _SQUARE_FEET).base / _SQUARE_METRES_PER_HECTARE
        for used in work.used:
            product = self.held.get(used.product or "")
            if product is None:
                self._generic(used, work.date.month, hectares)
                continue
            per_hectare = self._per_hectare(product, used, work.carrier)
            if per_hectare is None:
                self.untold.add(product.name)
                continue
            days = self.products.setdefault(product.name, {})
            days[work.date] = days.get(work.date, 0.0) + per_hectare * hectares

    def _per_hectare(self, product: Product, used: Used, carrier: Amount | None) -> float | None:
        spray = Quantity(carrier.value, carrier.unit) if carrier is not None else None
        if used.adjuvant is not None:
            return adjuvant_used(self.base, product, used.adjuvant, spray)
        return used_per_hectare(product, Quantity(used.rate.value, used.rate.unit)) if used.rate is not None else None

    def _generic(self, used: Used, month: int, hectares: float) -> None:
        if used.adjuvant is not None:
            self.untold.add(used.product or self.base.adjuvants[used.adjuvant].name)
        for part in used.actives:
            rate = Quantity(part.rate.value, part.rate.unit)
            # Acid equivalent and active ingredient are told apart by the unit of the rate.
            kind = "g ae" if rate.dimension == "ae-rate" else "g ai"
            key = (part.name, part.active, month, kind)
            self.actives[key] = self.actives.get(key, 0.0) + rate.base * hectares

    def told(self) -> YearOrder:
        """The order."""
        found = tuple(product_order(self.held[name], self.products[name]) for name in sorted(self.products))
        months: dict[int, float] = {}
        currencies = {item.currency for item in found if item.price}
        for item in found if len(currencies) == 1 else ():
            for month in item.months:
                months[month.month] = round(months.get(month.month, 0.0) + (month.price or 0.0), 2)
        return YearOrder(
            products=found,
            actives=tuple(
                ActiveNeed(active=key, name=name, month=month, amount=Amount(value=value, unit=kind))
                for (name, key, month, kind), value in sorted(self.actives.items())
            ),
            months=dict(sorted(months.items())),
            currency=next(iter(currencies)) if len(currencies) == 1 else "",
            notes=tuple(self._notes(found, currencies)),
        )

    def _notes(self, found: tuple[ProductOrder, ...], currencies: set[str]) -> Iterator[str]:
        if self.unmeasured:
            count = len(self.unmeasured)
            what = "property has an area" if count == 1 else "properties have an area"
            yield f"{count} {what} whose size is not told; what it needs is not in this order."
        if self.untold:
            yield f"How much is used is not known, and not in this order, of {', '.join(sorted(self.untold))}."
        if any(item.price is None for item in found):
            yield "Of some products no pack with a price is told; the sums are without them."
        if len(currencies) > 1:
            yield f"Prices are in several currencies ({', '.join(sorted(currencies))}), so they are not added up."
        if self.actives:
            yield "Actives without a product are told by weight; name products on the shelf to order packs."
