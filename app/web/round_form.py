"""The form of a round: its day, and its stops chosen from what is kept, without a script."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import render_template, request

from app.engine.errors import FieldFault
from app.season.property import Property
from app.season.round import MOST_TANKS, Round
from app.services import forecasts, knowledge_service, properties
from app.services.sprayers import list_sprayers
from app.web import mix_show, units
from app.web.conflict import Conflict
from app.web.round_show import beside
from app.web.security import here
from app.web.shelf import system
from knowledge.base import KnowledgeBase

LABELS = {
    "date": "Day",
    "name": "Name",
    "technician": "Technician",
    "tanks": "Tanks",
    "max_applications": "Applications",
    "sprayer": "Sprayer",
    "catalog": "Tanks are made of",
    "forecast": "Forecast",
    "notes": "Notes",
    "stops": "Stops",
    "q": "Search",
    "whose": "Technician of the property",
}
CATALOGS = {"shelf": "products of the shelf", "actives": "actives, without products"}
_TEXTS = ("date", "name", "technician", "sprayer", "catalog", "forecast", "notes")
_COUNTS = ("tanks", "max_applications")
METHODS = {"": "as the cover says", "spot": "in spots", "broadcast": "broadcast"}
# Between a property and its area in the value of a box; neither id can hold it.
_BETWEEN = "/"


@dataclass(frozen=True)
class Choice:
    """One area that can be a stop."""

    value: str
    words: str
    more: str


def typed_in() -> tuple[dict[str, str], list[str]]:
    """What the form sent: its texts, and its ticked stops, each once."""
    typed = {key: value.strip() for key, value in request.form.items() if key not in ("csrf_token", "stop")}
    return typed, list(dict.fromkeys(request.form.getlist("stop")))


def document(typed: Mapping[str, str], stops: Sequence[str]) -> dict[str, Any]:
    """A round as plain data, as the service takes it; one without a name is called by its day and technician."""
    told: dict[str, Any] = {key: typed[key] for key in _TEXTS if typed.get(key)}
    told |= {key: int(typed[key]) if typed[key].isdecimal() else typed[key] for key in _COUNTS if typed.get(key)}
    told.setdefault("name", " ".join(part for part in (typed.get("date", ""), typed.get("technician", "")) if part))
    found = []
    for value in stops:
        key, _, area = value.partition(_BETWEEN)
        found.append({"property": key, "area": area, "method": typed.get(f"method.{value}") or None})
    return {**told, "stops": found}


def typed_of(told: Round) -> tuple[dict[str, str], list[str]]:
    """A kept round as it would be typed."""
    plain = told.model_dump(mode="json")
    typed = {key: str(plain[key] or "") for key in (*_TEXTS, *_COUNTS)}
    stops = [value_of(stop.property, stop.area) for stop in told.stops]
    methods = {f"method.{value}": stop.method or "" for value, stop in zip(stops, told.stops, strict=True)}
    return {**typed, **methods}, stops


def field_words(typed: Mapping[str, str], stops: Sequence[str]) -> dict[str, str]:
    """What two people may have told differently, by field, in words."""
    words = {key: typed.get(key, "") for key in (*_TEXTS, *_COUNTS)}
    words["catalog"] = CATALOGS.get(words["catalog"], words["catalog"])
    named = [f"{value} {typed.get(f'method.{value}', '')}".strip() for value in stops]
    return {**words, "stops": ", ".join(sorted(named))}


def by_field(faults: Iterable[FieldFault]) -> dict[str, str]:
    """Faults by the field of the form; those of one stop stand at the stops."""
    found: dict[str, str] = {}
    for fault in faults:
        field = fault.path.split(".")[0]
        found.setdefault(field if field in LABELS else "stops", fault.message)
    return found


def value_of(key: str, area: str) -> str:
    """The value of a stop's box."""
    return f"{key}{_BETWEEN}{area}"


def form(
    slug: str | None,
    typed: Mapping[str, str],
    stops: Sequence[str],
    version: int = 0,
    faults: Mapping[str, str] | None = None,
    told: Conflict | None = None,
) -> str:
    """The form with what was typed, the ticked stops first and what the search finds below."""
    base, store = knowledge_service.knowledge_base(), here()
    page = int(typed["page"]) if typed.get("page", "").isdecimal() else 1
    listing = properties.listing(store, typed.get("q", ""), typed.get("whose") or None, page)
    ticked = set(stops)
    found = [c for item in listing.items for c in _choices(item.slug, item.property, listing.open_notes, base)]
    return render_template(
        "round_form.html",
        slug=slug,
        typed=typed,
        version=version,
        faults=faults or {},
        conflict=told,
        labels_of=LABELS,
        technicians=properties.technicians(store),
        whose={name: f"{name} ({count})" for name, count in listing.technicians.items()},
        methods=METHODS,
        application_choices={"1": "one", "2": "one or two, where two do more"},
        tank_choices={str(n): f"{n} tank{'s' if n > 1 else ''} at most" for n in range(1, MOST_TANKS + 1)},
        sprayers={item.slug: mix_show.sprayer_words(item) for item in list_sprayers(store)},
        catalogs=CATALOGS,
        forecasts={item.slug: item.name for item in forecasts.every(store)},
        chosen=_chosen(stops, base),
        found=[choice for choice in found if choice.value not in ticked],
        found_words=f"{listing.found} found" if listing.found != listing.kept else f"All {listing.kept} properties",
        page=listing.number,
        pages=listing.pages,
    )


def _chosen(stops: Sequence[str], base: KnowledgeBase) -> list[Choice]:
    """The ticked stops; one whose property is gone says so, and can be unticked."""
    kept = {item.slug: item.property for item in properties.every(here())} if stops else {}
    found = []
    for value in stops:
        key, _, area = value.partition(_BETWEEN)
        told = kept.get(key)
        choices = _choices(key, told, {}, base) if told is not None else []
        gone = Choice(value, f"{key}, {area}", "is not kept any more")
        found.append(next((choice for choice in choices if choice.value == value), gone))
    return found


def _choices(key: str, told: Property, notes: Mapping[str, int], base: KnowledgeBase) -> list[Choice]:
    found = []
    for area in told.areas:
        turf = " and ".join(base.turf[name].name for name in area.turf if name in base.turf) or "turf not told"
        size = units.area(area.area, system()) if area.area is not None else "size not told"
        seen = notes.get(key, 0)
        parts = [beside(told.name, told.address), turf, size]
        parts.append(f"{seen} open {'note' if seen == 1 else 'notes'}" if seen else "")
        words = f"{told.name}, {area.name}"
        found.append(Choice(value_of(key, area.id), words, "; ".join(part for part in parts if part)))
    return found
