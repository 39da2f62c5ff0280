"""The fields of the label form: their names, which are paths of a product, their labels and their choices."""

from __future__ import annotations

from typing import Any

from app.engine.label_faults import TURF_SCOPES
from app.engine.measures import AdjuvantRate, Content, Density
from app.services.label_text import NONE_AT_ALL
from app.web.choices import TURF_SCOPES as SCOPE_WORDS
from app.web.units import System
from knowledge.base import KnowledgeBase
from knowledge.quantities import (
    CARRIER_UNITS,
    MASS_RATE_UNITS,
    MASS_UNITS,
    SPRAY_SHARE_UNITS,
    VOLUME_RATE_UNITS,
    VOLUME_UNITS,
)

ACTIVE_ROWS, RATE_ROWS, PACK_ROWS = 5, 60, 20
STARTING_ROWS = {"actives": 2, "rates": 2, "packs": 2}
MOST_ROWS = {"actives": ACTIVE_ROWS, "rates": RATE_ROWS, "packs": PACK_ROWS}

FORMULATION_WORDS = {
    "SL": "SL, soluble liquid",
    "EC": "EC, emulsifiable concentrate",
    "EW": "EW, emulsion in water",
    "ME": "ME, microemulsion",
    "SC": "SC, suspension (flowable)",
    "SE": "SE, suspension and emulsion",
    "CS": "CS, capsules in water",
    "OD": "OD, dispersion in oil",
    "WG": "WG, granules for water",
    "WP": "WP, powder for water",
    "SG": "SG, soluble granules",
    "SP": "SP, soluble powder",
    "G": "G, granule spread dry",
}
KIND_WORDS = {"herbicide": "herbicide", "adjuvant": "adjuvant"}
PURPOSE_WORDS = {
    "postemergence": "on weeds that have emerged",
    "preemergence": "before weeds emerge",
    "spot": "spot spray, by the volume of spray",
}
SIGNAL_WORDS = {"caution": "Caution", "warning": "Warning", "danger": "Danger", "none": "none on the label"}
USE_WORDS = {"allowed": "allowed", "required": "required", "forbidden": "forbidden"}

MEASURES = ("density", "adjuvant_rate", "max_per_application", "max_per_year", "carrier_floor", "stock")
TEXTS = (
    *("name", "kind", "registration", "formulation", "granule_carrier", "adjuvant", "signal_word", "reentry_text"),
    *("currency", "expiry", "notes"),
)
LABELS = {
    "name": "Name",
    "kind": "Kind",
    "registration": "Registration number",
    "formulation": "Formulation",
    "granule_carrier": "What the granule is made of",
    "adjuvant": "Which adjuvant it is",
    "adjuvant_rate": "How much of it is used",
    "density": "Density",
    "site_uses": "Sites allowed",
    "turf": "Turf allowed",
    "max_per_application": "Most in one application",
    "max_per_year": "Most in a year",
    "max_applications_per_year": "Applications in a year",
    "min_interval_days": "Days between applications",
    "carrier_floor": "Least spray volume",
    "max_air_f": "Not above",
    "rainfast_hours": "Hours until rain",
    "reentry_hours": "Re-entry after",
    "reentry_text": "Re-entry, in the label's words",
    "seeding_interval_days": "Days until seeding",
    "signal_word": "Signal word",
    "currency": "Currency",
    "stock": "Stock",
    "expiry": "Use by",
    "notes": "Notes",
    "version": "Version",
}


# The groups and fields in the order of the page, by which faults are listed.
_ORDER = (
    *("name", "kind", "formulation", "registration", "signal_word", "granule_carrier", "actives", "density", "rates"),
    *("site_uses", "turf", "max_per_application", "max_per_year", "max_applications_per_year", "min_interval_days"),
    *("max_air_f", "carrier_floor", "rainfast_hours", "adjuvants", "adjuvant", "adjuvant_rate", "reentry_hours"),
    *("reentry_text", "seeding_interval_days", "packs", "stock", "expiry", "currency", "notes"),
)


