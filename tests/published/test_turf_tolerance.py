"""Turf and active pairs that publications bar or clear; each case cites its source and basis beside it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from app.engine.expect import expect
from app.engine.situation import ExpectRequest, WhyNotRequest
from app.engine.why_not import why_not
from knowledge.base import KnowledgeBase

HERE = Path(__file__).parent
BARRED: list[dict[str, Any]] = yaml.safe_load((HERE / "turf_barred.yaml").read_text(encoding="utf-8"))
ALLOWED: list[dict[str, Any]] = yaml.safe_load((HERE / "turf_allowed.yaml").read_text(encoding="utf-8"))
CUT_IN = {"golf-green": 0.125, "golf-tee": 0.4, "golf-fairway": 0.5, "golf-rough": 2.0}
# Stops that speak of the turf itself or the way it stands.
OF_THE_TURF = {"turf-sensitive", "turf-condition", "seedling-turf", "seeding-interval", "green-up", "no-turf-rate"}
OF_THE_SITE = {"site-use", "surroundings", "volatility", "temperature", "incompatible-mix"}


def situation_of(case: dict[str, Any]) -> dict[str, Any]:
    """The case as a situation, with a mild dry spell in the forecast."""
    heat = case["max_temp_f"]
    return {
        "date": case["date"],
        "zone": case["zone"],
        "site_use": case["site_use"],
        "turf": [case["turf"]],
        "turf_condition": {**case["condition"], "mowing_height_in": CUT_IN.get(case["site_use"], 3.0)},
        "targets": [{"weed": case["weed"], "stage": case["stage"]}],
        "forecast": {"max_temp_f": heat, "max_temp_next_3_days_f": heat, "rain_free_hours": 48, "wind_mph": 5},
        "surroundings": case.get("surroundings", []),
    }


def name_of(case: dict[str, Any]) -> str:
    return f"{case['id']}-{'+'.join(case['actives'])}-on-{case['turf']}"


@pytest.mark.parametrize("case", [c for c in BARRED if "form" not in c], ids=name_of)
def test_what_a_publication_bars_is_refused_for_that_reason(base: KnowledgeBase, case: dict[str, Any]) -> None:
    request = {"situation": situation_of(case), "actives": case["actives"]}
    answer = why_not(base, WhyNotRequest.model_validate(request))
    codes = {stop.code for stop in answer.stops}
    assert not answer.allowed, answer.best and answer.best.turf_injury
    assert codes & (OF_THE_TURF | OF_THE_SITE), codes


@pytest.mark.parametrize("case", [c for c in BARRED if "form" in c], ids=name_of)
def test_a_form_that_a_publication_bars_stands_under_a_stop(base: KnowledgeBase, case: dict[str, Any]) -> None:
    value, _, unit = case["rate"].partition(" ")
    dose = {"active": case["actives"][0], "form": case["form"], "rate": {"value": float(value), "unit": unit}}
    request = {"situation": situation_of(case), "program": {"applications": [{"actives": [dose]}]}}
    answer = expect(base, ExpectRequest.model_validate(request))
    assert {stop.code for stop in answer.stops} & (OF_THE_TURF | OF_THE_SITE)


@pytest.mark.parametrize("case", ALLOWED, ids=name_of)
def test_what_a_publication_clears_meets_no_stop_of_the_turf(base: KnowledgeBase, case: dict[str, Any]) -> None:
    request = {"situation": situation_of(case), "actives": case["actives"]}
    answer = why_not(base, WhyNotRequest.model_validate(request))
    assert not [stop.text for stop in answer.stops if stop.code in OF_THE_TURF]
    assert answer.allowed, [(stop.code, stop.text) for stop in answer.stops]
