"""The plants of a weed through a year, against the calendars they are read from."""

from __future__ import annotations

from datetime import date
from itertools import product

import pytest

from app.season.year_cohorts import emerges_first, is_wasted, units_of
from knowledge.base import KnowledgeBase

ZONES = ("cool-humid", "cool-arid", "transition", "warm-humid", "warm-arid")


@pytest.mark.parametrize("zone", ZONES)
def test_the_plants_of_every_weed_are_all_of_it_and_are_judged_in_the_year(base: KnowledgeBase, zone: str) -> None:
    for weed, late in product(base.weeds.values(), (-30, 0, 30)):
        units = units_of(base, weed, zone, 2027, late)
        assert sum(unit.share for unit in units) == pytest.approx(1.0), weed.id
        assert {unit.judged.year for unit in units} == {2027}, weed.id
        for unit in units:
            days = [day for day, _ in unit.steps]
            assert days == sorted(days), (weed.id, unit.name)


def test_crabgrass_comes_up_when_its_calendar_says(base: KnowledgeBase) -> None:
    # The windows of knowledge/facts/weeds/smooth-crabgrass.yaml: first seedlings from 28 April in the cool humid zone.
    weed = base.weeds["smooth-crabgrass"]
    assert emerges_first(weed, "cool-humid", 2027) == date(2027, 4, 28)
    main, stragglers = units_of(base, weed, "cool-humid", 2027)
    assert main.emerges is not None
    assert date(2027, 4, 28) <= main.emerges <= date(2027, 5, 9)
    assert main.stages_on(date(2027, 4, 10)) == ("not-emerged",)
    assert main.stages_on(date(2027, 6, 25)) == ("1-3-tiller",)
    assert stragglers.emerges is not None
    assert stragglers.emerges > main.emerges
    # By the facts a spray after emergence is wasted from 25 August.
    assert main.judged == date(2027, 8, 25)


def test_winter_annuals_stand_since_autumn_and_come_anew(base: KnowledgeBase) -> None:
    before, *coming = units_of(base, base.weeds["henbit"], "transition", 2027)
    assert before.name == "plants of last autumn"
    assert before.share == base.parameter("year-carry-over")
    assert before.judged < date(2027, 7, 1) < min(unit.emerges for unit in coming if unit.emerges is not None)
    assert before.stages_on(date(2027, 3, 1)) != ("not-emerged",)


def test_a_perennial_is_judged_in_summer_and_at_the_end_and_raises_seedlings(base: KnowledgeBase) -> None:
    stand, end, young = units_of(base, base.weeds["dandelion"], "cool-humid", 2027)
    assert (stand.judged, end.judged, young.judged) == (date(2027, 7, 1), date(2027, 12, 31), date(2027, 12, 31))
    assert young.stages_on(date(2027, 6, 20)) == ("seedling",)
    # A plant that only creeps raises none by its calendar.
    assert {unit.name for unit in units_of(base, base.weeds["wild-violet"], "cool-humid", 2027)} >= {
        "stand by midsummer",
        "stand at the year's end",
    }


def test_a_late_spring_moves_what_warmth_drives(base: KnowledgeBase) -> None:
    weed = base.weeds["smooth-crabgrass"]
    usual, late = (units_of(base, weed, "cool-humid", 2027, days)[0] for days in (0, 14))
    assert usual.emerges is not None
    assert late.emerges is not None
    assert (late.emerges - usual.emerges).days == 14
    stands = [units_of(base, base.weeds["dandelion"], "cool-humid", 2027, days)[0] for days in (0, 14)]
    # In flower from 20 April by the calendar; two weeks late it is not yet.
    assert stands[0].stages_on(date(2027, 4, 25))[0] == "flowering"
    assert "flowering" not in stands[1].stages_on(date(2027, 4, 25))


def test_wasted_windows_run_over_the_turn_of_the_year(base: KnowledgeBase) -> None:
    weed = base.weeds["smooth-crabgrass"]
    assert is_wasted(weed, "cool-humid", "postemergence", date(2027, 9, 10))
    assert is_wasted(weed, "cool-humid", "postemergence", date(2027, 2, 10))
    assert not is_wasted(weed, "cool-humid", "postemergence", date(2027, 6, 10))
    assert is_wasted(weed, "cool-humid", "preemergence", date(2027, 8, 1))


def test_a_late_spring_does_not_hold_back_what_comes_up_in_autumn(base: KnowledgeBase) -> None:
    weed = base.weeds["henbit"]
    assert units_of(base, weed, "transition", 2027, 14) == units_of(base, weed, "transition", 2027)
