"""From a rate and an area, or a volume of spray, to an amount of product."""

from __future__ import annotations

from app.engine.cost import used_per_hectare
from app.engine.product import Product
from app.mixing.plan import MixPlan
from knowledge.quantities import Quantity

_SQUARE_METRES_PER_HECTARE = 10_000


def hectares(area: Quantity) -> float:
    """An area in hectares."""
    return area.base / _SQUARE_METRES_PER_HECTARE


def area_of_spray(plan: MixPlan, litres: float) -> float | None:
    """Hectares that so much spray covers at the plan's carrier volume; None where that is not told."""
    return litres / plan.carrier.quantity.base if plan.carrier is not None else None


def rate_per_area(plan: MixPlan, product: Product) -> Quantity | None:
    """The product's rate per area; None for a share of a spray whose carrier volume is not told."""
    assert product.rate is not None, "checked by the plan"
    rate = product.rate.quantity
    if rate.dimension not in ("volume-share", "mass-share"):
        return rate
    if plan.carrier is None:
        return None
    # A share of the spray times the spray per hectare.
    unit = "L/ha" if rate.dimension == "volume-share" else "g/ha"
    return Quantity(rate.base * plan.carrier.quantity.base, unit)


def product_amount(product: Product, on: float | None, litres: float | None) -> Quantity:
    """What so much area, or so much spray, takes of a product at its rate.

    Parameters
    ----------
    on : float or None
        Area [ha]; None only for a share of the spray.
    litres : float or None
        Spray [L]; None only where nothing is sprayed.

    Returns
    -------
    Quantity
        Litres of what is poured, grams of what is weighed. A liquid dosed by weight whose density is not
        told is weighed.
    """
    assert product.rate is not None, "checked by the plan"
    rate = product.rate.quantity
    if rate.dimension in ("volume-share", "mass-share"):
        assert litres is not None, "checked by the plan"
        if rate.dimension == "volume-share":
            return Quantity(rate.base * litres, "L")
        return _weighed(product, rate.base * litres)
    assert on is not None, "checked by the plan"
    per_hectare = used_per_hectare(product, rate)
    if per_hectare is None:
        return Quantity(rate.base * on, "g")
    return Quantity(per_hectare * on, "L" if product.liquid else "g")


def _weighed(product: Product, grams: float) -> Quantity:
    if product.liquid and product.density is not None:
        return Quantity(grams / product.density.quantity.base, "L")
    return Quantity(grams, "g")


def adjuvant_amount(rate: Quantity, on: float | None, litres: float | None) -> Quantity | None:
    """What so much area or spray takes of an adjuvant; None where its rate needs what is not told."""
    if rate.dimension == "volume-share":
        return Quantity(rate.base * litres, "L") if litres is not None else None
    if on is None or rate.dimension not in ("volume-rate", "mass-rate"):
        return None
    return Quantity(rate.base * on, "L" if rate.dimension == "volume-rate" else "g")


def as_rate(amount: Quantity) -> Quantity:
    """An amount of a load as the rate that spreads it over one hectare."""
    return Quantity(amount.base, "L/ha" if amount.dimension == "volume" else "g/ha")
