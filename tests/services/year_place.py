"""The year of an invented property with its papers, written by hand so that no test waits for the search."""

from __future__ import annotations

from typing import Any

from app.season.record import Branch
from app.season.year import YearAsked
from app.services import properties
from app.services.branch import change_branch
from app.services.customers import add_customer
from app.services.shelf import fill_demo
from app.services.year_papers import ChosenPlan, Place, YearPapers, papers_of
from app.services.year_question import YearNote, document_of
from app.store.models import YearRow
from app.store.opening import Store
from tests.season.planned import shelf
from tests.season.planned_year import AREAS, WEEDS, planned_year
from tests.services.places import place
from tests.store.test_products import NOW

PLACE = Place(
    slug="12-mill-lane",
    name="12 Mill Lane",
    address="12 Mill Lane, Tarnbeck, Larkmere County",
    customer="Ada Fenn",
    customer_address="12 Mill Lane, Tarnbeck",
)
PRICING = {
    "labour_per_hour": 42,
    "minutes_per_visit": 12,
    "minutes_per_1000_ft2": 1.5,
    "travel_minutes": 10,
    "overhead_pct": 30,
    "margin_pct": 25,
    "payment": "Each visit is billed on the day it is done and is due within 30 days.",
}
BRANCH = Branch.model_validate(
    {
        "name": "Larkmere Lawns",
        "address": "1 Depot Road, Tarnbeck",
        "phone": "555-0134",
        "licence": "LKM-B-0027",
        "pricing": PRICING,
    }
)


def asked_year(**told: Any) -> YearAsked:
    """What was asked of it."""
    return YearAsked.model_validate(
        {
            "year": 2027,
            "zone": "cool-humid",
            "site_use": "residential-lawn",
            "areas": [area.model_dump(mode="json") for area in AREAS],
            "weeds": [{"weed": weed, "pressure": "high"} for weed, *_ in WEEDS],
            "visits": {"count": 6},
            "catalog": "shelf",
            **told,
        }
    )


def year_papers(visits: Any = 6, branch: Branch = BRANCH, place: Place = PLACE, **told: Any) -> YearPapers:
    """The papers of the year, of so many visits or of those given; `told` are fields of the plan."""
    return papers_of(place, branch, ChosenPlan(asked_year(), planned_year(visits, **told), 2), shelf())


def keep_place(store: Store) -> None:
    """Keep the branch, its shelf, the customer and the property."""
    fill_demo(store)
    change_branch(store, BRANCH.model_dump(mode="json"), 0)
    add_customer(store, {"name": "Ada Fenn", "address": "PO Box 7"})
    areas = [area.model_dump(mode="json", include={"id", "name", "turf", "area"}) for area in AREAS]
    properties.add(store, place(address=PLACE.address, areas=areas), customer="Ada Fenn")


def keep_plan(store: Store, visits: int = 6, *, number: int = 1, chosen: bool = True) -> None:
    """Keep a plan of so many visits as a version of the property's year."""
    document = dict(document_of(asked_year(), planned_year(visits), YearNote()))
    told = {"property": PLACE.slug, "season": 2027, "number": number, "chosen": chosen, "changed_at": NOW}
    with store.session() as session:
        session.add(YearRow(key=f"year-key-{number}", document=document, **told))
