"""Trials from a file of plots: which column is which, a preview, and the confirmation."""

from __future__ import annotations

from collections.abc import Mapping
from typing import cast

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError
from app.services import knowledge_service, trial_import, trials
from app.services.csv_text import MAX_BYTES, decoded
from app.services.trial_columns import KNOWN, columns_of, guessed_columns
from app.services.trial_csv import MAX_ROWS, headings_of
from app.services.trial_moves import moves_of_trial
from app.services.trial_write import write_trials
from app.store.changed import Changed
from app.trials.trial import Design
from app.web import trial_show
from app.web.files import csv_answer
from app.web.security import here
from app.web.trial_moved import unused_words
from app.web.trial_words import COLUMNS, LABELS

blueprint = Blueprint("trial_files", __name__)
Page = str | BaseResponse | tuple[str, int]
_MOST_LISTED = 200
_UNREAD = trial_import.Preview((), (), (), {}, (), ())
_DESIGNS = {"rcbd": "randomised complete blocks", "crd": "completely randomised"}


@blueprint.get("/trials.csv")
def export() -> Response:
    """Every kept trial as a file of plots."""
    return csv_answer(write_trials(trials.every_trial(here())), "trials.csv")


@blueprint.get("/trials/template.csv")
def template() -> Response:
    """A file with the headings alone."""
    return csv_answer(write_trials(()), "trials-template.csv")


@blueprint.get("/trials/import")
def choose_file() -> str:
    """Where a file is chosen, and what it must look like."""
    return _chooser("")


@blueprint.post("/trials/import")
def preview() -> Page:
    """What was understood of the chosen file; nothing is kept but the file, for its confirmation."""
    chosen = request.files.get("file")
    if chosen is None or not chosen.filename:
        return _chooser("choose a file first"), 422
    try:
        text = decoded(chosen.stream.read(MAX_BYTES + 1))
        headings = headings_of(text)
    except InputError as error:
        return _chooser(error.faults[0].message), 422
    if request.form.get("ask_columns") == "yes":
        return _columns(_waiting(text), headings, guessed_columns(headings))
    try:
        columns_of(headings)
    except InputError as error:
        return _columns(_waiting(text), headings, guessed_columns(headings), why=error.faults[0].message), 422
    try:
        return _previewed(text, {}, None)
    except InputError as error:
        if faults := _of_columns(error):
            return _columns(_waiting(text), headings, guessed_columns(headings), faults=faults), 422
        return _chooser(error.faults[0].message), 422


@blueprint.post("/trials/import/columns")
def preview_by_columns() -> Page:
    """The preview once it was told which column is which."""
    key = request.form.get("key", "")
    try:
        waiting = trial_import.pending_file(here(), key)
        headings = headings_of(waiting.text)
    except InputError as error:
        return _chooser(error.faults[0].message), 422
    told = {name: request.form.get(f"columns.{name}", "") for name in KNOWN}
    design = request.form.get("design", "")
    try:
        columns_of(headings, told)
    except InputError as error:
        faults = _of_columns(error)
        why = "" if faults else error.faults[0].message
        return _columns(key, headings, told, why=why, faults=faults, design=design), 422
    try:
        shown = _previewed(waiting.text, told, cast("Design | None", design if design in _DESIGNS else None))
    except InputError as error:
        if faults := _of_columns(error):
            return _columns(key, headings, told, faults=faults, design=design), 422
        return _chooser(error.faults[0].message), 422
    trial_import.forget_pending(here(), key)
    return shown


@blueprint.post("/trials/import/confirm")
def confirm() -> Page:
    """Keep the trials of the file that was previewed: all of them, or none."""
    key, replace = request.form.get("key", ""), request.form.get("replace") == "yes"
    try:
        waiting = trial_import.pending_file(here(), key)
    except InputError as error:
        return _chooser(error.faults[0].message), 422
    text, columns, design = waiting.text, waiting.columns, waiting.design
    try:
        done = trial_import.confirm(here(), text, columns, waiting.seen, design=design, replace=replace)
    except InputError as error:
        return _previewed(text, columns, design, error.faults[0].message), 422
    except Changed as changed:
        return _previewed(text, columns, design, f"{changed}. This is how it stands now"), 409
    trial_import.forget_pending(here(), key)
    kept = (*done.new, *done.replaced, *done.unchanged)
    if len(kept) == 1:
        return redirect(f"/trials/{kept[0]}?told=kept", code=303)
    counts = f"new={len(done.new)}&replaced={len(done.replaced)}&unchanged={len(done.unchanged)}"
    return redirect(f"/trials?told=imported&{counts}", code=303)


def _of_columns(error: InputError) -> dict[str, str]:
    """What is wrong with the columns as they were taken, by field."""
    return {fault.path: fault.message for fault in error.faults if fault.path.startswith("columns.")}


def _waiting(text: str) -> str:
    return trial_import.keep_pending(here(), text, _UNREAD)


def _chooser(fault: str) -> str:
    return render_template("trial_import.html", fault=fault, columns=COLUMNS, most_rows=MAX_ROWS, most_bytes=MAX_BYTES)


def _columns(
    key: str,
    headings: tuple[str, ...],
    told: Mapping[str, str],
    *,
    why: str = "",
    faults: dict[str, str] | None = None,
    design: str = "",
) -> str:
    return render_template(
        "trial_columns.html",
        key=key,
        headings={heading: heading for heading in headings if heading},
        columns=COLUMNS,
        labels_of_columns=LABELS,
        designs=_DESIGNS,
        typed={**{f"columns.{name}": heading for name, heading in told.items()}, "design": design},
        why=why,
        faults=faults or {},
    )


def _previewed(text: str, columns: Mapping[str, str], design: Design | None, why: str = "") -> str:
    """The preview, with the file kept under a new key for its confirmation."""
    base = knowledge_service.knowledge_base()
    found = trial_import.preview(here(), text, columns, design)
    told = [(item, moves_of_trial(here(), item.slug, item.moves)) for item in found.trials]
    return render_template(
        "trial_preview.html",
        found=found,
        trials=told,
        key=trial_import.keep_pending(here(), text, found, columns, design),
        why=why,
        most=_MOST_LISTED,
        labels_of_columns=LABELS,
        silent_words=lambda items: trial_show.silent_words(items, base),
        unused_words=lambda items: unused_words(base, items, of_trial=True),
        **trial_show.WORDS,
    )
