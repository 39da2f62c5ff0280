"""Years to ask for in tests."""

from __future__ import annotations

from typing import Any

from app.season.year import YearAsked

PLAIN: dict[str, Any] = {
    "year": 2027,
    "zone": "cool-humid",
    "site_use": "residential-lawn",
    "areas": [{"id": "front", "turf": ["kentucky-bluegrass"], "area": {"value": 6000, "unit": "ft2"}}],
    "weeds": [{"weed": "smooth-crabgrass", "pressure": "high"}, {"weed": "dandelion"}],
    "visits": {"count": 3},
    "options": {"frontier": False},
}


# One weed and one visit: planned in about a second, for tests of what stands around the planning.
SMALL: dict[str, Any] = {**PLAIN, "weeds": [{"weed": "dandelion"}], "visits": {"count": 1}}


def plain_year(**changes: Any) -> dict[str, Any]:
    """A plain year as data, with changes at the top level."""
    return {**PLAIN, **changes}


def asked_year(**changes: Any) -> YearAsked:
    """A plain year, with changes at the top level."""
    return YearAsked.model_validate(plain_year(**changes))
