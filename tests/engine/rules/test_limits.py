"""Rules on rates, totals, counts and intervals: both sides of every ceiling."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.rules.limits import least_interval
from knowledge.base import KnowledgeBase
from knowledge.models import TurfRate
from tests.engine.made import ACTIVE, dose, fact, findings, outcomes, question, with_active, with_tolerance


def _past(*days: str, rate: float = 1.0, unit: str = "lb ae/acre", active: str = ACTIVE) -> dict[str, Any]:
    return {"applied_this_year": [{"date": d, "active": active, "rate": {"value": rate, "unit": unit}} for d in days]}


@pytest.mark.parametrize(("rate", "found"), [("1.5 lb ae/acre", []), ("1.501 lb ae/acre", ["stop"])])
def test_one_application_keeps_its_ceiling(base: KnowledgeBase, rate: str, found: list[str]) -> None:
    made = with_active(base, limits=[fact(single_max="1.5 lb ae/acre")])
    assert outcomes("single-rate", question(made, of=dose(made, rate))) == found


@pytest.mark.parametrize(
    ("limit", "found"),
    [
        ({"turf": ["cool-lawn"]}, ["stop"]),
        ({"turf": ["warm-season"]}, []),
        ({"site_uses": ["residential-lawn"]}, ["stop"]),
        ({"site_uses": ["golf-green"]}, []),
    ],
)
def test_a_ceiling_holds_where_it_speaks(base: KnowledgeBase, limit: dict[str, Any], found: list[str]) -> None:
    made = with_active(base, limits=[fact(single_max="0.5 lb ae/acre", **limit)])
    assert outcomes("single-rate", question(made)) == found


@pytest.mark.parametrize(
    ("rate", "level", "found"),
    [
        ("1.0 lb ae/acre", "stated", []),
        ("1.001 lb ae/acre", "stated", ["stop"]),
        ("0.5 lb ae/acre", "stated", []),
        ("0.499 lb ae/acre", "stated", ["caution"]),
        ("0.499 lb ae/acre", "partner", []),
    ],
)
def test_a_rate_is_held_against_the_usual_ones(base: KnowledgeBase, rate: str, level: str, found: list[str]) -> None:
    rates = fact(
        turf=["all"], timing="postemergence", low="0.5 lb ae/acre", usual="0.75 lb ae/acre", high="1.0 lb ae/acre"
    )
    made = with_active(base)
    asked = question(made, of=dose(made, rate, level=level, usual=TurfRate.model_validate(rates)))
    assert outcomes("single-rate", asked) == found


@pytest.mark.parametrize(
    ("told", "repeats", "found"),
    [
        ({}, 2, []),
        ({}, 3, ["stop"]),
        (_past("2027-04-01"), 1, []),
        (_past("2027-04-01"), 2, ["stop"]),
        (_past("2027-04-01", rate=1.01), 1, ["stop"]),
        (_past("2027-03-01", "2027-04-01"), 1, ["stop"]),
        (_past("2027-03-01", "2027-04-01", active="mcpa"), 2, []),
        (_past("2026-09-01"), 2, []),
    ],
)
def test_the_year_keeps_its_total(base: KnowledgeBase, told: dict[str, Any], repeats: int, found: list[str]) -> None:
    made = with_active(base, limits=[fact(annual_max="2.0 lb ae/acre")])
    assert outcomes("annual-rate", question(made, told=told, repeats=repeats)) == found


def test_what_was_applied_as_a_salt_counts_as_acid(base: KnowledgeBase) -> None:
    made = with_active(base, limits=[fact(annual_max="2.0 lb ae/acre")])
    factor = made.actives[ACTIVE].forms[0].ae_factor
    assert factor is not None
    just = _past("2027-04-01", rate=0.999 / factor, unit="lb ai/acre")
    over = _past("2027-04-01", rate=1.001 / factor, unit="lb ai/acre")
    assert outcomes("annual-rate", question(made, told=just)) == []
    assert outcomes("annual-rate", question(made, told=over)) == ["stop"]
    metric = _past("2027-04-01", rate=1.2, unit="kg ae/ha")
    assert outcomes("annual-rate", question(made, told=metric)) == ["stop"]


def test_the_total_is_told_in_the_unit_of_its_ceiling(base: KnowledgeBase) -> None:
    made = with_active(base, limits=[fact(annual_max="2.0 lb ae/acre")])
    (stop,) = findings("annual-rate", question(made, told=_past("2027-04-01", rate=1.5)))
    text = stop.sentence(made)
    assert "2.5 lb ae/acre" in text
    assert "1.5 lb ae/acre" in text


@pytest.mark.parametrize("where", ["active", "turf"])
@pytest.mark.parametrize(
    ("told", "repeats", "found"),
    [
        ({}, 2, []),
        (_past("2027-02-01"), 1, []),
        (_past("2027-02-01"), 2, ["stop"]),
        (_past("2027-02-01", "2027-03-01"), 1, ["stop"]),
    ],
)
def test_the_year_keeps_its_count(
    base: KnowledgeBase, where: str, told: dict[str, Any], repeats: int, found: list[str]
) -> None:
    if where == "active":
        made = with_tolerance(with_active(base, limits=[fact(max_applications=2)]), {})
    else:
        made = with_tolerance(with_active(base), {"max_applications": 2})
    assert outcomes("annual-count", question(made, told=told, repeats=repeats)) == found


@pytest.mark.parametrize("where", ["active", "turf"])
@pytest.mark.parametrize(
    ("days", "found"), [(["2027-04-29"], []), (["2027-04-30"], ["stop"]), (["2027-01-02", "2027-05-19"], ["stop"])]
)
def test_an_active_waits_for_its_interval(base: KnowledgeBase, where: str, days: list[str], found: list[str]) -> None:
    if where == "active":
        made = with_tolerance(with_active(base, limits=[fact(min_interval_days=21)]), {})
    else:
        made = with_tolerance(with_active(base), {"min_interval_days": 21})
    assert outcomes("retreat-interval", question(made, told=_past(*days))) == found


def test_an_interval_runs_over_the_turn_of_the_year(base: KnowledgeBase) -> None:
    made = with_active(base, limits=[fact(min_interval_days=21)])
    told = {"date": "2027-01-05", **_past("2026-12-28")}
    assert outcomes("retreat-interval", question(made, told=told)) == ["stop"]


def test_the_longest_interval_counts(base: KnowledgeBase) -> None:
    limits = [fact(min_interval_days=21), fact(min_interval_days=35, turf=["cool-season"])]
    made = with_tolerance(with_active(base, limits=limits), {"min_interval_days": 28})
    assert least_interval(question(made))[0] == 35
    bare = with_tolerance(with_active(base), {})
    assert least_interval(question(bare)) == (0, ())


@pytest.mark.parametrize(
    ("carrier", "found"),
    [
        ({"value": 9.99, "unit": "gal/acre"}, ["stop"]),
        ({"value": 10, "unit": "gal/acre"}, []),
        ({"value": 0.22, "unit": "gal/1000 ft2"}, ["stop"]),
        ({"value": 0.23, "unit": "gal/1000 ft2"}, []),
        (None, []),
    ],
)
def test_too_little_water_is_a_stop(base: KnowledgeBase, carrier: dict[str, Any] | None, found: list[str]) -> None:
    made = with_active(base, carrier_floor=fact(value="10 gal/acre"))
    assert outcomes("carrier-volume", question(made, told={"carrier": carrier})) == found
    # Without a floor of its own the usual one of a broadcast boom, also 10 gal/acre, holds.
    assert outcomes("carrier-volume", question(with_active(base), told={"carrier": carrier})) == found


@pytest.mark.parametrize(
    ("limit", "told", "repeats", "found"),
    [
        ([], {}, 1, []),
        ([], {}, 2, ["stop"]),
        ([], _past("2027-04-01"), 1, ["stop"]),
        ([], _past("2026-09-01"), 1, []),
        ([{"single_max": "1.0 lb ae/acre"}], {}, 2, ["stop"]),
        ([{"annual_max": "2.0 lb ae/acre"}], {}, 2, []),
        ([{"max_applications": 2}], {}, 2, []),
        ([{"annual_max": "2.0 lb ae/acre", "site_uses": ["golf-green"]}], {}, 2, ["stop"]),
    ],
)
def test_without_a_yearly_ceiling_one_application_is_the_most(
    base: KnowledgeBase, limit: list[dict[str, Any]], told: dict[str, Any], repeats: int, found: list[str]
) -> None:
    made = with_active(base, limits=[fact(**item) for item in limit])
    assert outcomes("annual-unknown", question(made, told=told, repeats=repeats)) == found


def test_the_turf_may_tell_how_often(base: KnowledgeBase) -> None:
    made = with_tolerance(with_active(base, limits=[]), {"max_applications": 3})
    assert outcomes("annual-unknown", question(made, repeats=2)) == []
