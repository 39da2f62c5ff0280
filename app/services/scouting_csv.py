"""A file of scouting notes: read, previewed, imported all or nothing, and written."""

from __future__ import annotations

import csv
import io
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from datetime import date as Date
from typing import Any, Literal

from sqlalchemy.orm import Session

from app.engine.errors import InputError
from app.season.property import Property, ScoutingNote
from app.services.csv_columns import shown
from app.services.csv_text import guarded, parting, records, refused, unguarded
from app.services.label_text import Unreadable, number, written
from app.services.place_names import STAGE_IDS
from app.services.properties import of_stored_property
from app.services.property_columns import NOTE_HEADINGS, NOTES
from app.services.property_csv import CellFault, blocked
from app.services.scouting import KeptNote, checked_note, document_of, of_stored
from app.services.trial_names import plain
from app.store import properties as kept
from app.store.changed import Changed
from app.store.keyed import is_key
from app.store.names import name_key
from app.store.opening import Store

MAX_ROWS = 20_000
Status = Literal["new", "changed", "unchanged"]
_NAMED, _MOST_FAULTS = 3, 200
_FIELD_OF = {"note": "text"}
_COLUMN_OF = {"text": "note"}
_COUNTS, _FIGURES = ("tillers", "leaves"), ("cover_pct", "priority")


@dataclass(frozen=True)
class NoteRow:
    """A note of the file and what importing it would do; `key` is empty where it is new and has none of its own."""

    line: int
    place: str
    note: ScoutingNote
    status: Status
    key: str
    version: int


@dataclass(frozen=True)
class NotesPreview:
    """What importing a file of notes would do."""

    rows: tuple[NoteRow, ...]
    faults: tuple[CellFault, ...]
    columns: dict[str, str]
    ignored: tuple[str, ...]
    seen: dict[str, int] = field(default_factory=dict)

    def of(self, status: Status) -> tuple[NoteRow, ...]:
        """The notes of a status."""
        return tuple(row for row in self.rows if row.status == status)


@dataclass(frozen=True)
class NotesImported:
    """How many notes are new, were replaced, were left as they stood, and were found unchanged."""

    new: int
    replaced: int
    left: int
    unchanged: int


def preview(
    store: Store, text: str, columns: Mapping[str, str] | None = None, today: Date | None = None
) -> NotesPreview:
    """What importing a file of notes would do; nothing is stored.

    Raises
    ------
    InputError
        When the file as a whole cannot be used.
    """
    with store.reading() as session:
        return _preview(session, text, columns, today)


def confirm(
    store: Store,
    text: str,
    columns: Mapping[str, str] | None = None,
    seen: dict[str, int] | None = None,
    *,
    replace: bool = False,
    today: Date | None = None,
) -> NotesImported:
    """Import a file of notes: all that it may change, or nothing.

    Raises
    ------
    InputError
        When a cell cannot be used.
    Changed
        When somebody else changed meanwhile what the file speaks of.
    """
    now = datetime.now(UTC)
    with store.session() as session:
        found = _preview(session, text, columns, today)
        if found.faults:
            raise InputError([blocked(found.faults)])
        other = [key for key, version in found.seen.items() if (seen or found.seen).get(key) != version]
        if other:
            names = ", ".join(f"the note in line {row.line}" for row in found.rows if row.key in other[:_NAMED])
            raise Changed("scouting note", other[0], names, {}, None)
        for row in found.of("new"):
            columns_of = {"property": row.note.property, "day": row.note.date}
            kept.NOTES.keep(session, row.key or secrets.token_hex(12), document_of(row.note), columns_of, now)
        changed = found.of("changed") if replace else ()
        for row in changed:
            columns_of = {"property": row.note.property, "day": row.note.date}
            kept.NOTES.update(session, row.key, document_of(row.note), row.version, now, columns_of)
    left = len(found.of("changed")) - len(changed)
    return NotesImported(len(found.of("new")), len(changed), left, len(found.of("unchanged")))


def _preview(session: Session, text: str, columns: Mapping[str, str] | None, today: Date | None) -> NotesPreview:
    found = records(text, parting(text, lambda cell: NOTES.is_known(cell, columns)))
    _, header = next(found, (1, []))
    at = NOTES.at(header, columns)
    places = {}
    for item in kept.PROPERTIES.every(session):
        place = of_stored_property(item)
        places[name_key(item.name)] = places[item.slug] = (item.slug, place.property)
    before = [of_stored(item) for item in kept.every_note(session)]
    reader = _Reader({name: shown(header[index]) for name, index in at.items()}, places, before, today)
    for number_of, (line, row) in enumerate(found):
        if number_of == MAX_ROWS:
            raise refused(f"the file holds more than {MAX_ROWS:,} rows; split it into several")
        if len(row) > len(header) and any(cell.strip() for cell in row[len(header) :]):
            what = f"has {len(row)} cells where the headings name {len(header)}"
            reader.faults.append(CellFault(line, "", "", f"{what}; a cell with commas stands in quotation marks"))
            continue
        reader.row(line, {name: unguarded(row[index]).strip() for name, index in at.items() if index < len(row)})
    if not reader.rows and not reader.faults:
        raise refused("the file holds headings but no note")
    ignored = tuple(shown(head) for index, head in enumerate(header) if head.strip() and index not in at.values())
    seen = {row.key: row.version for row in reader.rows if row.version}
    return NotesPreview(tuple(reader.rows), tuple(reader.faults[:_MOST_FAULTS]), reader.columns, ignored, seen)


