"""A year from plain data: checked, planned with the products that it asks for, and its scenarios."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from app.engine.errors import InputError
from app.engine.house import Observed
from app.engine.product import Product
from app.season.year import YearAsked
from app.season.year_checks import checked
from app.services import year
from app.services.validation import validated
from knowledge.base import KnowledgeBase
from tests.demo_data.demo_shelf import demo_shelf
from tests.season.asked_year import SMALL, plain_year

DEMO = Path(__file__).parents[2] / "demo_data"
NAMES = ("year-cool.json", "year-warm.json", "year-dates.json")


def demo(name: str) -> dict[str, Any]:
    document: dict[str, Any] = json.loads((DEMO / name).read_text(encoding="utf-8"))
    return document


@pytest.mark.parametrize("name", NAMES)
def test_the_years_of_the_demo_can_be_asked(base: KnowledgeBase, name: str) -> None:
    checked(base, validated(YearAsked, demo(name)))


@pytest.mark.parametrize("payload", [None, [], "a year", {}, {"year": 2027}])
def test_what_is_no_year_is_refused(payload: Any) -> None:
    with pytest.raises(InputError):
        year.plan(payload)


def test_unknown_ids_are_refused_with_the_three_nearest() -> None:
    with pytest.raises(InputError) as caught:
        year.plan(plain_year(weeds=[{"weed": "crabgras"}], locks=[{"visit": 1, "actives": ["prodiamin"]}]))
    assert [fault.path for fault in caught.value.faults] == ["weeds.0.weed", "locks.0.actives.0"]
    assert all("nearest: " in fault.message for fault in caught.value.faults)


def test_a_shelf_must_be_at_hand() -> None:
    with pytest.raises(InputError, match=r"^catalog: no shelf is at hand here"):
        year.plan(plain_year(catalog="shelf"))
    with pytest.raises(InputError, match=r"^catalog: the shelf holds no herbicide yet"):
        year.plan(plain_year(catalog="shelf"), lambda: ())


def test_a_shelf_is_not_opened_where_it_is_not_asked_for() -> None:
    def shelf() -> tuple[Product, ...]:
        raise AssertionError("opened")

    assert year.plan(SMALL, shelf).visits


def test_what_the_house_saw_of_its_weeds_counts_and_that_of_others_does_not() -> None:
    asked = {**SMALL, "locks": [{"visit": 1, "actives": ["2-4-d"]}], "limits": {"max_products_per_visit": 1}}
    # Two trials in which what is locked did little, on dandelion that sets seed.
    seen = {
        **{"name": "Larkmere", "kind": "plots", "treatment": "2,4-D", "weed": "dandelion", "active": "2-4-d"},
        **{"form": "2-4-d-dma", "rate": {"value": 1.0, "unit": "lb ae/acre"}, "stage": "seed-set"},
        **{"season": "late-spring", "days_after": 28, "n": 4, "control_pct": 20, "log_odds": -1.39, "variance": 0.05},
    }
    poor = tuple(Observed.model_validate({**seen, "trial": f"larkmere-{number}"}) for number in (1, 2))
    plain = year.plan(asked)
    assert year.plan(asked, house=lambda _: poor).objective < plain.objective - 1
    other = tuple(item.model_copy(update={"weed": "white-clover"}) for item in poor)
    assert year.plan(asked, house=lambda _: other) == plain


def test_a_budget_without_prices_is_refused() -> None:
    bare = [product.model_copy(update={"packs": ()}) for product in demo_shelf()]
    asked = plain_year(catalog="shelf", limits={"budget_per_1000_ft2": 5})
    with pytest.raises(InputError, match=r"^limits\.budget_per_1000_ft2: needs prices, and no product"):
        year.plan(asked, lambda: bare)


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"visits": {"count": 0}}, "visits.count"),
        ({"visits": {"dates": []}}, "visits.dates"),
        ({"from": "2027-12-31"}, "from"),
        # Glyphosate kills the lawn it stands on (common practice, no source).
        ({"locks": [{"visit": 1, "actives": ["glyphosate"]}]}, "locks.0"),
    ],
)
def test_where_no_visit_is_possible_it_is_an_answer_that_says_what_to_loosen(
    changes: dict[str, Any], constraint: str
) -> None:
    plan = year.plan({**SMALL, **changes})
    assert plan.visits == ()
    assert plan.relax is not None
    assert plan.relax[0].constraint == constraint
    assert plan.relax[0].text in plan.headline


def test_a_visit_that_is_to_hold_nothing_is_no_fault() -> None:
    plan = year.plan({**SMALL, "locks": [{"visit": 1}]})
    assert plan.relax is None
    assert not any(visit.applications for visit in plan.visits)
