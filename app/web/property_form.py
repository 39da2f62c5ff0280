"""Reading the form of a property: typed fields into plain data, a property into typed fields, faults to fields."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from app.engine.errors import FieldFault
from app.season.property import Property, PropertyArea
from app.services import label_text as words
from app.services.property_cells import size as size_of
from app.store.names import name_key
from app.web import units
from app.web.property_fields import LABELS, MOST_ROWS, STARTING_ROWS, barred_id

_PLAIN = ("name", "address", "zone", "technician", "ended", "notes")
_PLACE = ("latitude", "longitude")
_OF_AREA = ("site_use", "slope", "irrigation", "stand", "emerged", "green_up", "stress", "notes")
_TURF_ROWS = 5
# Parts of an area, as the model names them -> as the form does.
_FORM_NAMES = {"area": "size", "mowing_height_in": "height", "id": "name"}
_RULE_NAMES = {"start": "from", "end": "to", "from": "from", "to": "to", "note": "note", "kind": "kind"}
_BARRED = {"ban-active": "active", "ban-form": "form", "ban-group": "group"}
_CM_PER_INCH = 2.54


@dataclass
class Typed:
    """What was typed: fields by name, ticked boxes by name, rows shown of each group, and where rows came from.

    `payload` is the property as plain data as far as it could be read, `faults` what could not be.
    """

    fields: dict[str, str] = field(default_factory=dict)
    ticked: dict[str, list[str]] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=lambda: dict(STARTING_ROWS))
    payload: dict[str, Any] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)
    row_of: dict[str, list[int]] = field(default_factory=dict)

    def field_of(self, path: str) -> str:
        """The field in which a path of the property was typed; the name where there is none."""
        parts = path.split(".")
        group = "rules" if parts[0] == "local_rules" else parts[0]
        if group not in MOST_ROWS:
            return group if group in LABELS else "name"
        if len(parts) < 2:
            return group
        told = self.row_of.get(group, [])
        row = told[int(parts[1])] if int(parts[1]) < len(told) else 0
        return f"{group}.{row}.{_part(group, parts[2:])}"

    def blame(self, faults: Iterable[FieldFault]) -> None:
        """Note faults at their fields, the first of each."""
        for fault in faults:
            self.faults.setdefault(self.field_of(fault.path), fault.message)

    @property
    def customer(self) -> str:
        """The customer as typed."""
        return self.fields.get("customer", "")

    @property
    def new_customer(self) -> bool:
        """Whether it was told that the customer is a new one."""
        return self.fields.get("new_customer") == "yes"

    def turf_rows(self, row: int) -> int:
        """How many fields for turf an area needs."""
        told = [at for at in range(_TURF_ROWS) if self.fields.get(f"areas.{row}.turf.{at}")]
        return max(2, max(told, default=0) + 1)


def _part(group: str, rest: list[str]) -> str:
    key = rest[0] if rest else ""
    if group == "areas":
        if key == "turf":
            return f"turf.{rest[1]}" if len(rest) > 1 else "turf.0"
        return _FORM_NAMES.get(key, key or "name")
    if group == "rules":
        return _RULE_NAMES.get(key, "what")
    return key or "kind"


def read_property(form: Mapping[str, str], lists: Callable[[str], list[str]]) -> Typed:
    """What was typed into the form.

    Parameters
    ----------
    form : mapping
        The fields as they were sent.
    lists : callable
        The values of a field that may be sent several times.
    """
    typed = Typed(fields={key: value.strip() for key, value in form.items()})
    for group, least in STARTING_ROWS.items():
        shown = typed.fields.get(f"rows.{group}", "")
        count = int(shown) if shown.isascii() and shown.isdecimal() and len(shown) < 4 else 0
        typed.rows[group] = min(max(count, least), MOST_ROWS[group])
    typed.payload = {key: told for key in _PLAIN if (told := typed.fields.get(key, ""))}
    if not typed.payload.get("name"):
        typed.payload["name"] = ""
        typed.faults["name"] = "is required: the street and number will do"
    for key in _PLACE:
        _read(typed, key, typed.payload, key)
    _read_areas(typed, lists)
    _read_plans(typed)
    _read_rules(typed)
    return typed


def _read(typed: Typed, name: str, into: dict[str, Any], key: str) -> None:
    if told := typed.fields.get(name, ""):
        try:
            into[key] = words.number(told)
        except words.Unreadable as error:
            typed.faults[name] = str(error)


def _read_areas(typed: Typed, lists: Callable[[str], list[str]]) -> None:
    found: list[dict[str, Any]] = []
    typed.row_of["areas"] = []
    for row in range(typed.rows["areas"]):
        stem = f"areas.{row}"
        told = {key: value for key in _OF_AREA if (value := typed.fields.get(f"{stem}.{key}", ""))}
        area: dict[str, Any] = {"name": typed.fields.get(f"{stem}.name", ""), **told}
        area["turf"] = [
            key for at in range(_TURF_ROWS) if (key := typed.fields.get(f"{stem}.turf.{at}", "")) and key != "none"
        ]
        typed.ticked[f"{stem}.surroundings"] = area["surroundings"] = lists(f"{stem}.surroundings")
        if size := typed.fields.get(f"{stem}.size", ""):
            try:
                area["area"] = size_of(size, typed.fields.get(f"{stem}.size.unit", ""))
            except words.Unreadable as error:
                typed.faults[f"{stem}.size"] = str(error)
        _read(typed, f"{stem}.height", area, "mowing_height_in")
        if "mowing_height_in" in area and typed.fields.get(f"{stem}.height.unit") == "cm":
            area["mowing_height_in"] = round(area["mowing_height_in"] / _CM_PER_INCH, 3)
        if typed.fields.get(f"{stem}.gone") == "yes" or not (any(area.values()) or f"{stem}.size" in typed.faults):
            typed.faults = {key: text for key, text in typed.faults.items() if not key.startswith(f"{stem}.")}
            continue
        typed.row_of["areas"].append(row)
        if not area["name"]:
            typed.faults[f"{stem}.name"] = "is required: call it front, back, or what you say to each other"
        found.append({**area, "id": typed.fields.get(f"{stem}.id", "")})
    typed.payload["areas"] = found


def _read_plans(typed: Typed) -> None:
    # An area is chosen by its name, since a new one has no id yet.
    ids = {name_key(area["name"]): area for area in typed.payload["areas"]}
    found = []
    typed.row_of["plans"] = []
    for row in range(typed.rows["plans"]):
        told = {key: typed.fields.get(f"plans.{row}.{key}", "") for key in ("kind", "date", "area", "text")}
        if not (told["kind"] or told["date"] or told["text"]):
            continue
        typed.row_of["plans"].append(row)
        for key, needed in (("kind", "is required: choose what is planned"), ("date", "is required: say on which day")):
            if not told[key]:
                typed.faults[f"plans.{row}.{key}"] = needed
        area = ids.get(name_key(told["area"]))
        if told["area"] and area is None:
            typed.faults[f"plans.{row}.area"] = f"'{told['area'][:60]}' is no area of this property any more"
        found.append({**told, "area": area["name"] if area is not None else None})
    typed.payload["plans"] = found


def _read_rules(typed: Typed) -> None:
    found = []
    typed.row_of["rules"] = []
    for row in range(typed.rows["rules"]):
        told = {key: typed.fields.get(f"rules.{row}.{key}", "") for key in ("kind", "what", "from", "to", "note")}
        if not (told["kind"] or told["what"] or told["from"] or told["to"] or told["note"]):
            continue
        typed.row_of["rules"].append(row)
        if not told["kind"]:
            typed.faults[f"rules.{row}.kind"] = "is required: choose what the rule does"
        rule: dict[str, Any] = {"kind": told["kind"], "note": told["note"]}
        if barred := _BARRED.get(told["kind"]):
            rule[barred] = barred_id(told["kind"], told["what"]) or None
            if not told["what"]:
                typed.faults[f"rules.{row}.what"] = f"is required: name the {barred} that is barred"
        rule |= {key: told[key] for key in ("from", "to") if told[key]}
        found.append(rule)
    typed.payload["local_rules"] = found


def shown_property(told: Property, customer: str, system: units.System) -> Typed:
    """A property as it would have been typed."""
    typed = Typed()
    fields = typed.fields
    document = told.model_dump(mode="json", by_alias=True)
    for key in (*_PLAIN, *_PLACE):
        fields[key] = "" if document[key] is None else str(document[key])
    fields["customer"] = customer
    for row, area in enumerate(told.areas):
        _show_area(typed, f"areas.{row}", area, system)
    for row, plan in enumerate(told.plans):
        on = told.area_of(plan.area or "")
        shown = {"kind": plan.kind, "date": plan.date.isoformat(), "area": on.name if on else "", "text": plan.text}
        fields.update({f"plans.{row}.{key}": value for key, value in shown.items()})
    for row, rule in enumerate(told.local_rules):
        days = {"from": rule.start, "to": rule.end}
        fields[f"rules.{row}.kind"], fields[f"rules.{row}.note"] = rule.kind, rule.note
        fields[f"rules.{row}.what"] = rule.active or rule.form or rule.group or ""
        fields.update({f"rules.{row}.{key}": day.isoformat() if day else "" for key, day in days.items()})
    counts = {"areas": len(told.areas), "plans": len(told.plans), "rules": len(told.local_rules)}
    for group, count in counts.items():
        typed.row_of[group] = list(range(count))
        typed.rows[group] = min(max(count, STARTING_ROWS[group]), MOST_ROWS[group])
    return typed


def _show_area(typed: Typed, stem: str, area: PropertyArea, system: units.System) -> None:
    document = area.model_dump(mode="json")
    fields = typed.fields
    fields[f"{stem}.id"], fields[f"{stem}.name"] = area.id, area.name
    for key in _OF_AREA:
        fields[f"{stem}.{key}"] = "" if document[key] is None else str(document[key])
    for at, key in enumerate(area.turf):
        fields[f"{stem}.turf.{at}"] = key
    typed.ticked[f"{stem}.surroundings"] = list(area.surroundings)
    if area.area is not None:
        fields[f"{stem}.size"], fields[f"{stem}.size.unit"] = words.written(area.area.value), area.area.unit
    if area.mowing_height_in is not None:
        metric = system == "metric"
        shown = area.mowing_height_in * _CM_PER_INCH if metric else area.mowing_height_in
        fields[f"{stem}.height"] = units.figure(shown, 4)
        fields[f"{stem}.height.unit"] = "cm" if metric else "in"
