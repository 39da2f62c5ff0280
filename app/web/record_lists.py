"""What the form of an application record offers to choose from."""

from __future__ import annotations

from typing import Any

from app.season.record import ApplicationRecord
from app.services import properties, records, shelf, sprayers
from app.services.record_words import METHOD_WORDS
from app.store.opening import Store
from app.web.choices import form_choices
from app.web.units import System
from knowledge.base import KnowledgeBase
from knowledge.quantities import (
    AREA_UNITS,
    CARRIER_UNITS,
    MASS_RATE_UNITS,
    MASS_UNITS,
    SPRAY_SHARE_UNITS,
    VOLUME_RATE_UNITS,
    VOLUME_UNITS,
)

_US_FIRST = ("ft2", "acre", "gal", "qt", "pt", "oz", "lb", "%")


def places(store: Store, stands: ApplicationRecord | None) -> dict[str, str]:
    """Every area of every property in service, by property and area; that of the record too, whatever became of it."""
    found: dict[str, str] = {}
    for item in properties.every(store):
        if item.property.ended is None:
            areas = {f"{item.slug}|{area.id}": f"{item.property.name}, {area.name}" for area in item.property.areas}
            found |= areas or {}
            found[f"{item.slug}|"] = f"{item.property.name}, all of it" if areas else item.property.name
    if stands is not None and stands.property is not None:
        found.setdefault(f"{stands.property}|{stands.area or ''}", stands.where)
    return found


def choices(store: Store, base: KnowledgeBase, system: System) -> dict[str, Any]:
    """Every other list."""
    offered = form_choices(base)
    products = shelf.shelf_products(store)
    branch = records.branch_of(store)
    amounts = _ordered((*VOLUME_UNITS, *MASS_UNITS), system)
    return {
        "weed_names": offered["weed_names"],
        "stage_choices": offered["stage_choices"],
        "turf_choices": offered["turf_choices"],
        "site_choices": offered["site_choices"],
        "method_choices": METHOD_WORDS,
        "adjuvant_choices": {item.id: item.name for item in base.adjuvants.values()},
        "basis_choices": {"read": "read", "forecast": "taken from the forecast"},
        "product_names": [item.name for item in products if item.kind == "herbicide"],
        "adjuvant_names": [item.name for item in products if item.kind == "adjuvant"],
        "sprayer_names": [item.name for item in sprayers.list_sprayers(store)],
        "technician_names": properties.technicians(store),
        "directions": ("N", "NE", "E", "SE", "S", "SW", "W", "NW"),
        "area_units": _ordered(AREA_UNITS, system),
        "rate_units": _ordered((*VOLUME_RATE_UNITS, *MASS_RATE_UNITS, *SPRAY_SHARE_UNITS), system),
        "adjuvant_units": ("% v/v", *_ordered((*VOLUME_RATE_UNITS, *MASS_RATE_UNITS), system)),
        "amount_units": amounts,
        "carrier_units": _ordered(CARRIER_UNITS, system, ("gal/1000 ft2",) if system == "us" else ("L/ha",)),
        "volume_units": _ordered(VOLUME_UNITS, system, ("gal",) if system == "us" else ("L",)),
        "branch_name": branch.name,
    }


def _ordered(known: tuple[str, ...], system: System, first: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Units of the system first, in the order of the knowledge."""
    usual = {"us": ("fl oz/1000 ft2", "fl oz", "ft2", "gal"), "metric": ("mL/100 m2", "mL", "m2", "L/ha", "L")}[system]
    ours = [unit for unit in known if any(part in unit for part in _US_FIRST) == (system == "us")]
    lead = [unit for unit in (*first, *usual) if unit in known]
    return tuple(dict.fromkeys([*lead[:1], *ours, *known]))
