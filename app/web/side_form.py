"""The form of a comparison: from its fields to what the service is asked, with every fault at its field."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.engine.product import Product
from app.engine.sides import MAX_SIDES
from app.services import label_text
from app.web.fields import FIELD_LABELS, WEED_ROWS_COMPARED
from app.web.forms import Asked, read_question
from app.web.units import System
from knowledge.base import KnowledgeBase

ACTIVE_ROWS = 3
ENDS = {"low": "the low end", "middle": "the middle", "high": "the high end"}
TIMES = {"1": "once", "2": "twice"}
_LETTERS = "ABCD"
_HOLDS = "sides."
_FORM = "form."


def _labels() -> dict[str, str]:
    found = dict(FIELD_LABELS)
    for n, letter in enumerate(_LETTERS, start=1):
        found[f"side_{n}"] = f"Side {letter}"
        found[f"at_{n}"] = f"Rate of side {letter}"
        found[f"adjuvant_{n}"] = f"Adjuvant of side {letter}"
        found[f"times_{n}"] = f"Side {letter} is sprayed"
        for k in range(1, ACTIVE_ROWS + 1):
            found[f"active_{n}_{k}"] = f"Active {k} of side {letter}"
            found[f"rate_{n}_{k}"] = f"Rate of active {k} of side {letter}"
    return found


SIDE_LABELS = _labels()
SIDE_FIELDS = tuple(key for key in SIDE_LABELS if key not in FIELD_LABELS)


@dataclass(frozen=True)
class AskedSides:
    """What was typed, as a request, with the row of the form of each side and of each of its actives."""

    asked: Asked
    sides: tuple[dict[str, Any], ...]
    faults: tuple[FieldFault, ...]
    rows: tuple[int, ...]
    active_rows: tuple[tuple[int, ...], ...]

    def checked(self) -> dict[str, Any]:
        """The request, where every field could be read.

        Raises
        ------
        InputError
            With every fault of the form.
        """
        faults = list(self.faults)
        try:
            situation = self.asked.checked()
        except InputError as error:
            faults = [*error.faults, *faults]
        if faults:
            raise InputError(faults)
        return {"situation": situation, "sides": list(self.sides)}

    def by_field(self, faults: Sequence[FieldFault], system: System) -> dict[str, str]:
        """The first fault of each field, in the words of the form."""
        mine = [fault for fault in faults if self._is_mine(fault)]
        found = self.asked.rows.by_field(tuple(fault for fault in faults if fault not in mine), system)
        for fault in mine:
            found.setdefault(self._field(fault.path), fault.message)
        return found

    def _is_mine(self, fault: FieldFault) -> bool:
        own = (
            fault.path.startswith(_FORM) and fault.path.removeprefix(_FORM) in SIDE_LABELS.keys() - FIELD_LABELS.keys()
        )
        return own or fault.path.startswith(_HOLDS)

    def _field(self, path: str) -> str:
        if path.startswith(_FORM):
            return path.removeprefix(_FORM)
        parts = path.split(".")
        index = int(parts[1])
        row = self.rows[index]
        if parts[2:3] == ["actives"] and len(parts) > 3:
            kind = "rate" if parts[4:5] == ["rate"] else "active"
            return f"{kind}_{row}_{self.active_rows[index][int(parts[3])]}"
        if parts[-1] in ("at", "rate"):
            return f"at_{row}"
        return f"adjuvant_{row}" if parts[2:3] == ["adjuvant"] else f"side_{row}"


def read_sides(
    typed: Mapping[str, str], surroundings: list[str], base: KnowledgeBase, today: date, typed_in: System
) -> AskedSides:
    """The comparison that a filled form asks for; `typed_in` is the system of its figures."""
    asked = read_question(typed, surroundings, base, today, typed_in, WEED_ROWS_COMPARED)
    reader = _Sides(typed, base, typed_in)
    read = [(n, *reader.side(n)) for n in range(1, MAX_SIDES + 1)]
    told = [(n, side, rows) for n, side, rows in read if side]
    if len(told) < 2:
        empty = next(n for n in (1, 2) if n not in [row for row, _, _ in told])
        reader.refuse(f"side_{empty}", "must be chosen; two sides at the least are compared")
    return AskedSides(
        asked=asked,
        sides=tuple(side for _, side, _ in told),
        faults=tuple(reader.faults),
        rows=tuple(n for n, _, _ in told),
        active_rows=tuple(rows for _, _, rows in told),
    )


class _Sides:
    """Reads the sides of one form; the faults grow as it goes."""

    def __init__(self, typed: Mapping[str, str], base: KnowledgeBase, typed_in: System) -> None:
        self.typed, self.base, self.typed_in = typed, base, typed_in
        self.faults: list[FieldFault] = []

    def refuse(self, field: str, message: str) -> None:
        self.faults.append(FieldFault(_FORM + field, message))

    def _text(self, field: str) -> str:
        return self.typed.get(field, "").strip()

    def side(self, n: int) -> tuple[dict[str, Any], tuple[int, ...]]:
        """One side as data, empty where nothing is told of it; and the rows of its actives."""
        kind, _, key = self._text(f"side_{n}").partition(":")
        actives, rows = self._actives(n)
        side: dict[str, Any] = {}
        if kind and rows:
            self.refuse(f"side_{n}", "is chosen, and single actives are named beside it; clear one of the two")
        elif kind == "shelf":
            side["products"] = [{"id": key, "at": self._one_of(f"at_{n}", ENDS, "middle")}]
        elif kind == "mixture":
            side["mixture"] = key
        elif kind:
            self.refuse(f"side_{n}", f"'{self._text(f'side_{n}')[:40]}' is not one of the choices")
        elif rows:
            side["actives"] = actives
        if not side:
            return ({"refused": True} if kind and rows else {}), ()
        if adjuvant := self._text(f"adjuvant_{n}"):
            side["adjuvant"] = {"id": self._one_of(f"adjuvant_{n}", self.base.adjuvants, "none")}
            side = side if adjuvant != "none" else {key: side[key] for key in side if key != "adjuvant"}
        if self._one_of(f"times_{n}", TIMES, "1") == "2":
            side["applications"] = 2
        return side, rows

    def _one_of(self, field: str, known: Mapping[str, Any], usual: str) -> str:
        told = self._text(field) or usual
        if told not in known:
            self.refuse(field, f"'{told[:40]}' is not one of the choices")
            return usual
        return told

    def _actives(self, n: int) -> tuple[list[dict[str, Any]], tuple[int, ...]]:
        found, rows = [], []
        for k in range(1, ACTIVE_ROWS + 1):
            key, rate = self._text(f"active_{n}_{k}"), self._text(f"rate_{n}_{k}")
            if not key and rate:
                self.refuse(f"active_{n}_{k}", "must name the active of this rate")
            if not key:
                continue
            rows.append(k)
            value = self._number(f"rate_{n}_{k}", rate)
            counted = self.base.actives[key].rate_basis if key in self.base.actives else "ai"
            unit = f"g {counted}/ha" if self.typed_in == "metric" else f"lb {counted}/acre"
            found.append({"active": key, "rate": {"value": value, "unit": unit}})
        return found, tuple(rows)

    def _number(self, field: str, text: str) -> float:
        """A rate as typed; a stand-in where it was refused."""
        if not text:
            self.refuse(field, "is needed with the active")
            return 1.0
        try:
            value = label_text.number(text)
        except ValueError:
            self.refuse(field, f"'{text[:20]}' is not a number")
            return 1.0
        if not 0 < value < float("inf"):
            self.refuse(field, f"'{text[:20]}' is out of range; it must be more than zero")
            return 1.0
        return value


def side_choices(base: KnowledgeBase, shelf: Sequence[Product]) -> dict[str, dict[str, str]]:
    """What a side may be chosen from: products on the shelf, and the standard mixtures by what they hold."""
    held = {f"shelf:{p.id}": p.name for p in shelf if p.kind == "herbicide" and p.id is not None}
    mixtures = {
        f"mixture:{m.id}": " + ".join(base.actives[part.active].name for part in m.rates[0].parts)
        for m in base.mixtures.values()
    }
    return {**({"Products on the shelf": held} if held else {}), "Standard mixtures": mixtures}


def adjuvant_choices(base: KnowledgeBase) -> dict[str, str]:
    """Adjuvants by name."""
    return {key: item.name for key, item in base.adjuvants.items() if key != "none"}
