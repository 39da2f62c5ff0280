"""The form of an application record: what was typed into plain data, and a record as it would be typed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.engine.measures import Measure
from app.season.record import ApplicationRecord, Branch
from app.season.record_rules import value_at
from app.services import label_text as words
from app.services.place_names import weed_id
from app.web import units
from app.web.units import System
from knowledge.base import KnowledgeBase

MOST_PRODUCTS, MOST_TARGETS = 6, 12
_STARTING_PRODUCTS, _STARTING_TARGETS = 2, 3
TEXTS = (
    *("date", "started", "finished", "customer", "customer_address", "property_name", "place", "area_name"),
    *("site_use", "method", "sprayer", "applicator", "licence", "supervisor", "supervisor_licence"),
    *("next_due", "notes"),
)
_MEASURES = ("treated", "carrier", "spray")
_OF_PRODUCT = ("name", "registration", "rate", "amount")
_OF_ADJUVANT = ("id", "name", "registration", "rate", "amount")
_WEATHER = {"temp_f": "temperature", "wind_mph": "wind", "rh_pct": ""}
_WEATHER_TEXTS = ("wind_from", "sky", "basis")
LABELS = {
    **{"where": "Property and area", "date": "Date", "started": "Started", "finished": "Finished"},
    **{"customer": "Customer", "customer_address": "Customer's address", "property_name": "Name of the property"},
    **{"place": "Location", "area_name": "Name of the area", "site_use": "Use of the site", "turf": "Turf"},
    **{"treated": "Size of the area treated", "method": "Method", "carrier": "Carrier volume"},
    **{"spray": "Spray in all", "sprayer": "Sprayer", "applicator": "Applicator"},
    **{"licence": "Applicator's certification number", "supervisor": "Supervisor"},
    **{"supervisor_licence": "Supervisor's certification number", "weather.temp_f": "Air temperature"},
    **{"weather.wind_mph": "Wind", "weather.wind_from": "Wind from", "weather.rh_pct": "Humidity"},
    **{"weather.sky": "Sky", "weather.basis": "The weather was", "application": "Application of its program"},
    **{"next_due": "Next application due", "notes": "Notes", "adjuvant.id": "Adjuvant"},
    **{"adjuvant.name": "Product of the adjuvant", "adjuvant.registration": "Its registration number"},
    **{"adjuvant.rate": "Rate of the adjuvant", "adjuvant.amount": "Adjuvant in all"},
    **{"by": "Changed by", "why": "Why"},
}
_ROWS = {
    "products": {
        **{"name": "Product {}", "registration": "Registration number of product {}"},
        **{"rate": "Rate of product {}", "amount": "Product {} in all"},
    },
    "targets": {"weed": "Weed {}", "stage": "Stage of weed {}"},
    "turf": {"": "Turf {}"},
}


@dataclass
class TypedRecord:
    """What was typed: fields by name, plain data as far as it could be read, faults by field."""

    fields: dict[str, str]
    payload: dict[str, Any] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)
    # Which row of the form each product, target and field of the branch came from.
    rows: dict[str, list[int]] = field(default_factory=dict)
    labels: dict[int, str] = field(default_factory=dict)

    def blame(self, faults: Iterable[FieldFault]) -> None:
        """Note faults at their fields, the first of each."""
        for fault in faults:
            self.faults.setdefault(self._field_of(fault.path), fault.message)

    def _field_of(self, path: str) -> str:
        head, *rest = path.split(".")
        if head in ("products", "targets") and rest and rest[0].isdecimal():
            told = self.rows.get(head, [])
            row = told[int(rest[0])] if int(rest[0]) < len(told) else 0
            part = rest[1] if len(rest) > 1 and rest[1] in _ROWS[head] else next(iter(_ROWS[head]))
            return f"{head}.{row}.{part}"
        if head in ("products", "targets"):
            return f"{head}.0.{next(iter(_ROWS[head]))}"
        if head in ("property", "area"):
            return "where"
        if head == "turf":
            return "turf.0"
        if head == "extra":
            return next((f"extra.{row}" for row, label in self.labels.items() if rest and label == rest[0]), "notes")
        two = ".".join((head, *rest[:1]))
        return two if two in LABELS else head if head in LABELS else "date"


def label_of(name: str, labels: Mapping[int, str]) -> str:
    """The label of a field of the form; rows are counted from one."""
    match = re.fullmatch(r"(products|targets|turf|extra)\.(\d+)(?:\.(\w+))?", name)
    if match is None:
        return LABELS.get(name, name)
    row = int(match.group(2))
    if match.group(1) == "extra":
        return labels.get(row, f"Field {row + 1} of the branch")
    return _ROWS[match.group(1)][match.group(3) or ""].format(row + 1)


def labels_of(branch: Branch, record: ApplicationRecord | None) -> dict[int, str]:
    """The branch's own fields by the row of the form, and those of the record that the branch asks for no more."""
    told = [*branch.extra, *(record.extra if record is not None else ())]
    return dict(enumerate(dict.fromkeys(told)))


