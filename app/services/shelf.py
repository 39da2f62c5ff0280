"""Use cases of the shelf: its products, looked up, added, changed and removed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import resources
from typing import Any

from app.engine.contradictions import Contradiction, contradictions
from app.engine.cost import unit_price
from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.label_amounts import LineAmounts, label_amounts
from app.engine.label_faults import faults_of
from app.engine.measures import Amount
from app.engine.product import Product
from app.engine.understood import nearest
from app.services.csv_text import decoded
from app.services.knowledge_service import knowledge_base
from app.services.shelf_csv import write_csv
from app.services.shelf_import import import_confirm
from app.services.validation import validated
from app.store import products
from app.store.opening import Store

_DEMO = ("demo_data", "shelf.csv")


@dataclass(frozen=True)
class Reading:
    """A product with what follows from its label."""

    product: Product
    version: int
    changed_at: datetime
    contradictions: tuple[Contradiction, ...]
    amounts: tuple[LineAmounts, ...]


def shelf_products(store: Store) -> tuple[Product, ...]:
    """Every product of the shelf, by name, its id set."""
    return tuple(item.product for item in stored_products(store))


def stored_products(store: Store) -> tuple[products.Stored, ...]:
    """Every product of the shelf with its version, by name."""
    with store.reading() as session:
        return products.every(session)


def product_named(store: Store, slug: str) -> tuple[Product, int]:
    """A product and the version at which it stands.

    Raises
    ------
    UnknownId
        With the three nearest, when there is none of that id.
    """
    found = _stored(store, slug)
    return found.product, found.version


def read_product(store: Store, slug: str) -> Reading:
    """A product with its amounts of each active, and where its label contradicts the knowledge base.

    Raises
    ------
    UnknownId
        With the three nearest, when there is none of that id.
    """
    found = _stored(store, slug)
    base = knowledge_base()
    # Facts may have changed since it was put there: then what no longer fits is told when it is next edited.
    usable = not faults_of(base, found.product)
    return Reading(
        found.product,
        found.version,
        found.changed_at,
        contradictions(base, found.product) if usable else (),
        label_amounts(base, found.product) if usable else (),
    )


def _stored(store: Store, slug: str) -> products.Stored:
    with store.reading() as session:
        try:
            return products.by_slug(session, slug)
        except UnknownId:
            known = [item.slug for item in products.every(session)]
            raise UnknownId("product", slug, nearest(slug, known), "on the shelf") from None


def checked_product(payload: Any) -> Product:
    """A label given as plain data, as a product that can be used.

    Raises
    ------
    InputError
        With every field at fault.
    """
    product = validated(Product, payload)
    if faults := faults_of(knowledge_base(), product):
        raise InputError(faults)
    return product


def look_over(payload: Any) -> tuple[Contradiction, ...]:
    """Where a label given as plain data contradicts the knowledge base; nothing is stored.

    Raises
    ------
    InputError
        With every field at fault.
    """
    return contradictions(knowledge_base(), checked_product(payload))


def add_product(store: Store, payload: Any) -> tuple[Product, int]:
    """Put a product on the shelf; its id is made from its name.

    Raises
    ------
    InputError
        With every field at fault, a name that is on the shelf already among them.
    """
    product = checked_product(payload)
    with store.session() as session:
        (kept,) = products.insert(session, [product], datetime.now(UTC))
    return kept.product, kept.version


def change_product(store: Store, slug: str, payload: Any, version: int) -> tuple[Product, int]:
    """Change a product that stands at a version.

    Raises
    ------
    InputError
        With every field at fault.
    Changed
        When somebody else changed or removed it meanwhile; nothing is stored.
    UnknownId
        When there never was one of that id.
    """
    product = checked_product(payload)
    with store.session() as session:
        kept = products.update(session, slug, product, version, datetime.now(UTC))
    return kept.product, kept.version


def change_stock(store: Store, slug: str, payload: Any, version: int) -> tuple[Product, int]:
    """Change what is at hand of a product; None where it is not known.

    Raises
    ------
    InputError
        For an amount that cannot be.
    Changed
        When somebody else changed or removed it meanwhile.
    """
    if payload is not None:
        try:
            validated(Amount, payload)
        except InputError as error:
            raise InputError([FieldFault(f"stock.{f.path}".rstrip("."), f.message) for f in error.faults]) from error
    found = _stored(store, slug)
    told = {**found.product.model_dump(mode="json"), "stock": payload}
    return change_product(store, slug, told, version)


def remove_product(store: Store, slug: str, version: int) -> None:
    """Take a product that stands at a version off the shelf.

    Raises
    ------
    Changed
        When somebody else changed or removed it meanwhile.
    """
    with store.session() as session:
        products.delete(session, slug, version)


def export_csv(store: Store) -> str:
    """The whole shelf as a file for spreadsheets."""
    return write_csv(shelf_products(store))


def price_per_unit(product: Product) -> tuple[float, str] | None:
    """The lowest price that a pack asks [per litre or kilogram], with that unit; None where no price is known."""
    price = unit_price(product)
    if price is None:
        return None
    return (price, "L") if product.liquid else (price * 1000, "kg")


def fill_demo(store: Store) -> int:
    """Put the invented products of the demo on a shelf that is empty; how many."""
    if stored_products(store):
        return 0
    data = resources.files(_DEMO[0]).joinpath(_DEMO[1]).read_bytes()
    return import_confirm(store, decoded(data), seen={}).new
