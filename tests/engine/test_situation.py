"""The input: strict, frozen, and every bound on both sides."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import BaseModel, ValidationError

from app.engine.situation import ExpectRequest, Program, Situation, WhyNotRequest
from tests.conftest import plain

ACTIVE = {"active": "2-4-d", "rate": {"value": 1, "unit": "lb ae/acre"}}
PRODUCT = {
    "name": "Larkmere Plain",
    "formulation": "SL",
    "actives": [{"active": "2-4-d", "content": {"value": 3.8, "unit": "lb ae/gal"}}],
    "rate": {"value": 1, "unit": "qt/acre"},
}


def _paths(model: type[BaseModel], payload: Any) -> set[str]:
    """Paths of the faults; a list that a bad item left too short is not counted beside the item."""
    with pytest.raises(ValidationError) as caught:
        model.model_validate(payload)
    found = {".".join(str(part) for part in fault["loc"]) for fault in caught.value.errors()}
    return {path for path in found if not any(other.startswith(f"{path}.") for other in found)}


@pytest.mark.parametrize("key", ["date", "zone", "site_use", "turf", "targets"])
def test_what_is_required_cannot_be_left_out(key: str) -> None:
    told = plain()
    del told[key]
    assert _paths(Situation, told) == {key}


def test_the_five_required_facts_suffice() -> None:
    told = {key: plain()[key] for key in ("date", "zone", "site_use", "turf", "targets")}
    made = Situation.model_validate(told)
    assert made.turf_condition.stand is None
    assert made.forecast.max_temp_f is None
    assert made.catalog == "actives"
    assert (made.options.max_products, made.options.max_applications, made.options.adjuvants) == (3, 2, True)
    assert (made.options.top, made.targets[0].priority) == (5, 1)


def test_the_default_priorities_are_the_agreed_ones() -> None:
    told = Situation.model_validate(plain()).priorities.model_dump()
    assert told == {
        "control": 50,
        "turf_safety": 20,
        "resistance": 10,
        "cost": 10,
        "passes": 5,
        "off_target": 5,
    }


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"colour": "green"}, "colour"),
        ({"date": 1810000000}, "date"),
        ({"date": "2027-5-1"}, "date"),
        ({"date": "2027-02-29"}, "date"),
        ({"date": "1999-12-31"}, "date"),
        ({"date": "2101-01-01"}, "date"),
        ({"zone": "tropic"}, "zone"),
        ({"site_use": "moon"}, "site_use"),
        ({"turf": []}, "turf"),
        ({"turf": ["a"] * 6}, "turf"),
        ({"targets": []}, "targets"),
        ({"targets": [{"weed": "dandelion", "cover_pct": 100.1}]}, "targets.0.cover_pct"),
        ({"targets": [{"weed": "dandelion", "priority": 0}]}, "targets.0.priority"),
        ({"targets": [{"weed": "Dandelion!"}]}, "targets.0.weed"),
        ({"targets": [{"weed": "dandelion", "leaves": -1}]}, "targets.0.leaves"),
        ({"targets": [{"weed": "dandelion", "leaves": 2.5}]}, "targets.0.leaves"),
        ({"forecast": {"max_temp_f": float("nan")}}, "forecast.max_temp_f"),
        ({"forecast": {"max_temp_f": 141}}, "forecast.max_temp_f"),
        ({"forecast": {"max_temp_f": 50, "min_temp_f": 51}}, "forecast"),
        ({"forecast": {"rh_pct": 101}}, "forecast.rh_pct"),
        ({"forecast": {"soil_moisture": "damp"}}, "forecast.soil_moisture"),
        ({"surroundings": ["volcano"]}, "surroundings.0"),
        ({"turf_condition": {"stand": "old"}}, "turf_condition.stand"),
        ({"turf_condition": {"mowing_height_in": 0}}, "turf_condition.mowing_height_in"),
        ({"area": {"value": 0, "unit": "ft2"}}, "area.value"),
        ({"area": {"value": 1, "unit": "gal"}}, "area"),
        ({"area": {"value": 1, "unit": "furlong"}}, "area"),
        ({"carrier": {"value": 1, "unit": "gal"}}, "carrier"),
        ({"local_rules": [{"kind": "ban-active"}]}, "local_rules.0"),
        ({"local_rules": [{"kind": "ban-form"}]}, "local_rules.0"),
        ({"local_rules": [{"kind": "ban-group"}]}, "local_rules.0"),
        ({"local_rules": [{"kind": "closed-season", "from": "2027-01-01"}]}, "local_rules.0"),
        ({"local_rules": [{"kind": "closed-season", "from": "2027-02-01", "to": "2027-01-31"}]}, "local_rules.0"),
        ({"options": {"max_products": 4}}, "options.max_products"),
        ({"options": {"max_products": 0}}, "options.max_products"),
        ({"options": {"max_applications": 3}}, "options.max_applications"),
        ({"options": {"top": 51}}, "options.top"),
        ({"options": {"top": 0}}, "options.top"),
        ({"priorities": dict.fromkeys(("control", "turf_safety", "resistance", "cost", "passes"), 0)}, None),
        ({"priorities": {"control": -1}}, "priorities.control"),
    ],
)
def test_what_cannot_be_is_refused_with_its_path(changes: dict[str, Any], path: str | None) -> None:
    if path is None:
        changes["priorities"]["off_target"] = 0
        path = "priorities"
    assert _paths(Situation, plain(**changes)) == {path}


@pytest.mark.parametrize(
    "changes",
    [
        {"date": "2000-01-01"},
        {"date": "2100-12-31"},
        {"date": "2028-02-29"},
        {"targets": [{"weed": "dandelion", "cover_pct": 100, "leaves": 0}]},
        {"forecast": {"max_temp_f": 50, "min_temp_f": 50}},
        {"forecast": {"max_temp_f": 140, "rh_pct": 100}},
        {"local_rules": [{"kind": "closed-season", "from": "2027-02-01", "to": "2027-02-01"}]},
        {"options": {"max_products": 1, "max_applications": 1, "top": 50}},
        {"priorities": {"control": 0, "turf_safety": 0, "resistance": 0, "cost": 0, "passes": 0, "off_target": 1}},
    ],
)
def test_the_last_value_inside_each_bound_is_taken(changes: dict[str, Any]) -> None:
    made = Situation.model_validate(plain(**changes))
    again = Situation.model_validate(made.model_dump(mode="json", by_alias=True))
    assert again == made


def test_input_is_frozen() -> None:
    made = Situation.model_validate(plain())
    with pytest.raises(ValidationError):
        made.zone = "transition"  # type: ignore[misc]


@pytest.mark.parametrize(
    ("changes", "tail"),
    [
        ({"name": ""}, "name"),
        ({"formulation": "XX"}, "formulation"),
        ({"actives": []}, ""),
        ({"actives": PRODUCT["actives"] * 2}, ""),
        ({"actives": [{"active": "2-4-d", "content": {"value": 101, "unit": "% w/w"}}]}, "actives.0.content"),
        ({"actives": [{"active": "2-4-d", "content": {"value": 4, "unit": "gal"}}]}, "actives.0.content"),
        ({"rate": {"value": 0, "unit": "qt/acre"}}, "rate.value"),
        ({"density": {"value": 9, "unit": "lb ae/gal"}}, "density"),
    ],
)
def test_a_product_that_cannot_be_is_refused(changes: dict[str, Any], tail: str) -> None:
    paths = _paths(Situation, plain(catalog=[{**PRODUCT, **changes}]))
    assert any(path.startswith("catalog.") and path.endswith(f"0.{tail}".rstrip(".")) for path in paths)


@pytest.mark.parametrize(
    ("applications", "path"),
    [
        ([], "applications"),
        ([{"actives": [ACTIVE]}] * 3, "applications"),
        ([{"day": 0, "actives": [ACTIVE]}, {"day": 0, "actives": [ACTIVE]}], ""),
        ([{"day": 28, "actives": [ACTIVE]}, {"day": 0, "actives": [ACTIVE]}], ""),
        ([{"actives": [ACTIVE, ACTIVE]}], ""),
        ([{"actives": []}], "applications.0.actives"),
        ([{"actives": [ACTIVE], "day": -1}], "applications.0.day"),
        ([{"actives": [ACTIVE], "adjuvant": {"id": "soap"}}], "applications.0.adjuvant.id"),
    ],
)
def test_a_program_that_cannot_be_is_refused(applications: list[Any], path: str) -> None:
    assert _paths(Program, {"applications": applications}) == {path}


@pytest.mark.parametrize("days", [0, 366])
def test_the_day_of_judging_has_bounds(days: int) -> None:
    program = {"applications": [{"actives": [ACTIVE]}]}
    told = {"situation": plain(), "program": program}
    assert _paths(ExpectRequest, {**told, "days_after": days}) == {"days_after"}
    assert ExpectRequest.model_validate({**told, "days_after": min(max(days, 1), 365)}).days_after in (1, 365)


@pytest.mark.parametrize("actives", [[], ["a"] * 5])
def test_a_question_names_one_to_four_actives(actives: list[str]) -> None:
    assert _paths(WhyNotRequest, {"situation": plain(), "actives": actives}) == {"actives"}
