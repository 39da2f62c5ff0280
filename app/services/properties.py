"""Use cases of properties: listed, looked up, added, changed and removed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from datetime import date as Date
from typing import Any

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.understood import nearest
from app.season.property import Property
from app.services.branch import branch, change_branch
from app.services.customers import customer_told, kept_customer, unknown_customer
from app.services.property_checks import Missing, checked_property, plannable, what_is_missing
from app.services.property_csv import write_properties
from app.services.scouting import KeptNote, add_note, change_note, close_note, notes_of, of_stored
from app.store import properties as kept
from app.store import years
from app.store.named import Stored
from app.store.names import place_key
from app.store.opening import Store

# What hangs on a property is used from here, wherever it is written.
__all__ = [
    "KeptProperty",
    "Listing",
    "Missing",
    "Reading",
    "add",
    "add_note",
    "branch",
    "change",
    "change_branch",
    "change_note",
    "close_note",
    "every",
    "export_csv",
    "listing",
    "notes_of",
    "one",
    "plannable",
    "remove",
    "technicians",
    "what_is_missing",
]


@dataclass(frozen=True)
class KeptProperty:
    """A property as it is kept."""

    slug: str
    property: Property
    version: int
    changed_at: datetime


@dataclass(frozen=True)
class Listing:
    """A page of properties.

    Attributes
    ----------
    customers : dict
        Names of the customers on the page, by id.
    open_notes : dict
        How many notes are open on each of the page, by id.
    technicians : dict
        Everybody who is named on a property, with how many.
    found, kept : int
        How many the search finds, and how many are kept at all.
    number, pages : int
        Which page it is, counted from one, and how many there are.
    """

    items: tuple[KeptProperty, ...]
    customers: dict[str, str]
    open_notes: dict[str, int]
    technicians: dict[str, int]
    found: int
    kept: int
    number: int
    pages: int


@dataclass(frozen=True)
class Reading:
    """A property with what hangs on it.

    `customer` is None where none is told; `notes` the open ones first, each the latest first; `records` how many
    application records name it.
    """

    slug: str
    property: Property
    version: int
    changed_at: datetime
    customer: tuple[str, str] | None
    notes: tuple[KeptNote, ...]
    records: int
    missing: tuple[Missing, ...]


def listing(
    store: Store, search: str = "", technician: str | None = None, page: int = 1, *, customer: str | None = None
) -> Listing:
    """A page of what a search finds: every word in the name, the address, the customer or the technician."""
    with store.reading() as session:
        found = kept.search(session, search, technician, customer, page)
        items = tuple(of_stored_property(item) for item in found.items)
        named = kept.CUSTOMERS.by_slugs(session, [item.property.customer or "" for item in items])
        notes = kept.notes_of(session, [item.slug for item in items])
        technicians = kept.technicians(session)
        total = found.found if not (search.strip() or technician or customer) else kept.search(session).found
    return Listing(
        items,
        {slug: item.name for slug, item in named.items()},
        {slug: sum(note.document.get("closed") is None for note in told) for slug, told in notes.items()},
        technicians,
        found.found,
        total,
        found.number,
        found.pages,
    )


def every(store: Store) -> tuple[KeptProperty, ...]:
    """Every property, by name."""
    with store.reading() as session:
        return tuple(of_stored_property(item) for item in kept.PROPERTIES.every(session))


def export_csv(store: Store) -> str:
    """Every property with its customer as a file for spreadsheets."""
    with store.reading() as session:
        people = {item.slug: kept_customer(item) for item in kept.CUSTOMERS.every(session)}
        places = [of_stored_property(item).property for item in kept.PROPERTIES.every(session)]
    return write_properties((place, people.get(place.customer or "")) for place in places)


def technicians(store: Store) -> tuple[str, ...]:
    """Who sprays: those of the branch, then whoever is named on a property besides."""
    people, _ = branch(store)
    with store.reading() as session:
        named = kept.technicians(session)
    return tuple(dict.fromkeys([*(person.name for person in people.technicians), *named]))


def one(store: Store, slug: str, today: Date | None = None) -> Reading:
    """A property with its customer, its notes and what is missing.

    Raises
    ------
    UnknownId
        With the three nearest, when there is none of that id.
    """
    with store.reading() as session:
        found = _one(session, slug)
        customer = kept.CUSTOMERS.by_slugs(session, [found.property.customer or ""])
        notes = [of_stored(item) for item in kept.notes_of(session, [slug]).get(slug, ())]
        records = kept.records_on(session, slug)
    notes.sort(key=lambda item: not item.open)
    return Reading(
        slug,
        found.property,
        found.version,
        found.changed_at,
        next(((key, item.name) for key, item in customer.items()), None),
        tuple(notes),
        records,
        what_is_missing(found.property, today),
    )


def add(store: Store, payload: Any, *, customer: str | None = None, new_customer: bool = False) -> KeptProperty:
    """Keep a new property, given as plain data; its id is made from its name.

    Parameters
    ----------
    customer : str, optional
        Name of the customer, instead of an id in the property; who is not kept yet is kept with it.
    new_customer : bool
        Whether a name much like one that is kept is a new customer nevertheless.

    Raises
    ------
    InputError
        With every field at fault.
    """
    told, faults = _checked(payload)
    now = datetime.now(UTC)
    with store.session() as session:
        told = _with_customer(session, told, faults, customer, new_customer, now)
        name, columns = columns_of(session, told)
        (done,) = kept.PROPERTIES.insert(session, [(name, document_of(told), columns)], now)
    return of_stored_property(done)


def change(
    store: Store, slug: str, payload: Any, version: int, *, customer: str | None = None, new_customer: bool = False
) -> KeptProperty:
    """Change a property that stands at a version; its id stays.

    Raises
    ------
    InputError
        With every field at fault, an area that goes while notes on it are open among them.
    Changed
        When somebody else changed or removed it meanwhile.
    """
    told, faults = _checked(payload)
    now = datetime.now(UTC)
    with store.session() as session:
        if told is not None:
            faults += left_behind(told, [of_stored(item) for item in kept.notes_of(session, [slug]).get(slug, ())])
        told = _with_customer(session, told, faults, customer, new_customer, now)
        name, columns = columns_of(session, told)
        done = kept.PROPERTIES.update(session, slug, name, document_of(told), version, now, columns)
    return of_stored_property(done)


def remove(store: Store, slug: str, version: int) -> None:
    """Forget a property with its notes and the plans of its years.

    Raises
    ------
    InputError
        Where application records name it, for these are kept.
    Changed
        When somebody else changed or removed it meanwhile.
    """
    with store.session() as session:
        if count := kept.records_on(session, slug):
            what = f"{count} application record{' names' if count == 1 else 's name'} it, and records are kept"
            raise InputError([FieldFault("property", f"{what}; say instead when its service ended")])
        kept.PROPERTIES.delete(session, slug, version)
        kept.forget_notes(session, slug)
        years.forget(session, slug)


def left_behind(told: Property, notes: Iterable[KeptNote]) -> list[FieldFault]:
    """The faults of a changed property that no longer has an area on which notes are open."""
    lost: dict[str, int] = {}
    for note in notes:
        if note.open and told.area_of(note.note.area) is None:
            lost[note.note.area] = lost.get(note.note.area, 0) + 1
    return [
        FieldFault(
            "areas",
            f"{count} open note{'' if count == 1 else 's'} on the area '{key}' would hang in the air; close first",
        )
        for key, count in lost.items()
    ]


def _checked(payload: Any) -> tuple[Property | None, list[FieldFault]]:
    try:
        return checked_property(payload), []
    except InputError as error:
        return None, list(error.faults)


def _with_customer(
    session: Session,
    told: Property | None,
    faults: list[FieldFault],
    customer: str | None,
    new_customer: bool,
    now: datetime,
) -> Property:
    """The property with its customer's id; every fault together, that of the customer among them."""
    key = told.customer if told is not None else None
    try:
        if customer is not None:
            key = customer_told(session, customer, as_new=new_customer, now=now)
        elif key is not None and key not in kept.CUSTOMERS.by_slugs(session, [key]):
            faults.append(FieldFault("customer", str(unknown_customer(session, key))))
    except InputError as error:
        faults += error.faults
    if faults or told is None:
        raise InputError(faults)
    return told.model_copy(update={"customer": key})


