"""The fields of the question: their names, their labels and where each stands in a situation.

A label is written once here, so that a fault is said in the same words at the field and in the summary.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from app.engine.errors import FieldFault
from app.web.units import LABELS, System, converted, figure

Kind = Literal["word", "whole", "number", "temperature", "wind", "height", "carrier"]
WEED_ROWS, PAST_ROWS, BAN_ROWS = 4, 3, 2
# Sides are compared on more weeds than a question ranks for.
WEED_ROWS_COMPARED = 6
PRIORITIES = {
    "control": "Control",
    "turf_safety": "Turf safety",
    "resistance": "Mechanisms",
    "cost": "Cost",
    "passes": "Passes",
    "off_target": "Off target",
}
QUICK = ("weed", "turf", "zone", "month", "catalog", "units")
# A fault of the question form itself carries its field after this, not a path of the situation.
OF_FORM = "form."


@dataclass(frozen=True)
class Field:
    """One field that becomes one fact of the situation."""

    name: str
    label: str
    path: str
    kind: Kind = "word"


FIELDS = (
    Field("stand", "Stand", "turf_condition.stand"),
    Field("mowings", "Mowings since emergence", "turf_condition.mowings_since_emergence", "whole"),
    Field("weeks", "Weeks since emergence", "turf_condition.weeks_since_emergence", "number"),
    Field("green_up", "Green-up", "turf_condition.green_up"),
    Field("stress", "Stress", "turf_condition.stress"),
    Field("height", "Mowing height", "turf_condition.mowing_height_in", "height"),
    Field("seeding", "Seeding planned on", "turf_condition.seeding_planned"),
    Field("max_temp", "Highest today", "forecast.max_temp_f", "temperature"),
    Field("max_temp_3", "Highest in the next three days", "forecast.max_temp_next_3_days_f", "temperature"),
    Field("min_temp", "Lowest tonight", "forecast.min_temp_f", "temperature"),
    Field("soil_temp", "Soil temperature", "forecast.soil_temp_f", "temperature"),
    Field("wind", "Wind", "forecast.wind_mph", "wind"),
    Field("humidity", "Relative humidity", "forecast.rh_pct", "number"),
    Field("rain_free", "Hours without rain", "forecast.rain_free_hours", "number"),
    Field("soil_moisture", "Soil moisture", "forecast.soil_moisture"),
    Field("catalog", "Rank", "catalog"),
    Field("max_products", "Products in a tank", "options.max_products", "whole"),
    Field("max_applications", "Applications", "options.max_applications", "whole"),
    Field("top", "Programs to show", "options.top", "whole"),
    *(Field(f"priority_{name}", label, f"priorities.{name}", "number") for name, label in PRIORITIES.items()),
)
TARGET_PARTS = {
    "weed": "Weed",
    "stage": "Growth stage",
    "tillers": "Tillers",
    "leaves": "Leaves",
    "cover": "Cover",
    "resistant": "Known to resist",
}
_PART_OF_KEY = {"cover_pct": "cover", "resistant_to": "resistant"}
_OTHERS = {
    "date": ("date", "Date"),
    "zone": ("zone", "Zone"),
    "site_use": ("site_use", "Use of the turf"),
    "turf": ("turf", "Turf"),
    "turf.1": ("turf_2", "Second turf in a mixed stand"),
    "area": ("area", "Area"),
    "carrier": ("carrier", "Spray volume"),
    "surroundings": ("surroundings", "What stands near"),
    "options.adjuvants": ("adjuvants", "Adjuvants"),
    "options.house_evidence": ("house", "Trials of the house"),
    "actives": ("active", "Active"),
}
# Where a fault lies between several fields, the first of them is named.
_BETWEEN = {"forecast": "min_temp", "priorities": "priority_control", "turf_condition": "stand"}


def _labels() -> dict[str, str]:
    found = {"month": "Month", "area_unit": "Unit of the area"}
    found.update({field.name: field.label for field in FIELDS})
    found.update(dict(_OTHERS.values()))
    found.update(TARGET_PARTS)
    for row in range(2, WEED_ROWS_COMPARED + 1):
        found.update({f"weed_{row}": f"Weed {row}", f"stage_{row}": f"Stage of weed {row}"})
    for row in range(1, PAST_ROWS + 1):
        found.update({f"past_active_{row}": f"Active {row}", f"past_rate_{row}": f"Rate of active {row}"})
        found[f"past_date_{row}"] = f"Date of active {row}"
    found.update({f"ban_{row}": f"Barred active {row}" for row in range(1, BAN_ROWS + 1)})
    return found


FIELD_LABELS = _labels()
KIND_OF_FIELD = {field.name: field.kind for field in FIELDS} | {"carrier": "carrier"}
_FIELD_OF_PATH = {field.path: field.name for field in FIELDS} | {path: name for path, (name, _) in _OTHERS.items()}
# Names of the engine that its messages use, in the words of the form.
_WORDS = {
    field.path.rpartition(".")[2]: field.label.lower() for field in FIELDS if "_" in field.path.rpartition(".")[2]
}


@dataclass(frozen=True)
class Rows:
    """Which row of the form each listed target, past application and local rule was typed into."""

    targets: tuple[int, ...] = ()
    past: tuple[int, ...] = ()
    bans: tuple[int, ...] = ()

    def field_of(self, path: str) -> str:
        """The form field that a path of the situation was typed into; `weed` where there is none."""
        if path.startswith(OF_FORM):
            return path.removeprefix(OF_FORM)
        parts = path.removeprefix("situation.").split(".")
        if len(parts) > 1 and parts[1].isdigit():
            listed = self._in_row(parts[0], int(parts[1]), parts[2] if len(parts) > 2 else "")
            if listed:
                return listed
        while parts and parts != [""]:
            found = _FIELD_OF_PATH.get(".".join(parts)) or _BETWEEN.get(".".join(parts))
            if found:
                return found
            parts.pop()
        return "weed"

    def _in_row(self, name: str, index: int, key: str) -> str | None:
        rows = {"targets": self.targets, "applied_this_year": self.past, "local_rules": self.bans}.get(name)
        if rows is None or index >= len(rows):
            return None
        row = rows[index]
        if name == "targets":
            part = _PART_OF_KEY.get(key, key if key in TARGET_PARTS else "weed")
            return part if row == 1 else f"{part if part in ('weed', 'stage') else 'weed'}_{row}"
        if name == "local_rules":
            return f"ban_{row}"
        return f"past_{key if key in ('rate', 'date') else 'active'}_{row}"

    def by_field(self, faults: tuple[FieldFault, ...], system: System) -> dict[str, str]:
        """The first fault of each field, in words of the form and in its units."""
        found: dict[str, str] = {}
        for fault in faults:
            field = self.field_of(fault.path)
            found.setdefault(field, _said(fault.message, KIND_OF_FIELD.get(field, "word"), system))
        return found


def _said(message: str, kind: str, system: System) -> str:
    for name, words in _WORDS.items():
        message = re.sub(rf"\b{name}\b", words, message)
    if kind in ("temperature", "wind", "height") and "out of range" in message:
        unit = LABELS[system][kind]
        return re.sub(
            r"-?\d+(?:\.\d+)?", lambda m: f"{figure(converted(kind, float(m.group()), 'us', system))} {unit}", message
        )
    return message
