"""A store with the branch, the lawns and the planned round of the invented day."""

from __future__ import annotations

from app.season.round_output import RoundPlan
from app.services import properties, rounds
from app.services.branch import change_branch
from app.services.knowledge_service import knowledge_base
from app.services.rounds import KeptRound
from app.services.shelf import fill_demo
from app.services.sprayers import add_sprayer
from app.store.opening import Store
from tests.season import planned
from tests.services.test_round_papers import BRANCH, GUN


def keep_places(store: Store) -> None:
    """Keep the branch, its shelf and sprayer, and the properties of the planned stops."""
    fill_demo(store)
    add_sprayer(store, GUN)
    change_branch(store, BRANCH, 0)
    for stop in planned.stops():
        area = {"id": stop.area, "name": stop.area_name, "turf": list(stop.turf)}
        told = {"name": stop.property_name, "address": stop.address, "zone": "cool-humid", "technician": "Ada Marsh"}
        properties.add(store, {**told, "areas": [area]}, customer=stop.customer)


def keep_round(store: Store, plan: RoundPlan | None = None) -> KeptRound:
    """Keep the round and its plan, made by hand so that no test waits for the search."""
    stops = [{"property": stop.property, "area": stop.area} for stop in planned.stops()]
    told = {"name": "North side", "date": planned.DAY.isoformat(), "technician": "Ada Marsh", "sprayer": "truck-gun"}
    made = rounds.make(store, {**told, "stops": stops})
    found = plan or planned.planned(knowledge_version=knowledge_base().version)
    return rounds.planned(store, made.slug, found, made.version)
