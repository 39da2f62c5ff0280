"""Stages, seasons and contradictions: both sides of every threshold."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from app.engine.errors import InputError
from app.engine.situation import Situation
from app.engine.understood import nearest, season_on, understand
from knowledge.base import KnowledgeBase
from tests.conftest import plain

Make = Callable[..., Situation]


def _stages(base: KnowledgeBase, make: Make, weed: str, **counts: Any) -> tuple[str, ...]:
    return understand(make(targets=[{"weed": weed, **counts}], turf=["kentucky-bluegrass"]), base).targets[0].stages


@pytest.mark.parametrize(
    ("counts", "stages"),
    [
        ({"leaves": 3}, ("1-3-leaf",)),
        ({"leaves": 4}, ("4-5-leaf",)),
        ({"tillers": 0, "leaves": 3}, ("1-3-leaf",)),
        ({"tillers": 0, "leaves": 4}, ("4-5-leaf",)),
        ({"tillers": 0}, ("1-3-leaf", "4-5-leaf")),
        ({"tillers": 1}, ("1-3-tiller",)),
        ({"tillers": 3}, ("1-3-tiller",)),
        ({"tillers": 4}, ("multi-tiller",)),
    ],
)
def test_counts_set_the_stage_of_a_grass(
    base: KnowledgeBase, situation: Make, counts: dict[str, int], stages: tuple[str, ...]
) -> None:
    assert _stages(base, situation, "smooth-crabgrass", **counts) == stages


@pytest.mark.parametrize(("leaves", "stage"), [(4, "2-4-leaf"), (5, "5-8-leaf")])
def test_leaves_set_the_stage_of_a_sedge(base: KnowledgeBase, situation: Make, leaves: int, stage: str) -> None:
    assert _stages(base, situation, "yellow-nutsedge", leaves=leaves) == (stage,)


@pytest.mark.parametrize(
    ("changes", "path", "said"),
    [
        ({"turf": ["tal-fescue"]}, "turf.0", "tall-fescue"),
        ({"targets": [{"weed": "wild-voilet"}]}, "targets.0.weed", "wild-violet"),
        ({"targets": [{"weed": "wild-violet", "stage": "1-3-tiller"}]}, "targets.0.stage", "vegetative"),
        ({"targets": [{"weed": "wild-violet", "tillers": 2}]}, "targets.0.tillers", "grasses"),
        (
            {"targets": [{"weed": "smooth-crabgrass", "stage": "1-3-leaf", "tillers": 5}]},
            "targets.0.tillers",
            "contradicts",
        ),
        ({"targets": [{"weed": "smooth-crabgrass", "tillers": 3, "leaves": 1}]}, "targets.0.tillers", "cannot stand"),
        ({"targets": [{"weed": "dandelion"}, {"weed": "dandelion"}]}, "targets.1.weed", "twice"),
        (
            {"targets": [{"weed": "bermudagrass-weed"}], "turf": ["common-bermudagrass"], "zone": "warm-humid"},
            "targets.0.weed",
            "the turf common-bermudagrass itself",
        ),
        (
            {
                "applied_this_year": [
                    {"date": "2027-06-01", "active": "2-4-d", "rate": {"value": 1, "unit": "lb ae/acre"}}
                ]
            },
            "applied_this_year.0.date",
            "after the date",
        ),
        (
            {"applied_this_year": [{"date": "2027-04-01", "active": "2-4-d", "rate": {"value": 1, "unit": "qt/acre"}}]},
            "applied_this_year.0.rate.unit",
            "rate of active",
        ),
        ({"local_rules": [{"kind": "ban-active", "active": "dicambra"}]}, "local_rules.0.active", "dicamba"),
        ({"turf_condition": {"seeding_planned": "2027-05-01"}}, "turf_condition.seeding_planned", "before the date"),
        ({"targets": [{"weed": "dandelion", "resistant_to": ["99"]}]}, "targets.0.resistant_to.0", "mechanism group"),
    ],
)
def test_a_fault_names_its_field(
    base: KnowledgeBase, situation: Make, changes: dict[str, Any], path: str, said: str
) -> None:
    with pytest.raises(InputError) as caught:
        understand(situation(**changes), base)
    fault = next(fault for fault in caught.value.faults if fault.path == path)
    assert said in fault.message


def test_an_unknown_id_gives_the_three_nearest(base: KnowledgeBase) -> None:
    assert len(nearest("wild-voilet", base.weeds)) == 3
    assert nearest("wild-voilet", base.weeds)[0] == "wild-violet"


@pytest.mark.parametrize(
    ("day", "season"),
    [
        ("2027-06-14", "late-spring"),
        ("2027-06-15", "summer"),
        ("2027-08-31", "summer"),
        ("2027-09-01", "early-autumn"),
        ("2027-12-31", "winter"),
        ("2028-02-29", "winter"),
    ],
)
def test_seasons_of_the_cool_humid_zone(base: KnowledgeBase, day: str, season: str) -> None:
    assert season_on(date.fromisoformat(day), "cool-humid", base) == season


def test_a_stage_that_is_not_told_is_every_plausible_one(base: KnowledgeBase, situation: Make) -> None:
    target = understand(situation(targets=[{"weed": "dandelion"}]), base).targets[0]
    assert target.assumed
    assert "not-emerged" not in target.stages
    assert "targets.0.stage" in understand(situation(targets=[{"weed": "dandelion"}]), base).unknowns


def test_every_weed_has_a_stage_on_every_day(base: KnowledgeBase) -> None:
    for weed in base.weeds.values():
        turf = next(t for t in ("tall-fescue", "zoysiagrass-japonica") if t not in weed.same_species_turf)
        for month in range(1, 13):
            asked = plain(date=f"2027-{month:02d}-15", turf=[turf], targets=[{"weed": weed.id}])
            target = understand(Situation.model_validate(asked), base).targets[0]
            assert target.stages, (weed.id, month)
