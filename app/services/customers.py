"""Use cases of customers: looked up, added, changed and removed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from rapidfuzz import fuzz, process, utils
from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.understood import nearest
from app.season.property import Customer
from app.services.validation import validated
from app.store import properties as kept
from app.store.named import Stored
from app.store.names import name_key
from app.store.opening import Store

# Likeness [0 to 100] from which a new name may be a slip of one that is kept.
_LIKE = 85.0
_NEAREST = 3
NAMELESS = FieldFault("name", "is required: who is billed")


@dataclass(frozen=True)
class KeptCustomer:
    """A customer as kept; `properties` are ids and names of what is served for them."""

    slug: str
    customer: Customer
    version: int
    changed_at: datetime
    properties: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class CustomerPage:
    """A page of customers, and how many properties each has."""

    items: tuple[KeptCustomer, ...]
    counts: dict[str, int]
    found: int
    number: int
    pages: int


def customers(store: Store, search: str = "", page: int = 1) -> CustomerPage:
    """Customers in whose name every word stands, by name."""
    with store.reading() as session:
        found = kept.search_customers(session, search, page)
        counts = kept.property_counts(session, [item.slug for item in found.items])
    return CustomerPage(tuple(_of(item) for item in found.items), counts, found.found, found.number, found.pages)


def customer(store: Store, slug: str) -> KeptCustomer:
    """One customer with their properties.

    Raises
    ------
    UnknownId
        With the three nearest, when there is none of that id.
    """
    with store.reading() as session:
        try:
            found = kept.CUSTOMERS.by_slug(session, slug)
        except UnknownId:
            raise unknown_customer(session, slug) from None
        return _of(found, tuple((item.slug, item.name) for item in kept.properties_of(session, slug)))


def add_customer(store: Store, payload: Any) -> KeptCustomer:
    """Keep a new customer, given as plain data.

    Raises
    ------
    InputError
        With every field at fault, a name that is taken among them.
    """
    told = validated(Customer, payload)
    with store.session() as session:
        return _of(insert(session, told, datetime.now(UTC)))


def change_customer(store: Store, slug: str, payload: Any, version: int) -> KeptCustomer:
    """Change a customer that stands at a version; their properties are found by the new name from then on.

    Raises
    ------
    InputError
        With every field at fault.
    Changed
        When somebody else changed or removed them meanwhile.
    """
    told = validated(Customer, payload)
    with store.session() as session:
        done = kept.CUSTOMERS.update(session, slug, told.name, document_of(told), version, datetime.now(UTC))
        kept.renamed_customer(session, slug, told.name)
    return customer(store, done.slug)


def remove_customer(store: Store, slug: str, version: int) -> None:
    """Forget a customer for whom nothing is served.

    Raises
    ------
    InputError
        While a property names them.
    Changed
        When somebody else changed or removed them meanwhile.
    """
    with store.session() as session:
        named = kept.properties_of(session, slug)
        if named:
            shown = ", ".join(item.name for item in named[:_NEAREST])
            more = f" and {len(named) - _NEAREST} more" if len(named) > _NEAREST else ""
            what = f"{shown}{more} {'belongs' if len(named) == 1 else 'belong'} to this customer"
            how = "give the property to another customer, or remove it first"
            raise InputError([FieldFault("customer", f"{what}; {how}")])
        kept.CUSTOMERS.delete(session, slug, version)


def customer_told(session: Session, text: str, *, as_new: bool, now: datetime) -> str | None:
    """The id of a customer told by name; one that is not kept yet is kept.

    Parameters
    ----------
    as_new : bool
        Whether a name that is much like one that is kept is a new customer nevertheless.

    Raises
    ------
    InputError
        Where the name is much like that of a customer who is kept, with the nearest.
    """
    if not text.strip():
        return None
    names = kept.CUSTOMERS.names(session)
    keys = {name_key(name): slug for slug, name in names.items()}
    if (found := keys.get(name_key(text))) is not None:
        return found
    alike = process.extract(
        text, names, scorer=fuzz.ratio, processor=utils.default_process, limit=_NEAREST, score_cutoff=_LIKE
    )
    if alike and not as_new:
        what = f"'{text.strip()[:80]}' is much like {' or '.join(name for name, *_ in alike)}"
        how = "write that name, or tick that it is a new customer"
        raise InputError([FieldFault("customer", f"{what}; {how}")])
    return insert(session, validated(Customer, {"name": text}), now).slug


def insert(session: Session, told: Customer, now: datetime) -> Stored:
    """Keep a new customer within a session."""
    (done,) = kept.CUSTOMERS.insert(session, [(told.name, document_of(told), {})], now)
    return done


def unknown_customer(session: Session, slug: str) -> UnknownId:
    """That there is no customer of an id, with the three nearest."""
    return UnknownId("customer", slug, nearest(slug, kept.CUSTOMERS.names(session)), "that is kept")


def document_of(told: Customer) -> dict[str, Any]:
    """A customer as kept; the name stands beside."""
    return told.model_dump(mode="json", exclude={"name"})


def kept_customer(item: Stored) -> Customer:
    """The customer of a kept document."""
    return Customer.model_validate({**item.document, "name": item.name})


def _of(item: Stored, properties: tuple[tuple[str, str], ...] = ()) -> KeptCustomer:
    return KeptCustomer(item.slug, kept_customer(item), item.version, item.changed_at, properties)
