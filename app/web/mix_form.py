"""The mix as typed: from a form's fields to a plan, with every fault at its field."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.engine.product import FORMULATIONS, LabelRate, Product
from app.web.units import System
from knowledge.base import KnowledgeBase, applies_to_turf
from knowledge.quantities import (
    AREA_UNITS,
    CARRIER_UNITS,
    MASS_RATE_UNITS,
    SPRAY_SHARE_UNITS,
    VOLUME_RATE_UNITS,
    VOLUME_UNITS,
)

PRODUCT_ROWS, ACTIVE_ROWS = 3, 4
OWN = "own"
METHODS = {
    "broadcast": "Broadcast: boom, gun or backpack over an area",
    "spot": "Spot: hand-can or backpack",
    "granular": "Granules: spreader",
}
RATE_UNITS = (*VOLUME_RATE_UNITS, *MASS_RATE_UNITS, *SPRAY_SHARE_UNITS)
CONTENT_UNITS = ("lb ae/gal", "lb ai/gal", "g ae/L", "g ai/L", "% w/w")
UNITS_OF = {
    "area": AREA_UNITS,
    "carrier": CARRIER_UNITS,
    "tank": ("gal", "L"),
    "spray": VOLUME_UNITS,
    "rate": RATE_UNITS,
    "content": CONTENT_UNITS,
    "adjuvant_rate": ("% v/v", *VOLUME_RATE_UNITS, *MASS_RATE_UNITS),
}
USUAL_UNIT: dict[System, dict[str, str]] = {
    "us": {"area": "ft2", "carrier": "gal/1000 ft2", "tank": "gal", "spray": "gal", "rate": "fl oz/1000 ft2"},
    "metric": {"area": "m2", "carrier": "L/ha", "tank": "L", "spray": "L", "rate": "mL/100 m2"},
}
ENDS = {"low": "lowest of its label", "middle": "middle of its label", "high": "highest of its label"}
_LABELS = {
    "method": "How it is put out",
    "area": "Area",
    "sprayer": "Sprayer",
    "carrier": "Carrier volume",
    "tank": "Tank holds",
    "spray": "Spray to mix",
    "turf": "Turf",
    "site_use": "Use of the turf",
    "adjuvant": "Adjuvant",
    "adjuvant_rate": "Rate of the adjuvant",
}
_PARTS = {"name": "Name", "formulation": "Formulation", "density": "Density", "rate": "Rate", "at": "Rate of the label"}


def _labels() -> dict[str, str]:
    found = dict(_LABELS)
    for row in range(1, PRODUCT_ROWS + 1):
        found[f"p{row}"] = f"Product {row}"
        found.update({f"p{row}.{part}": f"{words} of product {row}" for part, words in _PARTS.items()})
        for number in range(1, ACTIVE_ROWS + 1):
            found[f"p{row}.active_{number}"] = f"Active {number} of product {row}"
            found[f"p{row}.content_{number}"] = f"Content of active {number} of product {row}"
    return found


FIELD_LABELS = _labels()


@dataclass(frozen=True)
class AskedMix:
    """What was typed, as a plan, with what could not be read; `rows` are the form rows of its products."""

    payload: dict[str, Any]
    faults: tuple[FieldFault, ...]
    rows: tuple[int, ...]

    def checked(self) -> dict[str, Any]:
        """The plan, where every field could be read.

        Raises
        ------
        InputError
            With every fault of the form.
        """
        if self.faults:
            raise InputError(list(self.faults))
        return self.payload

    def by_field(self, faults: Sequence[FieldFault]) -> dict[str, str]:
        """Faults by the field of the form where each was typed."""
        return {_field_of(fault.path, self.rows): fault.message for fault in reversed(faults)}


def _field_of(path: str, rows: Sequence[int]) -> str:
    if path in FIELD_LABELS:
        return path
    match = re.match(r"products\.(\d+)(?:\.(.*))?", path)
    if match is None:
        stem = path.split(".", maxsplit=1)[0]
        if path.startswith("adjuvant.rate"):
            return "adjuvant_rate"
        return stem if stem in FIELD_LABELS else "method"
    row = rows[int(match[1])] if int(match[1]) < len(rows) else 1
    rest = match[2] or ""
    if inner := re.match(r"actives\.(\d+)\.(active|form|content)", rest):
        part = "content" if inner[2] == "content" else "active"
        return f"p{row}.{part}_{int(inner[1]) + 1}"
    part = rest.split(".")[0]
    return f"p{row}.{part}" if part in _PARTS else f"p{row}"


def read_mix(typed: Mapping[str, str], base: KnowledgeBase, held: Callable[[str], Product], system: System) -> AskedMix:
    """The plan that a filled form asks for; `held` looks a product of the shelf up."""
    return _Reader(typed, base, held, system).read()


class _Reader:
    def __init__(
        self, typed: Mapping[str, str], base: KnowledgeBase, held: Callable[[str], Product], system: System
    ) -> None:
        self.typed, self.base, self.held, self.system = typed, base, held, system
        self.faults: list[FieldFault] = []
        self.rows: list[int] = []

    def read(self) -> AskedMix:
        payload: dict[str, Any] = {"method": self._text("method") or "broadcast", "units": self.system}
        for field in ("area", "carrier", "tank", "spray"):
            if (told := self._measure(field, field)) is not None:
                payload[field] = told
        if self._text("sprayer"):
            payload["sprayer"] = self._text("sprayer")
        if self._text("turf"):
            payload["turf"] = [self._text("turf")]
        if self._text("site_use"):
            payload["site_use"] = self._text("site_use")
        if self._text("adjuvant"):
            rate = self._measure("adjuvant_rate", "adjuvant_rate")
            payload["adjuvant"] = {"id": self._text("adjuvant"), "rate": rate}
        payload["products"] = [
            product for row in range(1, PRODUCT_ROWS + 1) if (product := self._product(row)) is not None
        ]
        if not payload["products"] and not self.faults:
            self.faults.append(FieldFault("p1", "choose a product of the shelf, or type one"))
        return AskedMix(payload, tuple(self.faults), tuple(self.rows))

    def _text(self, field: str) -> str:
        return self.typed.get(field, "").strip()

    def _measure(self, field: str, kind: str) -> dict[str, Any] | None:
        text = self._text(field)
        if not text:
            return None
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            self.faults.append(FieldFault(field, f"'{text[:20]}' is not a number"))
            return None
        unit = self._text(f"{field}.unit") or USUAL_UNIT[self.system].get(kind, UNITS_OF[kind][0])
        return {"value": value, "unit": unit}

    def _product(self, row: int) -> dict[str, Any] | None:
        chosen = self._text(f"p{row}")
        if not chosen:
            return None
        self.rows.append(row)
        rate = self._measure(f"p{row}.rate", "rate")
        if chosen != OWN:
            product = self.held(chosen)
            rate = rate or self._label_rate(row, product)
            return {"id": chosen, "rate": rate} if rate is not None else {"id": chosen}
        made: dict[str, Any] = {
            "name": self._text(f"p{row}.name") or f"Product {row}",
            "formulation": self._text(f"p{row}.formulation") or "SL",
            "actives": self._actives(row),
        }
        if rate is not None:
            made["rate"] = rate
        if (density := self._measure(f"p{row}.density", "content")) is not None:
            made["density"] = {"value": density["value"], "unit": self._text(f"p{row}.density.unit") or "lb/gal"}
        return made

    def _actives(self, row: int) -> list[dict[str, Any]]:
        found = []
        for number in range(1, ACTIVE_ROWS + 1):
            told = self._text(f"p{row}.active_{number}")
            if not told:
                continue
            # A form's id starts with its active; an active without salts or esters is its own form.
            active = self.base.form_owner(told) or told
            content = self._measure(f"p{row}.content_{number}", "content")
            if content is None and not self._text(f"p{row}.content_{number}"):
                self.faults.append(FieldFault(f"p{row}.content_{number}", "is needed with the active"))
            form = told if active != told or self.base.form_owner(told) else None
            found.append({"active": active, "form": form, "content": content})
        return found

    def _label_rate(self, row: int, product: Product) -> dict[str, Any] | None:
        end = self._text(f"p{row}.at")
        if end not in ENDS:
            return None
        spot = self._text("method") == "spot"
        line = label_line_on(self.base, product, self._text("turf"), spot=spot)
        if line is None:
            what = "tell the turf, or type the rate: the label's line cannot be told"
            self.faults.append(FieldFault(f"p{row}.at", what))
            return None
        low, high = line.low.value, line.high.quantity.to(line.low.unit).value
        value = {"low": low, "middle": (low + high) / 2, "high": high}[end]
        return {"value": value, "unit": line.low.unit}


def label_line_on(base: KnowledgeBase, product: Product, turf: str, *, spot: bool) -> LabelRate | None:
    """The line of a label's rates for a turf; the only line where no turf is told, else None."""
    lines = [line for line in product.rates if (line.purpose == "spot") == spot]
    if spot and not lines:
        lines = list(product.rates)
    if turf not in base.turf:
        return lines[0] if len(lines) == 1 and not turf else None
    ranked = [(applies_to_turf(line.turf, base.turf[turf]), line) for line in lines]
    fit = [pair for pair in ranked if pair[0] >= 0]
    return max(fit, key=lambda pair: pair[0])[1] if fit else None


