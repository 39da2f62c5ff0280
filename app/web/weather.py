"""Spray windows as a page: a forecast pasted, uploaded or told by hand; kept for rounds where that is asked."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import FieldFault, InputError
from app.season.windows_output import Windows
from app.services import forecasts, knowledge_service
from app.services import weather as services
from app.services.branch import branch
from app.services.csv_text import decoded
from app.services.label_text import Unreadable, number
from app.web import units
from app.web.choices import form_choices
from app.web.security import here
from knowledge.base import KnowledgeBase

blueprint = Blueprint("weather", __name__)

ACTIVE_ROWS = ("active_1", "active_2", "active_3", "active_4")
LABELS = {
    "place": "Place",
    "timezone": "Time zone",
    "latitude": "Latitude",
    "longitude": "Longitude",
    "table": "Table",
    "file": "Or its file",
    "units": "Units",
    "date": "Date",
    "cloud": "Sky",
    "morning": "Temperature in the morning",
    "afternoon": "Temperature in the afternoon",
    "wind_morning": "Wind in the morning",
    "wind_afternoon": "Wind in the afternoon",
    "humidity": "Relative humidity",
    "rain_from": "Rain",
    "turf": "Turf",
    **{row: f"Active {place}" for place, row in enumerate(ACTIVE_ROWS, start=1)},
}
UNITS_CHOICES = {"us": "US: F, mph, inches", "metric": "metric: C, km/h, mm"}
# What a sky is called, and how much of it is covered [percent].
CLOUDS = {"0": "clear", "30": "a few clouds", "70": "mostly cloudy", "100": "overcast"}
RAIN = {
    "none": "a dry day",
    **{str(hour): f"from {hour % 12 or 12} {'am' if hour < 12 else 'pm'}" for hour in range(24)},
}
# Field of the form, key of the figures by hand, kind of figure.
_BY_HAND = (
    ("morning", "morning_f", "temperature"),
    ("afternoon", "afternoon_f", "temperature"),
    ("wind_morning", "wind_morning_mph", "wind"),
    ("wind_afternoon", "wind_afternoon_mph", "wind"),
    ("humidity", "humidity_pct", "percent"),
    ("cloud", "cloud_pct", "percent"),
)
_KIND_OF_FIELD = {name: kind for name, _, kind in _BY_HAND}
_FIELD_OF_PATH = {
    **{f"by_hand.{key}": name for name, key, _ in _BY_HAND},
    **{"by_hand.date": "date", "by_hand.rain_from_hour": "rain_from", "by_hand": "date", "csv": "table"},
    **{"place.name": "place", "units": "units", "tank.turf.0": "turf", "place": "latitude"},
    **{f"place.{name}": name for name in ("latitude", "longitude", "timezone")},
}


_PLACE = ("place", "timezone", "latitude", "longitude")


def _system() -> units.System:
    return units.system_named(request.cookies.get(units.COOKIE))


@blueprint.get("/weather")
def weather_page() -> str:
    """The form, filled in as far as the address tells."""
    typed = {name: request.args.get(name, "")[:200] for name in LABELS}
    if not any(typed[name] for name in _PLACE):
        # The lawns are mostly where the branch is.
        told, _ = branch(here())
        if told.latitude is not None and told.longitude is not None:
            typed |= dict(zip(_PLACE, (told.name, told.timezone, str(told.latitude), str(told.longitude)), strict=True))
    return _page(typed)


@blueprint.post("/weather")
def weather_windows() -> str | tuple[str, int] | BaseResponse:
    """The windows of the forecast that was sent."""
    typed = {name: request.form.get(name, "") for name in LABELS if name != "file"}
    asked, faults = _asked(typed)
    if request.form.get("act") == "keep" and not faults:
        return _kept(asked, typed)
    try:
        found = services.windows(asked)
    except InputError as error:
        return _page(typed, faults=_by_field([*faults, *error.faults], typed)), 422
    if faults:
        return _page(typed, faults=_by_field(faults, typed)), 422
    return _page(typed, found)


def _kept(asked: dict[str, Any], typed: Mapping[str, str]) -> tuple[str, int] | BaseResponse:
    """The forecast kept for rounds; the tank is no part of it."""
    told = {key: value for key, value in asked.items() if key != "tank"}
    try:
        kept = forecasts.keep_told(here(), told, "", datetime.now(UTC))
    except InputError as error:
        return _page(typed, faults=_by_field(error.faults, typed)), 422
    return redirect(f"/weather?kept={kept.slug}", code=303)


def _asked(typed: Mapping[str, str]) -> tuple[dict[str, Any], list[FieldFault]]:
    """What was typed, as the service takes it, and the fields of the form that hold no figure."""
    faults: list[FieldFault] = []
    place = {
        "name": typed["place"].strip(),
        "timezone": typed["timezone"].strip(),
        **{name: _figure(typed, name, "degrees", faults) for name in ("latitude", "longitude")},
    }
    place = {key: value for key, value in place.items() if value not in (None, "") or key == "name"}
    asked: dict[str, Any] = {"place": place, "units": typed["units"] or None, "tank": _tank(typed)}
    table = _table(typed, faults)
    if table:
        asked["csv"] = table
    else:
        told = {key: _figure(typed, name, kind, faults) for name, key, kind in _BY_HAND}
        told = {key: value for key, value in told.items() if value is not None}
        rain = typed["rain_from"]
        hour = {"rain_from_hour": int(rain) if rain.isdecimal() and len(rain) < 3 else rain} if rain else {}
        asked["by_hand"] = {"date": typed["date"], **told, **hour}
        if not told and not typed["date"]:
            faults.append(FieldFault("table", "paste a table, choose its file, or tell a day by hand"))
    return asked, faults


def _table(typed: Mapping[str, str], faults: list[FieldFault]) -> str:
    sent = request.files.get("file")
    if sent is None or not sent.filename:
        return typed["table"].strip()
    try:
        return decoded(sent.read())
    except InputError as error:
        faults.append(FieldFault("file", error.faults[0].message))
        return ""


def _tank(typed: Mapping[str, str]) -> dict[str, Any]:
    actives = []
    for row in ACTIVE_ROWS:
        active, _, form = typed[row].partition("/")
        if active:
            actives.append({"active": active, "form": form or None})
    return {"turf": [typed["turf"]] if typed["turf"] else [], "actives": actives}


def _figure(typed: Mapping[str, str], name: str, kind: str, faults: list[FieldFault]) -> float | None:
    told = typed[name].strip()
    if not told:
        return None
    try:
        value = number(told)
    except Unreadable as error:
        faults.append(FieldFault(name, str(error)))
        return None
    return round(units.converted(kind, value, _system(), "us"), 2) if kind in ("temperature", "wind") else value


def _by_field(faults: Iterable[FieldFault], typed: Mapping[str, str]) -> dict[str, str]:
    """The first fault of each field of the form; of a table every row."""
    rows = [row for row in ACTIVE_ROWS if typed[row]]
    found: dict[str, str] = {}
    for fault in faults:
        field = fault.path if fault.path in LABELS else _FIELD_OF_PATH.get(fault.path, "table")
        if fault.path.startswith("tank.actives."):
            place = int(fault.path.split(".")[2])
            field = rows[place] if place < len(rows) else ACTIVE_ROWS[0]
        if field == "table" and request.files.get("file"):
            field = "file"
        said = _in_system(fault.message, _KIND_OF_FIELD.get(field, ""))
        if field in found and fault.path == "csv":
            found[field] = f"{found[field]}; {said}"
        found.setdefault(field, said)
    return found


def _in_system(message: str, kind: str) -> str:
    """A fault of a figure that is out of range, with its figures in the units of the form."""
    system = _system()
    if system == "us" or kind not in ("temperature", "wind") or "out of range" not in message:
        return message
    unit = units.LABELS[system][kind]

    def shown(match: re.Match[str]) -> str:
        return f"{units.figure(units.converted(kind, float(match.group()), 'us', system))} {unit}"

    return re.sub(r"-?\d+(?:\.\d+)?", shown, message)


def _actives(base: KnowledgeBase) -> dict[str, str]:
    """Actives, in each form where they have several."""
    found = {}
    for active in sorted(base.actives.values(), key=lambda item: item.name.lower()):
        found[active.id] = active.name if len(active.forms) == 1 else f"{active.name}, form not told"
        for form in active.forms if len(active.forms) > 1 else ():
            found[f"{active.id}/{form.id}"] = f"{active.name} as {form.name}"
    return found


def _page(typed: Mapping[str, str], found: Windows | None = None, faults: dict[str, str] | None = None) -> str:
    base = knowledge_service.knowledge_base()
    return render_template(
        "weather.html",
        typed=typed,
        faults=faults or {},
        near={},
        found=found,
        kept=next((item for item in forecasts.every(here()) if item.slug == request.args.get("kept")), None),
        units_choices=UNITS_CHOICES,
        cloud_choices=CLOUDS,
        rain_choices=RAIN,
        active_rows=ACTIVE_ROWS,
        active_choices=_actives(base),
        turf_choices=form_choices(base)["turf_choices"],
        field_labels=LABELS,
        numbers={key: place for place, key in enumerate(found.sources, start=1)} if found else {},
    )
