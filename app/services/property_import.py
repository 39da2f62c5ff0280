"""Importing a file of properties: first a preview of every property, then all of it or nothing."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Literal

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError
from app.season.property import Customer, Property
from app.services import customers
from app.services.branch import branch
from app.services.csv_text import refused
from app.services.properties import columns_of, document_of, left_behind, of_stored_property
from app.services.property_checks import checked_property
from app.services.property_columns import OF_AREA, OF_CUSTOMER, OF_PROPERTY
from app.services.property_csv import CellFault, ReadFile, ReadProperty, blocked, read_properties
from app.services.scouting import of_stored
from app.services.validation import validated
from app.store import pending
from app.store import properties as kept
from app.store.changed import Changed
from app.store.named import Stored
from app.store.names import name_key
from app.store.opening import Store

Status = Literal["new", "changed", "unchanged"]
_NAMED = 3
# Ids hold no colon, so these keys of what was seen are of no property.
_OF_CUSTOMER = "customer:"
_COLUMN_OF = {key: column for column, key in OF_PROPERTY.items()} | {"name": "property"}
_COLUMN_OF_AREA = {key: column for column, key in OF_AREA.items()} | {"name": "area"}


@dataclass(frozen=True)
class PropertyRow:
    """A property of the file and what importing it would do.

    Attributes
    ----------
    property : Property
        As it would be kept, but for the id of its customer.
    customer : str or None
        Name of its customer as the file tells it; None where it has no such column.
    slug, version : str, int
        Of the property of that name; empty and 0 where there is none.
    changes : tuple of str
        What would change, in words.
    """

    line: int
    property: Property
    customer: str | None
    status: Status
    slug: str
    version: int
    changes: tuple[str, ...]


@dataclass(frozen=True)
class CustomerRow:
    """A customer that the file names and that is new, or of whom it tells something else."""

    customer: Customer
    slug: str
    version: int
    changes: tuple[str, ...]


@dataclass(frozen=True)
class Preview:
    """What importing a file of properties would do."""

    rows: tuple[PropertyRow, ...]
    customers: tuple[CustomerRow, ...]
    faults: tuple[CellFault, ...]
    columns: dict[str, str]
    ignored: tuple[str, ...]
    notices: tuple[str, ...]
    seen: dict[str, int] = field(default_factory=dict)

    def of(self, status: Status) -> tuple[PropertyRow, ...]:
        """The properties of a status."""
        return tuple(row for row in self.rows if row.status == status)


@dataclass(frozen=True)
class Imported:
    """How many properties are new, were replaced, were left as they stood, and were found unchanged."""

    new: int
    replaced: int
    left: int
    unchanged: int
    customers: int


@dataclass(frozen=True)
class PendingFile:
    """A file that waits for its confirmation, with what was told about it and the versions that were seen."""

    text: str
    columns: dict[str, str]
    seen: dict[str, int]


def preview(store: Store, text: str, columns: Mapping[str, str] | None = None) -> Preview:
    """What importing a file of properties would do; nothing is stored.

    Raises
    ------
    InputError
        When the file as a whole cannot be used.
    """
    read = read_properties(text, columns)
    zone = branch(store)[0].zone
    with store.reading() as session:
        return _preview(session, read, zone)


def confirm(
    store: Store,
    text: str,
    columns: Mapping[str, str] | None = None,
    seen: dict[str, int] | None = None,
    *,
    replace: bool = False,
) -> Imported:
    """Import a file of properties: all that it may change, or nothing.

    Parameters
    ----------
    seen : dict of str to int, optional
        `Preview.seen` of the preview that was looked at; what differs now was changed by somebody else.
    replace : bool
        Whether what is kept already is replaced by the file; otherwise it is left as it stands.

    Raises
    ------
    InputError
        When a cell cannot be used.
    Changed
        When somebody else changed or removed meanwhile what the file speaks of.
    """
    read = read_properties(text, columns)
    zone = branch(store)[0].zone
    with store.session() as session:
        found = _preview(session, read, zone)
        if found.faults:
            raise InputError([blocked(found.faults)])
        if seen is not None:
            _same_as_seen(found, seen)
        return _stored(session, found, replace)


def _preview(session: Session, read: ReadFile, zone: str | None) -> Preview:
    stored = {name_key(item.name): item for item in kept.PROPERTIES.every(session)}
    names = kept.CUSTOMERS.names(session)
    matched = [item.slug for told in read.properties if (item := stored.get(name_key(told.name))) is not None]
    notes = {slug: [of_stored(item) for item in told] for slug, told in kept.notes_of(session, matched).items()}
    lacks_zone = zone is not None and "zone" not in read.columns
    rows, faults, by_branch = [], list(read.faults), 0
    for told in read.properties:
        match = stored.get(name_key(told.name))
        of_branch = zone if lacks_zone and match is None else None
        try:
            row = _row(told, match, names, of_branch)
        except InputError as error:
            faults += [_cell_fault(told, fault.path, fault.message, read.columns) for fault in error.faults]
            continue
        lost = left_behind(row.property, notes.get(row.slug, ())) if row.status == "changed" else []
        faults += [CellFault(told.line, read.columns.get("area", ""), told.name, fault.message) for fault in lost]
        by_branch += of_branch is not None
        rows.append(row)
    people, more = _customers(session, read)
    notices = []
    if by_branch:
        notices.append(f"the file has no column for the zone; {by_branch} new get that of the branch, {zone}")
    seen = {row.slug: row.version for row in rows if row.slug}
    seen |= {f"{_OF_CUSTOMER}{person.slug}": person.version for person in people if person.slug}
    faults.sort(key=lambda fault: fault.line)
    return Preview(tuple(rows), tuple(people), (*faults, *more), read.columns, read.ignored, tuple(notices), seen)


def _row(told: ReadProperty, match: Stored | None, names: Mapping[str, str], zone: str | None) -> PropertyRow:
    before = of_stored_property(match).property if match is not None else None
    document = before.model_dump(mode="json", by_alias=True) if before is not None else {"zone": zone}
    areas = _areas(told, before)
    found = checked_property({**document, **told.told, "name": told.name, "areas": areas})
    if before is None or match is None:
        return PropertyRow(told.line, found, told.customer, "new", "", 0, ())
    changes = _changes(before, found)
    owner = names.get(before.customer or "", "")
    if told.customer is not None and name_key(told.customer) != name_key(owner):
        changes.append(f"customer: {told.customer or 'none'} instead of {owner or 'none'}")
    status: Status = "changed" if changes else "unchanged"
    return PropertyRow(told.line, found, told.customer, status, match.slug, match.version, tuple(changes))


def _areas(told: ReadProperty, before: Property | None) -> list[dict[str, Any]]:
    """The areas of the file, over what is kept of each where the file has no column for it."""
    if before is not None and not told.areas:
        # A file that tells nothing of areas takes none away.
        return [area.model_dump(mode="json") for area in before.areas]
    if before is not None and told.unnamed and len(told.areas) == 1 and before.areas:
        return _of_the_one_area(told, before)
    found = []
    for area in told.areas:
        match = None
        if before is not None:
            ids = {other.id: other for other in before.areas}
            names = {name_key(other.name): other for other in before.areas}
            match = ids.get(area.get("id") or "") or names.get(name_key(area["name"]))
        stored = match.model_dump(mode="json") if match is not None else {}
        merged = {**stored, **area}
        merged["id"] = area.get("id") or stored.get("id")
        found.append(merged)
    return found


def _of_the_one_area(told: ReadProperty, before: Property) -> list[dict[str, Any]]:
    """What a row without the name of an area tells of the one area that is kept."""
    if len(before.areas) > 1:
        names = ", ".join(area.name for area in before.areas)
        raise InputError(
            [FieldFault("areas.0.name", f"is not told, and {before.name} has {names}; name the one meant")]
        )
    (area,) = before.areas
    return [{**area.model_dump(mode="json"), **told.areas[0], "id": area.id, "name": area.name}]


def _changes(before: Property, after: Property) -> list[str]:
    """What differs between a property as kept and as the file has it, in words."""
    changes = []
    for name in Property.model_fields:
        if name not in ("areas", "customer") and getattr(before, name) != getattr(after, name):
            changes.append(_COLUMN_OF.get(name, name).replace("_", " "))
    old, new = {area.id: area for area in before.areas}, {area.id: area for area in after.areas}
    changes += [f"new area {area.name}" for key, area in new.items() if key not in old]
    changes += [f"area {area.name} goes" for key, area in old.items() if key not in new]
    for key in (key for key in new if key in old and new[key] != old[key]):
        fields = [name for name in type(new[key]).model_fields if getattr(new[key], name) != getattr(old[key], name)]
        words = ", ".join(_COLUMN_OF_AREA.get(name, name).replace("_", " ") for name in fields)
        changes.append(f"{new[key].name}: {words}")
    if not changes and before.areas != after.areas:
        changes.append("order of the areas")
    return changes


def _cell_fault(told: ReadProperty, path: str, message: str, columns: Mapping[str, str]) -> CellFault:
    parts = path.split(".")
    line, column = told.line, _COLUMN_OF.get(parts[0], parts[0])
    if parts[0] == "areas" and len(parts) > 1:
        line = told.area_lines[int(parts[1])] if int(parts[1]) < len(told.area_lines) else line
        column = _COLUMN_OF_AREA.get(parts[2] if len(parts) > 2 else "name", "area")
        column = "unit" if parts[-1] == "unit" and "unit" in columns else column
    return CellFault(line, columns.get(column, column), told.name, message)


def _customers(session: Session, read: ReadFile) -> tuple[list[CustomerRow], list[CellFault]]:
    """The customers of the file who are new, or of whom it tells something else; and what cannot be used of them."""
    stored = {name_key(item.name): item for item in kept.CUSTOMERS.every(session)}
    found: list[CustomerRow] = []
    faults = []
    looked_at = set[str]()
    for told in read.properties:
        key = name_key(told.customer or "")
        if not key or key in looked_at:
            continue
        looked_at.add(key)
        match = stored.get(key)
        before = customers.kept_customer(match) if match is not None else None
        document = before.model_dump(mode="json") if before is not None else {"name": told.customer}
        try:
            after = validated(Customer, {**document, **told.of_customer})
        except InputError as error:
            columns = {key: column for column, key in OF_CUSTOMER.items()} | {"name": "customer"}
            faults += [
                CellFault(told.line, columns.get(fault.path, fault.path), told.name, fault.message)
                for fault in error.faults
            ]
            continue
        if before is None or match is None:
            found.append(CustomerRow(after, "", 0, ()))
        elif after != before:
            changes = [name for name in Customer.model_fields if getattr(after, name) != getattr(before, name)]
            found.append(CustomerRow(after, match.slug, match.version, tuple(changes)))
    return found, faults


def _same_as_seen(found: Preview, seen: dict[str, int]) -> None:
    other = [key for key, version in found.seen.items() if seen.get(key) != version]
    gone = [key for key in seen if key not in found.seen]
    if not other and not gone:
        return
    names = [row.property.name for row in found.rows if row.slug in other]
    names += [person.customer.name for person in found.customers if f"{_OF_CUSTOMER}{person.slug}" in other]
    names += [key.removeprefix(_OF_CUSTOMER) for key in gone]
    shown = ", ".join(names[:_NAMED]) + (f" and {len(names) - _NAMED} more" if len(names) > _NAMED else "")
    raise Changed("property", (other or gone)[0], shown, {} if other else None, None)


def _stored(session: Session, found: Preview, replace: bool) -> Imported:
    now = datetime.now(UTC)
    fresh = [person for person in found.customers if not person.slug]
    kept.CUSTOMERS.insert(
        session, [(person.customer.name, customers.document_of(person.customer), {}) for person in fresh], now
    )
    told = [person for person in found.customers if person.slug] if replace else []
    kept.CUSTOMERS.update_all(
        session,
        [
            (person.slug, person.customer.name, customers.document_of(person.customer), person.version, {})
            for person in told
        ],
        now,
    )
    names = kept.CUSTOMERS.names(session)
    ids = {name_key(name): slug for slug, name in names.items()}

    def owned(row: PropertyRow) -> tuple[str, dict[str, Any], dict[str, Any]]:
        owner = row.property.customer if row.customer is None else ids.get(name_key(row.customer))
        place = row.property.model_copy(update={"customer": owner})
        name, columns = columns_of(session, place, names)
        return name, document_of(place), columns

    kept.PROPERTIES.insert(session, [owned(row) for row in found.of("new")], now)
    changed = found.of("changed")
    if replace:
        updates = []
        for row in changed:
            name, document, columns = owned(row)
            updates.append((row.slug, name, document, row.version, columns))
        kept.PROPERTIES.update_all(session, updates, now)
    replaced = len(changed) if replace else 0
    return Imported(
        len(found.of("new")), replaced, len(changed) - replaced, len(found.of("unchanged")), len(fresh) + len(told)
    )


def keep_pending(
    store: Store, text: str, seen: dict[str, int], columns: Mapping[str, str] | None = None, *, kind: pending.Kind
) -> str:
    """Keep an uploaded file until it is confirmed; the key under which it is found."""
    told = json.dumps({"text": text, "columns": dict(columns or {})}, ensure_ascii=False)
    with store.session() as session:
        return pending.keep(session, told, seen, datetime.now(UTC), kind=kind)


def pending_file(store: Store, key: str, kind: pending.Kind) -> PendingFile:
    """An uploaded file that waits for its confirmation.

    Raises
    ------
    InputError
        When it waited too long or was confirmed already.
    """
    with store.reading() as session:
        found = pending.found(session, key, datetime.now(UTC), kind=kind)
    if found is None:
        raise refused("the file waited longer than two hours, or was imported already; choose it again")
    told = json.loads(found.text)
    return PendingFile(told["text"], told["columns"], found.seen)


def forget_pending(store: Store, key: str, kind: pending.Kind) -> None:
    """Forget an uploaded file."""
    with store.session() as session:
        pending.forget(session, key, kind=kind)


def rows_by_status(rows: Iterable[PropertyRow]) -> dict[str, tuple[PropertyRow, ...]]:
    """Properties of a preview by what becomes of them."""
    told = tuple(rows)
    return {status: tuple(row for row in told if row.status == status) for status in ("changed", "new", "unchanged")}
