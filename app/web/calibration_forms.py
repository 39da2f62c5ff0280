"""The fields of each calibration, in the units that were chosen, and what was typed into them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.services import label_text
from app.web.units import System


@dataclass(frozen=True)
class Asked:
    """One field: its name, label, unit and hint."""

    name: str
    label: str
    unit: str
    hint: str = ""


@dataclass(frozen=True)
class CalibrationForm:
    """One way to calibrate: its method in the service, its title, its fields, and the sprayer it is usual for."""

    method: str
    title: str
    fields: tuple[Asked, ...]
    kind: str = ""


_SPACES = "With spaces between: 12 12.5 11.8 12.1"
_WIDTH = "Nozzle spacing or width sprayed"
_BUCKET = "Into a bucket, at the same pressure."
_TIMED = "Time it took"

_US = {
    "boom": CalibrationForm(
        "boom",
        "Boom: GPM = GPA x MPH x W / 5940; leave one empty",
        (
            Asked("gpa", "Carrier volume (GPA)", "gal/acre"),
            Asked("gpm", "Flow of one nozzle (GPM)", "gal/min"),
            Asked("mph", "Speed (MPH)", "mph"),
            Asked("width_in", f"{_WIDTH} (W)", "in"),
        ),
        "boom",
    ),
    "course": CalibrationForm(
        "course",
        "The 1/128-acre method: ounces caught are gallons an acre",
        (
            Asked("width_in", _WIDTH, "in"),
            Asked("caught_fl_oz", "Caught in the time of the course", "fl oz", "Left empty, the course is told."),
        ),
        "backpack",
    ),
    "gun": CalibrationForm(
        "gun",
        "Spray gun by timed area",
        (
            Asked("area_ft2", "Area walked", "ft2"),
            Asked("seconds", _TIMED, "s"),
            Asked("caught_fl_oz", "Caught", "fl oz", _BUCKET),
            Asked("caught_seconds", "Caught in", "s"),
        ),
        "gun",
    ),
    "nozzles": CalibrationForm(
        "nozzles",
        "Nozzle check: what each gives in the same time",
        (Asked("caught_fl_oz", "Caught from each nozzle", "fl oz", _SPACES),),
    ),
    "speed": CalibrationForm("speed", "Ground speed", (Asked("feet", "Distance", "ft"), Asked("seconds", _TIMED, "s"))),
}
_METRIC = {
    "boom": CalibrationForm(
        "boom-metric",
        "Boom: L/min = L/ha x km/h x W / 600; leave one empty",
        (
            Asked("l_per_ha", "Carrier volume", "L/ha"),
            Asked("l_per_min", "Flow of one nozzle", "L/min"),
            Asked("km_h", "Speed", "km/h"),
            Asked("width_m", f"{_WIDTH} (W)", "m"),
        ),
        "boom",
    ),
    "course": CalibrationForm(
        "course-metric",
        "One nozzle caught over a course: mL x 10 / (width x length) is L/ha",
        (
            Asked("width_m", _WIDTH, "m"),
            Asked("course_m", "Length of the course", "m", "Left empty, 100 m."),
            Asked("caught_ml", "Caught in the time of the course", "mL"),
        ),
        "backpack",
    ),
    "gun": CalibrationForm(
        "gun-metric",
        "Spray gun by timed area",
        (
            Asked("area_m2", "Area walked", "m2"),
            Asked("seconds", _TIMED, "s"),
            Asked("caught_ml", "Caught", "mL", _BUCKET),
            Asked("caught_seconds", "Caught in", "s"),
        ),
        "gun",
    ),
    "nozzles": CalibrationForm(
        "nozzles-metric",
        "Nozzle check: what each gives in the same time",
        (Asked("caught_ml", "Caught from each nozzle", "mL", "With spaces between: 710 705 720 698"),),
    ),
    "speed": CalibrationForm(
        "speed-metric", "Ground speed", (Asked("metres", "Distance", "m"), Asked("seconds", _TIMED, "s"))
    ),
}
CALIBRATION_FORMS: dict[System, dict[str, CalibrationForm]] = {"us": _US, "metric": _METRIC}


def measured(form: CalibrationForm, typed: Mapping[str, str]) -> dict[str, Any]:
    """What was typed, as plain data.

    Raises
    ------
    InputError
        Naming every field that holds no number.
    """
    payload: dict[str, Any] = {"method": form.method}
    faults = []
    for field in form.fields:
        if not (text := typed.get(field.name, "")):
            continue
        try:
            if form.method.startswith("nozzles"):
                payload[field.name] = [label_text.number(part) for part in text.split()]
            else:
                payload[field.name] = label_text.number(text)
        except label_text.Unreadable as error:
            faults.append(FieldFault(field.name, f"{error}"))
    if faults:
        raise InputError(faults)
    return payload
