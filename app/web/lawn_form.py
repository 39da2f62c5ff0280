"""The form for ratings of treated lawns: typed fields into one payload a lawn, faults to fields."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.services import label_text as words
from app.services.search import find_weed
from app.web.trial_form import Typed, label_of, part_words, read_actives, read_applications
from knowledge.base import KnowledgeBase

STARTING_LAWNS, MOST_LAWNS = 4, 40
LAWN_ACTIVES = 3
# A name this like is the name, but for its plural.
_SURE = 99.0
_LONGEST_NAME = 120
_OF_ALL = ("weed", "stage", "days_after", "applied", "season", "turf", "place", "adjuvant", "applications")
_LABELS = {
    "weed": "Weed",
    "stage": "Stage when it was sprayed",
    "days_after": "Rated after",
    "trial": "Gather under",
    "adjuvant": "Adjuvant",
}


@dataclass
class TypedLawns:
    """What was typed: fields by name, one payload a lawn as far as they could be read, faults by field."""

    fields: dict[str, str]
    rows: int
    payloads: list[dict[str, Any]] = field(default_factory=list)
    faults: dict[str, str] = field(default_factory=dict)
    # Which row of the form each payload was typed into, and which row each active.
    lawns: list[int] = field(default_factory=list)
    actives: list[int] = field(default_factory=list)

    def blame(self, faults: Iterable[FieldFault]) -> None:
        """Note faults at their fields, the first of each."""
        for fault in faults:
            self.faults.setdefault(self._field_of(fault), fault.message)

    def _field_of(self, fault: FieldFault) -> str:
        parts = fault.path.split(".")
        # The message of a lawn that was rated already starts with its name.
        told = zip(self.lawns, self.payloads, strict=True)
        row = next((row for row, payload in told if fault.message.startswith(f"{payload['lawn']} ")), 0)
        if parts[0] in ("lawn", "control_pct"):
            return f"l{row}" if parts[0] == "lawn" else f"l{row}.control"
        if parts[0] == "plots":
            return f"l{row}"
        if parts[0] == "treatments" and len(parts) > 2:
            parts = ["stage"] if parts[2] == "stages" else parts[2:]
        if parts[0] in ("actives", "treatment", "treatments"):
            at = int(parts[1]) if len(parts) > 1 and parts[1].isdecimal() and parts[0] == "actives" else 0
            active = self.actives[at] if at < len(self.actives) else 0
            return f"a{active}.rate" if "rate" in parts else f"a{active}"
        return parts[0] if parts[0] in _OF_ALL else "trial"


def lawn_label(name: str) -> str:
    """The label of a field of this form."""
    match = re.fullmatch(r"l(\d+)(\.control)?", name)
    if match is not None:
        return f"{'Control seen on lawn' if match.group(2) else 'Lawn'} {int(match.group(1)) + 1}"
    return _LABELS.get(name) or label_of(name)


def empty_lawns() -> TypedLawns:
    """The form before anything was typed."""
    return TypedLawns({}, STARTING_LAWNS)


def read_lawns(form: Mapping[str, str], base: KnowledgeBase) -> TypedLawns:
    """What was typed of treated lawns."""
    told = {key: value.strip() for key, value in form.items()}
    shown = told.get("rows", "")
    rows = int(shown) if shown.isascii() and shown.isdecimal() and len(shown) < 3 else 0
    typed = TypedLawns(told, min(max(rows, STARTING_LAWNS), MOST_LAWNS))
    common: dict[str, Any] = {
        name: told.get(name) or None for name in ("applied", "season", "turf", "stage", "adjuvant")
    }
    common["place"] = told.get("place", "")
    common["weed"] = _weed(typed, base)
    common["days_after"] = _days(typed)
    common["actives"] = _sprayed(typed, base)
    common["applications"] = _sprays(typed)
    common["treatment"] = _name_of(common, base)
    common["trial"] = told.get("trial", "") or _gathered(common)
    for row in range(typed.rows):
        _lawn(typed, row, common)
    if not typed.payloads and not any(name.startswith("l") for name in typed.faults):
        typed.faults["l0.control"] = "is required: give the control seen on one lawn at least, from 0 to 100 %"
    return typed


def _weed(typed: TypedLawns, base: KnowledgeBase) -> str:
    told = typed.fields.get("weed", "")
    if not told:
        typed.faults["weed"] = "is required: name the weed"
        return ""
    try:
        weed, matched, others = find_weed(base, told)
    except InputError as error:
        typed.blame(error.faults)
        return ""
    if others and matched.score < _SURE:
        near = " or ".join(base.weed_names[key].name for key in (weed.id, *others[:2]))
        typed.faults["weed"] = f"'{told[:60]}' may mean {near}; write which one it is"
    return weed.id


def _days(typed: TypedLawns) -> int | None:
    told = typed.fields.get("days_after", "")
    if re.fullmatch(r"[0-9]{1,4}", told) is None:
        missing = "is required: count the days from spraying to rating"
        typed.faults["days_after"] = f"'{told[:20]}' is no whole number of days" if told else missing
        return None
    return int(told)


def _sprayed(typed: TypedLawns, base: KnowledgeBase) -> list[dict[str, Any]]:
    read = Typed(fields=typed.fields)
    found = read_actives(read, "", LAWN_ACTIVES, base)
    typed.faults.update(read.faults)
    typed.actives = read.row_of[""]
    if not found and not read.faults:
        typed.faults["a0"] = "is required: say what was sprayed"
    return found


def _sprays(typed: TypedLawns) -> int:
    read = Typed(fields=typed.fields)
    found = read_applications(read, "")
    typed.faults.update(read.faults)
    return found


def _name_of(common: Mapping[str, Any], base: KnowledgeBase) -> str:
    """A name that tells one treatment from another: actives, rates and adjuvant."""
    parts = [part_words(part, base) for part in common["actives"]]
    if common["adjuvant"] not in (None, "none") and common["adjuvant"] in base.adjuvants:
        parts.append(base.adjuvants[common["adjuvant"]].name)
    parts += [f"{common['applications']} sprays"] if common["applications"] > 1 else []
    return " + ".join(parts)[:_LONGEST_NAME] or "not told"


def _gathered(common: Mapping[str, Any]) -> str:
    """The name under which ratings of one spraying stand together."""
    where = ", ".join(str(part) for part in (common["place"], common["applied"]) if part)
    whole = f"Lawns, {common['treatment']}"
    return f"{whole[: _LONGEST_NAME - len(where) - 2]}, {where}"[:_LONGEST_NAME] if where else whole[:_LONGEST_NAME]


def _lawn(typed: TypedLawns, row: int, common: Mapping[str, Any]) -> None:
    lawn, control = typed.fields.get(f"l{row}", ""), typed.fields.get(f"l{row}.control", "")
    if not lawn and not control:
        return
    if not control:
        typed.faults[f"l{row}.control"] = "is required: from 0 to 100 %"
        return
    try:
        value = words.number(control.rstrip("%"))
    except words.Unreadable as error:
        typed.faults[f"l{row}.control"] = str(error)
        return
    if not 0 <= value <= 100:
        typed.faults[f"l{row}.control"] = "must lie between 0 and 100 %"
        return
    typed.lawns.append(row)
    typed.payloads.append({**common, "lawn": lawn or f"lawn {row + 1}", "control_pct": value})
