"""What a visit of a planned year takes on an area: amounts of products and spray, from the mixing of this house."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.engine.errors import InputError
from app.engine.measures import Area
from app.engine.output import Amount, Application
from app.engine.product import Product
from app.mixing.output import NamedAmount
from app.mixing.plan import System
from app.season.year import YearArea
from app.services import mixing
from knowledge.models.common import SiteUse
from knowledge.quantities import Quantity

SPRAY_UNIT: dict[System, str] = {"us": "gal", "metric": "L"}
_WEIGHT_UNIT: dict[System, str] = {"us": "oz", "metric": "g"}
_SQUARE_METRES_PER_HECTARE = 10_000
_USUAL_CARRIER = {"value": 1.0, "unit": "gal/1000 ft2"}


@dataclass(frozen=True)
class Taken:
    """What an application takes on an area.

    Attributes
    ----------
    totals : tuple of NamedAmount
        Product; where none is named, each active by weight as it is counted (ae or ai).
    spray : Amount or None
        None where no carrier is told, or it is spread dry.
    why : str
        Why there is no amount; empty where there is.
    warnings : tuple of str
        What stands against it or must be minded, as the mixing says it.
    """

    totals: tuple[NamedAmount, ...] = ()
    spray: Amount | None = None
    why: str = ""
    warnings: tuple[str, ...] = ()


def taken(
    application: Application,
    area: YearArea,
    site_use: SiteUse,
    held: Mapping[str, Product],
    system: System,
    carrier: Amount | None = None,
) -> Taken:
    """What an application takes on an area.

    Parameters
    ----------
    held : mapping of str to Product
        The products of the catalog, by name.
    carrier : Amount, optional
        Of the sprayer, where the plan tells none.
    """
    if application.carrier is None and carrier is not None:
        application = application.model_copy(update={"carrier": carrier})
    if area.area is None:
        return Taken(why="The size of the area is not told.")
    named = [held.get(product.product or "") for product in application.products]
    if any(product.product is None for product in application.products):
        return _actives(application, area.area, system)
    gone = [p.product for p, found in zip(application.products, named, strict=True) if found is None]
    if gone:
        return Taken(why=f"{', '.join(str(name) for name in gone)} is not on the shelf any more.")
    try:
        return _mixed(application, area, site_use, [product for product in named if product is not None], held, system)
    except InputError as error:
        return Taken(why=f"It cannot be mixed as planned: {error.faults[0].message}.")


def _mixed(
    application: Application,
    area: YearArea,
    site_use: SiteUse,
    products: list[Product],
    held: Mapping[str, Product],
    system: System,
) -> Taken:
    assert area.area is not None, "asked before"
    dry = all(product.granular for product in products)
    payload: dict[str, Any] = {
        "method": "granular" if dry else "broadcast",
        "area": area.area.model_dump(),
        "products": [
            {**label.model_dump(mode="json", exclude_none=True), "rate": used.rate.model_dump() if used.rate else None}
            for label, used in zip(products, application.products, strict=True)
        ],
        "adjuvant": None if dry else _adjuvant(application, held),
        "turf": list(area.turf),
        "site_use": site_use,
        "date": application.date.isoformat(),
        "units": system,
    }
    told = application.carrier
    if not dry:
        payload["carrier"] = told.model_dump() if told is not None else _any_carrier(products)
    mix = mixing.mix(payload)
    minded = (*(stop.text for stop in mix.stops), *(w.text for w in mix.warnings if w.code == "pour"))
    totals = tuple(NamedAmount(name=t.name, amount=t.amount) for t in mix.totals)
    if dry or told is not None:
        return Taken(totals, mix.tanks[0].spray if mix.tanks else None, "", minded)
    by_area = {product.name for product in products}
    return Taken(tuple(total for total in totals if total.name in by_area), None, "", minded)


def _any_carrier(products: list[Product]) -> dict[str, Any]:
    """A carrier that every label allows.

    Product by area does not depend on it; spray and adjuvant do, and are left out where none is told.
    """
    floors = [label.carrier_floor for label in products if label.carrier_floor is not None]
    most = max(floors, key=lambda floor: floor.quantity.base, default=None)
    return most.model_dump() if most is not None else dict(_USUAL_CARRIER)


def _adjuvant(application: Application, held: Mapping[str, Product]) -> dict[str, Any] | None:
    told = application.adjuvant
    if told is None or told.id == "none":
        return None
    label = held.get(told.product or "")
    found: dict[str, Any] = {"id": told.id, "rate": told.rate.model_dump() if told.rate is not None else None}
    return {**found, "product": label.model_dump(mode="json", exclude_none=True)} if label is not None else found


def _actives(application: Application, area: Area, system: System) -> Taken:
    """What an application without products takes: its actives by weight, and its spray."""
    hectares = area.quantity.base / _SQUARE_METRES_PER_HECTARE
    totals = tuple(
        NamedAmount(name=f"{active.name} ({_counted(active.rate)})", amount=_weight(active.rate, hectares, system))
        for product in application.products
        for active in product.actives
    )
    spray = None
    if application.carrier is not None:
        litres = Quantity(application.carrier.value, application.carrier.unit).base * hectares
        unit = SPRAY_UNIT[system]
        spray = Amount(value=Quantity(litres, "L").to(unit).value, unit=unit)
    return Taken(totals, spray)


def _counted(rate: Amount) -> str:
    return "ae" if Quantity(rate.value, rate.unit).dimension == "ae-rate" else "ai"


def _weight(rate: Amount, hectares: float, system: System) -> Amount:
    unit = _WEIGHT_UNIT[system]
    return Amount(value=Quantity(Quantity(rate.value, rate.unit).base * hectares, "g").to(unit).value, unit=unit)
