"""The branch: where it is, who sprays, when, and what its records must hold."""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Iterable, Mapping
from typing import Any

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import FieldFault, InputError
from app.season.record import Branch
from app.services import branch as services
from app.services import knowledge_service, label_text
from app.store.changed import Changed
from app.web.conflict import conflict
from app.web.property_fields import choices
from app.web.security import here
from app.web.shelf import system

blueprint = Blueprint("branch", __name__)
Page = str | BaseResponse | tuple[str, int]
MOST_PEOPLE, MOST_EXTRA = 200, 30
_TEXTS = ("name", "address", "phone", "licence", "zone", "timezone", "work_from", "work_to")
_FIGURES = ("latitude", "longitude", "keep_years")
_WHOLE = ("keep_years", "valid_days")
PERSON = {
    "name": "Name of technician",
    "licence": "Licence of technician",
    "supervisor": "Supervisor of technician",
    "supervisor_licence": "Licence of the supervisor of technician",
}
LABELS = {
    "name": "Name",
    "address": "Address",
    "phone": "Phone",
    "licence": "Licence of the business",
    "zone": "Zone",
    "timezone": "Time zone",
    "latitude": "Latitude",
    "longitude": "Longitude",
    "work_from": "Work begins",
    "work_to": "Work ends",
    "technicians": "Technicians",
    "required": "Fields a record must have",
    "extra": "Fields of your own",
    "keep_years": "Records are kept",
    "pricing": "How prices are made",
}
PRICING = {
    "currency": "Currency",
    "labour_per_hour": "Labor, an hour",
    "minutes_per_visit": "Minutes on the property, each visit",
    "minutes_per_1000_ft2": "Minutes for every 1000 ft2",
    "travel_minutes": "Minutes of driving, each visit",
    "overhead_pct": "Overhead",
    "margin_pct": "Margin",
    "least_per_visit": "Least price of a visit",
    "round_to": "Prices are rounded up to",
    "stand_in_per_1000_ft2": "Stand-in for a product without a price",
    "valid_days": "A proposal holds for",
    "payment": "How it is paid",
}
_PRICING_WORDS = ("currency", "payment")


def label_of(field: str) -> str:
    """The label of a field; rows are counted from one."""
    if field.startswith("pricing."):
        return PRICING.get(field.removeprefix("pricing."), LABELS["pricing"])
    match = re.fullmatch(r"(technicians|extra)\.(\d+)(?:\.(\w+))?", field)
    if match is None:
        return LABELS.get(field.split(".", maxsplit=1)[0], field)
    words = PERSON[match.group(3)] if match.group(3) else "Field of your own"
    return f"{words} {int(match.group(2)) + 1}"


@blueprint.get("/branch")
def show() -> str:
    """The branch as it is told, to be changed."""
    told, version = services.branch(here())
    return _form(shown(told), told.required, version=version, done=request.args.get("told", ""))


@blueprint.post("/branch")
def change() -> Page:
    """Change the branch, unless somebody else was quicker."""
    typed = {key: value.strip() for key, value in request.form.items() if key != "csrf_token"}
    required, version = request.form.getlist("required"), _whole(typed.get("version", "0"))
    act = typed.get("act", "save")
    if act in ("add-people", "add-extra"):
        key, most = ("rows.people", MOST_PEOPLE) if act == "add-people" else ("rows.extra", MOST_EXTRA)
        typed[key] = str(min(_whole(typed.get(key, "1")) + 1, most))
        return _form(typed, required, version=version)
    read = _Read(typed)
    payload = {**read.payload(), "required": required}
    try:
        if read.faults:
            raise InputError(read.faults)
        services.change_branch(here(), payload, version)
    except InputError as error:
        faults = [*error.faults]
        if read.faults:
            try:
                services.checked_branch(payload)
            except InputError as others:
                faults += others.faults
        return _form(typed, required, version=version, faults=read.by_field(faults)), 422
    except Changed as changed:
        if changed.stored is None:
            return _form(typed, required, version=0, conflict=conflict(changed, (), "/branch")), 409
        mine, theirs = services.checked_branch(payload), Branch.model_validate(changed.stored)
        told = conflict(changed, _differing(mine, theirs), "/branch")
        return _form(typed, required, version=changed.version or 0, conflict=told), 409
    return redirect("/branch?told=changed", code=303)


def _whole(text: str) -> int:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else 0


