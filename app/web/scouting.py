"""Notes of weeds on a property: a short form for a phone, standing on the lawn."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import date
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import FieldFault, InputError
from app.season.property import Property, ScoutingNote
from app.services import knowledge_service, label_text, properties, scouting
from app.store.changed import Changed
from app.web import units
from app.web.choices import STAGE_WORDS
from app.web.conflict import Conflict, conflict
from app.web.property_fields import NOTE_LABELS, note_choices
from app.web.security import here

blueprint = Blueprint("scouting", __name__)
Page = str | BaseResponse | tuple[str, int]
COVERS = {
    "": "not judged",
    "1": "a few plants",
    "5": "5 %",
    "15": "15 %",
    "30": "30 %",
    "50": "half",
    "75": "most of it",
}
WHO = "noted-by"
_PLAIN = ("area", "weed", "stage", "date", "by", "text", "closed")
_COUNTS = ("tillers", "leaves")


@blueprint.get("/properties/<slug>/notes/new")
def new(slug: str) -> str:
    """The form of a note: today, by whoever noted last on this device."""
    who = request.cookies.get(WHO, "")[:80]
    typed = {"date": f"{date.today()}", "by": who, "area": request.args.get("area", ""), "key": secrets.token_hex(12)}
    return _form(slug, typed, done=request.args.get("done", "")[:80])


@blueprint.post("/properties/<slug>/notes/new")
def add(slug: str) -> Page:
    """Keep a note, once however often its form is sent."""
    typed = _typed()
    if often := request.form.get("often", ""):
        return _form(slug, {**typed, "weed": often})
    try:
        kept, _ = scouting.add_note(here(), slug, _payload(typed), key=typed.get("key", ""), today=date.today())
    except InputError as error:
        return _form(slug, typed, faults=_by_field(error)), 422
    if request.form.get("act") == "next":
        name = knowledge_service.knowledge_base().weed_names[kept.note.weed].name
        query = urlencode({"area": kept.note.area, "done": name[:1].upper() + name[1:]})
        answered = redirect(f"/properties/{slug}/notes/new?{query}", code=303)
    else:
        answered = redirect(f"/properties/{slug}?told=noted", code=303)
    answered.set_cookie(WHO, kept.note.by, max_age=31_536_000, samesite="Strict", httponly=True)
    return answered


@blueprint.get("/properties/<slug>/notes/<key>")
def one(slug: str, key: str) -> str:
    """A note, to be changed."""
    kept = scouting.note(here(), slug, key)
    return _form(slug, shown(kept.note), key_of_kept=key, version=kept.version)


@blueprint.post("/properties/<slug>/notes/<key>")
def change(slug: str, key: str) -> Page:
    """Change a note, unless somebody else was quicker."""
    typed, version = _typed(), _version()
    try:
        scouting.change_note(here(), slug, key, _payload(typed), version, today=date.today())
    except InputError as error:
        return _form(slug, typed, faults=_by_field(error), key_of_kept=key, version=version), 422
    except Changed as changed:
        return _conflicting(slug, key, typed, changed), 409
    return redirect(f"/properties/{slug}?told=noted", code=303)


@blueprint.post("/properties/<slug>/notes/<key>/close")
def close(slug: str, key: str) -> Page:
    """Say that the weed is gone."""
    try:
        scouting.close_note(here(), slug, key, _version(), date.today())
    except InputError as error:
        kept = scouting.note(here(), slug, key)
        return _form(slug, shown(kept.note), faults=_by_field(error), key_of_kept=key, version=kept.version), 422
    except Changed as changed:
        typed = shown(scouting.note(here(), slug, key).note) if changed.stored is not None else {}
        return _conflicting(slug, key, {**typed, "closed": f"{date.today()}"}, changed), 409
    return redirect(f"/properties/{slug}?told=closed", code=303)


def _typed() -> dict[str, str]:
    return {key: value.strip() for key, value in request.form.items() if key not in ("csrf_token", "version", "act")}


def _version() -> int:
    told = request.form.get("version", "")
    return int(told) if told.isascii() and told.isdecimal() and len(told) < 10 else 0


def _payload(typed: Mapping[str, str]) -> dict[str, Any]:
    """The note as plain data.

    Raises
    ------
    InputError
        For a figure that is none.
    """
    payload: dict[str, Any] = {key: told for key in _PLAIN if (told := typed.get(key, ""))}
    faults = [
        FieldFault(key, f"is required: {how}")
        for key, how in (("area", "choose where it stands"), ("weed", "name it, by any name"), ("date", "say when"))
        if key not in payload
    ]
    cover = typed.get("cover_exact") or typed.get("cover", "")
    for key, told in (("cover_pct", cover.rstrip("% ")), ("priority", typed.get("priority", ""))):
        if told:
            try:
                payload[key] = label_text.number(told)
            except label_text.Unreadable as error:
                faults.append(FieldFault(key, str(error)))
    for key in _COUNTS:
        if told := typed.get(key, ""):
            if told.isascii() and told.isdecimal() and len(told) < 6:
                payload[key] = int(told)
            else:
                faults.append(FieldFault(key, f"'{told[:20]}' is no whole number"))
    if resisted := typed.get("resistant_to", ""):
        payload["resistant_to"] = [part.strip() for part in resisted.split(",") if part.strip()]
    if faults:
        raise InputError(faults)
    return payload


def shown(note: ScoutingNote) -> dict[str, str]:
    """A note as it would have been typed."""
    base = knowledge_service.knowledge_base()
    document = note.model_dump(mode="json")
    typed = {key: str(document[key] or "") for key in _PLAIN}
    typed["weed"] = base.weed_names[note.weed].name if note.weed in base.weed_names else note.weed
    typed |= {key: "" if document[key] is None else str(document[key]) for key in _COUNTS}
    typed["resistant_to"] = ", ".join(note.resistant_to)
    typed["priority"] = "" if note.priority == 1 else units.figure(note.priority, 6)
    cover = "" if note.cover_pct is None else label_text.written(note.cover_pct)
    return {**typed, "cover" if cover in COVERS else "cover_exact": cover}


def _conflicting(slug: str, key: str, typed: dict[str, str], changed: Changed) -> str:
    if changed.stored is None:
        told = conflict(changed, (), f"/properties/{slug}")
        return _form(slug, {**typed, "key": secrets.token_hex(12)}, conflict=told)
    theirs = shown(ScoutingNote.model_validate(changed.stored))
    where = properties.one(here(), slug).property
    told = _both(changed, _words(typed, where), _words(theirs, where), f"/properties/{slug}/notes/{key}")
    return _form(slug, typed, key_of_kept=key, version=changed.version or 0, conflict=told)


def _both(changed: Changed, mine: dict[str, str], theirs: dict[str, str], at: str) -> Conflict:
    rows = [(NOTE_LABELS[key], mine[key], theirs[key]) for key in NOTE_LABELS if key in mine]
    return conflict(changed, rows, at)


def _words(typed: Mapping[str, str], where: Property) -> dict[str, str]:
    area = where.area_of(typed.get("area", ""))
    told = {key: typed.get(key, "") for key in (*_PLAIN, *_COUNTS, "resistant_to", "priority")}
    told |= {"area": area.name if area is not None else "", "stage": STAGE_WORDS.get(told["stage"], told["stage"])}
    return {**told, "cover_pct": typed.get("cover_exact") or typed.get("cover", "")}


def _by_field(error: InputError) -> dict[str, str]:
    # The first of each field, in the order of the form; what is of no field of it stands at the weed.
    found = {_field_of(fault.path): fault.message for fault in reversed(error.faults)}
    return {key: found[key] for key in NOTE_LABELS if key in found}


def _field_of(path: str) -> str:
    field = path.split(".", maxsplit=1)[0]
    return field if field in NOTE_LABELS and field != "key" else "weed"


def _form(slug: str, typed: Mapping[str, str], faults: Mapping[str, str] | None = None, **more: Any) -> str:
    base = knowledge_service.knowledge_base()
    often = [base.weed_names[key].name for key in scouting.often_noted(here()) if key in base.weed_names]
    return render_template(
        "note_form.html",
        slug=slug,
        told=properties.one(here(), slug).property,
        typed=typed,
        faults=faults or {},
        against={},
        labels_of=NOTE_LABELS,
        covers=COVERS,
        people=properties.technicians(here()),
        often=often,
        **{"key_of_kept": "", "version": 0, "conflict": None, "done": "", **more},
        **note_choices(base),
    )
