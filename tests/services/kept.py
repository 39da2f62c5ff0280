"""A branch with a property and a shelf, and records of it, for tests."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from app.season.record import ApplicationRecord
from app.services import branch, customers, properties, shelf
from app.store.opening import Store

NOW = datetime(2027, 6, 2, 18, tzinfo=UTC)
DAY = date(2027, 6, 2)
KEY = "key-of-the-form-1"
BRANCH = {
    "name": "Pellmere branch",
    "zone": "cool-humid",
    "technicians": [
        {"name": "Ada Holm", "licence": "C-4417"},
        {"name": "Ben Rusk", "licence": "", "supervisor": "Ada Holm", "supervisor_licence": "C-4417"},
    ],
}


def branch_with(store: Store) -> None:
    """A branch, a customer, a property of two areas, and the invented products of the demo."""
    shelf.fill_demo(store)
    branch.change_branch(store, BRANCH, 0)
    who = customers.add_customer(store, {"name": "Marit Oversea", "address": "14 Quern Street, Pellmere"})
    lawn = {"turf": ["tall-fescue"], "site_use": "residential-lawn"}
    properties.add(
        store,
        {
            "name": "Brindle Yard",
            "customer": who.slug,
            "address": "3 Brindle Lane, Pellmere",
            "areas": [
                {"id": "front", "name": "Front lawn", "area": {"value": 5000, "unit": "ft2"}, **lawn},
                {"id": "back", "name": "Back lawn", "area": {"value": 0.25, "unit": "acre"}, **lawn},
            ],
        },
    )


def applied(**changes: Any) -> ApplicationRecord:
    """Quinclorac on the front lawn against crabgrass, with changes at the top level."""
    told = {
        "date": f"{DAY}",
        "property": "brindle-yard",
        "property_name": "Brindle Yard",
        "area": "front",
        "area_name": "Front lawn",
        "zone": "cool-humid",
        "turf": ["tall-fescue"],
        "treated": {"value": 5000, "unit": "ft2"},
        "products": [
            {
                "name": "Mistlewick Crabgrass",
                "rate": {"value": 1, "unit": "lb/acre"},
                "amount": {"value": 1.84, "unit": "oz"},
            }
        ],
        "adjuvant": {"id": "mso"},
        "targets": [{"weed": "smooth-crabgrass", "stage": "1-3-tiller"}],
    }
    return ApplicationRecord.model_validate({**told, **changes})


def stock(store: Store, slug: str) -> tuple[float, str] | None:
    """What is in stock of a product."""
    held = shelf.product_named(store, slug)[0].stock
    return (held.value, held.unit) if held is not None else None
