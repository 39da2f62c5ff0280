"""A property with notes, and plans made by hand in place of the search, for tests."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from app.season.year import YearAsked
from app.season.year_output import Relax, YearPlan, YearVisit
from app.services import properties, years
from app.store.opening import Store
from tests.season import planned_year

SLUG, SEASON = "12-mill-lane", 2027
LAWN = {"turf": ["kentucky-bluegrass"], "site_use": "residential-lawn", "area": {"value": 6000, "unit": "ft2"}}
NOTES: tuple[dict[str, Any], ...] = (
    {"area": "front", "weed": "dandelion", "date": "2026-06-20", "cover_pct": 4},
    {"area": "front", "weed": "smooth-crabgrass", "date": "2026-07-20", "cover_pct": 25, "priority": 2},
    {"area": "back", "weed": "dandelion", "date": "2026-06-21", "cover_pct": 12, "resistant_to": ["2-4-d"]},
)
# Dicamba held on a visit is what nothing fits.
HELD = ("dicamba",)


def place_with(store: Store, **told: Any) -> str:
    """A property of two lawns with what was noted on them."""
    areas = [{"id": "front", "name": "Front", **LAWN}, {"id": "back", "name": "Back", **LAWN, "turf": ["tall-fescue"]}]
    kept = properties.add(store, {"name": "12 Mill Lane", "zone": "cool-humid", "areas": areas, **told})
    for note in NOTES:
        properties.add_note(store, kept.slug, note)
    return kept.slug


def by_hand(asked: YearAsked) -> YearPlan:
    """A plan for any question: by its days, worse by ten points where something is forbidden all year."""
    if any(lock.actives == HELD for lock in asked.locks):
        held = Relax(constraint="locks.0", text="Visit 1 must hold dicamba, which tree roots bar.", least=None)
        budget = Relax(constraint="limits.budget_per_1000_ft2", text="The budget is too small.", least=7.25)
        return planned_year.planned_year([], control=(), relax=(held, budget), headline="Nothing fits.", frontier=())
    days = asked.visits.dates or tuple(day for day, *_ in planned_year.VISITS[: asked.visits.count or 0])
    visits = [
        _on(planned_year.visit(1 + place % 8, area.id), place + 1, day)
        for place, day in enumerate(days)
        for area in asked.areas
    ]
    worse = 10.0 * sum(1 for item in asked.forbid if item.visit is None and item.date is None)
    control = tuple(
        item.model_copy(update={"likely": item.likely - worse, "low": item.low - worse})
        for item in planned_year.controls(2)
    )
    cost = round(1.0 * len(days), 2)
    told = {"year": asked.year, "objective": 80.0 - worse, "bound": 80.0 - worse, "cost": cost, "control": control}
    return planned_year.planned_year(visits, headline=f"{len(days)} visits.", **told)


def _on(visit: YearVisit, number: int, day: date) -> YearVisit:
    applications = tuple(item.model_copy(update={"date": day}) for item in visit.applications)
    return visit.model_copy(update={"number": number, "date": day, "applications": applications})


def plans_by_hand(monkeypatch: pytest.MonkeyPatch) -> list[YearAsked]:
    """Let plans be made by hand; every question that is asked from here on."""
    asked: list[YearAsked] = []

    def planned(store: Store, question: YearAsked) -> YearPlan:
        asked.append(question)
        return by_hand(question)

    monkeypatch.setattr(years, "planned", planned)
    return asked