class _Read:
    """What was typed, as plain data, with the rows that each technician and field came from."""

    def __init__(self, typed: Mapping[str, str]) -> None:
        self.typed = typed
        self.faults: list[FieldFault] = []
        self.people: list[int] = []
        self.extra: list[int] = []

    def payload(self) -> dict[str, Any]:
        """The branch as plain data, as far as it could be read."""
        told: dict[str, Any] = {key: self.typed[key] for key in _TEXTS if self.typed.get(key)}
        self._figures(told, _FIGURES)
        people = []
        for row in range(min(_whole(self.typed.get("rows.people", "0")), MOST_PEOPLE)):
            person = {key: self.typed.get(f"technicians.{row}.{key}", "") for key in PERSON}
            if any(person.values()):
                self.people.append(row)
                people.append(person)
                if not person["name"]:
                    self.faults.append(
                        FieldFault(f"technicians.{len(people) - 1}.name", "is required beside a licence")
                    )
        extra = []
        for row in range(min(_whole(self.typed.get("rows.extra", "0")), MOST_EXTRA)):
            if label := self.typed.get(f"extra.{row}", ""):
                self.extra.append(row)
                extra.append(label)
        return {**told, "technicians": people, "extra": extra, **self._pricing()}

    def _figures(self, told: dict[str, Any], keys: Iterable[str], stem: str = "") -> None:
        """Read the figures among what was typed."""
        for key in keys:
            if text := self.typed.get(f"{stem}{key}", ""):
                try:
                    value = label_text.number(text)
                    told[key] = int(value) if key in _WHOLE and value == int(value) else value
                except label_text.Unreadable as error:
                    self.faults.append(FieldFault(f"{stem}{key}", str(error)))

    def _pricing(self) -> dict[str, Any]:
        """How prices are made; nothing where no field of it holds anything but the currency."""
        told: dict[str, Any] = {k: self.typed[f"pricing.{k}"] for k in _PRICING_WORDS if self.typed.get(f"pricing.{k}")}
        typed = [key for key in PRICING if key != "currency" and self.typed.get(f"pricing.{key}")]
        self._figures(told, (key for key in PRICING if key not in _PRICING_WORDS), "pricing.")
        return {"pricing": told} if typed else {}

    def by_field(self, faults: list[FieldFault]) -> dict[str, str]:
        """The first fault of each field of the form."""
        found: dict[str, str] = {}
        for fault in faults:
            head, *rest = fault.path.split(".")
            rows = {"technicians": self.people, "extra": self.extra}.get(head, [])
            if rows and rest and rest[0].isdecimal() and int(rest[0]) < len(rows):
                rest[0] = str(rows[int(rest[0])])
                field = ".".join((head, *rest))
            elif head == "pricing" and rest:
                field = fault.path
            else:
                field = head if head in LABELS else "name"
            found.setdefault(field, fault.message)
        return found


def shown(told: Branch) -> dict[str, str]:
    """The branch as it would have been typed."""
    document = told.model_dump(mode="json")
    typed = {key: "" if document[key] is None else str(document[key]) for key in (*_TEXTS, *_FIGURES)}
    for row, person in enumerate(told.technicians):
        typed |= {f"technicians.{row}.{key}": getattr(person, key) for key in PERSON}
    typed |= {f"extra.{row}": label for row, label in enumerate(told.extra)}
    if told.pricing is not None:
        typed |= {f"pricing.{key}": _plain(getattr(told.pricing, key)) for key in PRICING}
    return {**typed, "rows.people": str(max(len(told.technicians), 1)), "rows.extra": str(max(len(told.extra), 1))}


def _plain(value: float | str | None) -> str:
    return "" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)


def _differing(mine: Branch, theirs: Branch) -> list[tuple[str, str, str]]:
    known = services.record_fields()

    def words(told: Branch, key: str) -> str:
        value = getattr(told, key)
        if key == "technicians":
            return "; ".join(", ".join(part for part in person.model_dump().values() if part) for person in value)
        if key == "pricing":
            return "" if value is None else "; ".join(f"{PRICING[k]}: {_plain(v)}" for k, v in value)
        if key == "required":
            return ", ".join(known.get(name, name) for name in value)
        return ", ".join(value) if key == "extra" else "" if value is None else str(value)

    return [(label, words(mine, key), words(theirs, key)) for key, label in LABELS.items()]


def _choice(required: Iterable[str]) -> dict[str, str]:
    """The fields to choose from: what is always asked is not, unless the branch asked for it before."""
    fields = knowledge_service.knowledge_base().records.values()
    return {item.field: item.name for item in fields if item.asked != "usual" or item.field in required}


def _form(typed: Mapping[str, str], required: Any, **more: Any) -> str:
    told = {"version": 0, "faults": {}, "conflict": None, "done": "", **more}
    rows = {key: max(_whole(typed.get(f"rows.{key}", "1")), 1) for key in ("people", "extra")}
    return render_template(
        "branch.html",
        typed=typed,
        ticked={"required": list(required)},
        against={},
        label_of=label_of,
        rows=rows,
        most={"people": MOST_PEOPLE, "extra": MOST_EXTRA},
        record_words=_choice(required),
        always=[item.name for item in knowledge_service.knowledge_base().records.values() if item.asked == "usual"],
        timezones=sorted(name for name in zoneinfo.available_timezones() if "/" in name),
        **choices(knowledge_service.knowledge_base(), system()),
        **told,
    )
