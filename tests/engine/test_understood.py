"""Stages, seasons and contradictions: both sides of every threshold."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from app.engine.errors import InputError
from app.engine.situation import Situation
from app.engine.understood import nearest, season_on, stages_by_calendar, understand
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM, Weed
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
        ({"tillers": 4, "leaves": 12}, ("multi-tiller",)),
        ({"stage": "heading", "tillers": 6}, ("heading",)),
        ({"stage": "4-5-leaf", "tillers": 0}, ("4-5-leaf",)),
        ({"stage": "not-emerged"}, ("not-emerged",)),
    ],
)
def test_counts_set_the_stage_of_a_grass(
    base: KnowledgeBase, situation: Make, counts: dict[str, int], stages: tuple[str, ...]
) -> None:
    assert _stages(base, situation, "smooth-crabgrass", **counts) == stages


@pytest.mark.parametrize(("leaves", "stage"), [(4, "2-4-leaf"), (5, "5-8-leaf")])
def test_leaves_set_the_stage_of_a_sedge(base: KnowledgeBase, situation: Make, leaves: int, stage: str) -> None:
    assert _stages(base, situation, "yellow-nutsedge", leaves=leaves) == (stage,)


@pytest.mark.parametrize(("leaves", "fits"), [(2, False), (3, True)])
def test_tillers_stand_on_three_leaves_at_least(base: KnowledgeBase, situation: Make, leaves: int, fits: bool) -> None:
    told = situation(targets=[{"weed": "smooth-crabgrass", "tillers": 1, "leaves": leaves}])
    if fits:
        assert understand(told, base).targets[0].stages == ("1-3-tiller",)
    else:
        with pytest.raises(InputError, match=r"^targets\.0\.tillers: 1 tillers cannot stand on 2 leaves"):
            understand(told, base)


def _past(**changes: Any) -> dict[str, Any]:
    past = {"date": "2027-04-01", "active": "2-4-d", "rate": {"value": 1, "unit": "lb ae/acre"}, **changes}
    return {"applied_this_year": [past]}


@pytest.mark.parametrize(
    ("changes", "path", "said"),
    [
        ({"turf": ["tal-fescue"]}, "turf.0", "tall-fescue"),
        ({"turf": ["tall-fescue", "tall-fescue"]}, "turf.1", "named twice"),
        ({"targets": [{"weed": "wild-voilet"}]}, "targets.0.weed", "wild-violet"),
        ({"targets": [{"weed": "wild-violet", "stage": "1-3-tiller"}]}, "targets.0.stage", "vegetative"),
        ({"targets": [{"weed": "wild-violet", "tillers": 2}]}, "targets.0.tillers", "grasses"),
        ({"targets": [{"weed": "wild-violet", "leaves": 2}]}, "targets.0.leaves", "grasses and sedges"),
        ({"targets": [{"weed": "yellow-nutsedge", "tillers": 2}]}, "targets.0.tillers", "grasses"),
        (
            {"targets": [{"weed": "smooth-crabgrass", "stage": "1-3-leaf", "tillers": 5}]},
            "targets.0.tillers",
            "contradicts",
        ),
        (
            {"targets": [{"weed": "smooth-crabgrass", "stage": "1-3-leaf", "leaves": 5}]},
            "targets.0.leaves",
            "contradicts",
        ),
        (
            {"targets": [{"weed": "yellow-nutsedge", "stage": "2-4-leaf", "leaves": 6}]},
            "targets.0.leaves",
            "contradicts",
        ),
        ({"targets": [{"weed": "smooth-crabgrass", "tillers": 3, "leaves": 1}]}, "targets.0.tillers", "cannot stand"),
        ({"targets": [{"weed": "dandelion"}, {"weed": "dandelion"}]}, "targets.1.weed", "twice"),
        (
            {"targets": [{"weed": "bermudagrass-weed"}], "turf": ["common-bermudagrass"], "zone": "warm-humid"},
            "targets.0.weed",
            "the turf common-bermudagrass itself",
        ),
        (_past(date="2027-05-21"), "applied_this_year.0.date", "after the date"),
        (_past(active="2-4-dd"), "applied_this_year.0.active", "nearest: 2-4-d"),
        (_past(rate={"value": 1, "unit": "qt/acre"}), "applied_this_year.0.rate.unit", "rate of active"),
        ({"local_rules": [{"kind": "ban-active", "active": "dicambra"}]}, "local_rules.0.active", "dicamba"),
        ({"local_rules": [{"kind": "ban-form", "form": "2-4-d-dmaa"}]}, "local_rules.0.form", "2-4-d-dma"),
        ({"turf_condition": {"seeding_planned": "2027-05-19"}}, "turf_condition.seeding_planned", "before the date"),
        ({"targets": [{"weed": "dandelion", "resistant_to": ["99"]}]}, "targets.0.resistant_to.0", "mechanism group"),
    ],
)
def test_a_fault_names_its_field(
    base: KnowledgeBase, situation: Make, changes: dict[str, Any], path: str, said: str
) -> None:
    with pytest.raises(InputError) as caught:
        understand(situation(**changes), base)
    assert [fault.path for fault in caught.value.faults] == [path]
    assert said in caught.value.faults[0].message


def test_a_ban_on_a_group_that_is_none_is_a_fault(base: KnowledgeBase, situation: Make) -> None:
    with pytest.raises(InputError) as caught:
        understand(situation(local_rules=[{"kind": "ban-group", "group": "group 4"}]), base)
    assert [fault.path for fault in caught.value.faults] == ["local_rules.0.group"]


@pytest.mark.parametrize(
    "changes",
    [_past(date="2027-05-20"), {"turf_condition": {"seeding_planned": "2027-05-20"}}],
)
def test_the_day_itself_is_neither_before_nor_after(
    base: KnowledgeBase, situation: Make, changes: dict[str, Any]
) -> None:
    assert understand(situation(**changes), base).targets[0].weed.id == "wild-violet"


def test_every_fault_is_told_at_once(base: KnowledgeBase, situation: Make) -> None:
    told = situation(turf=["moss-turf"], targets=[{"weed": "dandylion"}, {"weed": "wild-violet"}], **_past(active="x"))
    with pytest.raises(InputError) as caught:
        understand(told, base)
    assert [f.path for f in caught.value.faults] == ["turf.0", "targets.0.weed", "applied_this_year.0.active"]
    assert "(2 more)" in str(caught.value)
    contradictions = situation(
        targets=[{"weed": "wild-violet", "tillers": 1}, {"weed": "dandelion", "stage": "mature"}]
    )
    with pytest.raises(InputError) as caught:
        understand(contradictions, base)
    assert [f.path for f in caught.value.faults] == ["targets.0.tillers", "targets.1.stage"]


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


def test_every_day_has_its_season_in_every_zone(base: KnowledgeBase) -> None:
    days = [date.fromordinal(date(2028, 1, 1).toordinal() + step) for step in range(366)]
    for zone in base.zones:
        assert len({season_on(day, zone, base) for day in days}) == 6


def test_the_season_of_the_second_application_is_its_own(base: KnowledgeBase, situation: Make) -> None:
    understood = understand(situation(date="2027-06-01"), base)
    assert (understood.season, understood.season_after(13, base), understood.season_after(14, base)) == (
        "late-spring",
        "late-spring",
        "summer",
    )


def test_a_stage_that_is_not_told_is_every_plausible_one(base: KnowledgeBase, situation: Make) -> None:
    target = understand(situation(targets=[{"weed": "dandelion"}]), base).targets[0]
    assert target.assumed
    assert "not-emerged" not in target.stages
    assert "targets.0.stage" in understand(situation(targets=[{"weed": "dandelion"}]), base).unknowns


def test_a_stage_that_is_told_is_not_assumed(base: KnowledgeBase, situation: Make) -> None:
    understood = understand(situation(targets=[{"weed": "smooth-crabgrass", "tillers": 0}]), base)
    assert not understood.targets[0].assumed
    assert "targets.0.stage" not in understood.unknowns


def _calendar(base: KnowledgeBase, *windows: tuple[str, str, str]) -> Weed:
    spans = [{"stage": stage, "from": start, "to": end, "zones": ["cool-humid"]} for stage, start, end in windows]
    told = base.weeds["dandelion"].model_dump(by_alias=True)
    return Weed.model_validate({**told, "calendar": spans})


@pytest.mark.parametrize(
    ("day", "stages"),
    [
        ("2027-03-31", ("not-emerged",)),
        ("2027-04-01", ("not-emerged",)),
        ("2027-04-24", ("seedling",)),
        # Dandelion is a perennial: seedlings beside grown plants come last.
        ("2027-05-01", ("vegetative", "seedling")),
        ("2027-05-29", ("vegetative", "seedling")),
        ("2027-06-01", ("vegetative",)),
        ("2027-12-20", ("overwintering",)),
        ("2027-01-10", ("overwintering",)),
    ],
)
def test_the_calendar_gives_the_likeliest_first(base: KnowledgeBase, day: str, stages: tuple[str, ...]) -> None:
    weed = _calendar(
        base,
        ("not-emerged", "03-01", "04-30"),
        ("seedling", "04-15", "05-31"),
        ("vegetative", "05-01", "07-31"),
        ("overwintering", "12-01", "02-15"),
    )
    assert stages_by_calendar(weed, "cool-humid", date.fromisoformat(day)) == stages


def test_outside_the_calendar_every_emerged_stage_is_plausible(base: KnowledgeBase) -> None:
    weed = _calendar(base, ("seedling", "04-15", "05-31"))
    for zone, day in (("cool-humid", date(2027, 11, 1)), ("warm-arid", date(2027, 5, 1))):
        assert set(stages_by_calendar(weed, zone, day)) == set(weed.treatable_stages) - {"not-emerged"}


def test_every_weed_has_a_stage_on_every_day(base: KnowledgeBase) -> None:
    for weed in base.weeds.values():
        turf = next(t for t in ("tall-fescue", "zoysiagrass-japonica") if t not in weed.same_species_turf)
        for month in range(1, 13):
            asked = plain(date=f"2027-{month:02d}-15", turf=[turf], targets=[{"weed": weed.id}])
            target = understand(Situation.model_validate(asked), base).targets[0]
            assert set(target.stages) <= set(STAGES_BY_LIFE_FORM[weed.life_form])
            assert target.stages, (weed.id, month)


@pytest.mark.parametrize(
    ("date_", "told", "state"),
    [
        ("2027-07-10", None, "active"),
        ("2027-01-10", None, "dormant"),
        ("2027-07-10", "transition", "transition"),
    ],
)
def test_green_up_is_told_or_taken_from_the_calendar(
    base: KnowledgeBase, situation: Make, date_: str, told: str | None, state: str
) -> None:
    asked = situation(date=date_, zone="transition", turf=["zoysiagrass-japonica"], turf_condition={"green_up": told})
    assert understand(asked, base).green_up == (state,)


def test_what_is_not_told_is_listed(base: KnowledgeBase, situation: Make) -> None:
    unknowns = understand(situation(forecast={"wind_mph": 4}, turf_condition={"stand": "established"}), base).unknowns
    assert "forecast.max_temp_f" in unknowns
    assert "turf_condition.stress" in unknowns
    assert not {"forecast.wind_mph", "turf_condition.stand"} & set(unknowns)