def columns_of(session: Session, told: Property, customers: dict[str, str] | None = None) -> tuple[str, dict[str, Any]]:
    """The name of a property, and what stands beside its document to be found by.

    Parameters
    ----------
    customers : dict, optional
        Names of customers by id; looked up where they are not told.
    """
    if customers is None:
        found = kept.CUSTOMERS.by_slugs(session, [told.customer or ""])
        customers = {slug: item.name for slug, item in found.items()}
    customer = customers.get(told.customer or "", "")
    columns = {
        "customer": told.customer,
        "technician": told.technician,
        "ordered_by": place_key(told.name),
        "found_by": kept.found_by(told.name, told.address, customer, told.technician),
    }
    return told.name, columns


def document_of(told: Property) -> dict[str, Any]:
    """A property as it is kept; its name stands beside."""
    return told.model_dump(mode="json", by_alias=True, exclude={"name"})


def of_stored_property(item: Stored) -> KeptProperty:
    """The property of a kept document."""
    told = Property.model_validate({**item.document, "name": item.name})
    return KeptProperty(item.slug, told, item.version, item.changed_at)


def _one(session: Session, slug: str) -> KeptProperty:
    try:
        return of_stored_property(kept.PROPERTIES.by_slug(session, slug))
    except UnknownId:
        known = kept.PROPERTIES.names(session)
        raise UnknownId("property", slug, nearest(slug, known), "that is kept") from None
