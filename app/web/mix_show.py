"""Arranges a mix in the order a page shows it; nothing is reckoned here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from app.mixing.output import ActiveLoad, Mix, TankMix
from app.store.sprayers import StoredSprayer
from app.web.units import figure
from knowledge.base import KnowledgeBase


@dataclass(frozen=True)
class Batch:
    """Tanks that are alike, shown once."""

    title: str
    count: int
    tank: TankMix


def batches(mix: Mix) -> list[Batch]:
    """The full tanks as one, and the part-tank."""
    full = [tank for tank in mix.tanks if tank.full]
    found = []
    if full:
        if mix.method == "granular":
            title = "The load"
        elif len(full) > 1:
            title = f"Each of {len(full)} full tanks"
        else:
            title = "The full tank" if len(mix.tanks) > 1 else "The tank"
        found.append(Batch(title, len(full), full[0]))
    found += [Batch("The last part-tank" if full else "The tank", 1, tank) for tank in mix.tanks if not tank.full]
    return found


@dataclass(frozen=True)
class Allowance:
    """How much of a year's allowance is used before, by this load, and left [percent of it]."""

    before: float
    now: float
    left: float


def allowance(load: ActiveLoad) -> Allowance | None:
    """The parts of the bar; None where the year's allowance or the rate is not known."""
    if load.maximum is None or load.used is None or load.rate is None:
        return None
    whole = max(load.maximum.value, load.used.value + load.rate.value)
    before, now = 100 * load.used.value / whole, 100 * load.rate.value / whole
    return Allowance(before, now, max(100 - before - now, 0.0))


def amount_words(value: float, unit: str) -> str:
    """An exact amount, at four digits.

    >>> amount_words(36.7309, "fl oz"), amount_words(2369.66, "oz")
    ('36.73 fl oz', '2,370 oz')
    """
    return f"{value:,.0f} {unit}" if value >= 1000 else f"{figure(value, 4)} {unit}"


def where_words(payload: dict[str, Any], base: KnowledgeBase) -> str:
    """Turf and site of the card, where they were told."""
    turf = [base.turf[key].name for key in payload.get("turf", ()) if key in base.turf]
    site = [base.sites[payload["site_use"]].name] if payload.get("site_use") in base.sites else []
    return ", ".join((*turf, *site))


def sprayer_words(item: StoredSprayer) -> str:
    """A sprayer in one line: its name and what it puts out and holds."""
    told = [item.document[key] for key in ("carrier", "tank") if item.document.get(key)]
    parts = [f"{figure(part['value'])} {part['unit']}" for part in told]
    return f"{item.name} ({', '.join(parts)})" if parts else item.name
