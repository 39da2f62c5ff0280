"""The shelf as a file: export, and import by preview and confirmation."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError
from app.services import shelf, shelf_import
from app.services.csv_text import MAX_BYTES, decoded
from app.services.shelf_csv import COLUMNS, MAX_ROWS, write_csv
from app.store.changed import Changed
from app.web.files import csv_answer
from app.web.security import here

blueprint = Blueprint("shelf_files", __name__)
Page = str | BaseResponse | tuple[str, int]
# More rows than these are counted, not listed: a page of ten thousand is of no use on a phone.
_MOST_LISTED = 200


@blueprint.get("/shelf.csv")
def export() -> Response:
    """The whole shelf as a file."""
    return csv_answer(shelf.export_csv(here()), "shelf.csv")


@blueprint.get("/shelf/template.csv")
def template() -> Response:
    """A file with the headings alone."""
    return csv_answer(write_csv(()), "shelf-template.csv")


@blueprint.get("/shelf/import")
def choose_file() -> str:
    """Where a file is chosen, and what it must look like."""
    return _chooser("")


@blueprint.post("/shelf/import")
def preview() -> Page:
    """What importing the chosen file would do; nothing is put on the shelf."""
    chosen = request.files.get("file")
    if chosen is None or not chosen.filename:
        return _chooser("choose a file first"), 422
    try:
        text = decoded(chosen.stream.read(MAX_BYTES + 1))
        found = shelf_import.import_preview(here(), text)
    except InputError as error:
        return _chooser(error.faults[0].message), 422
    key = shelf_import.keep_pending(here(), text, found)
    return _previewed(found, key)


@blueprint.post("/shelf/import/confirm")
def confirm() -> Page:
    """Import the file that was previewed: all of it, or nothing."""
    key, leave_out = request.form.get("key", ""), request.form.get("leave_out") == "yes"
    try:
        waiting = shelf_import.pending_file(here(), key)
    except InputError as error:
        return _chooser(error.faults[0].message), 422
    try:
        done = shelf_import.import_confirm(here(), waiting.text, waiting.seen, leave_out_bad=leave_out)
    except (InputError, Changed) as error:
        again = shelf_import.import_preview(here(), waiting.text)
        said = error.faults[0].message if isinstance(error, InputError) else f"{error}. This is how it stands now"
        key = shelf_import.keep_pending(here(), waiting.text, again)
        return _previewed(again, key, said), 422 if isinstance(error, InputError) else 409
    shelf_import.forget_pending(here(), key)
    counts = f"new={done.new}&changed={done.changed}&unchanged={done.unchanged}&left_out={done.left_out}"
    return redirect(f"/shelf/import/done?{counts}", code=303)


@blueprint.get("/shelf/import/done")
def imported() -> str:
    """What was imported."""
    told = {name: request.args.get(name, "0") for name in ("new", "changed", "unchanged", "left_out")}
    counts = {name: int(value) if value.isdecimal() and len(value) < 7 else 0 for name, value in told.items()}
    return render_template("import_done.html", counts=counts)


def _chooser(fault: str) -> str:
    return render_template("import.html", fault=fault, columns=COLUMNS, most_rows=MAX_ROWS, most_bytes=MAX_BYTES)


def _previewed(found: shelf_import.Preview, key: str, said: str = "") -> str:
    shown: dict[str, Any] = {status: found.of(status) for status in ("bad", "changed", "new", "unchanged")}
    return render_template("import_preview.html", shown=shown, key=key, why=said, most=_MOST_LISTED)
