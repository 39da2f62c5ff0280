"""A planned year made by hand, for tests of what is done with a plan."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from app.season.year import YearAsked
from app.season.year_output import YearPlan

PRODIAMINE = ("prodiamine", 3, 0.75, "lb ai/acre")
QUINCLORAC = ("quinclorac", 4, 0.75, "lb ai/acre")
TRICLOPYR = ("triclopyr", 4, 0.75, "lb ae/acre")
SOURCES = {
    "common-practice": {"citation": "Common practice, no source.", "kind": "practice", "basis": "common-practice"}
}


def made_visit(number: int, day: date, *actives: tuple[str, int, float, str], **told: Any) -> dict[str, Any]:
    """A visit with one tank of these actives, or none; `told` are fields of the visit."""
    parts = [
        {
            "active": active,
            "name": active,
            "form": active,
            "form_name": active,
            "group": str(group),
            "rate": {"value": value, "unit": unit},
        }
        for active, group, value, unit in actives
    ]
    products = [{"product": None, "actives": [part], "rate": None} for part in parts]
    tank = {"day": 0, "date": day, "products": products, "adjuvant": None, "carrier": None}
    about = f"what visit {number} holds works about as well"
    return {
        "number": number,
        "date": day,
        "window": {
            "from": day - timedelta(days=7),
            "to": day + timedelta(days=14),
            "trigger": f"On these days {about}.",
        },
        "area": "front",
        "name": "Front",
        "applications": [tank] if actives else [],
        "for": ["smooth-crabgrass"],
        "groups": sorted({group for _, group, _, _ in actives}),
        "gain": 20.0 if actives else 0.0,
        "cost_per_1000_ft2": 1.25 if actives else 0.0,
        "locked": False,
        "reasons": [{"code": "why", "text": f"Reason of visit {number}.", "sources": ["common-practice"]}],
        "cautions": [],
        **told,
    }


def made_control(weed: str, low: float, likely: float, high: float, **told: Any) -> dict[str, Any]:
    """Expected control of a weed over the season."""
    row = {"weed": weed, "name": weed.replace("-", " "), "area": None, "low": low, "likely": likely, "high": high}
    return {
        **row,
        "visits": [1, 2],
        "text": f"Without any visit: 0 % of {weed}.",
        "sources": ["common-practice"],
        **told,
    }


def made_plan(asked: YearAsked | None = None, **changes: Any) -> YearPlan:
    """A plan of three visits, the last of them empty; `changes` at the top level."""
    visits = [
        made_visit(1, date(2027, 4, 12), PRODIAMINE),
        made_visit(2, date(2027, 6, 7), QUINCLORAC, TRICLOPYR, **{"for": ["smooth-crabgrass", "dandelion"]}),
        made_visit(3, date(2027, 9, 20), **{"for": []}),
    ]
    allowance = {
        "area": "front",
        "active": "prodiamine",
        "name": "prodiamine",
        "used": 0.75,
        "before": 0.25,
        "maximum": 1.5,
        "unit": "lb ai/acre",
        "count": 2,
        "most": None,
        "sources": ["common-practice"],
    }
    plain: dict[str, Any] = {
        "year": asked.year if asked is not None else 2027,
        "headline": "Two visits, 12 April and 7 June, hold smooth crabgrass to 88 %.",
        "visits": visits,
        "control": [made_control("smooth-crabgrass", 74, 88, 96), made_control("dandelion", 40, 61, 78)],
        "allowance": [allowance],
        "groups_by_visit": [[3], [4], []],
        "rotation": [{"code": "rotation", "text": "Group 4 stands on one visit.", "sources": ["common-practice"]}],
        "weeds": [],
        "objective": 79.0,
        "bound": 79.02,
        "gap": 0.02,
        "proven": True,
        "cost": 2.5,
        "currency": "USD",
        "frontier": [
            {"cost": 0.0, "control": 0.0, "visits": 0, "knee": False, "proven": True},
            {"cost": 1.25, "control": 70.0, "visits": 1, "knee": True, "proven": True},
            {"cost": 2.5, "control": 79.0, "visits": 2, "knee": False, "proven": False},
        ],
        "next_visit": "One more visit would add 2 points.",
        "relax": None,
        "considered": 412,
        "notices": ["The product label is the law."],
        "sources": SOURCES,
        "knowledge_version": "made",
    }
    return YearPlan.model_validate({**plain, **changes})
