"""The fields of the forms of properties: their labels, which are said once, and their choices."""

from __future__ import annotations

import re
from typing import Any

from app.services.place_names import names
from app.web.choices import GREEN_UP, GROUP_WORDS, STAGE_WORDS, STANDS, STRESS
from app.web.units import System
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM
from knowledge.quantities import AREA_UNITS

STARTING_ROWS = {"areas": 1, "plans": 1, "rules": 1}
MOST_ROWS = {"areas": 40, "plans": 100, "rules": 100}
SLOPES = {"flat": "flat", "gentle": "gentle", "steep": "steep"}
IRRIGATION = {"none": "none", "by-hand": "by hand", "system": "a system"}
PLAN_KINDS = {
    "seeding": "seeding",
    "sodding": "laying sod",
    "sprigging": "sprigging",
    "aeration": "aeration",
    "event": "an event",
    "other": "something else",
}
RULE_KINDS = {
    "ban-active": "an active is barred",
    "ban-form": "a form of an active is barred",
    "ban-group": "a mechanism group is barred",
    "closed-season": "no spraying between two days",
}
LABELS = {
    "name": "Name",
    "customer": "Customer",
    "new_customer": "New customer",
    "address": "Address",
    "zone": "Zone",
    "technician": "Technician",
    "latitude": "Latitude",
    "longitude": "Longitude",
    "ended": "Service ended on",
    "notes": "Notes",
    "phone": "Phone",
    "email": "E-mail",
    "version": "Version",
    "areas": "Areas",
    "property": "Property",
}
PARTS = {
    "areas": {
        "name": "Name of area",
        "turf": "Turf of area",
        "turf.1": "Mixed with, in area",
        "size": "Size of area",
        "site_use": "Use of area",
        "slope": "Slope of area",
        "surroundings": "What stands near area",
        "height": "Mowing height of area",
        "irrigation": "Watering of area",
        "stand": "Stand of area",
        "emerged": "Seedlings came up on area",
        "green_up": "Green-up of area",
        "stress": "Stress of area",
        "notes": "Notes on area",
    },
    "plans": {"kind": "Plan", "date": "Day of plan", "area": "Area of plan", "text": "Words of plan"},
    "rules": {
        "kind": "Local rule",
        "what": "What is barred by rule",
        "from": "First day of rule",
        "to": "Last day of rule",
        "note": "Note of rule",
    },
}
NOTE_LABELS = {
    "area": "Area",
    "weed": "Weed",
    "stage": "Stage",
    "cover_pct": "Cover",
    "tillers": "Tillers",
    "leaves": "Leaves",
    "date": "Seen on",
    "by": "Seen by",
    "priority": "Weight",
    "resistant_to": "Known to resist",
    "text": "Note",
    "closed": "Closed on",
    "key": "Note",
}


def label_of(field: str) -> str:
    """The label of a field; rows are counted from one."""
    match = re.fullmatch(r"(\w+)\.(\d+)\.(.+)", field)
    if match is None:
        return LABELS.get(field, field)
    group, row, part = match.groups()
    words = PARTS[group].get(part) or PARTS[group][part.split(".")[0]]
    return f"{words} {int(row) + 1}"


def choices(base: KnowledgeBase, system: System) -> dict[str, Any]:
    """Every list that the forms of properties and notes offer."""
    metric = system == "metric"
    return {
        "turf_groups": {
            season.replace("-", " "): {t.id: t.name for t in base.turf.values() if t.season == season}
            for season in ("cool-season", "warm-season")
        },
        "zone_choices": {zone.id: f"{zone.name}: {zone.where}" for zone in base.zones.values()},
        "site_choices": {site.id: site.name for site in base.sites.values()},
        "surrounding_choices": {item.id: item.name for item in base.surroundings.values()},
        "stand_choices": STANDS,
        "green_up_choices": GREEN_UP,
        "stress_choices": STRESS,
        "slope_choices": SLOPES,
        "irrigation_choices": IRRIGATION,
        "plan_choices": PLAN_KINDS,
        "rule_choices": RULE_KINDS,
        "size_units": {"": sorted(AREA_UNITS, key=lambda unit: (unit in ("m2", "ha")) != metric)},
        "height_units": {"": ["cm", "in"] if metric else ["in", "cm"]},
    }


def note_choices(base: KnowledgeBase) -> dict[str, Any]:
    """Weeds and stages for the form of a note."""
    stages = {
        words: {stage: STAGE_WORDS[stage] for stage in STAGES_BY_LIFE_FORM[form]} for form, words in GROUP_WORDS.items()
    }
    weeds = sorted((weed.name for weed in base.weed_names.values()), key=str.lower)
    return {"stage_choices": stages, "weed_names": weeds}


def barred_id(kind: str, text: str) -> str:
    """What a local rule bars, by whatever name it was typed."""
    return (names().active(text) or text) if kind == "ban-active" else text
