"""When the best advice is not to spray, and when to come back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from app.engine.recommend import recommend
from app.engine.situation import Situation
from app.engine.timing_rules import Best, come_back, no_treatment, situation_findings, wasted_window
from app.engine.understood import Understood, understand
from knowledge.base import KnowledgeBase
from knowledge.models import Weed
from tests.engine.made import fact

Make = Callable[..., Situation]
GOOD = Best((90.0,), 6.0)


def _reasons(base: KnowledgeBase, understood: Understood, best: Best | None = GOOD) -> set[str]:
    advice = no_treatment(base, understood, best)
    return {reason.code for reason in advice.reasons} if advice is not None else set()


def _findings(base: KnowledgeBase, understood: Understood, code: str) -> list[tuple[str, str | None]]:
    return [(f.outcome, f.settled_by) for f in situation_findings(base, understood) if f.code == code]


def test_nothing_stands_against_a_fine_day(base: KnowledgeBase, situation: Make) -> None:
    assert recommend(base, situation()).no_treatment is None


@pytest.mark.parametrize(("wind", "held"), [(15, False), (15.1, True)])
def test_wind_holds_the_spray(base: KnowledgeBase, situation: Make, wind: float, held: bool) -> None:
    assert ("wind" in _reasons(base, understand(situation(forecast={"wind_mph": wind}), base))) == held


@pytest.mark.parametrize(
    ("wind", "outcome"),
    [
        (2.9, ("info", None)),
        (3, None),
        (10, None),
        (10.1, ("caution", None)),
        (15, ("caution", None)),
        (15.1, ("warning", None)),
        (None, ("unknown", "forecast.wind_mph")),
    ],
)
def test_what_is_said_of_the_wind(
    base: KnowledgeBase, situation: Make, wind: float | None, outcome: tuple[str, str | None] | None
) -> None:
    understood = understand(situation(forecast={"wind_mph": wind}), base)
    assert _findings(base, understood, "wind") == ([outcome] if outcome else [])


@pytest.mark.parametrize(("stress", "held"), [("drought", True), ("heat", True), ("shade", False), ("none", False)])
def test_stressed_turf_is_left_alone(base: KnowledgeBase, situation: Make, stress: str, held: bool) -> None:
    told = situation(turf_condition={"stand": "established", "stress": stress})
    assert ("turf-stress" in _reasons(base, understand(told, base))) == held


@pytest.mark.parametrize(
    ("hours", "needs", "held"), [(5.9, 6.0, True), (6, 6.0, False), (None, 6.0, False), (0, None, False)]
)
def test_rain_too_soon_holds_the_spray(
    base: KnowledgeBase, situation: Make, hours: float | None, needs: float | None, held: bool
) -> None:
    understood = understand(situation(forecast={"rain_free_hours": hours}), base)
    assert ("rain-soon" in _reasons(base, understood, Best((90.0,), needs))) == held


def test_the_hours_are_those_of_the_first_program(base: KnowledgeBase, situation: Make) -> None:
    codes = {
        r.code
        for a in [recommend(base, situation(forecast={"rain_free_hours": 1})).no_treatment]
        if a
        for r in a.reasons
    }
    assert "rain-soon" in codes


@pytest.mark.parametrize(("likely", "held"), [((39.9,), True), ((40.0,), False), ((10.0, 40.0), False)])
def test_control_that_is_worth_nothing_is_not_sprayed(
    base: KnowledgeBase, situation: Make, likely: tuple[float, ...], held: bool
) -> None:
    shift = base.parameter("worthwhile-control") - 40.0
    weeds = [{"weed": "wild-violet", "stage": "flowering"}, {"weed": "dandelion", "stage": "vegetative"}]
    understood = understand(situation(targets=weeds[: len(likely)]), base)
    best = Best(tuple(value + shift for value in likely), None)
    assert ("weak-control" in _reasons(base, understood, best)) == held


def test_nothing_that_passes_is_the_reason(base: KnowledgeBase, situation: Make) -> None:
    assert _reasons(base, understand(situation(), base), None) == {"nothing-fits"}


def _windows(base: KnowledgeBase, *windows: tuple[str, str, str, str]) -> KnowledgeBase:
    """The base with these windows of wild violet: kind, purpose, first and last day."""
    records = [
        fact(kind=kind, purpose=purpose, zones=["cool-humid"], text="It dies by itself.", **{"from": start, "to": end})
        for kind, purpose, start, end in windows
    ]
    told = base.weeds["wild-violet"].model_dump(by_alias=True)
    weed = Weed.model_validate({**told, "windows": records})
    return replace(base, weeds={**base.weeds, "wild-violet": weed})


@pytest.mark.parametrize(
    ("day", "stage", "held"),
    [
        ("2027-05-20", "flowering", True),
        ("2027-05-31", "flowering", True),
        ("2027-06-01", "flowering", False),
        ("2027-05-19", "flowering", False),
        ("2027-05-20", "not-emerged", False),
    ],
)
def test_a_dead_end_season_holds_the_spray(
    base: KnowledgeBase, situation: Make, day: str, stage: str, held: bool
) -> None:
    made = _windows(base, ("wasted", "postemergence", "05-20", "05-31"))
    told = situation(date=day, targets=[{"weed": "wild-violet", "stage": stage}])
    understood = understand(told, made)
    assert (wasted_window(understood.targets[0], understood) is not None) == held
    assert ("wasted-window" in _reasons(made, understood)) == held


def test_a_dead_end_holds_the_zones_it_names_alone(base: KnowledgeBase, situation: Make) -> None:
    made = _windows(base, ("wasted", "postemergence", "01-01", "12-31"))
    assert "wasted-window" in _reasons(made, understand(situation(), made))
    assert "wasted-window" not in _reasons(made, understand(situation(zone="transition"), made))


def test_one_weed_worth_spraying_is_enough(base: KnowledgeBase, situation: Make) -> None:
    made = _windows(base, ("wasted", "postemergence", "01-01", "12-31"))
    targets = [{"weed": "wild-violet", "stage": "flowering"}, {"weed": "dandelion", "stage": "vegetative"}]
    assert "wasted-window" not in _reasons(made, understand(situation(targets=targets), made), Best((90.0, 90.0), None))


@pytest.mark.parametrize(
    ("day", "windows", "said"),
    [
        ("2027-05-20", [("best", "postemergence", "09-01", "10-31")], "1 September to 31 October, on growing plants"),
        ("2027-11-20", [("best", "postemergence", "04-15", "05-31")], "15 April to 31 May"),
        (
            "2027-07-01",
            [("best", "postemergence", "04-15", "05-31"), ("best", "postemergence", "09-01", "10-31")],
            "1 September to 31 October",
        ),
        (
            "2027-12-01",
            [("best", "postemergence", "04-15", "05-31"), ("best", "preemergence", "03-01", "04-01")],
            "1 March to 1 April, before it emerges",
        ),
        ("2027-05-20", [("best", "postemergence", "05-01", "05-31")], "1 May to 31 May"),
        ("2027-05-20", [], "No best window is recorded"),
    ],
)
def test_when_to_come_back(
    base: KnowledgeBase, situation: Make, day: str, windows: list[tuple[str, str, str, str]], said: str
) -> None:
    made = _windows(base, *windows)
    understood = understand(situation(date=day), made)
    assert said in come_back(understood.targets[0], understood)
    advice = no_treatment(made, understood, None)
    assert advice is not None
    assert said in advice.come_back


def test_each_weed_has_its_own_return(base: KnowledgeBase, situation: Make) -> None:
    targets = [{"weed": "wild-violet", "stage": "flowering"}, {"weed": "dandelion", "stage": "vegetative"}]
    advice = no_treatment(base, understand(situation(targets=targets), base), None)
    assert advice is not None
    assert "wild violet" in advice.come_back
    assert "dandelion" in advice.come_back


def test_every_window_of_the_facts_is_a_day_of_some_year(base: KnowledgeBase) -> None:
    for weed in base.weeds.values():
        for window in weed.windows:
            for key in (window.start, window.end):
                month, day = map(int, key.split("-"))
                assert date(2028, month, day)


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


@pytest.mark.parametrize(
    ("target", "code", "found"),
    [
        ({"weed": "dandelion"}, "stage-assumed", [("unknown", "targets.0.stage")]),
        ({"weed": "dandelion", "stage": "vegetative"}, "stage-assumed", []),
        ({"weed": "dandelion", "stage": "flowering"}, "open-flowers", [("caution", None)]),
        ({"weed": "dandelion", "stage": "vegetative"}, "open-flowers", []),
        ({"weed": "yellow-nutsedge", "stage": "flowering"}, "open-flowers", []),
    ],
)
def test_what_holds_whatever_is_sprayed(
    base: KnowledgeBase, situation: Make, target: dict[str, Any], code: str, found: list[Any]
) -> None:
    assert _findings(base, understand(situation(targets=[target]), base), code) == found


def test_each_surrounding_asks_for_its_care(base: KnowledgeBase, situation: Make) -> None:
    near = list(base.surroundings)
    understood = understand(situation(surroundings=near), base)
    assert _findings(base, understood, "near-by") == [("caution", None)] * len(near)


def test_known_resistance_is_said(base: KnowledgeBase, situation: Make) -> None:
    told = next(weed for weed in base.weeds.values() if weed.resistance)
    for weed, count in ((told.id, len(told.resistance)), ("wild-violet", len(base.weeds["wild-violet"].resistance))):
        turf = ["kentucky-bluegrass"]
        understood = understand(situation(targets=[{"weed": weed}], turf=turf), base)
        assert len(_findings(base, understood, "known-resistance")) == count
