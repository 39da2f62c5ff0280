"""The rounds that are timed: every area of the demo's branch on one day, from its shelf."""

from __future__ import annotations

from app.season.round import Round
from app.services import branch_demo, forecasts, properties, shelf
from app.store.opening import Store, open_in_memory

DAY = "2027-07-13"


def branch_store() -> Store:
    """A store with the demo's shelf and branch."""
    store = open_in_memory()
    shelf.fill_demo(store)
    branch_demo.fill_demo(store)
    return store


def made_round(store: Store, stops: int, tanks: int, *, forecast: bool) -> Round:
    """A round of the first stops of the branch on a day in July."""
    every = [
        {"property": place.slug, "area": area.id} for place in properties.every(store) for area in place.property.areas
    ]
    told = next(item.slug for item in forecasts.every(store) if "july" in item.slug) if forecast else None
    whole = {"name": "Timed", "date": DAY, "tanks": tanks, "forecast": told, "stops": every[:stops]}
    return Round.model_validate(whole)
