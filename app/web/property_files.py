"""Properties and scouting notes from a file: which column is which, a preview, and the confirmation; and as files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError
from app.services import properties, property_import, scouting, scouting_csv
from app.services.csv_columns import Headings
from app.services.csv_text import MAX_BYTES, decoded
from app.services.property_columns import NOTES, PROPERTIES
from app.services.property_csv import MAX_ROWS, headings_of, write_properties
from app.store.changed import Changed
from app.store.pending import Kind
from app.web.files import csv_answer
from app.web.place_columns import NOTE_COLUMNS, PROPERTY_COLUMNS, Column
from app.web.security import here

blueprint = Blueprint("property_files", __name__)
Page = str | BaseResponse | tuple[str, int]
_MOST_LISTED = 200


@dataclass(frozen=True)
class FileKind:
    """A kind of file: its headings, its columns in words, and what one row of it is called."""

    kind: Kind
    headings: Headings
    columns: tuple[Column, ...]
    one: str
    many: str

    def counted(self, count: int) -> str:
        """So many, in words."""
        return f"{count:,} {self.one if count == 1 else self.many}"


KINDS = {
    "properties": FileKind("properties", PROPERTIES, PROPERTY_COLUMNS, "property", "properties"),
    "notes": FileKind("notes", NOTES, NOTE_COLUMNS, "note", "notes"),
}


@blueprint.get("/properties.csv")
def export() -> Response:
    """Every property as a file."""
    return csv_answer(properties.export_csv(here()), "properties.csv")


@blueprint.get("/properties/notes.csv")
def export_notes() -> Response:
    """Every scouting note as a file."""
    return csv_answer(scouting_csv.export_notes(here()), "scouting-notes.csv")


@blueprint.get("/properties/template.csv")
def template() -> Response:
    """A file of properties with the headings alone."""
    return csv_answer(write_properties(()), "properties-template.csv")


@blueprint.get("/properties/notes-template.csv")
def notes_template() -> Response:
    """A file of notes with the headings alone."""
    return csv_answer(scouting_csv.notes_headings(), "scouting-notes-template.csv")


@blueprint.get("/properties/import")
def choose_file() -> str:
    """Where a file is chosen, and what it must look like."""
    return _chooser(_kind(request.args.get("kind", "")), "")


@blueprint.post("/properties/import")
def preview() -> Page:
    """What importing the chosen file would do; nothing is kept but the file, for its confirmation."""
    kind, chosen = _kind(request.form.get("kind", "")), request.files.get("file")
    if chosen is None or not chosen.filename:
        return _chooser(kind, "choose a file first"), 422
    try:
        text = decoded(chosen.stream.read(MAX_BYTES + 1))
        headings = headings_of(text)
    except InputError as error:
        return _chooser(kind, error.faults[0].message), 422
    guessed = kind.headings.guessed(headings)
    if request.form.get("ask_columns") == "yes":
        return _columns(kind, _waiting(kind, text), headings, guessed)
    try:
        kind.headings.at(headings)
    except InputError as error:
        return _columns(kind, _waiting(kind, text), headings, guessed, why=error.faults[0].message), 422
    try:
        return _previewed(kind, text, {})
    except InputError as error:
        return _chooser(kind, error.faults[0].message), 422


@blueprint.post("/properties/import/columns")
def preview_by_columns() -> Page:
    """The preview once it was told which column is which."""
    kind, key = _kind(request.form.get("kind", "")), request.form.get("key", "")
    try:
        waiting = property_import.pending_file(here(), key, kind.kind)
        headings = headings_of(waiting.text)
    except InputError as error:
        return _chooser(kind, error.faults[0].message), 422
    told = {column.name: request.form.get(f"columns.{column.name}", "") for column in kind.columns}
    try:
        kind.headings.at(headings, told)
    except InputError as error:
        faults = {fault.path: fault.message for fault in error.faults if fault.path.startswith("columns.")}
        why = "" if faults else error.faults[0].message
        return _columns(kind, key, headings, told, why=why, faults=faults), 422
    try:
        page = _previewed(kind, waiting.text, told)
    except InputError as error:
        return _chooser(kind, error.faults[0].message), 422
    property_import.forget_pending(here(), key, kind.kind)
    return page


@blueprint.post("/properties/import/confirm")
def confirm() -> Page:
    """Import the file that was previewed: all of it, or nothing."""
    kind, key = _kind(request.form.get("kind", "")), request.form.get("key", "")
    replace = request.form.get("replace") == "yes"
    try:
        waiting = property_import.pending_file(here(), key, kind.kind)
    except InputError as error:
        return _chooser(kind, error.faults[0].message), 422
    text, columns = waiting.text, waiting.columns
    done: property_import.Imported | scouting_csv.NotesImported
    try:
        if kind.kind == "notes":
            done = scouting_csv.confirm(here(), text, columns, waiting.seen, replace=replace, today=date.today())
        else:
            done = property_import.confirm(here(), text, columns, waiting.seen, replace=replace)
    except InputError as error:
        return _previewed(kind, text, columns, error.faults[0].message), 422
    except Changed as changed:
        return _previewed(kind, text, columns, f"{changed}. This is how it stands now"), 409
    property_import.forget_pending(here(), key, kind.kind)
    counts = {name: getattr(done, name) for name in ("new", "replaced", "left", "unchanged")}
    return redirect(f"/properties/import/done?{urlencode({'kind': kind.kind, **counts})}", code=303)


@blueprint.get("/properties/import/done")
def imported() -> str:
    """What was imported."""
    told = {name: request.args.get(name, "0") for name in ("new", "replaced", "left", "unchanged")}
    counts = {
        name: int(text) if text.isascii() and text.isdecimal() and len(text) < 7 else 0 for name, text in told.items()
    }
    return render_template("place_imported.html", counts=counts, kind=_kind(request.args.get("kind", "")))


def _kind(told: str) -> FileKind:
    return KINDS.get(told, KINDS["properties"])


def _waiting(kind: FileKind, text: str) -> str:
    return property_import.keep_pending(here(), text, {}, kind=kind.kind)


def _chooser(kind: FileKind, fault: str) -> str:
    return render_template(
        "place_import.html",
        fault=fault,
        kind=kind,
        kinds=KINDS,
        most_rows=MAX_ROWS,
        most_bytes=MAX_BYTES,
    )


def _columns(
    kind: FileKind,
    key: str,
    headings: tuple[str, ...],
    told: Mapping[str, str],
    *,
    why: str = "",
    faults: dict[str, str] | None = None,
) -> str:
    return render_template(
        "place_columns.html",
        kind=kind,
        key=key,
        headings={heading: heading for heading in headings if heading},
        typed={f"columns.{name}": heading for name, heading in told.items()},
        labels_of={f"columns.{column.name}": column.label for column in kind.columns},
        why=why,
        faults=faults or {},
        against={},
    )


def _previewed(kind: FileKind, text: str, columns: Mapping[str, str], why: str = "") -> str:
    """The preview, with the file kept under a new key for its confirmation."""
    found: property_import.Preview | scouting_csv.NotesPreview
    if kind.kind == "notes":
        found = scouting_csv.preview(here(), text, columns, date.today())
        shown = {name: found.of(name) for name in ("changed", "new", "unchanged")}
        told: dict[str, Any] = {"shown": shown, "remarks": (), "people": ()}
    else:
        found = property_import.preview(here(), text, columns)
        told = {"shown": property_import.rows_by_status(found.rows), "remarks": found.notices}
        told["people"] = found.customers
    return render_template(
        "place_preview.html",
        kind=kind,
        found=found,
        key=property_import.keep_pending(here(), text, found.seen, columns, kind=kind.kind),
        why=why,
        most=_MOST_LISTED,
        weed_words=lambda note: scouting.weed_name(note.weed),
        **told,
    )
