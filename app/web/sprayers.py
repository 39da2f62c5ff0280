"""Sprayers and spreaders: kept with their calibration, and the calibration itself."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import FieldFault, InputError
from app.engine.output import Amount
from app.services import label_text, mixing, sprayers
from app.store.changed import Changed
from app.web import mix_show, units
from app.web.calibration_forms import CALIBRATION_FORMS, measured
from app.web.conflict import conflict
from app.web.mix_form import USUAL_UNIT
from app.web.security import here
from knowledge.quantities import CARRIER_UNITS

blueprint = Blueprint("sprayers", __name__)

KINDS = {
    "boom": "boom",
    "gun": "spray gun",
    "backpack": "backpack",
    "hand-can": "hand-can",
    "spreader": "spreader",
}
LABELS = {
    "name": "Name",
    "kind": "Kind",
    "carrier": "Carrier volume",
    "tank": "Tank holds",
    "calibrated_on": "Calibrated on",
    "notes": "Notes",
    "version": "Version",
}


def _system() -> units.System:
    return units.system_named(request.cookies.get(units.COOKIE))


@blueprint.get("/sprayers")
def listing() -> str:
    """Every sprayer, and the ways to calibrate one."""
    return render_template(
        "sprayers.html",
        sprayers=sprayers.list_sprayers(here()),
        kinds=KINDS,
        calibrations=CALIBRATION_FORMS[_system()],
        amount_exact=mix_show.amount_words,
    )


@blueprint.get("/sprayers/calibrate/<method>")
def calibrate(method: str) -> str | tuple[str, int] | BaseResponse:
    """One way to calibrate: its form, and what it comes to."""
    form = CALIBRATION_FORMS[_system()].get(method)
    if form is None:
        return redirect("/sprayers")
    names = {field.name for field in form.fields}
    typed = {key: value.strip() for key, value in request.args.items() if key in names and value.strip()}
    found, faults = None, dict[str, str]()
    if typed:
        try:
            found = mixing.calibrate(measured(form, typed))
        except InputError as error:
            faults = _by_field(error)
    page = render_template(
        "calibrate.html",
        method=method,
        form=form,
        typed=typed,
        faults=faults,
        against={},
        ticked={},
        found=found,
        amount_exact=mix_show.amount_words,
        keep=_keep_addresses(found.carrier, form.kind) if found is not None else {},
    )
    return (page, 422) if faults else page


def _keep_addresses(carrier: Amount | None, kind: str) -> dict[str, str]:
    """The forms of every sprayer, and of a new one, with this carrier volume filled in; by what is said of each."""
    if carrier is None:
        return {}
    told = {"carrier": f"{carrier.value:.4g}", "carrier.unit": carrier.unit, "calibrated_on": f"{date.today()}"}
    kept = {item.name: f"/sprayers/{item.slug}?{urlencode(told)}" for item in sprayers.list_sprayers(here())}
    return {**kept, "a new sprayer": f"/sprayers/new?{urlencode({**told, 'kind': kind})}"}


def _typed() -> dict[str, str]:
    return {key: value.strip() for key, value in request.form.items() if key != "csrf_token"}


def _document(typed: Mapping[str, str]) -> dict[str, Any]:
    document: dict[str, Any] = {"name": typed.get("name", ""), "kind": typed.get("kind", "")}
    faults = []
    for name in ("carrier", "tank"):
        if text := typed.get(name, ""):
            try:
                unit = typed.get(f"{name}.unit") or USUAL_UNIT[_system()][name]
                document[name] = {"value": label_text.number(text), "unit": unit}
            except label_text.Unreadable as error:
                faults.append(FieldFault(name, f"{error}"))
    if faults:
        raise InputError(faults)
    if typed.get("calibrated_on"):
        document["calibrated_on"] = typed["calibrated_on"]
    if typed.get("notes"):
        document["notes"] = typed["notes"]
    return document


def _of_kept(document: Mapping[str, Any], name: str) -> dict[str, str]:
    """A kept sprayer as it would be typed."""
    typed = {"name": name, **{key: str(document.get(key) or "") for key in ("kind", "calibrated_on", "notes")}}
    for key in ("carrier", "tank"):
        if told := document.get(key):
            typed |= {key: units.figure(told["value"], 6), f"{key}.unit": told["unit"]}
    return typed


def _form(
    slug: str | None, typed: Mapping[str, str], version: int = 0, faults: Mapping[str, str] | None = None, **more: Any
) -> str:
    carriers = dict.fromkeys((USUAL_UNIT[_system()]["carrier"], *CARRIER_UNITS))
    return render_template(
        "sprayer_form.html",
        slug=slug,
        typed=typed,
        version=version,
        faults=faults or {},
        against={},
        ticked={},
        kinds=KINDS,
        labels_of=LABELS,
        carriers=tuple(carriers),
        **{"conflict": None, "measured": False, **more},
    )


def _by_field(error: InputError) -> dict[str, str]:
    return {fault.path.split(".")[0]: fault.message for fault in reversed(error.faults)}


@blueprint.get("/sprayers/new")
def new() -> str:
    """The form of a new sprayer."""
    return _form(None, dict(request.args.items()))


@blueprint.post("/sprayers/new")
def add() -> BaseResponse | tuple[str, int]:
    """Keep a new sprayer."""
    typed = _typed()
    try:
        sprayers.add_sprayer(here(), _document(typed))
    except InputError as error:
        return _form(None, typed, faults=_by_field(error)), 422
    return redirect("/sprayers", code=303)


@blueprint.get("/sprayers/<slug>")
def one(slug: str) -> str:
    """One sprayer, to be changed."""
    kept = sprayers.sprayer_named(here(), slug)
    measured_now = {
        key: request.args[key] for key in ("carrier", "carrier.unit", "calibrated_on") if key in request.args
    }
    return _form(
        slug, {**_of_kept(kept.document, kept.name), **measured_now}, kept.version, measured=bool(measured_now)
    )


@blueprint.post("/sprayers/<slug>")
def change(slug: str) -> BaseResponse | tuple[str, int]:
    """Change a sprayer, or tell that somebody else did."""
    typed = _typed()
    told = typed.pop("version", "0")
    version = int(told) if told.isascii() and told.isdigit() else 0
    try:
        if typed.pop("remove", ""):
            sprayers.remove_sprayer(here(), slug, version)
        else:
            sprayers.change_sprayer(here(), slug, _document(typed), version)
    except InputError as error:
        return _form(slug, typed, version, _by_field(error)), 422
    except Changed as changed:
        if changed.stored is None and not typed:
            return redirect("/sprayers", code=303)
        return _conflicting(slug, typed, changed), 409
    return redirect("/sprayers", code=303)


def _conflicting(slug: str, typed: dict[str, str], changed: Changed) -> str:
    """The form with what was typed, under what differs from what is kept now."""
    if changed.stored is None:
        return _form(None, typed, conflict=conflict(changed, (), "/sprayers"))
    theirs = _of_kept(changed.stored, changed.name)
    words = [(label, _words(typed, key), _words(theirs, key)) for key, label in LABELS.items() if key != "version"]
    # Whoever removes has typed nothing, and is shown what is kept now.
    told = conflict(changed, words if typed else None, f"/sprayers/{slug}")
    return _form(slug, typed or theirs, changed.version or 0, conflict=told)


def _words(typed: Mapping[str, str], key: str) -> str:
    told = typed.get(key, "")
    return KINDS.get(told, told) if key == "kind" else f"{told} {typed.get(f'{key}.unit', '')}".strip() if told else ""
