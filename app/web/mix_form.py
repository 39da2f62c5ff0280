"""The mix as typed: from a form's fields to a plan, with every fault at its field."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.engine.product import FORMULATIONS, Product
from app.services import label_text
from app.web.mix_rates import chosen_rate, label_lines, lines_said, rate_choices
from app.web.units import System
from knowledge.base import KnowledgeBase
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
    "broadcast": "Boom, gun or backpack",
    "spot": "Spot: hand-can, backpack",
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
_PARTS = {"name": "Name", "formulation": "Formulation", "density": "Density", "rate": "Rate", "at": "Rate on the label"}


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


# Where it is not known yet which product and turf.
_ENDS_UNTOLD = {"low": "lowest of its label", "middle": "middle of its label", "high": "highest of its label"}


@dataclass(frozen=True)
class RowShown:
    """One product's row of the form: its name as typed, whether it is typed by hand, and its label's rates."""

    named: str
    own: bool
    opened: bool
    rates: dict[str, str]
    said: tuple[str, ...]


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


def read_mix(typed: Mapping[str, str], base: KnowledgeBase, products: Sequence[Product], system: System) -> AskedMix:
    """The plan that a filled form asks for, with the products of the shelf that it may name."""
    return _Reader(typed, base, products, system).read()


def shelf_product(products: Sequence[Product], told: str) -> Product | None:
    """The product of the shelf that is meant by an id or a name."""
    name = told.casefold()
    return next((p for p in products if told == p.id or name == p.name.casefold()), None)


def row_is_own(typed: Mapping[str, str], row: int) -> bool:
    """Whether a product is typed by hand into a row."""
    parts = ("name", "active_1", "content_1")
    return typed.get(f"p{row}", "") == OWN or any(typed.get(f"p{row}.{part}", "").strip() for part in parts)


class _Reader:
    def __init__(
        self, typed: Mapping[str, str], base: KnowledgeBase, products: Sequence[Product], system: System
    ) -> None:
        self.typed, self.base, self.products, self.system = typed, base, products, system
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
            value = label_text.number(text)
        except label_text.Unreadable as error:
            self.faults.append(FieldFault(field, f"{error}"))
            return None
        unit = self._text(f"{field}.unit") or USUAL_UNIT[self.system].get(kind, UNITS_OF[kind][0])
        return {"value": value, "unit": unit}

    def _product(self, row: int) -> dict[str, Any] | None:
        chosen, own = self._text(f"p{row}"), row_is_own(self.typed, row)
        if not chosen and not own:
            if self._text(f"p{row}.rate"):
                self.faults.append(FieldFault(f"p{row}", "is needed with its rate"))
            return None
        self.rows.append(row)
        rate = self._measure(f"p{row}.rate", "rate")
        if chosen and chosen != OWN:
            return self._held(row, chosen, rate, own=own)
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

    def _held(self, row: int, chosen: str, rate: dict[str, Any] | None, *, own: bool) -> dict[str, Any]:
        product = shelf_product(self.products, chosen)
        if product is None:
            what = f"'{chosen[:40]}' is not on the shelf; choose one of its list, or type the product under it"
            self.faults.append(FieldFault(f"p{row}", what))
            return {}
        if own:
            self.faults.append(FieldFault(f"p{row}", "is chosen, and another is typed under it; empty one of them"))
        rate = rate or self._label_rate(row, product)
        return {"id": product.id, "rate": rate} if rate is not None else {"id": product.id}

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
        chosen = self._text(f"p{row}.at")
        if not chosen:
            return None
        lines = label_lines(self.base, product, self._text("turf"), spot=self._text("method") == "spot")
        rate = chosen_rate(lines, chosen)
        if rate is None:
            several = "the label gives several rates here; choose one of the list"
            what = several if len(lines) > 1 else "tell the turf, or type the rate: the label's line cannot be told"
            self.faults.append(FieldFault(f"p{row}.at", what))
            return None
        return {"value": rate.value, "unit": rate.unit}


def rows_shown(
    base: KnowledgeBase, products: Sequence[Product], typed: Mapping[str, str], system: System
) -> dict[int, RowShown]:
    """What the form shows of each row: the label's rates where a product of the shelf is chosen."""
    found = {}
    for row in range(1, PRODUCT_ROWS + 1):
        chosen, own = typed.get(f"p{row}", "").strip(), row_is_own(typed, row)
        product = shelf_product(products, chosen) if chosen else None
        rates: dict[str, str] = {}
        if product is not None:
            spot = typed.get("method") == "spot"
            rates = rate_choices(label_lines(base, product, typed.get("turf", ""), spot=spot), system)
        found[row] = RowShown(
            named=product.name if product is not None else "" if chosen == OWN else chosen,
            own=own,
            opened=bool(chosen) or own or bool(typed.get(f"p{row}.rate")),
            rates=rates or _ENDS_UNTOLD,
            said=lines_said(product, system) if product is not None else (),
        )
    return found


def mix_choices(base: KnowledgeBase, products: Sequence[Product], system: System) -> dict[str, Any]:
    """Every list the form offers."""
    usual = USUAL_UNIT[system]
    forms = {
        form.id: active.name if form.name == active.name else f"{active.name}, {form.name}"
        for active in sorted(base.actives.values(), key=lambda a: a.name.lower())
        for form in active.forms
    }
    return {
        "methods": METHODS,
        "shelf_names": [p.name for p in products if p.kind == "herbicide"],
        "form_choices": forms,
        "formulation_choices": {key: f"{key}, {base.formulations[key].name}" for key in FORMULATIONS},
        "mix_adjuvants": {
            "By kind": {a.id: a.name for a in base.adjuvants.values() if a.id != "none"},
            "On the shelf": {p.id: p.name for p in products if p.kind == "adjuvant" and p.id is not None},
        },
        "units_of": {kind: _first(found, usual.get(kind)) for kind, found in UNITS_OF.items()},
        "product_rows": range(1, PRODUCT_ROWS + 1),
        "active_rows": range(1, ACTIVE_ROWS + 1),
        "mix_labels": FIELD_LABELS,
    }


def _first(found: Sequence[str], usual: str | None) -> tuple[str, ...]:
    """The units of a kind, the usual one first."""
    return tuple(found) if usual is None else (usual, *(unit for unit in found if unit != usual))
