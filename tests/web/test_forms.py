"""Forms: from what is typed to a situation."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from app.engine.errors import InputError
from app.web.forms import Asked, read_question
from app.web.units import System
from knowledge.base import KnowledgeBase

TODAY = date(2027, 5, 20)


def asked(base: KnowledgeBase, typed_in: System = "us", /, **typed: str) -> Asked:
    """Read a form of these fields."""
    return read_question(typed, [], base, TODAY, typed_in)


def test_a_full_form_becomes_a_situation(base: KnowledgeBase) -> None:
    found = asked(
        base,
        weed="nutgrass",
        turf="tall-fescue",
        zone="transition",
        site_use="sports-turf",
        date="2027-06-01",
        leaves="6",
        cover="12.5",
        resistant="2, Halosulfuron-methyl",
        weed_3="dandelion",
        area="2",
        area_unit="acre",
        past_active_2="2-4-d",
        past_rate_2="1",
        past_date_2="2027-04-01",
        ban_1="dicamba",
        adjuvants="no",
        carrier="1.5",
    )
    payload: dict[str, Any] = found.checked()
    target = payload["targets"][0]
    assert (target["weed"], target["leaves"], target["cover_pct"]) == ("yellow-nutsedge", 6, 12.5)
    assert target["resistant_to"] == ["2", "halosulfuron-methyl"]
    assert payload["targets"][1] == {"weed": "dandelion"}
    assert payload["area"] == {"value": 2.0, "unit": "acre"}
    assert payload["carrier"] == {"value": 1.5, "unit": "gal/1000 ft2"}
    assert payload["applied_this_year"] == [
        {"date": "2027-04-01", "active": "2-4-d", "rate": {"value": 1.0, "unit": "lb ae/acre"}}
    ]
    assert payload["local_rules"] == [{"kind": "ban-active", "active": "dicamba"}]
    assert payload["options"] == {"adjuvants": False}
    assert found.assumed == ()
    assert found.rows.targets == (1, 3)


@pytest.mark.parametrize(("month", "day"), [("", "2027-05-20"), ("6", "2027-06-15"), ("4", "2028-04-15")])
def test_a_month_is_the_next_of_its_name(base: KnowledgeBase, month: str, day: str) -> None:
    assert asked(base, weed="dandelion", month=month).payload["date"] == day


@pytest.mark.parametrize("month", ["0", "13", "june", "²"])
def test_what_is_no_month_is_refused(base: KnowledgeBase, month: str) -> None:
    assert [fault.path for fault in asked(base, weed="dandelion", month=month).faults] == ["form.month"]


def test_metric_figures_reach_the_engine_in_its_units(base: KnowledgeBase) -> None:
    payload = asked(base, "metric", weed="dandelion", max_temp="25", wind="8,05", height="7.62").payload
    assert payload["forecast"] == {"max_temp_f": 77.0, "wind_mph": pytest.approx(5.0, abs=0.01)}
    assert payload["turf_condition"] == {"mowing_height_in": 3.0}


@pytest.mark.parametrize(
    ("typed", "fields"),
    [
        ({}, {"form.weed"}),
        ({"weed": "dandelion", "past_rate_1": "1"}, {"form.past_active_1"}),
        ({"weed": "dandelion", "past_active_3": "2-4-d"}, {"form.past_rate_3", "form.past_date_3"}),
        ({"weed": "dandelion", "stage_2": "flowering"}, {"form.weed_2"}),
        ({"weed": "dandelion", "weed_4": "qqqq", "max_temp": "warm"}, {"form.weed_4", "form.max_temp"}),
    ],
)
def test_nothing_typed_is_dropped_in_silence(base: KnowledgeBase, typed: dict[str, str], fields: set[str]) -> None:
    assert {fault.path for fault in asked(base, **typed).faults} == fields


def test_faults_of_the_form_and_of_the_situation_are_told_at_once(base: KnowledgeBase) -> None:
    with pytest.raises(InputError) as refused:
        asked(base, weed="dandelion", mowings="2.5", zone="moon").checked()
    paths = {fault.path for fault in refused.value.faults}
    assert {"form.mowings", "zone"} <= paths


def test_a_weed_is_not_asked_about_on_itself(base: KnowledgeBase) -> None:
    assert asked(base, weed="bermudagrass", zone="warm-humid").payload["turf"] == ["tall-fescue"]


@pytest.mark.parametrize(("typed", "value"), [("12000", 12000.0), ("0,5", 0.5), ("12,000", None)])
def test_a_comma_that_may_mean_thousands_is_refused(base: KnowledgeBase, typed: str, value: float | None) -> None:
    asked = read_question({"weed": "wild violet", "area": typed}, [], base, date(2027, 5, 20), "us")
    if value is None:
        assert [fault.path for fault in asked.faults] == ["form.area"]
    else:
        assert asked.payload["area"]["value"] == value