def mix_choices(base: KnowledgeBase, products: Sequence[Product], system: System) -> dict[str, Any]:
    """Every list the form offers."""
    usual = USUAL_UNIT[system]
    forms = {
        form.id: active.name if form.name == active.name else f"{active.name}, {form.name}"
        for active in sorted(base.actives.values(), key=lambda a: a.name.lower())
        for form in active.forms
    }
    herbicides = {p.id: p.name for p in products if p.kind == "herbicide" and p.id is not None}
    return {
        "methods": METHODS,
        "ends": ENDS,
        "product_choices": {**herbicides, OWN: "another product, typed below"},
        "form_choices": forms,
        "formulation_choices": {key: f"{key}, {base.formulations[key].name}" for key in FORMULATIONS},
        "mix_adjuvants": {a.id: a.name for a in base.adjuvants.values() if a.id != "none"},
        "units_of": {kind: _first(found, usual.get(kind)) for kind, found in UNITS_OF.items()},
        "product_rows": range(1, PRODUCT_ROWS + 1),
        "active_rows": range(1, ACTIVE_ROWS + 1),
        "own": OWN,
        "mix_labels": FIELD_LABELS,
    }


def _first(found: Sequence[str], usual: str | None) -> tuple[str, ...]:
    """The units of a kind, the usual one first."""
    return tuple(found) if usual is None else (usual, *(unit for unit in found if unit != usual))
