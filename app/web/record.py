"""The application record: the log, a record, and its form; nothing is ever removed."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError
from app.season.record import ApplicationRecord
from app.services import follow_ups, knowledge_service, properties, record_filling, record_log, records
from app.services.record_answers import log_asked
from app.services.record_words import differences, words_of
from app.services.validation import validated
from app.store.changed import Changed
from app.web import record_show
from app.web.conflict import Conflict, conflict
from app.web.files import csv_answer
from app.web.record_form import TypedRecord, label_of, labels_of, read_record, rows_of, shown, still_filled_in
from app.web.record_lists import choices, places
from app.web.security import here
from app.web.shelf import system
from knowledge.base import KnowledgeBase

blueprint = Blueprint("records", __name__)
Page = str | BaseResponse | tuple[str, int]
FILTERS = ("from", "to", "property", "technician", "round", "unfinished")
_TOLD = ("kept", "again", "changed", "unchanged", "void", "rated", "rating-changed", "rating-removed")


def base() -> KnowledgeBase:
    """The knowledge base."""
    return knowledge_service.knowledge_base()


def told() -> str:
    """What the last page has to be told of, where it is one of ours."""
    said = request.args.get("told", "")
    return said if said in _TOLD else ""


@blueprint.get("/record")
def log() -> Page:
    """The log: what is to be filled first, then the latest day first; whole and by day where it is to be printed."""
    asked = {name: request.args[name] for name in (*FILTERS, "page") if request.args.get(name)}
    whole, fault = request.args.get("all") == "1", {}
    try:
        wanted = log_asked(asked)
    except InputError as error:
        fault = {item.path: item.message for item in reversed(error.faults)}
        wanted = record_log.LogAsked()
    found = record_log.log(here(), wanted, unfinished_first=not whole, whole=whole)
    people, rounds = record_log.names_used(here())
    page = render_template(
        "record_log.html",
        found=found,
        rows=[record_show.row_of(item, base(), system()) for item in found.records],
        asked=asked,
        faults=fault,
        whole=whole,
        period=record_show.period_words(wanted, found.records),
        due=follow_ups.due_follow_ups(here(), date.today()),
        today=date.today(),
        property_choices={item.slug: item.property.name for item in properties.every(here())},
        people=people,
        rounds=rounds,
        query=urlencode({name: asked[name] for name in FILTERS if name in asked}),
        **usual_rules(),
    )
    return (page, 422) if fault else page


def usual_rules() -> dict[str, Any]:
    """The sources of what the usual rules ask for, and their numbers."""
    found = dict.fromkeys(c.id for item in base().records.values() if item.asked == "usual" for c in item.sources)
    return {"rules": list(found), "numbers": {key: number for number, key in enumerate(found, start=1)}}


@blueprint.get("/record.csv")
def export() -> Response:
    """The log as a file, one row a product."""
    asked = log_asked({name: request.args.get(name) for name in FILTERS})
    return csv_answer(record_log.log_csv(here(), asked), "records.csv")


@blueprint.get("/record/new")
def new() -> str:
    """The form of a new record: today, and the property where one is named."""
    first = {"date": f"{date.today()}", "key": secrets.token_hex(12), "application": "1"}
    named, area = request.args.get("property", ""), request.args.get("area", "")
    if named:
        first["where"] = next((key for key in places(here(), None) if key == f"{named}|{area}"), f"{named}|")
    return form(TypedRecord({**first, **_suggested()}, labels=labels_of(records.branch_of(here()), None)), None)


def _suggested() -> dict[str, str]:
    """The branch's only technician, where there is one."""
    people = records.branch_of(here()).technicians
    return {"applicator": people[0].name} if len(people) == 1 else {}


@blueprint.post("/record/new")
def add() -> Page:
    """Keep a new record, gaps and all; once however often its form is sent."""
    typed = read_record(request.form, None, records.branch_of(here()), base())
    if request.form.get("act") == "rows":
        return form(typed, None, more=True)
    key = typed.fields.get("key", "")
    try:
        record = _checked(typed)
        record = record_filling.filled_in(here(), record)
        kept = records.keep(here(), key, record, datetime.now(UTC))
    except InputError as error:
        typed.blame(error.faults)
        return form(typed, None), 422
    if kept.differs:
        stands = kept.record.model_dump(mode="json", exclude_none=True)
        changed = Changed("record", key, "this record", stands, kept.version)
        return _conflicting(typed, record, changed), 409
    return redirect(f"/record/{key}?told={'kept' if kept.new else 'again'}", code=303)


def _checked(typed: TypedRecord) -> ApplicationRecord:
    """The record that was typed.

    Raises
    ------
    InputError
        For what could not be read, or cannot be used.
    """
    try:
        record = records.checked_record(typed.payload)
    except InputError as error:
        typed.blame(error.faults)
        raise
    if typed.faults:
        raise _Unread
    return record


class _Unread(InputError):
    """Something typed could not be read; its faults stand at their fields already."""

    def __init__(self) -> None:
        Exception.__init__(self, "something typed cannot be read")
        self.faults = ()


