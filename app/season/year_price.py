"""The price of a planned year: what its products, its labour and its travel cost, and what is charged for it.

Money is reckoned in whole cents, visit by visit, so that the visits add up to the year.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date as Date
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from itertools import groupby
from typing import Annotated

from pydantic import PlainSerializer

from app.engine.cost import unit_price, used_per_hectare
from app.engine.output import Output, ProductInTank
from app.engine.product import Product
from app.season.pricing import Pricing
from app.season.year import YearArea
from app.season.year_output import FrontierPoint, YearPlan, YearVisit
from knowledge.quantities import FT2_PER_ACRE, HECTARE_PER_ACRE, Quantity

# Exact in here, a plain number in JSON.
Money = Annotated[Decimal, PlainSerializer(float, return_type=float, when_used="json")]
_CENT, _NOTHING = Decimal("0.01"), Decimal("0.00")
_MINUTES = Decimal(60)
_HUNDRED = Decimal(100)
_THOUSAND_FT2 = 1000.0
# 1000 ft2 to the hectare.
_PER_HECTARE = FT2_PER_ACRE / HECTARE_PER_ACRE / _THOUSAND_FT2


class VisitPrice(Output):
    """What one visit costs and is sold for; null where it is unknown, with the reasons in `unknown`.

    Attributes
    ----------
    areas : tuple of str
        Ids of the areas that are treated on it.
    treated_1000_ft2 : float or None
        What is treated [1000 ft2]; None where the size of an area is not told.
    minutes : float or None
        On the property, without travel [min].
    least : bool
        Whether the least price of a visit holds.
    """

    number: int
    date: Date
    areas: tuple[str, ...]
    treated_1000_ft2: float | None
    minutes: float | None
    products: Money | None
    labour: Money | None
    travel: Money
    overhead: Money | None
    cost: Money | None
    price: Money | None
    margin: Money | None
    margin_pct: float | None
    least: bool
    unknown: tuple[str, ...]


class FrontierPrice(Output):
    """A point of control against cost with its price; `products` is what its products cost on this property."""

    visits: int
    control: float
    products: Money | None
    cost: Money | None
    price: Money | None
    margin: Money | None
    margin_pct: float | None
    knee: bool


class YearPrice(Output):
    """The price of a year, visit by visit; every sum is null where one of its visits is unknown.

    Attributes
    ----------
    visits : tuple of VisitPrice
        Those on which something is applied; a day without an application is no visit and costs nothing.
    assumed : tuple of str
        Where a stand-in was taken for a price that is not known.
    unknown : tuple of str
        What is missing, and what would settle it.
    notes : tuple of str
        What the figures leave out.
    """

    currency: str
    visits: tuple[VisitPrice, ...]
    products: Money | None
    labour: Money | None
    travel: Money
    overhead: Money | None
    cost: Money | None
    price: Money | None
    margin: Money | None
    margin_pct: float | None
    assumed: tuple[str, ...]
    unknown: tuple[str, ...]
    notes: tuple[str, ...]
    frontier: tuple[FrontierPrice, ...]


@dataclass(frozen=True)
class _Sold:
    overhead: Decimal
    cost: Decimal
    price: Decimal
    least: bool


def year_price(
    plan: YearPlan, areas: Sequence[YearArea], pricing: Pricing, products: Sequence[Product] = ()
) -> YearPrice:
    """What a planned year costs and is sold for.

    The price of a visit is its cost (products, labour, travel, and overhead as a share of them) divided by what the
    margin leaves of it, at least the least price of a visit, rounded up.

    Parameters
    ----------
    areas : sequence of YearArea
        The areas that were planned, with their sizes.
    products : sequence of Product
        The catalog of the plan: it tells which product of a visit has no price.

    Returns
    -------
    YearPrice
        In the branch's currency. What is not known makes a price unknown and is never taken as nothing.
    """
    reckoned = _Reckoning(areas, pricing, products, plan.currency)
    sprayed = [visit for visit in plan.visits if visit.applications]
    days = groupby(sorted(sprayed, key=lambda visit: visit.number), key=lambda visit: visit.number)
    visits = tuple(reckoned.visit(list(group)) for _, group in days)
    cost, price = _sum([v.cost for v in visits]), _sum([v.price for v in visits])
    return YearPrice(
        currency=pricing.currency,
        visits=visits,
        products=_sum([v.products for v in visits]),
        labour=_sum([v.labour for v in visits]),
        travel=sum((v.travel for v in visits), _NOTHING),
        overhead=_sum([v.overhead for v in visits]),
        cost=cost,
        price=price,
        margin=_left(price, cost),
        margin_pct=_share(price, cost),
        assumed=tuple(reckoned.assumed),
        unknown=tuple(dict.fromkeys(text for visit in visits for text in visit.unknown)),
        notes=_notes(sprayed),
        frontier=tuple(reckoned.point(point, visits) for point in plan.frontier),
    )


class _Reckoning:
    """What the visits of one plan share."""

    def __init__(self, areas: Sequence[YearArea], pricing: Pricing, products: Sequence[Product], currency: str) -> None:
        self.pricing, self.currency = pricing, currency
        self.areas = {area.id: area for area in areas}
        self.held = {product.name: product for product in products}
        # As a set that keeps its order.
        self.assumed: dict[str, None] = {}
        self.per_minute = _exact(pricing.labour_per_hour) / _MINUTES
        self.travel = _cents(_exact(pricing.travel_minutes) * self.per_minute)

    def visit(self, parts: Sequence[YearVisit]) -> VisitPrice:
        """The price of one visit, made of what is treated on each area."""
        unknown: list[str] = []
        treated = [self._size(part.area, unknown) for part in parts]
        paid = [self._products(part, size, unknown) for part, size in zip(parts, treated, strict=True)]
        whole = None if None in treated else sum(size for size in treated if size is not None)
        products = _sum(paid)
        minutes, labour = (None, None) if whole is None else self._labour(whole)
        sold = None if products is None or labour is None else self._sold(products, labour)
        return VisitPrice(
            number=parts[0].number,
            date=parts[0].date,
            areas=tuple(part.area for part in parts),
            treated_1000_ft2=None if whole is None else round(whole, 3),
            minutes=minutes,
            products=products,
            labour=labour,
            travel=self.travel,
            overhead=sold.overhead if sold else None,
            cost=sold.cost if sold else None,
            price=sold.price if sold else None,
            margin=_left(sold.price, sold.cost) if sold else None,
            margin_pct=_share(sold.price, sold.cost) if sold else None,
            least=sold.least if sold else False,
            unknown=tuple(dict.fromkeys(unknown)),
        )

    def point(self, point: FrontierPoint, visits: Sequence[VisitPrice]) -> FrontierPrice:
        """The price of a point, whose visits are taken to treat as much as those of the plan do on the mean."""
        sizes = [self._size(area, []) for area in self.areas]
        told = [visit.treated_1000_ft2 for visit in visits]
        known = None not in sizes and None not in told
        whole = sum(size for size in sizes if size is not None)
        mean = sum(size for size in told if size is not None) / len(told) if told else whole
        cost = point.cost if point.cost is not None and self._same_money() else None
        products = _cents(_exact(cost * whole)) if known and cost is not None else None
        sold = None
        if products is not None and point.visits:
            sold = self._sold(products / point.visits, self._labour(mean)[1])
        nothing = products is not None and not point.visits
        price = _NOTHING if nothing else sold.price * point.visits if sold else None
        paid = _NOTHING if nothing else _cents(sold.cost * point.visits) if sold else None
        return FrontierPrice(
            visits=point.visits,
            control=point.control,
            products=products,
            cost=paid,
            price=price,
            margin=_left(price, paid),
            margin_pct=_share(price, paid),
            knee=point.knee,
        )

    def _size(self, key: str, unknown: list[str]) -> float | None:
        told = self.areas.get(key)
        if told is None or told.area is None:
            unknown.append(f"The size of {(told.name or key) if told else key} is not told.")
            return None
        return told.area.quantity.to("ft2").value / _THOUSAND_FT2

    def _products(self, part: YearVisit, size: float | None, unknown: list[str]) -> Decimal | None:
        per_1000 = part.cost_per_1000_ft2
        if per_1000 is None:
            per_1000 = self._stood_in(part, unknown)
        elif not self._same_money():
            unknown.append(f"The products are priced in {self.currency}, the branch prices in {self.pricing.currency}.")
            per_1000 = None
        return None if per_1000 is None or size is None else _cents(_exact(per_1000 * size))

    def _stood_in(self, part: YearVisit, unknown: list[str]) -> float | None:
        """Cost per 1000 ft2 with the stand-in for each product that has no price."""
        whole = 0.0
        for product in (p for application in part.applications for p in application.products):
            found, stand_in = self._priced(product), self.pricing.stand_in_per_1000_ft2
            if found is not None:
                whole += found
            elif stand_in is None:
                unknown.append(f"{_named(product)} has no price.")
            else:
                money = f"{stand_in:.2f} {self.pricing.currency}"
                self.assumed[f"{_named(product)} has no price: {money} per 1000 ft2 stands in for it."] = None
                whole += stand_in
        return None if unknown else whole

    def _priced(self, product: ProductInTank) -> float | None:
        held = self.held.get(product.product or "")
        if held is None or product.rate is None or held.currency != self.pricing.currency:
            return None
        price, used = unit_price(held), used_per_hectare(held, Quantity(product.rate.value, product.rate.unit))
        return price * used / _PER_HECTARE if price is not None and used is not None else None

    def _same_money(self) -> bool:
        return self.currency == self.pricing.currency

    def _labour(self, treated: float) -> tuple[float, Decimal]:
        told = self.pricing
        minutes = _exact(told.minutes_per_visit) + _exact(told.minutes_per_1000_ft2) * _exact(treated)
        return round(float(minutes), 1), _cents(minutes * self.per_minute)

    def _sold(self, products: Decimal, labour: Decimal) -> _Sold:
        told = self.pricing
        direct = products + labour + self.travel
        overhead = _cents(direct * _exact(told.overhead_pct) / _HUNDRED)
        cost = direct + overhead
        wanted = cost * _HUNDRED / (_HUNDRED - _exact(told.margin_pct))
        least = _exact(told.least_per_visit)
        step = _exact(told.round_to)
        price = (max(wanted, least) / step).to_integral_value(ROUND_CEILING) * step
        return _Sold(overhead, cost, price.quantize(_CENT), least > wanted)


def _notes(parts: Sequence[YearVisit]) -> tuple[str, ...]:
    """Adjuvants of no product: their cost is not in the figures."""
    names = {
        application.adjuvant.name
        for part in parts
        for application in part.applications
        if application.adjuvant is not None and application.adjuvant.id != "none" and not application.adjuvant.product
    }
    return tuple(f"Without {name}, whose cost is not known here." for name in sorted(names))


def _named(product: ProductInTank) -> str:
    return product.product or " + ".join(active.name for active in product.actives)


def _exact(value: float) -> Decimal:
    return Decimal(str(value))


def _cents(value: Decimal) -> Decimal:
    return value.quantize(_CENT, ROUND_HALF_UP)


def _sum(values: Sequence[Decimal | None]) -> Decimal | None:
    known = [value for value in values if value is not None]
    return sum(known, _NOTHING) if len(known) == len(values) else None


def _left(price: Decimal | None, cost: Decimal | None) -> Decimal | None:
    return None if price is None or cost is None else price - cost


def _share(price: Decimal | None, cost: Decimal | None) -> float | None:
    """The margin as percent of the price; None of a price of nothing."""
    if price is None or cost is None or not price:
        return None
    return round(float((price - cost) / price * _HUNDRED), 1)