class _Reader:
    """Reads row after row; what it cannot read it notes by line and column."""

    def __init__(
        self,
        columns: dict[str, str],
        places: Mapping[str, tuple[str, Property]],
        before: Iterable[KeptNote],
        today: Date | None,
    ) -> None:
        self.columns, self.places, self.today = columns, places, today
        self.by_key = {item.key: item for item in before}
        self.by_what = {_what(item.note): item for item in self.by_key.values()}
        self.rows: list[NoteRow] = []
        self.faults: list[CellFault] = []
        self.taken: dict[object, int] = {}

    def row(self, line: int, told: Mapping[str, str]) -> None:
        """One row of the file."""
        name = told.get("property", "")
        found = self.places.get(name_key(name)) or self.places.get(name)
        if found is None:
            how = "import or add it first" if name else "name the property"
            self._blame(line, "property", name, f"'{name[:60]}' is no property that is kept; {how}")
            return
        slug, place = found
        match = self.by_key.get(told.get("key", ""))
        before = len(self.faults)
        payload = self._payload(line, name, told, place)
        stored = match.note.model_dump(mode="json") if match is not None else {}
        try:
            note = checked_note({**stored, **payload}, slug, place, self.today)
        except InputError as error:
            for fault in error.faults:
                self._blame(
                    line, _COLUMN_OF.get(fault.path.split(".")[0], fault.path.split(".")[0]), name, fault.message
                )
        if len(self.faults) > before:
            return
        match = match or (self.by_what.get(_what(note)) if not told.get("key") else None)
        if match is not None and not stored:
            # What the file has no column for stays as it is kept.
            note = note.model_copy(
                update={
                    key: getattr(match.note, key)
                    for key in type(note).model_fields
                    if key not in payload and key != "property"
                }
            )
        mark: object = match.key if match is not None else told.get("key") or _what(note)
        if mark in self.taken:
            self._blame(line, "", name, f"is the same note as line {self.taken[mark]}; give each note once")
            return
        self.taken[mark] = line
        status: Status = "new" if match is None else "unchanged" if match.note == note else "changed"
        key, version = (match.key, match.version) if match is not None else (told.get("key", ""), 0)
        self.rows.append(NoteRow(line, place.name, note, status, key, version))

    def _payload(self, line: int, name: str, told: Mapping[str, str], place: Property) -> dict[str, Any]:
        """The note as plain data; a cell that cannot be read is noted as a fault and left out."""
        payload: dict[str, Any] = {}
        for column, text in told.items():
            if column in ("property", "key"):
                continue
            try:
                payload[_FIELD_OF.get(column, column)] = _read(column, text)
            except Unreadable as error:
                self._blame(line, column, name, str(error))
        if not payload.get("area") and len(place.areas) == 1:
            payload["area"] = place.areas[0].id
        if (key := told.get("key", "")) and not is_key(key):
            self._blame(line, "key", name, "must be 8 to 64 small letters, digits or hyphens, or be left empty")
        for column in ("area", "weed", "date"):
            if not payload.get(column):
                payload.pop(column, None)
        return payload

    def _blame(self, line: int, column: str, name: str, message: str) -> None:
        self.faults.append(CellFault(line, self.columns.get(column, column), name, message))


def _read(column: str, text: str) -> Any:
    if column in _COUNTS:
        if text and not (text.isascii() and text.isdecimal()):
            raise Unreadable(f"'{text[:20]}' is no whole number")
        return int(text) if text else None
    if column in _FIGURES:
        empty = 1 if column == "priority" else None
        return number(text.rstrip("% ")) if text else empty
    if column == "stage":
        return STAGE_IDS.get(plain(text), text) or None
    if column == "resistant_to":
        return [part.strip() for part in text.split(",") if part.strip()]
    return (text or None) if column == "closed" else text


def _what(note: ScoutingNote) -> tuple[str, str, str, Date]:
    """What makes two notes the same where they carry no key."""
    return note.property, note.area, note.weed, note.date


def export_notes(store: Store) -> str:
    """Every note as a file, by property and then the oldest first."""
    with store.reading() as session:
        names = kept.PROPERTIES.names(session)
        notes = [of_stored(item) for item in kept.every_note(session)]
        areas = {
            item.slug: {area.id: area.name for area in of_stored_property(item).property.areas}
            for item in kept.PROPERTIES.by_slugs(session, [note.note.property for note in notes]).values()
        }
    return write_notes(notes, names, areas)


def write_notes(notes: Iterable[KeptNote], names: Mapping[str, str], areas: Mapping[str, Mapping[str, str]]) -> str:
    """The file with its headings; equal notes give equal text."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(NOTE_HEADINGS)
    for item in notes:
        note = item.note
        told = note.model_dump(mode="json")
        cells = {
            **{key: "" if told[key] is None else str(told[key]) for key in ("weed", "stage", "date", "by", "closed")},
            "property": names.get(note.property, note.property),
            "area": areas.get(note.property, {}).get(note.area, note.area),
            **{key: "" if told[key] is None else str(told[key]) for key in _COUNTS},
            **{key: "" if told[key] is None else written(told[key]) for key in _FIGURES},
            "resistant_to": ", ".join(note.resistant_to),
            "note": note.text,
            "key": item.key,
        }
        writer.writerow([guarded(cells[column]) for column in NOTE_HEADINGS])
    return text.getvalue()


def notes_headings() -> str:
    """A file with the headings alone."""
    return write_notes((), {}, {})
