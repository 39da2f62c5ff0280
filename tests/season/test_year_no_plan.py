"""Years without a plan: what is said to loosen is named, the least first, and loosening it makes a plan."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.product import Product
from app.season.year import YearAsked
from app.season.year_output import YearPlan
from app.season.year_planning import plan_year
from tests.demo_data.demo_shelf import demo_shelf
from tests.engine.strategies import BASE
from tests.season.test_year_promises import asked_for

NAMED = {"visits.count", "visits.dates", "limits.budget_per_1000_ft2", "limits.max_products_per_visit", "from", "weeds"}


def loosened(asked: YearAsked, plan: YearPlan) -> YearAsked:
    """What is asked without the first constraint that the plan names, or with the least that it tells."""
    assert plan.relax
    first = plan.relax[0]
    plain = asked.model_dump(mode="json", by_alias=True)
    head, _, number = first.constraint.partition(".")
    if head in ("locks", "forbid"):
        plain[head] = [item for place, item in enumerate(plain[head]) if place != int(number)]
    elif head == "visits":
        plain["visits"] = {"count": int(first.least or 1), "dates": None}
    else:
        assert first.least is not None
        plain["limits"][first.constraint.split(".")[1]] = first.least
    return YearAsked.model_validate(plain)


# Two locks of one visit that together are one product too many, or that rules or a forbid stand against.
ASKED: dict[str, dict[str, Any]] = {
    "no visit": {"visits": {"count": 0}},
    "no date": {"visits": {"dates": []}},
    "a lock on an active that is forbidden": {
        "locks": [{"visit": 1, "actives": ["prodiamine"]}],
        "forbid": [{"actives": ["prodiamine"]}],
    },
    "a lock on an active that the turf does not stand": {"locks": [{"visit": 2, "actives": ["atrazine"]}]},
    "a lock too soon after the same active": {
        "from": "2027-04-01",
        "applied_this_year": [
            {"date": "2027-03-20", "active": "prodiamine", "rate": {"value": 1.5, "unit": "lb ai/acre"}}
        ],
        "locks": [{"visit": 1, "actives": ["prodiamine"]}],
    },
    "a visit that is to hold something and nothing": {
        "locks": [{"visit": 1, "actives": ["prodiamine"]}, {"visit": 1, "actives": []}],
    },
    "more locked than a visit may hold": {
        "limits": {"max_products_per_visit": 1},
        "locks": [{"visit": 1, "actives": ["prodiamine"]}, {"visit": 1, "actives": ["florasulam"]}],
    },
}


@pytest.mark.parametrize("name", sorted(ASKED))
def test_loosening_what_comes_first_makes_a_plan(name: str) -> None:
    asked = asked_for(**ASKED[name])
    plan = plan_year(BASE, asked)
    assert plan.visits == ()
    assert plan.relax
    assert plan.headline
    for one in plan.relax:
        assert one.constraint in NAMED or one.constraint.partition(".")[0] in ("locks", "forbid")
        assert one.text
    assert plan_year(BASE, loosened(asked, plan)).relax is None


def test_a_budget_of_nothing_names_the_least_that_buys_something(shelf: tuple[Product, ...]) -> None:
    told = {"catalog": "shelf", "visits": {"dates": ["2027-04-15", "2027-09-28"]}}
    asked = asked_for(**told, limits={"budget_per_1000_ft2": 0})
    plan = plan_year(BASE, asked, shelf)
    assert plan.relax
    assert plan.relax[0].constraint == "limits.budget_per_1000_ft2"
    again = plan_year(BASE, loosened(asked, plan), shelf)
    assert again.relax is None
    assert again.cost is not None
    assert 0 < again.cost <= (plan.relax[0].least or 0) + 1e-6


@pytest.mark.parametrize("budget", [1.5, 4.0])
def test_a_budget_is_kept(shelf: tuple[Product, ...], budget: float) -> None:
    told = {"catalog": "shelf", "visits": {"dates": ["2027-04-15", "2027-05-26", "2027-09-28"]}}
    free = plan_year(BASE, asked_for(**told), shelf)
    plan = plan_year(BASE, asked_for(**told, limits={"budget_per_1000_ft2": budget}), shelf)
    if plan.relax is None:
        assert plan.cost is not None
        assert plan.cost <= budget + 1e-6
    assert plan.objective <= free.bound + 1e-6


@pytest.fixture(scope="module")
def shelf() -> tuple[Product, ...]:
    """The demo shelf."""
    return demo_shelf()
