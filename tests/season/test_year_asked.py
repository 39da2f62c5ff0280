"""What cannot be asked of a year is refused, each field by its path, all at once."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.errors import InputError
from app.season.year import YearAsked
from app.season.year_checks import checked
from app.services.validation import validated
from knowledge.base import KnowledgeBase
from tests.demo_data.demo_shelf import demo_shelf
from tests.season.asked_year import PLAIN, asked_year, plain_year

RATE = {"value": 1.0, "unit": "lb ae/acre"}
TWO_AREAS = [{"id": "front", "turf": ["tall-fescue"]}, {"id": "back", "turf": ["common-bermudagrass"]}]


def faults(base: KnowledgeBase, *products: Any, **changes: Any) -> dict[str, str]:
    with pytest.raises(InputError) as caught:
        checked(base, asked_year(**changes), products or None)
    return {fault.path: fault.message for fault in caught.value.faults}


def test_a_plain_year_is_fine(base: KnowledgeBase) -> None:
    checked(base, asked_year())


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"areas": [{"id": "a", "turf": ["kentucky-blugrass"]}]}, "areas.0.turf.0"),
        ({"weeds": [{"weed": "smoth-crabgrass"}]}, "weeds.0.weed"),
        ({"weeds": [{"weed": "dandelion", "resistant_to": ["4", "44"]}]}, "weeds.0.resistant_to.1"),
        (
            {"applied_this_year": [{"date": "2027-04-01", "active": "2-4-dee", "rate": RATE}]},
            "applied_this_year.0.active",
        ),
        (
            {"applied_last_year": [{"date": "2026-04-01", "active": "2-4-dee", "rate": RATE}]},
            "applied_last_year.0.active",
        ),
        ({"local_rules": [{"kind": "ban-group", "group": "99"}]}, "local_rules.0.group"),
        ({"locks": [{"visit": 1, "actives": ["prodiamin"]}]}, "locks.0.actives.0"),
        ({"forbid": [{"actives": ["dicamba", "dicambo"]}]}, "forbid.0.actives.1"),
    ],
)
def test_an_unknown_id_is_named_with_the_three_nearest(base: KnowledgeBase, changes: dict[str, Any], path: str) -> None:
    told = faults(base, **changes)
    assert list(told) == [path]
    assert "is no known" in told[path]
    assert len(told[path].split("nearest: ")[1].split(", ")) == 3


def test_every_fault_is_told_at_once(base: KnowledgeBase) -> None:
    told = faults(
        base,
        areas=[{"id": "front", "turf": ["fescue"]}],
        weeds=[{"weed": "crabgrass"}],
        locks=[{"visit": 9, "actives": ["nothing"]}],
        limits={"budget_per_1000_ft2": 3},
    )
    expected = ("areas.0.turf.0", "weeds.0.weed", "locks.0.actives.0", "locks.0.visit", "limits.budget_per_1000_ft2")
    assert tuple(told) == expected


@pytest.mark.parametrize(
    ("changes", "path", "said"),
    [
        ({"areas": [{"id": "a", "turf": ["tall-fescue"] * 2}]}, "areas.0.turf.1", "is named twice"),
        ({"locks": [{"visit": 4, "actives": ["dicamba"]}]}, "locks.0.visit", "there is no visit 4; at most 3"),
        ({"forbid": [{"visit": 4, "actives": ["dicamba"]}]}, "forbid.0.visit", "there is no visit 4"),
        (
            {"visits": {"dates": ["2027-04-10"]}, "locks": [{"date": "2027-04-11"}]},
            "locks.0.date",
            "is no date of a visit; visits.dates are 2027-04-10",
        ),
        ({"locks": [{"date": "2028-04-11"}]}, "locks.0.date", "must lie in 2027"),
        ({"from": "2027-05-01", "locks": [{"date": "2027-04-11"}]}, "locks.0.date", "lies before 2027-05-01"),
        ({"from": "2027-05-01", "visits": {"dates": ["2027-04-30"]}}, "visits.dates.0", "lies before 2027-05-01"),
        (
            {"from": "2027-05-01", "applied_this_year": [{"date": "2027-05-02", "active": "dicamba", "rate": RATE}]},
            "applied_this_year.0.date",
            "lies after 2027-05-01",
        ),
        (
            {
                "applied_this_year": [
                    {"date": "2027-05-02", "active": "dicamba", "rate": {"value": 1, "unit": "qt/acre"}}
                ]
            },
            "applied_this_year.0.rate.unit",
            "must be a rate of active",
        ),
        (
            {"areas": [{"id": "a", "turf": ["tall-fescue"], "turf_condition": {"seeding_planned": "2026-09-01"}}]},
            "areas.0.turf_condition.seeding_planned",
            "lies before 2027",
        ),
        ({"areas": TWO_AREAS, "weeds": [{"weed": "bermudagrass-weed"}]}, "weeds.0.weed", "on area 'back'; leave"),
        ({"areas": TWO_AREAS[1:], "weeds": [{"weed": "bermudagrass-weed"}]}, "weeds.0.weed", "name another weed"),
        ({"limits": {"budget_per_1000_ft2": 3}}, "limits.budget_per_1000_ft2", "generic actives have none"),
    ],
)
def test_what_cannot_be_is_said(base: KnowledgeBase, changes: dict[str, Any], path: str, said: str) -> None:
    told = faults(base, **changes)
    assert list(told) == [path]
    assert said in told[path]


def test_a_weed_that_is_the_turf_of_another_area_is_fine(base: KnowledgeBase) -> None:
    checked(base, asked_year(areas=TWO_AREAS, weeds=[{"weed": "bermudagrass-weed", "areas": ["front"]}]))


def test_a_day_that_is_just_in_time_is_fine(base: KnowledgeBase) -> None:
    past = [{"date": "2027-05-01", "active": "dicamba", "rate": RATE}]
    told = {"from": "2027-05-01", "visits": {"dates": ["2027-05-01", "2027-06-01"]}, "applied_this_year": past}
    checked(
        base,
        asked_year(**told, locks=[{"date": "2027-06-01"}, {"visit": 2}], forbid=[{"visit": 2, "actives": ["mcpa"]}]),
    )


def test_a_budget_needs_prices_of_one_currency(base: KnowledgeBase) -> None:
    held = [product for product in demo_shelf() if product.kind == "herbicide" and product.packs]
    budget: dict[str, Any] = {"catalog": "shelf", "limits": {"budget_per_1000_ft2": 5}}
    checked(base, asked_year(**budget), held)
    bare = [product.model_copy(update={"packs": ()}) for product in held]
    assert "no product of the catalog has a pack" in faults(base, *bare, **budget)["limits.budget_per_1000_ft2"]
    other = [held[0], *(product.model_copy(update={"currency": "CAD"}) for product in held[1:])]
    assert "has CAD and USD" in faults(base, *other, **budget)["limits.budget_per_1000_ft2"]
    checked(base, asked_year(catalog="shelf"), bare)


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"year": 1999}, "year"),
        ({"visits": {"count": 3, "dates": ["2027-04-01"]}}, "visits.count"),
        ({"visits": {}}, "visits.count"),
        ({"visits": {"count": -1}}, "visits.count"),
        ({"visits": {"dates": ["2027-05-01", "2027-04-01"]}}, "visits.dates.1"),
        ({"visits": {"dates": ["2027-05-01", "2027-05-01"]}}, "visits.dates.1"),
        ({"visits": {"dates": ["2028-05-01"]}}, "visits.dates.0"),
        ({"from": "2026-12-31"}, "from"),
        ({"limits": {"budget_per_1000_ft2": -1}}, "limits.budget_per_1000_ft2"),
        ({"limits": {"max_products_per_visit": 0}}, "limits.max_products_per_visit"),
        ({"weeds": []}, "weeds"),
        ({"weeds": [{"weed": "dandelion"}, {"weed": "dandelion"}]}, "weeds.1.weed"),
        ({"weeds": [{"weed": "dandelion", "pressure": "huge"}]}, "weeds.0.pressure"),
        ({"weeds": [{"weed": "dandelion", "areas": ["side"]}]}, "weeds.0.areas.0"),
        ({"locks": [{"actives": ["dicamba"]}]}, "locks.0.visit"),
        ({"locks": [{"visit": 1, "area": "side"}]}, "locks.0.area"),
        ({"applied_this_year": [{"date": "2026-04-01", "active": "mcpa", "rate": RATE}]}, "applied_this_year.0.date"),
        ({"applied_last_year": [{"date": "2027-04-01", "active": "mcpa", "rate": RATE}]}, "applied_last_year.0.date"),
        ({"spring_shift_days": 31}, "spring_shift_days"),
        ({"dry": [{"from": "2027-07-02", "to": "2027-07-01"}]}, "dry.0.to"),
        ({"dry": [{"from": "2028-07-02", "to": "2028-07-03"}]}, "dry.0.from"),
        ({"wether": {}}, "wether"),
        ({"weather": {"daily": [{"date": "2027-03-01", "min_f": 50, "max_f": 40}]}}, "weather.daily.0.min_f"),
    ],
)
def test_the_shape_of_a_year_is_held_to(changes: dict[str, Any], path: str) -> None:
    with pytest.raises(InputError) as caught:
        validated(YearAsked, plain_year(**changes))
    assert [fault.path for fault in caught.value.faults] == [path]


@pytest.mark.parametrize("missing", ["year", "zone", "site_use", "areas", "weeds", "visits"])
def test_what_a_year_needs_is_named(missing: str) -> None:
    with pytest.raises(InputError) as caught:
        validated(YearAsked, {key: value for key, value in PLAIN.items() if key != missing})
    assert [(fault.path, fault.message) for fault in caught.value.faults] == [(missing, "is required")]
