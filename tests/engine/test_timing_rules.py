"""When the best advice is not to spray, and when to come back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from app.engine.recommend import recommend
from app.engine.situation import Situation
from knowledge.base import KnowledgeBase

Make = Callable[..., Situation]


def _codes(base: KnowledgeBase, make: Make, **changes: Any) -> set[str]:
    advice = recommend(base, make(**changes)).no_treatment
    return {reason.code for reason in advice.reasons} if advice is not None else set()


def test_nothing_stands_against_a_fine_day(base: KnowledgeBase, situation: Make) -> None:
    assert recommend(base, situation()).no_treatment is None


@pytest.mark.parametrize(("wind", "held"), [(15, False), (15.1, True)])
def test_wind_holds_the_spray(base: KnowledgeBase, situation: Make, wind: float, held: bool) -> None:
    assert ("wind" in _codes(base, situation, forecast={"wind_mph": wind})) == held


@pytest.mark.parametrize(("stress", "held"), [("drought", True), ("heat", True), ("shade", False), ("none", False)])
def test_stressed_turf_is_left_alone(base: KnowledgeBase, situation: Make, stress: str, held: bool) -> None:
    condition = {"stand": "established", "stress": stress}
    assert ("turf-stress" in _codes(base, situation, turf_condition=condition)) == held


def test_rain_too_soon_holds_the_spray(base: KnowledgeBase, situation: Make) -> None:
    assert "rain-soon" in _codes(base, situation, forecast={"rain_free_hours": 1})
    assert "rain-soon" not in _codes(base, situation, forecast={"rain_free_hours": 48})


def test_crabgrass_before_frost_is_left_to_the_frost(base: KnowledgeBase, situation: Make) -> None:
    answer = recommend(
        base,
        situation(
            date="2027-09-25", turf=["kentucky-bluegrass"], targets=[{"weed": "smooth-crabgrass", "stage": "mature"}]
        ),
    )
    assert answer.no_treatment is not None
    assert "wasted-window" in {reason.code for reason in answer.no_treatment.reasons}
    assert "smooth crabgrass" in answer.no_treatment.come_back
    assert answer.headline.startswith("If it must be sprayed now")


def test_nothing_fits_is_an_answer(base: KnowledgeBase, situation: Make) -> None:
    bans = [{"kind": "closed-season", "from": "2027-01-01", "to": "2027-12-31", "note": "county"}]
    answer = recommend(base, situation(local_rules=bans))
    assert answer.ranked == ()
    assert answer.no_treatment is not None
    assert "nothing-fits" in {reason.code for reason in answer.no_treatment.reasons}
    assert {stop.code for item in answer.turned_down for stop in item.stops} >= {"local-rule"}
