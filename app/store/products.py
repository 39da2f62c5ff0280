"""Products of the shelf in the store."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError

from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.product import Product
from app.store.changed import Changed
from app.store.models import ProductRow
from app.store.names import is_slug, name_key, slug_of


@dataclass(frozen=True)
class Stored:
    """A product as it is kept; its `id` is the slug by which it is known."""

    product: Product
    version: int
    changed_at: datetime

    @property
    def slug(self) -> str:
        """The id by which it is known."""
        assert self.product.id is not None, "what is read from the store carries its id"
        return self.product.id


def every(session: Session) -> tuple[Stored, ...]:
    """Every product, by name."""
    rows = session.scalars(select(ProductRow).order_by(ProductRow.name_key)).all()
    return tuple(_stored(row) for row in rows)


def by_slug(session: Session, slug: str) -> Stored:
    """One product.

    Raises
    ------
    UnknownId
        When there is none of that id.
    """
    return _stored(_row(session, slug))


def named(session: Session, keys: Iterable[str], *, hold: bool = False) -> dict[str, Stored]:
    """The products of these keys of names (`name_key`), by key.

    Where that is asked they are held until the session ends, so that nobody else counts them meanwhile; in one
    order, so that two never wait for each other.
    """
    asked = select(ProductRow).where(ProductRow.name_key.in_(sorted(set(keys)))).order_by(ProductRow.slug)
    if hold:
        asked = asked.with_for_update().execution_options(populate_existing=True)
    return {row.name_key: _stored(row) for row in session.scalars(asked)}


def insert(session: Session, products: Sequence[Product], now: datetime) -> tuple[Stored, ...]:
    """Put products on the shelf, all or none.

    Raises
    ------
    InputError
        When a name is on the shelf already.
    """
    taken = set(session.scalars(select(ProductRow.slug)))
    rows = []
    for product in products:
        slug = slug_of(product.name, taken)
        taken.add(slug)
        rows.append(_filled(ProductRow(slug=slug), product, now))
    session.add_all(rows)
    _flush(session, products)
    return tuple(_stored(row) for row in rows)


def update(session: Session, slug: str, product: Product, version: int, now: datetime) -> Stored:
    """Change a product that stands at a version; its id stays.

    Raises
    ------
    Changed
        When it was changed or removed meanwhile.
    InputError
        When the new name is that of another product.
    """
    row = _row_at(session, slug, product.name, version)
    _filled(row, product, now)
    _flush(session, [product])
    return _stored(row)


def delete(session: Session, slug: str, version: int) -> None:
    """Take a product that stands at a version off the shelf.

    Raises
    ------
    Changed
        When it was changed or removed meanwhile.
    """
    row = _row_at(session, slug, slug, version)
    session.delete(row)
    session.flush()


def _row(session: Session, slug: str) -> ProductRow:
    row = session.scalar(select(ProductRow).where(ProductRow.slug == slug)) if is_slug(slug) else None
    if row is None:
        raise UnknownId("product", slug, ())
    return row


def _row_at(session: Session, slug: str, name: str, version: int) -> ProductRow:
    # Locked where the database can, so that the version is still this one when it is written.
    row = session.scalar(select(ProductRow).where(ProductRow.slug == slug).with_for_update()) if is_slug(slug) else None
    if row is None:
        raise Changed("product", slug, name, None, None)
    if row.version != version:
        stored = _stored(row)
        raise Changed("product", slug, row.name, stored.product.model_dump(mode="json"), row.version)
    return row


def _flush(session: Session, products: Iterable[Product]) -> None:
    names = sorted(product.name for product in products)
    try:
        session.flush()
    except IntegrityError as error:
        what = "one of these names is" if len(names) > 1 else f"'{names[0]}' is"
        raise InputError([FieldFault("name", f"{what} on the shelf already; choose another name")]) from error
    except StaleDataError as error:
        raise Changed("product", "", names[0], None, None) from error


def _filled(row: ProductRow, product: Product, now: datetime) -> ProductRow:
    row.name, row.name_key = product.name, name_key(product.name)
    row.kind, row.formulation, row.expiry = product.kind, product.formulation, product.expiry
    row.label = product.model_dump(mode="json", exclude={"id", "stock"})
    row.stock_value = product.stock.value if product.stock is not None else None
    row.stock_unit = product.stock.unit if product.stock is not None else None
    row.changed_at = now
    return row


def _stored(row: ProductRow) -> Stored:
    stock = {"value": row.stock_value, "unit": row.stock_unit} if row.stock_unit is not None else None
    product = Product.model_validate({**row.label, "id": row.slug, "stock": stock})
    return Stored(product, row.version, row.changed_at)
