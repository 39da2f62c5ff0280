"""What the API takes and answers about properties, customers and scouting notes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date as Date
from datetime import datetime
from typing import Any, TypeVar

from pydantic import Field

from app.engine.errors import FieldFault, InputError
from app.engine.measures import Input
from app.engine.output import Output
from app.season.property import Customer, Property, ScoutingNote, SeenWeed
from app.services import customers, properties, scouting
from app.services.validation import validated, version_told
from app.store.opening import Store

_VERSION_MOST = 2**31 - 1
_MOST_DIGITS = 6
T = TypeVar("T")


class PropertyChange(Input):
    """A changed property, and the version that it changes."""

    version: int = Field(ge=1, le=_VERSION_MOST)
    property: Property


class CustomerChange(Input):
    """A changed customer, and the version that it changes."""

    version: int = Field(ge=1, le=_VERSION_MOST)
    customer: Customer


class NoteChange(Input):
    """A changed note, and the version that it changes; weed and area may be told by name."""

    version: int = Field(ge=1, le=_VERSION_MOST)
    note: SeenWeed


class MissingTold(Output):
    """A fact without which a property, or an area of it, cannot be planned."""

    path: str
    area: str
    text: str


class PropertyTold(Output):
    """A property and the version at which it stands; `missing` is empty where all of it can be planned."""

    id: str
    version: int
    changed_at: datetime
    property: Property
    customer_name: str
    open_notes: int
    missing: tuple[MissingTold, ...]


class PropertyOne(PropertyTold):
    """A property with how many application records name it; while there are any it cannot be removed."""

    records: int


class PropertyListing(Output):
    """A page of properties, by name; `technicians` counts the properties of each."""

    properties: tuple[PropertyTold, ...]
    found: int
    page: int
    pages: int
    technicians: dict[str, int]


class CustomerTold(Output):
    """A customer and the version at which they stand; `properties` are ids, empty in a list."""

    id: str
    version: int
    changed_at: datetime
    customer: Customer
    property_count: int
    properties: tuple[str, ...]


class CustomerListing(Output):
    """A page of customers, by name."""

    customers: tuple[CustomerTold, ...]
    found: int
    page: int
    pages: int


class NoteTold(Output):
    """A scouting note and the version at which it stands."""

    key: str
    version: int
    changed_at: datetime
    weed_name: str
    note: ScoutingNote


class NoteListing(Output):
    """The notes of a property, the latest first."""

    notes: tuple[NoteTold, ...]


class PropertyRemoved(Output):
    """The id of what was removed."""

    removed: str


def page_told(text: str | None) -> int:
    """The number of a page as an address names it; the first where it names none.

    Raises
    ------
    InputError
        For anything but a whole number from one.
    """
    if not text:
        return 1
    if not (text.isascii() and text.isdecimal()) or len(text) > _MOST_DIGITS or int(text) == 0:
        raise InputError([FieldFault("page", f"'{text[:20]}' is no page; pages are counted from 1")])
    return int(text)


def listing(store: Store, told: dict[str, str]) -> PropertyListing:
    """A page of properties, searched by words, technician and customer."""
    found = properties.listing(
        store,
        told.get("search", ""),
        told.get("technician") or None,
        page_told(told.get("page")),
        customer=told.get("customer") or None,
    )
    today = Date.today()
    return PropertyListing(
        properties=tuple(
            PropertyTold(
                **_of_property(item.slug, item.property, item.version, item.changed_at, today),
                customer_name=found.customers.get(item.property.customer or "", ""),
                open_notes=found.open_notes.get(item.slug, 0),
            )
            for item in found.items
        ),
        found=found.found,
        page=found.number,
        pages=found.pages,
        technicians=found.technicians,
    )


def one(store: Store, slug: str) -> PropertyOne:
    """A property with its version and what is missing."""
    today = Date.today()
    found = properties.one(store, slug, today)
    return PropertyOne(
        **_of_property(slug, found.property, found.version, found.changed_at, today),
        customer_name=found.customer[1] if found.customer is not None else "",
        open_notes=sum(note.open for note in found.notes),
        records=found.records,
    )


def _of_property(slug: str, told: Property, version: int, changed_at: datetime, today: Date) -> dict[str, Any]:
    missing = properties.what_is_missing(told, today)
    return {
        "id": slug,
        "version": version,
        "changed_at": changed_at,
        "property": told,
        "missing": tuple(MissingTold(path=item.path, area=item.area, text=item.text) for item in missing),
    }


def add(store: Store, payload: Any) -> PropertyOne:
    """Keep a property."""
    return one(store, properties.add(store, payload).slug)


def change(store: Store, slug: str, payload: Any) -> PropertyOne:
    """Change a property that stands at a version."""
    told, version = _changing(payload, "property")
    properties.one(store, slug)
    _inside("property", lambda: properties.change(store, slug, told, version))
    return one(store, slug)


def remove(store: Store, slug: str, version: str | None) -> PropertyRemoved:
    """Remove a property that stands at a version, with its notes."""
    at = version_told(version, "property")
    properties.one(store, slug)
    properties.remove(store, slug, at)
    return PropertyRemoved(removed=slug)


def customer_listing(store: Store, told: dict[str, str]) -> CustomerListing:
    """A page of customers, searched by words."""
    found = customers.customers(store, told.get("search", ""), page_told(told.get("page")))
    return CustomerListing(
        customers=tuple(_customer(item, found.counts.get(item.slug, 0)) for item in found.items),
        found=found.found,
        page=found.number,
        pages=found.pages,
    )


def customer(store: Store, slug: str) -> CustomerTold:
    """A customer with their properties."""
    found = customers.customer(store, slug)
    return _customer(found, len(found.properties))


def _customer(found: customers.KeptCustomer, count: int) -> CustomerTold:
    return CustomerTold(
        id=found.slug,
        version=found.version,
        changed_at=found.changed_at,
        customer=found.customer,
        property_count=count,
        properties=tuple(slug for slug, _ in found.properties),
    )


def add_customer(store: Store, payload: Any) -> CustomerTold:
    """Keep a customer."""
    return customer(store, customers.add_customer(store, payload).slug)


def change_customer(store: Store, slug: str, payload: Any) -> CustomerTold:
    """Change a customer who stands at a version."""
    told, version = _changing(payload, "customer")
    customers.customer(store, slug)
    _inside("customer", lambda: customers.change_customer(store, slug, told, version))
    return customer(store, slug)


def remove_customer(store: Store, slug: str, version: str | None) -> PropertyRemoved:
    """Remove a customer who stands at a version, and for whom nothing is served."""
    at = version_told(version, "customer")
    customers.customer(store, slug)
    customers.remove_customer(store, slug, at)
    return PropertyRemoved(removed=slug)


def notes(store: Store, slug: str) -> NoteListing:
    """The notes of a property."""
    return NoteListing(notes=tuple(_note(item) for item in scouting.notes_of(store, slug)))


def add_note(store: Store, slug: str, payload: Any) -> NoteTold:
    """Keep a note on a property."""
    kept, _ = scouting.add_note(store, slug, payload, today=Date.today())
    return _note(kept)


def change_note(store: Store, slug: str, key: str, payload: Any) -> NoteTold:
    """Change a note that stands at a version; its `closed` says when it stopped to count."""
    told, version = _changing(payload, "note")
    scouting.note(store, slug, key)
    kept = _inside("note", lambda: scouting.change_note(store, slug, key, told, version, today=Date.today()))
    return _note(kept)


def _note(kept: scouting.KeptNote) -> NoteTold:
    return NoteTold(
        key=kept.key,
        version=kept.version,
        changed_at=kept.changed_at,
        weed_name=scouting.weed_name(kept.note.weed),
        note=kept.note,
    )


class _Change(Input):
    version: int = Field(ge=1, le=_VERSION_MOST)


def _changing(payload: Any, name: str) -> tuple[Any, int]:
    """What a change tells, as plain data, and the version that it changes.

    Raises
    ------
    InputError
        For a version that is none, a key that is not known, or where what is changed is missing.
    """
    if not isinstance(payload, dict):
        raise InputError([FieldFault("", "the input must be a JSON object")])
    faults = [] if name in payload else [FieldFault(name, "is required")]
    told = {key: value for key, value in payload.items() if key != name}
    try:
        version = validated(_Change, told).version
    except InputError as error:
        raise InputError([*error.faults, *faults]) from error
    if faults:
        raise InputError(faults)
    return payload[name], version


def _inside(name: str, change: Callable[[], T]) -> T:
    """Do it; the path of a fault starts with what is changed."""
    try:
        return change()
    except InputError as error:
        raise InputError(
            [FieldFault(f"{name}.{fault.path}".rstrip("."), fault.message) for fault in error.faults]
        ) from error
