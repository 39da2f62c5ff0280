"""The use cases that each face calls."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from app.engine.errors import InputError
from app.engine.output import QuickAnswer
from app.services import advice
from knowledge.base import KnowledgeBase
from knowledge.models import ZONES
from tests.conftest import plain

TODAY = date(2027, 5, 20)
NOTHING: dict[str, Any] = {"turf": None, "month": None, "zone": None, "stage": None, "site_use": None, "today": TODAY}


def _answer(weed: str, **told: Any) -> QuickAnswer:
    return advice.answer(weed, **{**NOTHING, **told})


def test_a_bare_question_is_answered_for_the_commonest_case() -> None:
    answer = _answer("wild violet")
    assert (answer.weed.id, answer.weed.asked) == ("wild-violet", "wild violet")
    situation = answer.situation
    assert (situation.date, situation.zone, situation.site_use) == (TODAY, "cool-humid", "residential-lawn")
    assert situation.turf == ("kentucky-bluegrass",)
    assert answer.recommendation.ranked
    assert answer.recommendation.situation == situation


@pytest.mark.parametrize(
    ("told", "field", "value"),
    [
        ({"turf": "tall-fescue"}, "turf", ("tall-fescue",)),
        ({"zone": "warm-humid"}, "turf", ("common-bermudagrass",)),
        ({"zone": "transition"}, "turf", ("tall-fescue",)),
        ({"site_use": "sports-turf"}, "site_use", "sports-turf"),
        ({"month": 5}, "date", date(2027, 5, 15)),
        ({"month": 6}, "date", date(2027, 6, 15)),
        ({"month": 4}, "date", date(2028, 4, 15)),
        ({"month": 12}, "date", date(2027, 12, 15)),
        ({"month": 1}, "date", date(2028, 1, 15)),
    ],
)
def test_what_is_told_is_taken(told: dict[str, Any], field: str, value: Any) -> None:
    assert getattr(_answer("wild violet", **told).situation, field) == value


def test_a_stage_that_is_told_is_not_assumed() -> None:
    (target,) = _answer("wild violet", stage="flowering").situation.derived.targets
    assert (target.stage, target.stage_assumed) == ("flowering", False)
    (target,) = _answer("wild violet").situation.derived.targets
    assert target.stage_assumed


def test_weeds_are_answered_in_every_zone(base: KnowledgeBase) -> None:
    for number, (key, weed) in enumerate(list(base.weeds.items())[::3]):
        zone = ZONES[number % len(ZONES)]
        answer = _answer(weed.name, zone=zone)
        assert answer.weed.id == key
        assert not set(answer.situation.turf) & set(weed.same_species_turf)


@pytest.mark.parametrize(
    ("weed", "told", "path"),
    [
        ("", {}, "weed"),
        ("   ", {}, "weed"),
        ("tomato soup", {}, "weed"),
        ("dandelion", {"turf": "tal-fescue"}, "turf"),
        ("dandelion", {"zone": "tropic"}, "zone"),
        ("dandelion", {"month": 0}, "month"),
        ("dandelion", {"month": 13}, "month"),
        ("dandelion", {"stage": "1-3-tiller"}, "stage"),
        ("dandelion", {"site_use": "moon"}, "site_use"),
    ],
)
def test_a_fault_names_the_part_of_the_question(weed: str, told: dict[str, Any], path: str) -> None:
    with pytest.raises(InputError) as caught:
        _answer(weed, **told)
    assert [fault.path for fault in caught.value.faults] == [path]


def test_all_faults_of_a_question_are_told_at_once() -> None:
    with pytest.raises(InputError) as caught:
        _answer("dandelion", turf="x", zone="y", month=99)
    assert {fault.path for fault in caught.value.faults} == {"turf", "zone", "month"}


def test_other_weeds_that_may_be_meant_are_offered() -> None:
    assert "large-crabgrass" in _answer("crabgrass").weed.alternatives


@pytest.mark.parametrize("service", [advice.recommend, advice.why_not, advice.expect])
def test_broken_input_is_said_and_not_computed(service: Any) -> None:
    for payload in ({}, [], {"situation": 3}, plain(zone="x")):
        with pytest.raises(InputError):
            service(payload)


def test_plain_data_are_answered() -> None:
    assert advice.recommend(plain()).ranked
    assert advice.why_not({"situation": plain(), "actives": ["triclopyr"]}).allowed
    active = {"active": "triclopyr", "rate": {"value": 0.75, "unit": "lb ae/acre"}}
    program = {"applications": [{"actives": [active]}]}
    assert advice.expect({"situation": plain(), "program": program}).control[0].likely
