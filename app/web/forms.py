"""The question as typed: from a form's fields to a situation, and faults back to their fields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.services.advice import DEFAULT_SITE_USE, DEFAULT_TURF, DEFAULT_ZONE
from app.services.search import find_weed
from app.web.units import LABELS, System, read
from knowledge.base import KnowledgeBase

WEED_ROWS, PAST_ROWS = 4, 3
PRIORITIES = ("control", "turf_safety", "resistance", "cost", "passes", "off_target")

# field -> (path in the situation, kind of figure)
_NUMBERS: dict[str, tuple[str, str]] = {
    "max_temp": ("forecast.max_temp_f", "temperature"),
    "max_temp_3": ("forecast.max_temp_next_3_days_f", "temperature"),
    "min_temp": ("forecast.min_temp_f", "temperature"),
    "wind": ("forecast.wind_mph", "wind"),
    "rain_free": ("forecast.rain_free_hours", "plain"),
    "mowings": ("turf_condition.mowings_since_emergence", "whole"),
    "weeks": ("turf_condition.weeks_since_emergence", "plain"),
    "height": ("turf_condition.mowing_height_in", "height"),
    "max_products": ("options.max_products", "whole"),
    "max_applications": ("options.max_applications", "whole"),
    **{f"priority_{name}": (f"priorities.{name}", "plain") for name in PRIORITIES},
}
_WORDS: dict[str, str] = {
    "stand": "turf_condition.stand",
    "green_up": "turf_condition.green_up",
    "stress": "turf_condition.stress",
    "seeding": "turf_condition.seeding_planned",
    "soil_moisture": "forecast.soil_moisture",
}


@dataclass(frozen=True)
class Asked:
    """What was typed, as a situation and with the weeds it was understood to mean."""

    payload: dict[str, Any]
    understood: tuple[str, ...]
    alternatives: tuple[str, ...]


def _fields_of_paths() -> dict[str, str]:
    fields = {path: field for field, (path, _) in _NUMBERS.items()}
    fields.update({path: field for field, path in _WORDS.items()})
    fields.update({"date": "date", "zone": "zone", "site_use": "site_use", "turf.0": "turf", "turf.1": "turf_2"})
    fields.update({"carrier.value": "carrier", "surroundings": "surroundings", "turf": "turf", "targets": "weed"})
    for row in range(WEED_ROWS):
        suffix = "" if row == 0 else f"_{row + 1}"
        for part in ("weed", "stage", "tillers", "leaves"):
            fields[f"targets.{row}.{part}"] = f"{part}{suffix}"
    for row in range(PAST_ROWS):
        for part, name in (("active", "past_active"), ("rate.value", "past_rate"), ("date", "past_date")):
            fields[f"applied_this_year.{row}.{part}"] = f"{name}_{row + 1}"
    return fields


FIELD_OF_PATH = _fields_of_paths()


def field_of(path: str) -> str:
    """The form field that a path of the situation was typed into; `weed` where there is none."""
    while path:
        if path in FIELD_OF_PATH:
            return FIELD_OF_PATH[path]
        path = path.rpartition(".")[0]
    return "weed"


def _put(payload: dict[str, Any], path: str, value: Any) -> None:
    *parents, last = path.split(".")
    for parent in parents:
        payload = payload.setdefault(parent, {})
    payload[last] = value


def read_question(
    typed: Mapping[str, str], surroundings: list[str], base: KnowledgeBase, today: date, system: System
) -> Asked:
    """The situation that a filled form asks about.

    Raises
    ------
    InputError
        With every field that cannot be read; paths are those of the situation.
    """
    faults: list[FieldFault] = []
    zone = typed.get("zone") or DEFAULT_ZONE
    payload: dict[str, Any] = {
        "date": typed.get("date") or today.isoformat(),
        "zone": zone,
        "site_use": typed.get("site_use") or DEFAULT_SITE_USE,
        "turf": [typed.get("turf") or DEFAULT_TURF.get(zone, "tall-fescue")],
        "targets": [],
    }
    if typed.get("turf_2"):
        payload["turf"].append(typed["turf_2"])
    understood, alternatives = _weeds(typed, base, payload, faults)
    for field, (path, kind) in _NUMBERS.items():
        _number(typed, field, path, kind, system, payload, faults)
    for field, path in _WORDS.items():
        if typed.get(field):
            _put(payload, path, typed[field])
    if surroundings:
        payload["surroundings"] = surroundings
    if typed.get("adjuvants") == "no":
        _put(payload, "options.adjuvants", False)
    _carrier(typed, payload, faults, system)
    _past(typed, base, payload, faults, system)
    if faults:
        raise InputError(faults)
    return Asked(payload, tuple(understood), tuple(alternatives))


def _weeds(
    typed: Mapping[str, str], base: KnowledgeBase, payload: dict[str, Any], faults: list[FieldFault]
) -> tuple[list[str], list[str]]:
    understood: list[str] = []
    alternatives: list[str] = []
    for row in range(WEED_ROWS):
        suffix = "" if row == 0 else f"_{row + 1}"
        name = typed.get(f"weed{suffix}", "").strip()
        path = f"targets.{len(payload['targets'])}"
        if not name:
            if row == 0:
                faults.append(FieldFault("targets.0.weed", "must name a weed, for example wild violet"))
            continue
        try:
            weed, _, others = find_weed(base, name)
        except InputError as error:
            faults.append(FieldFault(f"{path}.weed", error.faults[0].message))
            payload["targets"].append({"weed": "unknown"})
            continue
        target: dict[str, Any] = {"weed": weed.id}
        if typed.get(f"stage{suffix}"):
            target["stage"] = typed[f"stage{suffix}"]
        for part in ("tillers", "leaves"):
            _number(typed, f"{part}{suffix}", part, "whole", "us", target, faults, f"{path}.{part}")
        payload["targets"].append(target)
        understood.append(weed.id)
        alternatives += [other for other in others if row == 0]
    return understood, alternatives


def _number(
    typed: Mapping[str, str],
    field: str,
    path: str,
    kind: str,
    system: System,
    payload: dict[str, Any],
    faults: list[FieldFault],
    fault_path: str | None = None,
) -> None:
    text = typed.get(field, "").strip().replace(",", ".")
    if not text:
        return
    try:
        value = int(text) if kind == "whole" else float(text)
    except ValueError:
        wanted = "a whole number" if kind == "whole" else "a number"
        faults.append(FieldFault(fault_path or path, f"'{text[:20]}' is not {wanted}"))
        return
    if kind in ("temperature", "wind", "height"):
        value = round(read(kind, float(value), system), 3)
    _put(payload, path, value)


def _carrier(typed: Mapping[str, str], payload: dict[str, Any], faults: list[FieldFault], system: System) -> None:
    found: dict[str, Any] = {}
    _number(typed, "carrier", "value", "plain", system, found, faults, "carrier.value")
    if found:
        payload["carrier"] = {**found, "unit": LABELS[system]["carrier"]}


def _past(
    typed: Mapping[str, str],
    base: KnowledgeBase,
    payload: dict[str, Any],
    faults: list[FieldFault],
    system: System,
) -> None:
    rows: list[dict[str, Any]] = []
    for row in range(1, PAST_ROWS + 1):
        active = typed.get(f"past_active_{row}", "")
        if not active:
            continue
        path = f"applied_this_year.{len(rows)}"
        found: dict[str, Any] = {}
        _number(typed, f"past_rate_{row}", "value", "plain", system, found, faults, f"{path}.rate.value")
        if not found:
            faults.append(FieldFault(f"{path}.rate.value", "is needed with the active"))
        counted = base.actives[active].rate_basis if active in base.actives else "ai"
        unit = f"g {counted}/ha" if system == "metric" else f"lb {counted}/acre"
        rows.append({"active": active, "date": typed.get(f"past_date_{row}", ""), "rate": {**found, "unit": unit}})
    if rows:
        payload["applied_this_year"] = rows
