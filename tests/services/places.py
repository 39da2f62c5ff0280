"""Invented places to test with."""

from __future__ import annotations

from datetime import date
from typing import Any

from app.store.models import ApplicationRow
from app.store.opening import Store
from tests.store.test_products import NOW

TODAY = date(2027, 6, 15)


def area(**told: Any) -> dict[str, Any]:
    """An area with all that a plan needs."""
    size = {"value": 6500, "unit": "ft2"}
    return {"name": "Front", "turf": ["tall-fescue"], "area": size, "site_use": "residential-lawn", **told}


def place(**told: Any) -> dict[str, Any]:
    """A property with one area."""
    return {"name": "12 Mill Lane", "zone": "cool-humid", "areas": [area()], **told}


def put_record(store: Store, slug: str, key: str = "record-one") -> None:
    """An application record that names a property."""
    told = {"applicator": "", "void": False, "unfinished": False, "asked": "", "stock": {}, "document": {}}
    with store.session() as session:
        session.add(ApplicationRow(key=key, property=slug, day=TODAY, changed_at=NOW, **told))
