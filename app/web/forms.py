"""The question as typed: from a form's fields to a situation, with every fault at its field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.engine.situation import Situation
from app.services import label_text
from app.services.advice import DEFAULT_SITE_USE, DEFAULT_ZONE, day_in, default_turf
from app.services.search import find_weed, suggest
from app.services.validation import validated
from app.web import units
from app.web.fields import BAN_ROWS, FIELDS, OF_FORM, PAST_ROWS, WEED_ROWS, Kind, Rows
from app.web.units import LABELS, System
from knowledge.base import KnowledgeBase
from knowledge.models import Weed


@dataclass(frozen=True)
class Named:
    """A weed as it was typed and as it was understood."""

    asked: str
    weed: Weed
    matched: str
    others: tuple[str, ...]


@dataclass(frozen=True)
class Asked:
    """What was typed, as a situation, with what was understood and what could not be.

    `near` holds, by field, the weeds that an unknown name may mean; `assumed` the fields that
    were not told and stand at what is usual.
    """

    payload: dict[str, Any]
    faults: tuple[FieldFault, ...]
    rows: Rows
    named: tuple[Named, ...]
    near: dict[str, tuple[str, ...]]
    assumed: tuple[str, ...]

    def checked(self) -> dict[str, Any]:
        """The situation, where every field could be read.

        Raises
        ------
        InputError
            With every fault of the form, and with those of the other fields beside them.
        """
        if not self.faults:
            return self.payload
        faults = list(self.faults)
        try:
            validated(Situation, self.payload)
        except InputError as error:
            faults += error.faults
        raise InputError(faults)


def read_question(
    typed: Mapping[str, str],
    surroundings: list[str],
    base: KnowledgeBase,
    today: date,
    typed_in: System,
    weed_rows: int = WEED_ROWS,
) -> Asked:
    """The situation that a filled form asks about; `typed_in` is the system of its figures."""
    return _Reader(typed, base, typed_in, weed_rows).read(surroundings, today)


class _Reader:
    """Reads one form; the payload and the faults grow as it goes."""

    def __init__(self, typed: Mapping[str, str], base: KnowledgeBase, typed_in: System, weed_rows: int) -> None:
        self.typed, self.base, self.typed_in, self.weed_rows = typed, base, typed_in, weed_rows
        self.faults: list[FieldFault] = []
        self.named: list[Named] = []
        self.near: dict[str, tuple[str, ...]] = {}
        self.target_rows: list[int] = []

    def read(self, surroundings: list[str], today: date) -> Asked:
        """The whole form."""
        targets = self._targets()
        zone = self._text("zone") or DEFAULT_ZONE
        payload: dict[str, Any] = {
            "date": self._day(today),
            "zone": zone,
            "site_use": self._text("site_use") or DEFAULT_SITE_USE,
            "turf": self._turf(zone),
            "targets": targets,
        }
        for field in FIELDS:
            value = self._value(field.name, field.kind)
            if value is not None:
                _put(payload, field.path, value)
        if surroundings:
            payload["surroundings"] = surroundings
        if self._text("adjuvants") == "no":
            _put(payload, "options.adjuvants", False)
        if self._text("house") == "no":
            _put(payload, "options.house_evidence", False)
        self._measures(payload)
        past, past_rows = self._past()
        bans, ban_rows = self._bans()
        payload.update({key: part for key, part in (("applied_this_year", past), ("local_rules", bans)) if part})
        return Asked(
            payload=payload,
            faults=tuple(self.faults),
            rows=Rows(tuple(self.target_rows), past_rows, ban_rows),
            named=tuple(self.named),
            near=self.near,
            assumed=self._assumed(),
        )

    def _text(self, field: str) -> str:
        return self.typed.get(field, "").strip()

    def _refuse(self, field: str, message: str) -> None:
        self.faults.append(FieldFault(OF_FORM + field, message))

    def _value(self, field: str, kind: Kind) -> Any:
        """What was typed into a field, in the unit of the engine; None where it is empty or unreadable."""
        text = self._text(field)
        if not text or kind == "word":
            return text or None
        try:
            value = int(text) if kind == "whole" else label_text.number(text)
        except ValueError:
            what = f"'{text[:20]}' is not a {'whole number' if kind == 'whole' else 'number'}"
            self._refuse(field, f"{what}; a comma may mean thousands or a decimal" if "," in text else what)
            return None
        if kind in ("temperature", "wind", "height"):
            return round(units.converted(kind, value, self.typed_in, "us"), 3)
        return value

    def _day(self, today: date) -> str:
        if told := self._text("date"):
            return told
        month = self._text("month")
        if not month:
            return today.isoformat()
        if not (month.isascii() and month.isdigit() and 1 <= int(month) <= 12):
            self._refuse("month", f"'{month[:20]}' is no month; choose one")
            return today.isoformat()
        return day_in(int(month), today).isoformat()

    def _turf(self, zone: str) -> list[str]:
        first = self._text("turf")
        if not first and self.named:
            known = zone if zone in self.base.zones else DEFAULT_ZONE
            first = default_turf(self.named[0].weed, known)
        return [turf for turf in (first or "tall-fescue", self._text("turf_2")) if turf]

    def _targets(self) -> list[dict[str, Any]]:
        found = []
        for row in range(1, self.weed_rows + 1):
            suffix = "" if row == 1 else f"_{row}"
            name = self._text(f"weed{suffix}")
            if name:
                self.target_rows.append(row)
                found.append(self._target(name, suffix))
            elif row == 1:
                self._refuse("weed", "must name a weed, for example wild violet")
            elif self._text(f"stage{suffix}"):
                self._refuse(f"weed{suffix}", "must name the weed whose stage is told")
        return found

    def _target(self, name: str, suffix: str) -> dict[str, Any]:
        target: dict[str, Any] = {"weed": self._weed(name, f"weed{suffix}")}
        if stage := self._text(f"stage{suffix}"):
            target["stage"] = stage
        if suffix:
            return target
        parts: tuple[tuple[str, str, Kind], ...] = (
            ("tillers", "tillers", "whole"),
            ("leaves", "leaves", "whole"),
            ("cover", "cover_pct", "number"),
        )
        for field, key, kind in parts:
            value = self._value(field, kind)
            if value is not None:
                target[key] = value
        resisted = [self._resisted(part.strip()) for part in self._text("resistant").split(",") if part.strip()]
        return {**target, "resistant_to": resisted} if resisted else target

    def _weed(self, name: str, field: str) -> str:
        try:
            weed, suggestion, others = find_weed(self.base, name)
        except InputError as error:
            what, _, nearest = error.faults[0].message.rpartition("; nearest: ")
            self._refuse(field, what or nearest)
            self.near[field] = self._near(name, nearest)
            return "not-known"
        self.named.append(Named(name, weed, suggestion.matched, others))
        return weed.id

    def _near(self, name: str, nearest: str) -> tuple[str, ...]:
        """Names of the weeds that an unknown name may mean: the nearest, then what typing it suggests."""
        known = {weed.name for weed in self.base.weed_names.values()}
        told = [part for part in nearest.split(", ") if part in known]
        return tuple(dict.fromkeys([*told, *(item.name for item in suggest(self.base, name[:80], limit=3))]))

    def _resisted(self, text: str) -> str:
        """A mechanism group as typed, or the id of the active that is named."""
        wanted = text.lower()
        for active in self.base.actives.values():
            if wanted in (active.id, active.name.lower(), *(name.lower() for name in active.synonyms)):
                return active.id
        return text

    def _measures(self, payload: dict[str, Any]) -> None:
        carrier = self._value("carrier", "number")
        if carrier is not None:
            payload["carrier"] = {"value": carrier, "unit": LABELS[self.typed_in]["carrier"]}
        area = self._value("area", "number")
        if area is not None:
            payload["area"] = {"value": area, "unit": self._text("area_unit") or LABELS[self.typed_in]["area"]}

    def _past(self) -> tuple[list[dict[str, Any]], tuple[int, ...]]:
        found, rows = [], []
        for row in range(1, PAST_ROWS + 1):
            active, day = self._text(f"past_active_{row}"), self._text(f"past_date_{row}")
            rate = self._value(f"past_rate_{row}", "number")
            if not active:
                if day or self._text(f"past_rate_{row}"):
                    self._refuse(f"past_active_{row}", "must name the active that was applied")
                continue
            if not self._text(f"past_rate_{row}"):
                self._refuse(f"past_rate_{row}", "is needed with the active")
            if not day:
                self._refuse(f"past_date_{row}", "is needed with the active")
            counted = self.base.actives[active].rate_basis if active in self.base.actives else "ai"
            unit = f"g {counted}/ha" if self.typed_in == "metric" else f"lb {counted}/acre"
            rows.append(row)
            found.append({"date": day, "active": active, "rate": {"value": rate, "unit": unit}})
        return found, tuple(rows)

    def _bans(self) -> tuple[list[dict[str, Any]], tuple[int, ...]]:
        rows = [row for row in range(1, BAN_ROWS + 1) if self._text(f"ban_{row}")]
        return [{"kind": "ban-active", "active": self._text(f"ban_{row}")} for row in rows], tuple(rows)

    def _assumed(self) -> tuple[str, ...]:
        empty = [field for field in ("turf", "zone", "site_use") if not self._text(field)]
        return (*empty, "date") if not self._text("date") else tuple(empty)


def _put(payload: dict[str, Any], path: str, value: Any) -> None:
    *parents, last = path.split(".")
    for parent in parents:
        payload = payload.setdefault(parent, {})
    payload[last] = value