def rows_of(typed: Mapping[str, str]) -> dict[str, int]:
    """How many rows of products and weeds are shown: those that are filled, and one more."""
    found = {}
    for name, least, most in (
        ("products", _STARTING_PRODUCTS, MOST_PRODUCTS),
        ("targets", _STARTING_TARGETS, MOST_TARGETS),
    ):
        used = [int(m.group(1)) for key, told in typed.items() if told and (m := re.match(rf"{name}\.(\d+)\.", key))]
        found[name] = min(max(least, max(used, default=-1) + 2), most)
    return found


def shown(record: ApplicationRecord, branch: Branch, base: KnowledgeBase, system: System) -> dict[str, str]:
    """A record as it would have been typed."""
    typed = {name: _text(getattr(record, name)) for name in TEXTS}
    typed["where"] = f"{record.property or ''}|{record.area or ''}" if record.property else ""
    typed |= {f"turf.{row}": key for row, key in enumerate(record.turf)}
    typed["application"] = str(record.application)
    for name in _MEASURES:
        typed |= _measure(name, getattr(record, name))
    for row, product in enumerate(record.products):
        typed |= {f"products.{row}.{name}": getattr(product, name) for name in ("name", "registration")}
        for name in ("rate", "amount"):
            typed |= _measure(f"products.{row}.{name}", getattr(product, name))
    if record.adjuvant is not None:
        typed |= {f"adjuvant.{name}": getattr(record.adjuvant, name) for name in ("id", "name", "registration")}
        for name in ("rate", "amount"):
            typed |= _measure(f"adjuvant.{name}", getattr(record.adjuvant, name))
    for row, target in enumerate(record.targets):
        known = base.weed_names.get(target.weed)
        typed |= {f"targets.{row}.weed": known.name if known is not None else target.weed}
        typed |= {f"targets.{row}.stage": target.stage or ""}
    for name, kind in _WEATHER.items():
        value = getattr(record.weather, name)
        typed[f"weather.{name}"] = "" if value is None else _figure(value, kind, system)
    typed |= {f"weather.{name}": getattr(record.weather, name) for name in _WEATHER_TEXTS}
    for row, label in labels_of(branch, record).items():
        typed[f"extra.{row}"] = record.extra.get(label, "")
    return typed


def read_record(
    form: Mapping[str, str], before: ApplicationRecord | None, branch: Branch, base: KnowledgeBase
) -> TypedRecord:
    """What was typed of a record; what the form does not ask for stays as it was `before`."""
    told = {key: value.strip() for key, value in form.items() if key not in ("csrf_token", "version", "act")}
    typed = TypedRecord(told, labels=labels_of(branch, before))
    typed.payload = before.model_dump(mode="json", exclude_none=True) if before is not None else {}
    for name in TEXTS:
        _put(typed.payload, name, told.get(name, ""))
    property_told, _, area = told.get("where", "").partition("|")
    _put(typed.payload, "property", property_told)
    _put(typed.payload, "area", area if property_told else "")
    typed.payload["turf"] = [told[key] for key in ("turf.0", "turf.1") if told.get(key)]
    if before is not None and len(before.turf) > 2:
        typed.payload["turf"] += before.turf[2:]
    _put(typed.payload, "application", _whole(typed, "application"))
    for name in _MEASURES:
        _put(typed.payload, name, _read_measure(typed, name))
    _read_products(typed, before)
    _read_adjuvant(typed)
    _read_targets(typed)
    _read_weather(typed, before, base, branch)
    typed.payload["extra"] = {label: told[f"extra.{n}"] for n, label in typed.labels.items() if told.get(f"extra.{n}")}
    if not typed.payload.get("date") and "date" not in typed.faults:
        typed.faults["date"] = "is required: the day of the application"
    if not typed.payload["products"] and not any(key.startswith("products.") for key in typed.faults):
        typed.faults["products.0.name"] = "is required: say what was applied"
    return typed


def still_filled_in(before: ApplicationRecord | None, record: ApplicationRecord) -> tuple[str, ...]:
    """Fields that were filled in and still hold what they held: nobody typed anything else."""
    if before is None:
        return ()
    return tuple(path for path in before.filled_in if value_at(before, path) == value_at(record, path))


def _put(payload: dict[str, Any], name: str, value: Any) -> None:
    """Put what was told; what was emptied is taken away."""
    if value in ("", None):
        payload.pop(name, None)
    else:
        payload[name] = value


