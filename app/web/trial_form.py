"""The forms about trials: what treatments are made of, and a rating of treated lawns; typed fields into plain data."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from app.engine.errors import FieldFault
from app.services import label_text as words
from app.trials.trial import Treatment, Trial
from app.web.choices import GROUP_WORDS, STAGE_WORDS, form_choices
from app.web.label_fields import label_choices
from app.web.units import System
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM

# A treatment holds five actives at most; one empty row is shown beside those that it has.
MOST_ACTIVES = 5
APPLICATIONS = {"2": "two", "3": "three", "4": "four"}
_PLAIN = ("place", "applied", "season", "turf", "notes")
_LABELS = {
    "place": "Place",
    "applied": "Applied on",
    "season": "Season",
    "turf": "Turf",
    "notes": "Notes",
    "weed": "Weed",
    "stage": "Stage when it was sprayed",
    "adjuvant": "Adjuvant",
    "applications": "Sprays",
    "days_after": "Rated after",
    "control": "Control seen",
    "lawns": "Lawns",
    "name": "Name",
}
_SEASONS = ("winter", "early-spring", "late-spring", "summer", "early-autumn", "late-autumn")
# Rates of actives are typed by weight; whether of acid or of active, the active tells.
_UNITS: dict[System, tuple[str, ...]] = {
    "us": ("lb/acre", "oz/acre", "kg/ha", "g/ha"),
    "metric": ("g/ha", "kg/ha", "lb/acre", "oz/acre"),
}


@dataclass(frozen=True)
class WeedOf:
    """A weed of the trial, with the stages that it can be in."""

    key: str
    name: str
    stages: dict[str, str]


@dataclass(frozen=True)
class FormTreatment:
    """A treatment as the form shows it: its number in the trial, and its rows of actives."""

    number: int
    name: str
    rows: range
    weeds: tuple[WeedOf, ...]


@dataclass
class Typed:
    """What was typed: fields by name, plain data as far as it could be read, and faults by field."""

    fields: dict[str, str] = field(default_factory=dict)
    payload: dict[str, Any] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)
    # Which row of the form each listed active was typed into, by the start of the names of its fields.
    row_of: dict[str, list[int]] = field(default_factory=dict)
    # The numbers of the treatments by their place in the plain data.
    treatments: list[int] = field(default_factory=list)
    weeds: list[str] = field(default_factory=list)

    def blame(self, faults: Iterable[FieldFault]) -> None:
        """Note faults at their fields, the first of each."""
        for fault in faults:
            self.faults.setdefault(self.field_of(fault.path), fault.message)

    def field_of(self, path: str) -> str:
        """The field in which a path of the plain data was typed; the first of the form where there is none."""
        parts = path.split(".")
        if parts[0] == "treatments" and len(parts) > 2 and parts[1].isdecimal():
            place = int(parts[1])
            number = self.treatments[place] if place < len(self.treatments) else 0
            return self._of_treatment(f"t{number}.", parts[2:])
        if parts[0] in ("actives", "adjuvant", "applications"):
            return self._of_treatment("", parts)
        if parts[0] == "controls":
            return "control"
        return parts[0] if parts[0] in _LABELS else ("weed" if "weed" in self.fields else "place")

    def _of_treatment(self, stem: str, parts: list[str]) -> str:
        if parts[0] == "actives":
            told = self.row_of.get(stem, [])
            row = told[int(parts[1])] if len(parts) > 1 and parts[1].isdecimal() and int(parts[1]) < len(told) else 0
            return f"{stem}a{row}{'.rate' if len(parts) > 2 and parts[2] == 'rate' else ''}"
        if parts[0] == "stages":
            place = self.weeds.index(parts[1]) if len(parts) > 1 and parts[1] in self.weeds else 0
            return f"{stem}s{place}"
        return f"{stem}{'applications' if parts[0] == 'applications' else 'adjuvant'}"


def choices(base: KnowledgeBase, system: System) -> dict[str, Any]:
    """Every list that the forms offer."""
    of_label, of_form = label_choices(base, system), form_choices(base)
    actives: dict[str, Any] = {}
    for name, forms in of_label["active_groups"].items():
        # One form needs no group of its own.
        actives.update({name: forms} if len(forms) > 1 else forms)
    return {
        "active_choices": actives,
        "adjuvant_choices": {"none": "none was used", **of_label["adjuvant_choices"]},
        "application_choices": APPLICATIONS,
        "turf_choices": of_form["turf_choices"],
        "stage_choices": of_form["stage_choices"],
        "weed_names": of_form["weed_names"],
        "season_choices": {name: name.replace("-", " ") for name in _SEASONS},
        "unit_choices": _UNITS[system],
    }


def label_of(name: str, trial: Trial | None = None) -> str:
    """The label of a field, with its treatment where it is of one."""
    match = re.fullmatch(r"(?:t(\d+)\.)?([a-z_]+?)(\d+)?(\.rate)?", name)
    if match is None or name in _LABELS:
        return _LABELS.get(name, name)
    number, part, row, rate = match.groups()
    words_of = {"a": "Rate" if rate else "Active", "s": "Stage", "adjuvant": "Adjuvant", "applications": "Sprays"}
    said = words_of.get(part, part) + (f" {int(row) + 1}" if row and part == "a" else "")
    if number is None or trial is None or int(number) >= len(trial.treatments):
        return said
    return f"{trial.treatments[int(number)].name}, {said.lower()}"


def form_treatments(trial: Trial, base: KnowledgeBase) -> list[FormTreatment]:
    """The treatments that can be told of: all but the check."""
    weeds = tuple(_weed_of(weed, base) for weed in trial.weeds)
    return [
        FormTreatment(n, item.name, range(min(len(item.actives) + 1, MOST_ACTIVES)), weeds)
        for n, item in enumerate(trial.treatments)
        if not item.is_check
    ]


def _weed_of(key: str, base: KnowledgeBase) -> WeedOf:
    if key in base.weeds:
        weed = base.weeds[key]
        return WeedOf(key, weed.name, {stage: STAGE_WORDS[stage] for stage in STAGES_BY_LIFE_FORM[weed.life_form]})
    every = dict.fromkeys(stage for form in GROUP_WORDS for stage in STAGES_BY_LIFE_FORM[form])
    return WeedOf(key, key, {stage: STAGE_WORDS[stage] for stage in every})


def shown(trial: Trial, base: KnowledgeBase) -> dict[str, str]:
    """A trial as it would have been typed."""
    fields = {
        "place": trial.place,
        "applied": trial.applied.isoformat() if trial.applied else "",
        "season": trial.season or "",
        "turf": trial.turf or "",
        "notes": trial.notes,
    }
    for n, item in enumerate(trial.treatments):
        fields[f"t{n}.adjuvant"] = item.adjuvant or ""
        fields[f"t{n}.applications"] = str(item.applications) if item.applications > 1 else ""
        for row, part in enumerate(item.actives):
            fields[f"t{n}.a{row}"] = _chosen(part.active, part.form, base)
            if part.rate is not None:
                plain = re.sub(r" (?:ae|ai)/", "/", part.rate.unit)
                offered = plain in _UNITS["us"]
                fields[f"t{n}.a{row}.rate"] = words.written(part.rate.value) + ("" if offered else f" {part.rate.unit}")
                fields[f"t{n}.a{row}.rate.unit"] = plain if offered else ""
        for place, weed in enumerate(trial.weeds):
            fields[f"t{n}.s{place}"] = item.stages.get(weed, "")
    return fields


def _chosen(active: str, form: str | None, base: KnowledgeBase) -> str:
    if active in base.actives and len(base.actives[active].forms) == 1:
        return f"{active}|{base.actives[active].forms[0].id}"
    return f"{active}|{form or ''}"


def read_trial(form: Mapping[str, str], trial: Trial, base: KnowledgeBase) -> Typed:
    """What was typed of a trial: everything but its name, design and ratings, which stay."""
    typed = Typed(fields={key: value.strip() for key, value in form.items()}, weeds=list(trial.weeds))
    typed.payload = {name: typed.fields.get(name) or None for name in ("applied", "season", "turf")}
    typed.payload.update({name: typed.fields.get(name, "") for name in ("place", "notes")})
    typed.payload["treatments"] = []
    for n, item in enumerate(trial.treatments):
        typed.treatments.append(n)
        typed.payload["treatments"].append(_read_treatment(typed, n, item, base))
    return typed


def _read_treatment(typed: Typed, n: int, item: Treatment, base: KnowledgeBase) -> dict[str, Any]:
    if item.is_check:
        return item.model_dump(mode="json")
    stem = f"t{n}."
    # A stage of a weed that the trial does not rate has no field, and is kept.
    stages = {weed: stage for weed, stage in item.stages.items() if weed not in typed.weeds}
    told = {weed: typed.fields.get(f"{stem}s{place}", "") for place, weed in enumerate(typed.weeds)}
    return {
        "name": item.name,
        "actives": read_actives(typed, stem, MOST_ACTIVES, base),
        "adjuvant": typed.fields.get(f"{stem}adjuvant") or None,
        "applications": read_applications(typed, stem),
        "stages": {**stages, **{weed: stage for weed, stage in told.items() if stage}},
    }


def read_applications(typed: Typed, stem: str) -> int:
    """How often it was sprayed; once where nothing is chosen."""
    told = typed.fields.get(f"{stem}applications", "")
    if told and told not in APPLICATIONS:
        typed.faults[f"{stem}applications"] = f"is none of the choices; choose one to {len(APPLICATIONS) + 1} sprays"
    return int(told) if told in APPLICATIONS else 1


def read_actives(typed: Typed, stem: str, most: int, base: KnowledgeBase) -> list[dict[str, Any]]:
    """The actives typed into rows whose fields start so."""
    found = []
    typed.row_of[stem] = []
    for row in range(most):
        name = f"{stem}a{row}"
        chosen, rate = typed.fields.get(name, ""), typed.fields.get(f"{name}.rate", "")
        if not chosen and not rate:
            continue
        if not chosen:
            typed.faults[name] = "is required beside a rate"
            continue
        active, _, form = chosen.partition("|")
        typed.row_of[stem].append(row)
        part: dict[str, Any] = {"active": active, "form": form or None, "rate": None}
        if rate:
            try:
                part["rate"] = _of_active(words.measure(rate, typed.fields.get(f"{name}.rate.unit", "")), active, base)
            except words.Unreadable as error:
                typed.faults[f"{name}.rate"] = str(error)
        found.append(part)
    return found


def _of_active(rate: dict[str, Any], active: str, base: KnowledgeBase) -> dict[str, Any]:
    """A weight per area counted as the active is: in acid equivalent or in active ingredient."""
    if rate["unit"] not in _UNITS["us"] or active not in base.actives:
        return rate
    weight, _, area = rate["unit"].partition("/")
    return {**rate, "unit": f"{weight} {base.actives[active].rate_basis}/{area}"}


def words_of(told: Mapping[str, Any], base: KnowledgeBase) -> dict[str, str]:
    """A trial's plain data in words, by the label of each part: what two people's changes are compared by."""
    found = {_LABELS[name]: str(told.get(name) or "") for name in _PLAIN}
    for item in told["treatments"]:
        parts = [part_words(part, base) for part in item["actives"]]
        parts += [f"adjuvant: {item['adjuvant']}"] if item.get("adjuvant") else []
        parts += [f"{item['applications']} sprays"] if item.get("applications", 1) > 1 else []
        parts += [f"{weed}: {STAGE_WORDS.get(stage, stage)}" for weed, stage in sorted(item["stages"].items())]
        found[item["name"]] = "; ".join(parts)
    return found


def part_words(part: Mapping[str, Any], base: KnowledgeBase) -> str:
    """An active with its rate in words."""
    active = base.actives.get(part["active"])
    name = active.name if active is not None else part["active"]
    forms = {form.id: form.name for form in active.forms} if active is not None else {}
    said = forms.get(part.get("form") or "", name) if len(forms) > 1 else name
    rate = part.get("rate")
    return f"{said} {words.written(rate['value'])} {rate['unit']}" if rate else f"{said}, rate not told"
