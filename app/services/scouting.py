"""Use cases of scouting notes: what weed somebody saw on which area of a property, and when it no longer counts."""

from __future__ import annotations

import secrets
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from datetime import date as Date
from typing import Any

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.situation import Target
from app.engine.understood import nearest, seen_faults, unknown_id
from app.season.property import Property, ScoutingNote
from app.services.knowledge_service import knowledge_base
from app.services.place_names import in_order, names, weed_id
from app.services.validation import validated
from app.store import properties as kept
from app.store.keyed import Stored
from app.store.names import name_key
from app.store.opening import Store

_SHOWN = 60
_LATEST, _OFTEN = 200, 6
_OF_TARGET = ("weed", "stage", "tillers", "leaves", "cover_pct", "priority", "resistant_to")
# Somebody further east may write down a day that has not begun here.
_AHEAD = timedelta(days=1)


@dataclass(frozen=True)
class KeptNote:
    """A note as it is kept."""

    key: str
    note: ScoutingNote
    version: int
    changed_at: datetime

    @property
    def open(self) -> bool:
        """Whether it counts."""
        return self.note.closed is None


def notes_of(store: Store, slug: str) -> tuple[KeptNote, ...]:
    """The notes of a property, open and closed, the latest first.

    Raises
    ------
    UnknownId
        When there is no such property.
    """
    with store.reading() as session:
        place(session, slug)
        return tuple(of_stored(item) for item in kept.notes_of(session, [slug]).get(slug, ()))


def open_notes_of(store: Store, slugs: Sequence[str]) -> dict[str, tuple[KeptNote, ...]]:
    """The open notes of these properties, by property, the latest first."""
    with store.reading() as session:
        found = kept.notes_of(session, slugs)
    told = {slug: tuple(note for item in notes if (note := of_stored(item)).open) for slug, notes in found.items()}
    return {slug: notes for slug, notes in told.items() if notes}


def often_noted(store: Store) -> tuple[str, ...]:
    """The weeds noted most among the latest notes, the most frequent first."""
    with store.reading() as session:
        latest = kept.NOTES.where(session, limit=_LATEST)
    counts = Counter(str(item.document.get("weed")) for item in latest)
    return tuple(weed for weed, _ in counts.most_common(_OFTEN))


def note(store: Store, slug: str, key: str) -> KeptNote:
    """One note of a property.

    Raises
    ------
    UnknownId
        When the property has no note of that key.
    """
    with store.reading() as session:
        return _one(session, slug, key)


def add_note(
    store: Store, slug: str, payload: Any, *, key: str | None = None, today: Date | None = None
) -> tuple[KeptNote, bool]:
    """Keep a new note; True beside it where it is new, False where this key was kept before.

    Parameters
    ----------
    payload : dict
        The note as plain data, its property left out; weed and area may be told by their names.
    key : str, optional
        Of the form, so that sending it twice keeps it once.
    today : date, optional
        No note is of a later day.

    Raises
    ------
    InputError
        With every field at fault.
    UnknownId
        When there is no such property.
    """
    with store.session() as session:
        told = checked_note(payload, slug, place(session, slug), today)
        columns = {"property": slug, "day": told.date}
        done, new = kept.NOTES.keep(
            session, key or secrets.token_hex(12), document_of(told), columns, datetime.now(UTC)
        )
        if not new and done.document.get("property") != slug:
            raise InputError([FieldFault("key", "stands for a note of another property; load the form again")])
    return of_stored(done), new


def change_note(
    store: Store, slug: str, key: str, payload: Any, version: int, *, today: Date | None = None
) -> KeptNote:
    """Change a note that stands at a version.

    Raises
    ------
    InputError
        With every field at fault.
    Changed
        When somebody else changed it meanwhile.
    UnknownId
        When there is no such property, or it has no note of that key.
    """
    with store.session() as session:
        _one(session, slug, key)
        told = checked_note(payload, slug, place(session, slug), today)
        columns = {"property": slug, "day": told.date}
        done = kept.NOTES.update(session, key, document_of(told), version, datetime.now(UTC), columns)
    return of_stored(done)


def close_note(store: Store, slug: str, key: str, version: int, day: Date) -> KeptNote:
    """Say that what a note tells no longer counts.

    Raises
    ------
    InputError
        For a day before it was seen.
    Changed
        When somebody else changed it meanwhile.
    UnknownId
        When the property has no note of that key.
    """
    with store.session() as session:
        before = _one(session, slug, key)
        told = before.note.model_copy(update={"closed": day})
        if faults := _day_faults(told, None):
            raise InputError(faults)
        done = kept.NOTES.update(session, key, document_of(told), version, datetime.now(UTC))
    return of_stored(done)