@blueprint.get("/record/<key>")
def one(key: str) -> str:
    """A record: what is missing first, then everything that was told, what was seen after it, and its history."""
    kept = records.one(here(), key)
    labels = labels_of(records.branch_of(here()), kept.record)
    gaps = [(record_show.field_of_gap(gap, labels), gap.name) for gap in kept.gaps]
    return render_template(
        "record.html",
        kept=kept,
        record=kept.record,
        gaps=gaps,
        facts=record_show.facts_of(kept.record, base(), system()),
        filled_in=record_show.filled_in_words(kept.record, base()),
        history=record_show.history_of(records.history(here(), key), base(), system()),
        seen=follow_ups.follow_ups_of(here(), key),
        weed_names=base().weed_names,
        due=[item for item in follow_ups.due_follow_ups(here(), date.today()) if item.key == key],
        today=date.today(),
        told=told(),
        **usual_rules(),
    )


@blueprint.get("/record/<key>/edit")
def edit(key: str) -> Page:
    """The form of a record that is kept."""
    kept = records.one(here(), key)
    if not kept.record.live:
        return redirect(f"/record/{key}", code=303)
    branch = records.branch_of(here())
    typed = TypedRecord(shown(kept.record, branch, base(), system()), labels=labels_of(branch, kept.record))
    return form(typed, kept.record, key=key, version=kept.version)


@blueprint.post("/record/<key>/edit")
def change(key: str) -> Page:
    """Change a record, unless somebody else was quicker."""
    version, stands = version_of(request.form), records.one(here(), key)
    typed = read_record(request.form, stands.record, records.branch_of(here()), base())
    if request.form.get("act") == "rows":
        return form(typed, stands.record, key=key, version=version, more=True)
    by, why = typed.fields.get("by", ""), typed.fields.get("why", "")
    try:
        record = _checked(typed)
        record = record.model_copy(update={"filled_in": still_filled_in(stands.record, record)})
        record, paths = record_filling.with_actives(here(), record)
        record = record.model_copy(update={"filled_in": tuple(dict.fromkeys([*record.filled_in, *paths]))})
        kept = records.change(here(), key, record, version, by, why, datetime.now(UTC))
    except InputError as error:
        typed.blame(error.faults)
        return form(typed, stands.record, key=key, version=version), 422
    except Changed as changed:
        return _conflicting(typed, record, changed), 409
    return redirect(f"/record/{key}?told={'unchanged' if kept.version == version else 'changed'}", code=303)


def _conflicting(typed: TypedRecord, mine: ApplicationRecord, changed: Changed) -> str:
    """The form with what was typed, under what differs from what is kept now."""
    theirs = validated(ApplicationRecord, changed.stored)
    say, weather = record_show.say_in(system()), record_show.say_weather_in(system())
    words = [dict(words_of(record, base(), say, weather)) for record in (mine, theirs)]
    shown_conflict = conflict(changed, differences(*words), f"/record/{changed.key}")
    return form(typed, theirs, key=changed.key, version=changed.version or 0, conflicting=shown_conflict)


@blueprint.get("/record/<key>/void")
def ask_to_void(key: str) -> str:
    """Ask why a record does not count."""
    return _void_page(key, {})


@blueprint.post("/record/<key>/void")
def void(key: str) -> Page:
    """Say of a record that it does not count; it stays with its reason."""
    typed = {name: request.form.get(name, "").strip() for name in ("by", "why")}
    try:
        records.void(here(), key, version_of(request.form), typed["by"], typed["why"], datetime.now(UTC))
    except InputError as error:
        return _void_page(key, typed, {item.path: item.message for item in reversed(error.faults)}), 422
    except Changed:
        return _void_page(key, typed, meanwhile=True), 409
    return redirect(f"/record/{key}?told=void", code=303)


def _void_page(
    key: str, typed: Mapping[str, str], faults: Mapping[str, str] | None = None, *, meanwhile: bool = False
) -> str:
    kept = records.one(here(), key)
    return render_template(
        "record_void.html",
        record=kept.record,
        key=key,
        version=kept.version,
        typed=typed,
        faults=faults or {},
        meanwhile=meanwhile,
        facts=record_show.facts_of(kept.record, base(), system()),
    )


def version_of(typed: Mapping[str, str]) -> int:
    """The version that a form carries."""
    text = typed.get("version", "")
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else 0


def form(
    typed: TypedRecord,
    stands: ApplicationRecord | None,
    *,
    key: str = "",
    version: int = 0,
    conflicting: Conflict | None = None,
    more: bool = False,
) -> str:
    """The form of a record with what was typed; of a new one where there is no key."""
    faults = {} if more else typed.faults
    return render_template(
        "record_form.html",
        typed=typed.fields,
        faults=faults,
        key=key,
        version=version,
        conflict=conflicting,
        rows=rows_of(typed.fields),
        extra=typed.labels,
        place_choices=places(here(), stands),
        label_of=lambda name: label_of(name, typed.labels),
        **usual_rules(),
        **choices(here(), base(), system()),
    )
