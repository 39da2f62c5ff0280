"""What parts do to the plants of a weed on a day, held against the engine's own answers."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest

from app.engine.expect import expect
from app.engine.situation import ExpectRequest
from app.season.year_candidates import DayHere, Place, YearMemo, day_here, places_of
from app.season.year_cohorts import units_of
from app.season.year_effects import apart, effect_of
from knowledge.base import KnowledgeBase
from tests.season.asked_year import asked_year

JANUARY = date(2027, 1, 1)


def place_of(**changes: object) -> Place:
    return places_of(asked_year(**changes), JANUARY)[0]


@pytest.fixture(scope="module")
def memo() -> YearMemo:
    return YearMemo()


def here_on(base: KnowledgeBase, day: date, memo: YearMemo, **changes: object) -> DayHere:
    return day_here(base, place_of(**changes), day, None, memo)


def taken(base: KnowledgeBase, here: DayHere, weed: str, label: str, resistant: tuple[str, ...] = ()) -> np.ndarray:
    """What a part takes off the log of survivors, by unit."""
    parts = [part for part in here.parts if part.label == label]
    units = units_of(base, base.weeds[weed], "cool-humid", 2027)
    found = effect_of(base, here, parts[:1], base.weeds[weed], resistant, units)
    return np.asarray(found.size[0].sum(axis=1))


def test_a_spray_does_what_the_engine_expects_of_it(base: KnowledgeBase, memo: YearMemo) -> None:
    """The stand by midsummer is the engine's plant, judged on the same day and with the same weather."""
    day = date(2027, 5, 20)
    here = here_on(base, day, memo)
    part = next(part for part in here.parts if part.label == "quinclorac")
    units = units_of(base, base.weeds["white-clover"], "cool-humid", 2027)
    found = effect_of(base, here, [part], base.weeds["white-clover"], (), units)
    forecast = here.understood.situation.forecast
    dose = part.doses[0]
    asked = {
        "situation": {
            "date": day,
            "zone": "cool-humid",
            "site_use": "residential-lawn",
            "turf": ["kentucky-bluegrass"],
            "targets": [{"weed": "white-clover"}],
            "forecast": {"max_temp_f": forecast.max_temp_f, "max_temp_next_3_days_f": forecast.max_temp_next_3_days_f},
        },
        "program": {
            "applications": [
                {
                    "actives": [
                        {
                            "active": "quinclorac",
                            "form": dose.form.id,
                            "rate": {"value": dose.rate.value, "unit": dose.rate.unit},
                        }
                    ],
                    "adjuvant": {"id": part.adjuvant},
                }
            ]
        },
        "days_after": (date(2027, 7, 1) - day).days,
    }
    told = expect(base, ExpectRequest.model_validate(asked)).control[0].likely
    assert told is not None
    assert 100 * (1 - math.exp(-found.size[0, 0].sum())) == pytest.approx(told, abs=0.1)


def test_nothing_is_done_to_what_is_judged_or_wasted(base: KnowledgeBase, memo: YearMemo) -> None:
    october = here_on(base, date(2027, 10, 4), memo)
    assert not taken(base, october, "smooth-crabgrass", "quinclorac").any()
    august = here_on(base, date(2027, 8, 2), memo)
    # Seed is what prodiamine meets; the year's emergence is over by the facts.
    assert (taken(base, august, "smooth-crabgrass", "prodiamine") < 0.05).all()


def test_a_preemergence_spray_meets_what_is_not_up_yet_alone(base: KnowledgeBase, memo: YearMemo) -> None:
    april, late_may = here_on(base, date(2027, 4, 12), memo), here_on(base, date(2027, 5, 24), memo)
    before, after = (taken(base, here, "smooth-crabgrass", "prodiamine") for here in (april, late_may))
    main, stragglers = 0, 1
    assert before[main] > 1.5
    assert before[stragglers] > 1.5
    assert after[main] < 0.05
    assert after[stragglers] > 1.5


def test_what_survives_regrows_until_autumn_and_no_longer(base: KnowledgeBase, memo: YearMemo) -> None:
    """Published: one autumn treatment of dandelion gave over 90 percent the next spring, spring ones half or less.

    Source: Kansas State trials as cited in knowledge/facts/weeds/dandelion.yaml (honig-nd, upham-nd-b).
    """
    spring, autumn = here_on(base, date(2027, 4, 12), memo), here_on(base, date(2027, 10, 4), memo)
    end, seedlings = 1, 2
    early, late = (taken(base, here, "dandelion", "2-4-d-mecoprop-p-dicamba") for here in (spring, autumn))
    assert late[end] > early[end]
    assert early[seedlings] == 0 < late[seedlings]


def test_what_a_population_resists_does_nothing(base: KnowledgeBase, memo: YearMemo) -> None:
    here = here_on(base, date(2027, 4, 12), memo)
    assert taken(base, here, "smooth-crabgrass", "prodiamine").all()
    assert not taken(base, here, "smooth-crabgrass", "prodiamine", ("3",)).any()


def test_only_what_passes_every_rule_is_on_offer(base: KnowledgeBase, memo: YearMemo) -> None:
    seeded = {
        "areas": [{"id": "a", "turf": ["kentucky-bluegrass"], "turf_condition": {"seeding_planned": "2027-06-01"}}]
    }
    plain = {active for part in here_on(base, date(2027, 4, 12), memo).parts for active in part.actives}
    held = {active for part in here_on(base, date(2027, 4, 12), memo, **seeded).parts for active in part.actives}
    # Common practice, no source: a dinitroaniline keeps seed out for months.
    assert "prodiamine" in plain
    assert "prodiamine" not in held
    young = {active for part in here_on(base, date(2027, 6, 21), memo, **seeded).parts for active in part.actives}
    assert "triclopyr" not in young


def test_what_may_not_share_a_tank(base: KnowledgeBase, memo: YearMemo) -> None:
    here = here_on(base, date(2027, 4, 12), memo)
    by_label = {part.label: part for part in here.parts}
    prodiamine, mixture = by_label["prodiamine"], by_label["sulfentrazone-prodiamine"]
    assert apart(base, here, prodiamine, mixture)
    assert apart(base, here, by_label["triclopyr"], by_label["2-4-d"])
    assert not apart(base, here, prodiamine, by_label["triclopyr"])


def test_cold_is_held_against_the_middle_of_a_zone_and_heat_against_its_warmest_places(
    base: KnowledgeBase, memo: YearMemo
) -> None:
    forecast = here_on(base, date(2027, 7, 12), memo).understood.situation.forecast
    low, high = base.usual_max_f("cool-humid", 7)
    assert (forecast.max_temp_f, forecast.max_temp_next_3_days_f) == ((low + high) / 2, high)
    told = [{"date": f"2027-07-{day:02d}", "min_f": 60, "max_f": 70} for day in range(10, 17)]
    warm = here_on(base, date(2027, 7, 12), memo, weather={"daily": told}).understood.situation.forecast
    assert (warm.max_temp_f, warm.max_temp_next_3_days_f) == (70, 70)
