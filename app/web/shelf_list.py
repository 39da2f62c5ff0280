"""The shelf as a list: searched, sorted, and marked where a product is expired or used up."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.engine.product import Product
from app.services.shelf import price_per_unit
from app.web import units
from knowledge.base import KnowledgeBase
from knowledge.quantities import Quantity

ORDERS = {
    "name": "name",
    "kind": "kind",
    "stock": "least stock",
    "price": "price",
    "expiry": "use by",
}
_PRICED_IN = {("L", "us"): "gal", ("kg", "us"): "lb", ("L", "metric"): "L", ("kg", "metric"): "kg"}


@dataclass(frozen=True)
class Listed:
    """A product as a row of the list; `price` is per `price_unit`."""

    product: Product
    actives: str
    stock: str
    price: str
    expired: bool
    empty: bool


def listed(
    shelf: Iterable[Product], base: KnowledgeBase, asked: str, order: str, today: date, system: units.System
) -> list[Listed]:
    """The products that a search finds, in an order."""
    words = asked.casefold().split()
    found = [product for product in shelf if all(word in _searched(product, base) for word in words)]
    found.sort(key=_order(order))
    return [_row(product, base, today, system) for product in found]


def _searched(product: Product, base: KnowledgeBase) -> str:
    names = [base.actives[part.active].name for part in product.actives if part.active in base.actives]
    ids = [part.active for part in product.actives]
    return " ".join((product.name, product.registration, product.formulation, product.kind, *names, *ids)).casefold()


def _order(order: str) -> Callable[[Product], Any]:
    def key(product: Product) -> Any:
        name = product.name.casefold()
        # What is not known comes last.
        if order == "stock":
            return (product.stock is None, product.stock.quantity.base if product.stock is not None else 0.0, name)
        if order == "price":
            price = price_per_unit(product)
            return (price is None, price[0] if price is not None else 0.0, name)
        if order == "expiry":
            return (product.expiry is None, product.expiry or date.max, name)
        return (product.kind != "herbicide", name) if order == "kind" else (name,)

    return key


def _row(product: Product, base: KnowledgeBase, today: date, system: units.System) -> Listed:
    if product.kind == "adjuvant":
        what = base.adjuvants[product.adjuvant or "none"].name
    else:
        known = (part.active for part in product.actives)
        what = ", ".join(base.actives[key].name if key in base.actives else key for key in known)
    return Listed(
        product,
        what,
        units.amount_words(product.stock, system) if product.stock is not None else "not known",
        _price(product, system),
        product.expiry is not None and product.expiry < today,
        product.stock is not None and product.stock.value == 0,
    )


def _price(product: Product, system: units.System) -> str:
    price = price_per_unit(product)
    if price is None:
        return "not known"
    unit = _PRICED_IN[price[1], system]
    return f"{price[0] * Quantity(1.0, unit).to(price[1]).value:,.2f} {product.currency}/{unit}"
