"""Reading the label form: typed fields into a product's plain data, a product into typed fields, faults to fields."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from app.engine.contradictions import Contradiction
from app.engine.errors import FieldFault
from app.engine.measures import Measure
from app.engine.product import Product
from app.services import label_text as words
from app.web.label_fields import LABELS, MEASURES, MOST_ROWS, STARTING_ROWS, TEXTS

_COUNTS = {
    "max_applications_per_year": words.TIMES,
    "min_interval_days": words.DAY_UNITS,
    "seeding_interval_days": words.DAY_UNITS,
}
_HOURS = ("rainfast_hours", "reentry_hours")
_LISTS = ("site_uses", "turf")
# Names of the model that its messages use, in the words of the form.
_WORDS = {
    "give adjuvant_rate": "say how much of it is used",
    "'adjuvant' and 'adjuvant_rate' belong": "which adjuvant it is and how much is used belong",
    "is required, or the label's table of 'rates'": "is required: give at least one line of the label's rates",
}
# What the form does not ask for is kept as it stands.
_UNASKED = ("basis", "rate")


@dataclass
class Typed:
    """What was typed: fields by name, ticked boxes by name, rows shown of each group, and where rows came from.

    `payload` is the product as plain data as far as it could be read, `faults` what could not be.
    """

    fields: dict[str, str] = field(default_factory=dict)
    ticked: dict[str, list[str]] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=lambda: dict(STARTING_ROWS))
    payload: dict[str, Any] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)
    row_of: dict[str, list[int]] = field(default_factory=dict)
    adjuvants: list[str] = field(default_factory=list)

    def field_of(self, path: str) -> str:
        """The field in which a path of the product was typed; the name where there is none."""
        parts = path.split(".")
        group = parts[0]
        if group == "adjuvants" and len(parts) > 1:
            return f"adjuvants.{self.adjuvants[int(parts[1])]}"
        if group in MOST_ROWS:
            told = self.row_of.get(group, [])
            row = told[int(parts[1])] if len(parts) > 1 and int(parts[1]) < len(told) else 0
            return f"{group}.{row}.{_part(group, parts[2] if len(parts) > 2 else '')}"
        if group == "rate":
            return "rates.0.low"
        return group if group in LABELS else "name"

    def blame(self, faults: Iterable[FieldFault]) -> None:
        """Note faults at their fields, the first of each."""
        for fault in faults:
            message = fault.message
            for told, said in _WORDS.items():
                message = message.replace(told, said)
            name = self.field_of(fault.path)
            untyped = name.endswith(".high") and not self.fields.get(name)
            # Where one rate was typed for both ends, its fault stands at the low end alone.
            if not (untyped and name.replace(".high", ".low") in self.faults):
                self.faults.setdefault(name.replace(".high", ".low") if untyped else name, message)

    def against(self, found: Sequence[Contradiction]) -> dict[str, list[Contradiction]]:
        """Contradictions by field."""
        by_field: dict[str, list[Contradiction]] = {}
        for item in found:
            by_field.setdefault(self.field_of(item.path), []).append(item)
        return by_field


def _part(group: str, key: str) -> str:
    if group == "actives":
        return "content" if key == "content" else "active"
    if group == "packs":
        return "price" if key == "price" else "size"
    return key if key in ("turf", "purpose", "high", "note") else "low"


def read_label(form: Mapping[str, str], lists: Callable[[str], list[str]], stored: Product | None = None) -> Typed:
    """What was typed into the form.

    Parameters
    ----------
    form : mapping
        The fields as they were sent.
    lists : callable
        The values of a field that may be sent several times.
    stored : Product, optional
        The product that is being changed: what the form does not ask for is kept from it.
    """
    typed = Typed(fields={key: value.strip() for key, value in form.items()})
    for group, least in STARTING_ROWS.items():
        shown = typed.fields.get(f"rows.{group}", "")
        typed.rows[group] = min(max(int(shown) if shown.isdecimal() else 0, least), MOST_ROWS[group])
    if stored is not None:
        typed.payload = {key: stored.model_dump(mode="json")[key] for key in _UNASKED}
    for name in TEXTS:
        if told := typed.fields.get(name, ""):
            typed.payload[name] = told
    for name in MEASURES:
        _read(typed, name, words.measure, typed.fields.get(f"{name}.unit", ""))
    for name, units in _COUNTS.items():
        _read(typed, name, words.whole, units)
    for name in _HOURS:
        _read(typed, name, words.counted, words.HOUR_UNITS)
    _read(typed, "max_air_f", words.temperature, typed.fields.get("max_air_f.unit", ""))
    for name in _LISTS:
        typed.ticked[name] = told_list = lists(name)
        if told_list:
            typed.payload[name] = [item for item in told_list if item != words.NONE_AT_ALL]
    _read_adjuvants(typed)
    _read_actives(typed)
    _read_rates(typed, lists)
    _read_packs(typed)
    _require_its_parts(typed)
    if stored is not None:
        _in_stored_order(typed.payload, stored.model_dump(mode="json"))
    return typed


def _require_its_parts(typed: Typed) -> None:
    """Say what a herbicide lacks beside every other fault, not only once those are mended."""
    if typed.payload.get("kind", "herbicide") != "herbicide":
        return
    if not typed.payload["actives"]:
        typed.faults.setdefault("actives.0.active", "must name at least one active")
    if not typed.payload["rates"] and not typed.payload.get("rate"):
        typed.faults.setdefault("rates.0.low", "is required: give at least one line of the label's rates")


def _in_stored_order(payload: dict[str, Any], stored: dict[str, Any]) -> None:
    """Boxes have an order of their own: what was ticked as before keeps the order that it had."""
    for name in (*_LISTS, "adjuvants"):
        payload_list, before = payload.get(name), stored[name]
        if payload_list and before and sorted(map(str, payload_list)) == sorted(map(str, before)):
            payload[name] = before
    for line, before in zip(payload["rates"], stored["rates"], strict=False):
        if set(line["turf"]) == set(before["turf"]):
            line["turf"] = before["turf"]


def _read(typed: Typed, name: str, reader: Callable[[str, Any], Any], beside: Any) -> None:
    told = typed.fields.get(name, "")
    if told:
        try:
            typed.payload[name] = reader(told, beside)
        except words.Unreadable as error:
            typed.faults[name] = str(error)


def _figure(typed: Typed, name: str, unit: str) -> dict[str, Any] | None:
    """A figure of a row; None, with its fault noted, where it cannot be read."""
    try:
        return words.measure(typed.fields.get(name, ""), unit)
    except words.Unreadable as error:
        typed.faults[name] = str(error) if typed.fields.get(name) else "is required"
        return None


def _read_adjuvants(typed: Typed) -> None:
    told = {
        key.split(".", 1)[1]: value for key, value in typed.fields.items() if key.startswith("adjuvants.") and value
    }
    typed.adjuvants = list(told)
    typed.payload["adjuvants"] = [{"id": name, "use": use} for name, use in told.items()]


def _read_actives(typed: Typed) -> None:
    found = []
    typed.row_of["actives"] = []
    for row in range(typed.rows["actives"]):
        stem = f"actives.{row}"
        chosen, content = typed.fields.get(f"{stem}.active", ""), typed.fields.get(f"{stem}.content", "")
        if not chosen and not content:
            continue
        typed.row_of["actives"].append(row)
        if not chosen:
            typed.faults[f"{stem}.active"] = "is required beside a content"
        active, _, form = chosen.partition("|")
        figure = _figure(typed, f"{stem}.content", typed.fields.get(f"{stem}.unit", ""))
        found.append({"active": active, "form": form or None, "content": figure})
    typed.payload["actives"] = found


def _read_rates(typed: Typed, lists: Callable[[str], list[str]]) -> None:
    found = []
    typed.row_of["rates"] = []
    for row in range(typed.rows["rates"]):
        stem = f"rates.{row}"
        typed.ticked[f"{stem}.turf"] = turf = lists(f"{stem}.turf")
        low, high, note = (typed.fields.get(f"{stem}.{key}", "") for key in ("low", "high", "note"))
        if not (low or high or note or turf):
            continue
        typed.row_of["rates"].append(row)
        if not turf:
            typed.faults[f"{stem}.turf"] = "is required: tick the turf of this line, or 'all turf'"
        unit = typed.fields.get(f"{stem}.unit", "")
        lowest = _figure(typed, f"{stem}.low", unit)
        # A label that gives one rate gives it as both.
        highest = _figure(typed, f"{stem}.high", unit) if high else lowest
        line = {"turf": turf, "purpose": typed.fields.get(f"{stem}.purpose") or "postemergence", "note": note}
        found.append({**line, "low": lowest, "high": highest})
    typed.payload["rates"] = found


def _read_packs(typed: Typed) -> None:
    found = []
    typed.row_of["packs"] = []
    for row in range(typed.rows["packs"]):
        stem = f"packs.{row}"
        size, price = typed.fields.get(f"{stem}.size", ""), typed.fields.get(f"{stem}.price", "")
        if not size and not price:
            continue
        typed.row_of["packs"].append(row)
        cost = None
        if price:
            try:
                cost = words.number(price)
            except words.Unreadable as error:
                typed.faults[f"{stem}.price"] = str(error)
        found.append({"size": _figure(typed, f"{stem}.size", typed.fields.get(f"{stem}.unit", "")), "price": cost})
    typed.payload["packs"] = found


def shown_label(product: Product) -> Typed:
    """A product as it would have been typed."""
    typed = Typed(payload=product.model_dump(mode="json", exclude={"id"}))
    fields = typed.fields
    for name in TEXTS:
        value = getattr(product, name)
        fields[name] = "" if value is None else str(value)
    for name in MEASURES:
        _show(fields, name, getattr(product, name))
    for name in (*_COUNTS, *_HOURS, "max_air_f"):
        value = getattr(product, name)
        fields[name] = "" if value is None else words.written(value)
    fields["max_air_f.unit"] = "F"
    for name in _LISTS:
        told = getattr(product, name)
        typed.ticked[name] = [] if told is None else list(told) or [words.NONE_AT_ALL]
    typed.adjuvants = [item.id for item in product.adjuvants]
    fields.update({f"adjuvants.{item.id}": item.use for item in product.adjuvants})
    for row, part in enumerate(product.actives):
        fields[f"actives.{row}.active"] = f"{part.active}|{part.form or ''}"
        _show(fields, f"actives.{row}.content", part.content, f"actives.{row}.unit")
    for row, line in enumerate(product.rates):
        typed.ticked[f"rates.{row}.turf"] = list(line.turf)
        fields[f"rates.{row}.purpose"], fields[f"rates.{row}.note"] = line.purpose, line.note
        _show(fields, f"rates.{row}.low", line.low, f"rates.{row}.unit")
        same = line.low.unit == line.high.unit
        fields[f"rates.{row}.high"] = words.written(line.high.value) if same else words.measure_text(line.high)
    for row, pack in enumerate(product.packs):
        _show(fields, f"packs.{row}.size", pack.size, f"packs.{row}.unit")
        fields[f"packs.{row}.price"] = "" if pack.price is None else words.price_text(pack.price)
    for group in STARTING_ROWS:
        count = len(getattr(product, group))
        typed.row_of[group] = list(range(count))
        typed.rows[group] = min(max(count + 1, STARTING_ROWS[group]), MOST_ROWS[group])
    return typed


def _show(fields: dict[str, str], name: str, told: Measure | None, unit: str = "") -> None:
    if told is not None:
        fields[name], fields[unit or f"{name}.unit"] = words.written(told.value), told.unit
