"""Going back to a lawn: what was seen some days after an application."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from flask import Blueprint, redirect, render_template, request

from app.engine.errors import FieldFault, InputError
from app.season.record import ApplicationRecord, FollowUp
from app.services import follow_ups, records
from app.services import label_text as words
from app.services.place_names import weed_id
from app.services.validation import validated
from app.store.changed import Changed
from app.web.choices import form_choices
from app.web.conflict import Conflict, conflict
from app.web.record import Page, base, version_of
from app.web.security import here

blueprint = Blueprint("record_follow_up", __name__)
_OTHER_ROWS = 2
_LABELS = {"date": "Seen on", "by": "Seen by", "injury_pct": "Injury of the turf", "text": "In words"}


@dataclass
class Typed:
    """What was typed of a rating: fields by name, plain data, faults by field; `weeds` are those asked for."""

    fields: dict[str, str]
    weeds: tuple[str, ...]
    payload: dict[str, Any] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)

    def blame(self, error: InputError) -> None:
        """Note faults at their fields, the first of each."""
        for fault in error.faults:
            head, *rest = fault.path.split(".")
            row = self.weeds.index(rest[0]) if rest and rest[0] in self.weeds else 0
            name = f"w{row}" if head == "ratings" else head if head in _LABELS else "date"
            self.faults.setdefault(name, fault.message)


@blueprint.get("/record/<key>/follow-up")
def ask(key: str) -> str:
    """The form of a rating."""
    record = records.one(here(), key).record
    typed = {"date": f"{date.today()}", "key": secrets.token_hex(12)}
    return _form(key, record, Typed(typed, _weeds(record)))


@blueprint.post("/record/<key>/follow-up")
def add(key: str) -> Page:
    """Keep a rating, once however often its form is sent."""
    record = records.one(here(), key).record
    typed = _read(request.form, _weeds(record))
    try:
        told = _checked(typed)
        follow_ups.add_follow_up(here(), key, told, datetime.now(UTC), typed.fields.get("key", ""))
    except InputError as error:
        typed.blame(error)
        return _form(key, record, typed), 422
    return redirect(f"/record/{key}?told=rated#seen", code=303)


@blueprint.get("/record/<key>/follow-up/<own>")
def edit(key: str, own: str) -> str:
    """A rating, to be changed."""
    record = records.one(here(), key).record
    kept = next((item for item in follow_ups.follow_ups_of(here(), key) if item.key == own), None)
    if kept is None:
        return ask(key)
    weeds = tuple(dict.fromkeys([*_weeds(record), *kept.follow_up.ratings]))
    return _form(key, record, Typed(_shown(kept.follow_up, weeds), weeds), own=own, version=kept.version)


@blueprint.post("/record/<key>/follow-up/<own>")
def change(key: str, own: str) -> Page:
    """Change a rating, or forget it, unless somebody else was quicker."""
    record, version, now = records.one(here(), key).record, version_of(request.form), datetime.now(UTC)
    kept = next((item for item in follow_ups.follow_ups_of(here(), key) if item.key == own), None)
    weeds = tuple(dict.fromkeys([*_weeds(record), *(kept.follow_up.ratings if kept is not None else ())]))
    typed = _read(request.form, weeds)
    try:
        if request.form.get("act") == "remove":
            follow_ups.remove_follow_up(here(), key, own, version, now)
            return redirect(f"/record/{key}?told=rating-removed#seen", code=303)
        follow_ups.change_follow_up(here(), key, own, _checked(typed), version, now)
    except InputError as error:
        typed.blame(error)
        return _form(key, record, typed, own=own, version=version), 422
    except Changed as changed:
        return _conflicting(key, record, typed, changed, own), 409
    return redirect(f"/record/{key}?told=rating-changed#seen", code=303)


def _conflicting(key: str, record: ApplicationRecord, typed: Typed, changed: Changed, own: str) -> str:
    theirs = _shown(validated(FollowUp, changed.stored), typed.weeds) if changed.stored is not None else {}
    rows = [
        (_label(name, typed.weeds), typed.fields.get(name, ""), theirs.get(name, ""))
        for name in (*_LABELS, *(f"w{row}" for row in range(len(typed.weeds))))
    ]
    told = conflict(changed, rows, f"/record/{key}")
    return _form(key, record, typed, own=own, version=changed.version or 0, conflicting=told)


def _weeds(record: ApplicationRecord) -> tuple[str, ...]:
    return tuple(target.weed for target in record.targets)


def _shown(told: FollowUp, weeds: tuple[str, ...]) -> dict[str, str]:
    typed = {"date": f"{told.date}", "by": told.by, "text": told.text}
    typed["injury_pct"] = "" if told.injury_pct is None else words.written(told.injury_pct)
    found = {f"w{row}": words.written(told.ratings[weed]) for row, weed in enumerate(weeds) if weed in told.ratings}
    return {**typed, **found}


def _read(form: Mapping[str, str], weeds: tuple[str, ...]) -> Typed:
    told = {key: value.strip() for key, value in form.items() if key not in ("csrf_token", "version", "act")}
    typed = Typed(told, weeds)
    typed.payload = {name: told[name] for name in ("date", "by", "text") if told.get(name)}
    if not told.get("date"):
        typed.faults["date"] = "is required: the day on which it was seen"
    ratings: dict[str, float] = {}
    for row, weed in enumerate(weeds):
        value = _percent(typed, f"w{row}")
        if value is not None:
            ratings[weed] = value
    for row in range(_OTHER_ROWS):
        name, value = told.get(f"o{row}", ""), _percent(typed, f"o{row}.control")
        if not name and value is None:
            continue
        if not name or value is None:
            missing = f"o{row}" if not name else f"o{row}.control"
            typed.faults.setdefault(missing, "is required: a weed and its control belong together")
            continue
        try:
            ratings[weed_id(f"o{row}", name)] = value
        except InputError as error:
            typed.faults[f"o{row}"] = error.faults[0].message
    typed.payload["ratings"] = ratings
    injury = _percent(typed, "injury_pct")
    if injury is not None:
        typed.payload["injury_pct"] = injury
    return typed


def _percent(typed: Typed, name: str) -> float | None:
    text = typed.fields.get(name, "").rstrip("%").strip()
    if not text:
        return None
    try:
        value = words.number(text)
    except words.Unreadable as error:
        typed.faults[name] = str(error)
        return None
    if not 0 <= value <= 100:
        typed.faults[name] = "must lie between 0 and 100 %"
        return None
    return value


def _checked(typed: Typed) -> FollowUp:
    """The rating that was typed.

    Raises
    ------
    InputError
        For what could not be read, or cannot be used.
    """
    if typed.faults:
        raise InputError([FieldFault(name, message) for name, message in typed.faults.items()])
    return follow_ups.checked_follow_up(typed.payload)


def _label(name: str, weeds: tuple[str, ...]) -> str:
    if name in _LABELS:
        return _LABELS[name]
    row = int(name[1:].split(".", maxsplit=1)[0])
    if name.startswith("w"):
        known = base().weed_names.get(weeds[row])
        return f"Control of {known.name if known is not None else weeds[row]}"
    return f"{'Control of other' if name.endswith('.control') else 'Other'} weed {row + 1}"


def _form(
    key: str,
    record: ApplicationRecord,
    typed: Typed,
    *,
    own: str = "",
    version: int = 0,
    conflicting: Conflict | None = None,
) -> str:
    return render_template(
        "record_follow_up.html",
        key=key,
        record=record,
        typed=typed.fields,
        faults=typed.faults,
        weeds=typed.weeds,
        own=own,
        version=version,
        conflict=conflicting,
        other_rows=_OTHER_ROWS,
        names=base().weed_names,
        weed_choices=form_choices(base())["weed_names"],
        label_of=lambda name: _label(name, typed.weeds),
    )
