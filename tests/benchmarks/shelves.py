"""Shelves to time: made of the facts' own actives at their usual rates, with names that say so."""

from __future__ import annotations

import random

from app.engine.product import Product
from knowledge.base import KnowledgeBase


def made_shelf(base: KnowledgeBase, count: int) -> tuple[Product, ...]:
    """So many invented products of one to three actives; equal counts give equal shelves."""
    chance = random.Random(count)
    actives = [active for active in base.actives.values() if active.rates]
    return tuple(_made(chance.sample(actives, chance.choice((1, 1, 2, 3))), number, chance) for number in range(count))


def _made(actives: list, number: int, chance: random.Random) -> Product:  # type: ignore[type-arg]
    parts = []
    for active in actives:
        unit = f"lb {active.rate_basis}"
        # At a quart an acre the product delivers the usual rate.
        content = 4 * chance.choice(active.rates).usual.to(f"{unit}/acre").value
        form = chance.choice(active.forms).id
        parts.append({"active": active.id, "form": form, "content": {"value": content, "unit": f"{unit}/gal"}})
    line = {"low": {"value": 0.7, "unit": "qt/acre"}, "high": {"value": 1.0, "unit": "qt/acre"}}
    pack = {"size": {"value": 1, "unit": "gal"}, "price": chance.randint(30, 300)}
    told = {"name": f"Made {number}", "formulation": "SL", "actives": parts, "rates": [line], "packs": [pack]}
    return Product.model_validate({**told, "basis": "invented"})