def _read_products(typed: TypedRecord, before: ApplicationRecord | None) -> None:
    found: list[dict[str, Any]] = []
    typed.rows["products"] = []
    for row in range(MOST_PRODUCTS):
        told = {name: typed.fields.get(f"products.{row}.{name}", "") for name in _OF_PRODUCT}
        if not any(told.values()):
            continue
        typed.rows["products"].append(row)
        if not told["name"]:
            typed.faults[f"products.{row}.name"] = "is required beside a number, a rate or an amount"
        part: dict[str, Any] = {"name": told["name"], "registration": told["registration"]}
        for name in ("rate", "amount"):
            _put(part, name, _read_measure(typed, f"products.{row}.{name}"))
        _keep_actives(part, before, typed.payload)
        found.append(part)
    typed.payload["products"] = found


def _keep_actives(part: dict[str, Any], before: ApplicationRecord | None, payload: Mapping[str, Any]) -> None:
    """Actives stay where nothing changed that they follow from; else they are filled in anew."""
    for product in before.products if before is not None else ():
        was = product.model_dump(mode="json", exclude_none=True)
        same = all(part.get(name) == was.get(name) for name in ("name", "rate", "amount"))
        area = before.treated.model_dump(mode="json") if before is not None and before.treated is not None else None
        if same and (product.rate is not None or payload.get("treated") == area):
            part["actives"] = was.get("actives", [])


def _read_adjuvant(typed: TypedRecord) -> None:
    told = {name: typed.fields.get(f"adjuvant.{name}", "") for name in _OF_ADJUVANT}
    typed.payload.pop("adjuvant", None)
    if not told["id"]:
        if any(told.values()):
            typed.faults["adjuvant.id"] = "is required beside its name, rate or amount"
        return
    part: dict[str, Any] = {name: told[name] for name in ("id", "name", "registration")}
    for name in ("rate", "amount"):
        _put(part, name, _read_measure(typed, f"adjuvant.{name}"))
    typed.payload["adjuvant"] = part


def _read_targets(typed: TypedRecord) -> None:
    found: list[dict[str, Any]] = []
    typed.rows["targets"] = []
    for row in range(MOST_TARGETS):
        weed, stage = (typed.fields.get(f"targets.{row}.{name}", "") for name in ("weed", "stage"))
        if not weed and not stage:
            continue
        typed.rows["targets"].append(row)
        if not weed:
            typed.faults[f"targets.{row}.weed"] = "is required beside a stage"
            continue
        try:
            key = weed_id(f"targets.{len(found)}.weed", weed)
        except InputError as error:
            typed.faults[f"targets.{row}.weed"] = error.faults[0].message
            continue
        found.append({"weed": key, **({"stage": stage} if stage else {})})
    typed.payload["targets"] = found


def _read_weather(typed: TypedRecord, before: ApplicationRecord | None, base: KnowledgeBase, branch: Branch) -> None:
    system = units.system_named(typed.fields.get("typed_in"))
    told: dict[str, Any] = {}
    stood = shown(before, branch, base, system) if before is not None else {}
    for name, kind in _WEATHER.items():
        text = typed.fields.get(f"weather.{name}", "")
        if not text:
            continue
        if before is not None and text == stood.get(f"weather.{name}"):
            # What was not touched stays to the last digit, whatever it was shown in.
            told[name] = getattr(before.weather, name)
            continue
        try:
            value = words.number(text)
        except words.Unreadable as error:
            typed.faults[f"weather.{name}"] = str(error)
            continue
        told[name] = float(f"{units.converted(kind, value, system, 'us'):.6g}") if kind else value
    told |= {name: text for name in _WEATHER_TEXTS if (text := typed.fields.get(f"weather.{name}", ""))}
    typed.payload["weather"] = told


def _read_measure(typed: TypedRecord, name: str) -> dict[str, Any] | None:
    text = typed.fields.get(name, "")
    if not text:
        return None
    try:
        return words.measure(text, typed.fields.get(f"{name}.unit", ""))
    except words.Unreadable as error:
        typed.faults[name] = str(error)
        return None


def _whole(typed: TypedRecord, name: str) -> int | None:
    text = typed.fields.get(name, "")
    if not text:
        return None
    if re.fullmatch(r"[0-9]{1,2}", text) is None:
        typed.faults[name] = f"'{text[:20]}' is no number of an application, counted from 1"
        return None
    return int(text)


def _measure(name: str, value: Measure | None) -> dict[str, str]:
    return {name: words.written(value.value), f"{name}.unit": value.unit} if value is not None else {name: ""}


def _figure(value: float, kind: str, system: System) -> str:
    return units.figure(round(units.converted(kind, value, "us", system), 1), 4) if kind else f"{value:g}"


def _text(value: Any) -> str:
    return "" if value is None else str(value)