def checked_note(payload: Any, slug: str, where: Property, today: Date | None = None) -> ScoutingNote:
    """A note given as plain data, on a property.

    Raises
    ------
    InputError
        With every field at fault.
    """
    if not isinstance(payload, dict):
        raise InputError([FieldFault("", "the input must be a JSON object")])
    told, faults = {**payload, "property": slug}, list[FieldFault]()
    if isinstance(told.get("weed"), str) and told["weed"].strip():
        try:
            told["weed"] = weed_id("weed", told["weed"])
        except InputError as error:
            faults += error.faults
            told["weed"] = "not-known"
    if isinstance(told.get("area"), str) and told["area"].strip():
        told["area"], unknown = _area(told["area"], where)
        faults += unknown
    if isinstance(told.get("resistant_to"), list | tuple):
        told["resistant_to"] = [
            names().active(item) or item if isinstance(item, str) else item for item in told["resistant_to"]
        ]
    try:
        found = validated(ScoutingNote, told)
    except InputError as error:
        raise InputError(in_order([*faults, *error.faults], ScoutingNote.model_fields)) from error
    faults += [*_weed_faults(found, where), *_day_faults(found, today)] if not faults else _day_faults(found, today)
    if faults:
        raise InputError(in_order(faults, ScoutingNote.model_fields))
    return found


def _area(text: str, where: Property) -> tuple[str, list[FieldFault]]:
    key = next((area.id for area in where.areas if text == area.id or name_key(text) == name_key(area.name)), None)
    if key is not None:
        return key, []
    known = [area.name for area in where.areas]
    how = f"use {', '.join(known[:10])}" if known else "it has none yet; add one first"
    return "not-known", [FieldFault("area", f"'{text[:_SHOWN]}' is no area of {where.name}; {how}")]


def _weed_faults(told: ScoutingNote, where: Property) -> list[FieldFault]:
    base = knowledge_base()
    weed = base.weeds[told.weed]
    area = where.area_of(told.area)
    faults = [
        FieldFault("weed", f"{weed.name} is the turf of this area itself; name another weed, or correct the turf")
        for turf in (area.turf if area is not None else ())
        if turf in weed.same_species_turf
    ]
    faults += seen_faults("", Target(**{name: getattr(told, name) for name in _OF_TARGET}), weed)
    groups = {active.mechanism.group for active in base.actives.values()}
    return faults + [
        unknown_id(f"resistant_to.{number}", "active or mechanism group", item, base.actives)
        for number, item in enumerate(told.resistant_to)
        if item not in base.actives and item not in groups
    ]


def _day_faults(told: ScoutingNote, today: Date | None) -> list[FieldFault]:
    faults = []
    if today is not None and told.date > today + _AHEAD:
        faults.append(FieldFault("date", f"{told.date:%Y-%m-%d} lies ahead; write the day on which it was seen"))
    if told.closed is not None and told.closed < told.date:
        faults.append(FieldFault("closed", f"lies before {told.date:%Y-%m-%d}, when it was seen"))
    return faults


def place(session: Session, slug: str) -> Property:
    """The property of an id, within a session.

    Raises
    ------
    UnknownId
        With the three nearest, when there is none of that id.
    """
    try:
        found = kept.PROPERTIES.by_slug(session, slug)
    except UnknownId:
        known = kept.PROPERTIES.names(session)
        raise UnknownId("property", slug, nearest(slug, known), "that is kept") from None
    return Property.model_validate({**found.document, "name": found.name})


def _one(session: Session, slug: str, key: str) -> KeptNote:
    place(session, slug)
    try:
        found = kept.NOTES.by_key(session, key)
    except UnknownId:
        raise _unknown_note(slug, key) from None
    if found.document.get("property") != slug:
        raise _unknown_note(slug, key)
    return of_stored(found)


def _unknown_note(slug: str, key: str) -> UnknownId:
    return UnknownId("scouting note", key, (), f"of the property {slug}")


def document_of(told: ScoutingNote) -> dict[str, Any]:
    """A note as it is kept."""
    return told.model_dump(mode="json")


def of_stored(item: Stored) -> KeptNote:
    """The note of a kept document."""
    return KeptNote(item.key, ScoutingNote.model_validate(item.document), item.version, item.changed_at)


def weed_name(key: str) -> str:
    """The name of a weed; its id where the knowledge base has none of it any more."""
    known = knowledge_base().weed_names
    return known[key].name if key in known else key
