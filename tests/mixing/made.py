"""Plans to mix, as data. Invented products."""

from __future__ import annotations

from typing import Any

from app.mixing.output import Mix
from app.services import mixing
from knowledge.quantities import Quantity, parse_quantity

TEA = "triclopyr as triclopyr-tea 3 lb ae/gal"


def amount(text: str) -> dict[str, Any]:
    """A value with its unit, from text."""
    found = parse_quantity(text)
    return {"value": found.value, "unit": found.unit}


def product(name: str = "Fennick Amine", rate: str = "1 qt/acre", active: str = TEA, **told: Any) -> dict[str, Any]:
    """A product; the active is written ``triclopyr as triclopyr-tea 3 lb ae/gal`` or ``quinclorac 75 % w/w``."""
    words = active.split()
    form = words[2] if words[1] == "as" else None
    content = " ".join(words[3:] if form else words[1:])
    part = {"active": words[0], "form": form, "content": amount(content)}
    return {"name": name, "formulation": "SL", "actives": [part], "rate": amount(rate), **told}


def dry(name: str = "Marl Quin", rate: str = "0.367 oz/1000 ft2", **told: Any) -> dict[str, Any]:
    """A dry product for the tank."""
    return product(name, rate, "quinclorac 75 % w/w", **{"formulation": "WG", **told})


def granule(name: str = "Larkmere Grain", rate: str = "3 lb/1000 ft2", **told: Any) -> dict[str, Any]:
    """A granule."""
    return product(name, rate, "prodiamine 0.37 % w/w", **{"formulation": "G", **told})


def plan(*products: dict[str, Any], **told: Any) -> dict[str, Any]:
    """A broadcast plan on tall fescue, with changes; None takes a field away."""
    made: dict[str, Any] = {
        "area": amount("60000 ft2"),
        "carrier": amount("1 gal/1000 ft2"),
        "tank": amount("50 gal"),
        "turf": ["tall-fescue"],
        "site_use": "residential-lawn",
        "products": list(products) or [product()],
        **told,
    }
    return {key: value for key, value in made.items() if value is not None}


def mixed(*products: dict[str, Any], **told: Any) -> Mix:
    """The mix of such a plan."""
    return mixing.mix(plan(*products, **told))


def base_of(shown: Any) -> float:
    """A shown amount in litres, grams or square metres."""
    return Quantity(shown.value, shown.unit).base