def in_page_order(faults: dict[str, str]) -> dict[str, str]:
    """Faults as their fields follow each other on the page."""

    def place(field: str) -> tuple[int, int]:
        parts = field.split(".")
        row = int(parts[1]) if len(parts) > 1 and parts[1].isdecimal() else 0
        return (_ORDER.index(parts[0]) if parts[0] in _ORDER else len(_ORDER), row)

    return dict(sorted(faults.items(), key=lambda item: place(item[0])))


def label_of(field: str) -> str:
    """The label of a field; rows are counted from one."""
    parts = field.split(".")
    if parts[0] == "adjuvants":
        return f"Adjuvant: {parts[1]}"
    if len(parts) < 2:
        return LABELS.get(field, field)
    words = {
        ("actives", "active"): "Active",
        ("actives", "content"): "Content of active",
        ("rates", "turf"): "Turf of line",
        ("rates", "purpose"): "Purpose of line",
        ("rates", "low"): "Low rate of line",
        ("rates", "high"): "High rate of line",
        ("rates", "note"): "Note of line",
        ("packs", "size"): "Size of pack",
        ("packs", "price"): "Price of pack",
    }
    return f"{words[parts[0], parts[2]]} {int(parts[1]) + 1}"


def _by_system(units: tuple[str, ...], system: System) -> list[str]:
    """Units in the order in which they are likely wanted."""
    metric = [unit for unit in units if any(part in unit for part in ("L/", "ha", "m2", "g/L", "kg", "mL"))]
    metric += [unit for unit in units if unit in ("L", "g", "g ae/L", "g ai/L") and unit not in metric]
    american = [unit for unit in units if unit not in metric]
    return [*metric, *american] if system == "metric" else [*american, *metric]


def unit_choices(system: System) -> dict[str, dict[str, list[str]]]:
    """Units by field; those of liquids and of dry products apart."""
    per_area = {
        "liquid": _by_system(VOLUME_RATE_UNITS, system),
        "dry": _by_system(MASS_RATE_UNITS, system),
    }
    amounts = {"liquid": _by_system(VOLUME_UNITS, system), "dry": _by_system(MASS_UNITS, system)}
    shares = [unit for unit in AdjuvantRate.allowed() if unit == "% v/v"]
    return {
        "content": {"": _by_system(Content.allowed(), system)},
        "density": {"": _by_system(Density.allowed(), system)},
        "adjuvant_rate": {"share of the spray": shares, **per_area},
        "max_per_application": per_area,
        "max_per_year": per_area,
        "rate": {**per_area, "spot, in the spray": _by_system(SPRAY_SHARE_UNITS, system)},
        "carrier_floor": {"": _by_system(CARRIER_UNITS, system)},
        "stock": amounts,
        "pack": amounts,
        "max_air_f": {"": ["C", "F"] if system == "metric" else ["F", "C"]},
    }


def label_choices(base: KnowledgeBase, system: System) -> dict[str, Any]:
    """Every list that the form offers."""
    turf = {
        "all together": {scope: SCOPE_WORDS[scope] for scope in TURF_SCOPES},
        **{
            season.replace("-", " "): {t.id: t.name for t in base.turf.values() if t.season == season}
            for season in ("cool-season", "warm-season")
        },
    }
    actives = {}
    for active in sorted(base.actives.values(), key=lambda item: item.name.lower()):
        if len(active.forms) == 1:
            actives[active.name] = {f"{active.id}|{active.forms[0].id}": active.name}
        else:
            forms = {f"{active.id}|{form.id}": f"{active.name}, {form.name}" for form in active.forms}
            actives[active.name] = {**forms, f"{active.id}|": f"{active.name}, form not told"}
    adjuvants = {item.id: item.name for item in base.adjuvants.values() if item.id != "none"}
    return {
        "formulation_choices": FORMULATION_WORDS,
        "kind_choices": KIND_WORDS,
        "purpose_choices": PURPOSE_WORDS,
        "signal_choices": SIGNAL_WORDS,
        "use_choices": USE_WORDS,
        "active_groups": actives,
        "adjuvant_choices": adjuvants,
        "turf_groups": turf,
        "site_choices": {site.id: site.name for site in base.sites.values()},
        "none_at_all": NONE_AT_ALL,
        "unit_choices": unit_choices(system),
    }
