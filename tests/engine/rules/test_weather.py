"""Rules on weather: both sides of every threshold, and a forecast that is not told."""

from __future__ import annotations

from typing import Any

import pytest

from knowledge.base import KnowledgeBase
from tests.engine.made import dose, fact, findings, outcomes, question, with_active, with_form, with_tolerance

TODAY, LATER = "forecast.max_temp_f", "forecast.max_temp_next_3_days_f"


def _air(today: float | None = None, later: float | None = None, **more: Any) -> dict[str, Any]:
    return {"forecast": {"max_temp_f": today, "max_temp_next_3_days_f": later, **more}}


@pytest.mark.parametrize(
    ("today", "later", "found"),
    [
        (85, 85, []),
        (85.1, 60, [("stop", None)]),
        (60, 85.1, [("stop", None)]),
        (85.1, None, [("stop", None)]),
        (None, 85.1, [("stop", None)]),
        (85, None, [("unknown", LATER)]),
        (None, 85, [("unknown", TODAY)]),
        (None, None, [("unknown", TODAY)]),
    ],
)
def test_a_volatile_form_is_kept_from_heat(
    base: KnowledgeBase, today: float | None, later: float | None, found: list[tuple[str, str | None]]
) -> None:
    made = with_form(base, max_air_f=85)
    told = findings("volatility", question(made, told=_air(today, later)))
    assert [(finding.outcome, finding.settled_by) for finding in told] == found


def test_a_form_without_a_ceiling_goes_out_in_any_air(base: KnowledgeBase) -> None:
    made = with_form(base, max_air_f=None)
    assert outcomes("volatility", question(made, told=_air(104, 104))) == []
    assert outcomes("volatility", question(made, told=_air())) == []


@pytest.mark.parametrize(
    ("today", "later", "found"),
    [
        (80, 80, []),
        (80.1, 70, ["stop"]),
        (70, 80.1, ["stop"]),
        (55, 70, []),
        (54.9, 70, ["stop"]),
        (None, None, ["unknown"]),
        (70, None, ["unknown"]),
        (None, 70, ["unknown"]),
    ],
)
@pytest.mark.parametrize("where", ["turf", "active"])
def test_the_range_of_air_is_a_stop_on_either_side(
    base: KnowledgeBase, where: str, today: float | None, later: float | None, found: list[str]
) -> None:
    if where == "turf":
        made = with_tolerance(with_active(base), {"max_air_f": 80, "min_air_f": 55})
    else:
        rule = fact(turf=["cool-season"], max_f=80, min_f=55, outcome="stop", text="It hurts.")
        made = with_tolerance(with_active(base, air_temperature=[rule]), {})
    assert outcomes("temperature", question(made, told=_air(today, later))) == found


@pytest.mark.parametrize(("today", "found"), [(80, []), (80.1, ["warning"]), (None, ["unknown"])])
def test_a_range_of_advice_warns_and_asks(base: KnowledgeBase, today: float | None, found: list[str]) -> None:
    rule = fact(turf=["all"], max_f=80, outcome="caution", text="It does little.")
    made = with_tolerance(with_active(base, air_temperature=[rule]), {})
    told = findings("temperature", question(made, told=_air(today, today)))
    assert [finding.outcome for finding in told] == found
    assert all(finding.settled_by == TODAY for finding in told if finding.outcome == "unknown")


def test_a_range_for_another_turf_says_nothing(base: KnowledgeBase) -> None:
    rule = fact(turf=["warm-season"], max_f=60, outcome="stop", text="It hurts.")
    made = with_tolerance(with_active(base, air_temperature=[rule]), {})
    assert outcomes("temperature", question(made, told=_air(99, 99))) == []


@pytest.mark.parametrize(("hours", "found"), [(5.9, ["warning"]), (6, []), (None, ["unknown"])])
def test_rain_too_soon_is_a_warning(base: KnowledgeBase, hours: float | None, found: list[str]) -> None:
    made = with_active(base, rainfast_hours=fact(value=6))
    told = findings("rainfast", question(made, told=_air(70, 70, rain_free_hours=hours)))
    assert [finding.outcome for finding in told] == found
    assert all(f.settled_by == "forecast.rain_free_hours" for f in told if f.outcome == "unknown")


def test_rain_does_no_harm_before_emergence(base: KnowledgeBase) -> None:
    made = with_active(base, rainfast_hours=fact(value=6))
    asked = question(made, of=dose(made, timing="preemergence"), told=_air(70, 70, rain_free_hours=0))
    assert outcomes("rainfast", asked) == []
