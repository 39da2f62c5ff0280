"""Customers, properties, scouting notes and the branch in the store."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from app.store.keyed import Keyed
from app.store.keyed import Stored as StoredNote
from app.store.keyed import stored as stored_note
from app.store.models import ApplicationRow, BranchRow, CustomerRow, PropertyRow, ScoutingRow
from app.store.named import Named, Stored, stored
from app.store.names import name_key

CUSTOMERS = Named("customer", CustomerRow)
PROPERTIES = Named("property", PropertyRow)
BRANCH = Named("branch", BranchRow)
NOTES = Keyed("scouting note", ScoutingRow)
PAGE = 50
_AT_ONCE = 500


@dataclass(frozen=True)
class Page:
    """A page of what a search finds.

    Attributes
    ----------
    items : tuple of Stored
        At most `PAGE` of them, in order.
    found : int
        How many are found in all.
    number, pages : int
        Which page it is, counted from one, and how many there are.
    """

    items: tuple[Stored, ...]
    found: int
    number: int
    pages: int


def found_by(name: str, address: str, customer: str, technician: str) -> str:
    """What a search looks in, in one case."""
    return name_key("\n".join((name, address, customer, technician)))


def search(
    session: Session, text: str = "", technician: str | None = None, customer: str | None = None, page: int = 1
) -> Page:
    """Properties in which every word of a text stands somewhere, in any order.

    Parameters
    ----------
    technician : str, optional
        Only of this one, by name.
    customer : str, optional
        Only of this one, by id.
    page : int
        Counted from one; one too high is the last.
    """
    told: list[ColumnElement[bool]] = [
        PropertyRow.found_by.contains(word, autoescape=True) for word in _words(text)[:_MOST_WORDS]
    ]
    if technician is not None:
        told.append(PropertyRow.technician == _storable(technician))
    if customer is not None:
        told.append(PropertyRow.customer == _storable(customer))
    return _paged(session, PropertyRow, told, page)


def after(
    session: Session, place: int, limit: int, text: str = "", technician: str | None = None
) -> tuple[tuple[int, Stored], ...]:
    """The next properties that a search finds, each with its place in the table, which the next page starts after."""
    told: list[ColumnElement[bool]] = [
        PropertyRow.found_by.contains(word, autoescape=True) for word in _words(text)[:_MOST_WORDS]
    ]
    if technician is not None:
        told.append(PropertyRow.technician == _storable(technician))
    asked = select(PropertyRow).where(PropertyRow.id > place, *told).order_by(PropertyRow.id).limit(limit)
    return tuple((row.id, stored(row)) for row in session.scalars(asked))


def search_customers(session: Session, text: str = "", page: int = 1) -> Page:
    """Customers in whose name every word of a text stands."""
    told = [CustomerRow.name_key.contains(word, autoescape=True) for word in _words(text)[:_MOST_WORDS]]
    return _paged(session, CustomerRow, told, page)


_MOST_WORDS = 12


def _words(text: str) -> list[str]:
    return name_key(_storable(text)).split()


def _storable(text: str) -> str:
    """A text that a database can be asked for: no zero byte, which PostgreSQL refuses, and no half of a letter."""
    return text.replace("\0", " ").encode("utf-8", "replace").decode()


def _paged(
    session: Session, row: type[PropertyRow] | type[CustomerRow], told: Sequence[ColumnElement[bool]], page: int
) -> Page:
    found = session.scalar(select(func.count()).select_from(row).where(*told)) or 0
    pages = max(1, -(-found // PAGE))
    number = min(max(page, 1), pages)
    order = PropertyRow.ordered_by if row is PropertyRow else row.name_key
    asked = select(row).where(*told).order_by(order, row.id).limit(PAGE).offset((number - 1) * PAGE)
    return Page(tuple(stored(item) for item in session.scalars(asked)), found, number, pages)


def technicians(session: Session) -> dict[str, int]:
    """Who is named on properties, and on how many, by name."""
    asked = select(PropertyRow.technician, func.count()).group_by(PropertyRow.technician)
    return {name: count for name, count in sorted(session.execute(asked)) if name}


def properties_of(session: Session, customer: str) -> tuple[Stored, ...]:
    """The properties of a customer, by name."""
    asked = select(PropertyRow).where(PropertyRow.customer == customer).order_by(PropertyRow.ordered_by, PropertyRow.id)
    return tuple(stored(row) for row in session.scalars(asked))


def property_counts(session: Session, customers: Sequence[str]) -> dict[str, int]:
    """How many properties each of these customers has; none where it has none."""
    counts: dict[str, int] = {}
    for start in range(0, len(customers), _AT_ONCE):
        part = customers[start : start + _AT_ONCE]
        asked = select(PropertyRow.customer, func.count()).where(PropertyRow.customer.in_(part))
        for key, count in session.execute(asked.group_by(PropertyRow.customer)):
            counts[str(key)] = count
    return counts


def renamed_customer(session: Session, customer: str, name: str) -> None:
    """Let the properties of a customer be found by its new name; their version stays, since they are the same."""
    for row in session.scalars(select(PropertyRow).where(PropertyRow.customer == customer)):
        told = found_by(row.name, str(row.document.get("address", "")), name, row.technician)
        if told != row.found_by:
            # Past the mapper, which would count the version up and tell whoever has the form open of a conflict.
            session.execute(
                PropertyRow.__table__.update().where(PropertyRow.__table__.c.id == row.id).values(found_by=told)  # type: ignore[attr-defined]
            )


def notes_of(session: Session, properties: Sequence[str]) -> dict[str, tuple[StoredNote, ...]]:
    """The notes of these properties, open and closed, the latest first."""
    found: dict[str, list[StoredNote]] = {}
    for start in range(0, len(properties), _AT_ONCE):
        part = properties[start : start + _AT_ONCE]
        asked = select(ScoutingRow).where(ScoutingRow.property.in_(part))
        for row in session.scalars(asked.order_by(ScoutingRow.day.desc(), ScoutingRow.id.desc())):
            found.setdefault(row.property, []).append(stored_note(row))
    return {key: tuple(notes) for key, notes in found.items()}


def every_note(session: Session) -> tuple[StoredNote, ...]:
    """Every note, by property and then the oldest first."""
    asked = select(ScoutingRow).order_by(ScoutingRow.property, ScoutingRow.day, ScoutingRow.id)
    return tuple(stored_note(row) for row in session.scalars(asked))


def forget_notes(session: Session, slug: str) -> int:
    """Forget the notes of a property that goes; how many they were."""
    rows = session.scalars(select(ScoutingRow).where(ScoutingRow.property == slug)).all()
    for row in rows:
        session.delete(row)
    return len(rows)


def records_on(session: Session, slug: str) -> int:
    """How many application records name a property."""
    asked = select(func.count()).select_from(ApplicationRow).where(ApplicationRow.property == slug)
    return session.scalar(asked) or 0
