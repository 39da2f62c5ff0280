"""The use case of a year that is planned and priced in one go; nothing is kept."""

from __future__ import annotations

from typing import Any

from app.engine.errors import FieldFault, InputError
from app.engine.measures import Input
from app.engine.output import Output
from app.engine.understood import catalog_products
from app.season.pricing import Pricing
from app.season.year import YearAsked
from app.season.year_output import YearPlan
from app.season.year_price import YearPrice, year_price
from app.services.advice import House, Shelf
from app.services.validation import validated
from app.services.year import plan


class YearToPrice(Input):
    """A year that is asked for, and how its price is made."""

    year: YearAsked
    pricing: Pricing


class PricedYear(Output):
    """A planned year and its price."""

    plan: YearPlan
    price: YearPrice


def priced(payload: Any, shelf: Shelf | None = None, house: House | None = None) -> PricedYear:
    """The best program of a year with its price, given as plain data.

    Raises
    ------
    InputError
        With one fault for each field that cannot be used, those of the year below `year`.
    """
    told = validated(YearToPrice, payload)
    try:
        found = plan(payload["year"], shelf, house)
    except InputError as error:
        faults = [FieldFault(f"year.{fault.path}" if fault.path else "year", fault.message) for fault in error.faults]
        raise InputError(faults) from error
    held = shelf() if told.year.catalog == "shelf" and shelf is not None else None
    products = catalog_products(told.year.catalog, held)
    return PricedYear(plan=found, price=year_price(found, told.year.areas, told.pricing, products or ()))
