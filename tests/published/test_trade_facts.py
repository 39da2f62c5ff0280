"""What people of the trade say must come out of the engine (common practice, no source)."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.expect import expect
from app.engine.output import Recommendation
from app.engine.recommend import recommend
from app.engine.situation import ExpectRequest, Situation, WhyNotRequest
from app.engine.why_not import why_not
from knowledge.base import KnowledgeBase
from tests.conftest import plain

BROAD_FLOOR = {"value": 5, "unit": "gal/acre"}


def _rank(base: KnowledgeBase, **changes: Any) -> Recommendation:
    return recommend(base, Situation.model_validate(plain(**changes)))


def _expected(
    base: KnowledgeBase,
    active: str,
    rate: str,
    adjuvant: str = "none",
    days: int = 28,
    form: str | None = None,
    **changes: Any,
) -> Any:
    value, _, unit = rate.partition(" ")
    spray: dict[str, Any] = {
        "day": 0,
        "actives": [{"active": active, "form": form, "rate": {"value": float(value), "unit": unit}}],
    }
    if adjuvant != "none":
        spray["adjuvant"] = {"id": adjuvant, "rate": None}
    request = {"situation": plain(**changes), "program": {"applications": [spray]}, "days_after": days}
    return expect(base, ExpectRequest.model_validate(request))


def _crabgrass(base: KnowledgeBase, stage: str, adjuvant: str) -> float:
    target = [{"weed": "smooth-crabgrass", "stage": stage}]
    found = _expected(
        base, "quinclorac", "0.75 lb ai/acre", adjuvant, targets=target, turf=["kentucky-bluegrass"], date="2027-06-20"
    )
    return float(found.control[0].likely)


def test_few_tillers_are_the_hard_stage_of_crabgrass_and_oil_closes_the_gap(base: KnowledgeBase) -> None:
    hard = _crabgrass(base, "1-3-tiller", "none")
    easy, late = _crabgrass(base, "1-3-leaf", "none"), _crabgrass(base, "multi-tiller", "none")
    assert hard <= easy - 10
    assert hard <= late - 10
    assert _crabgrass(base, "1-3-tiller", "mso") >= hard + 0.5 * (easy - hard)


@pytest.mark.parametrize("weed", ["yellow-nutsedge", "smooth-crabgrass", "goosegrass", "spotted-spurge"])
@pytest.mark.parametrize("turf", ["kentucky-bluegrass", "hybrid-bermudagrass"])
def test_no_program_with_sulfentrazone_carries_a_strong_oil(base: KnowledgeBase, weed: str, turf: str) -> None:
    zone = "warm-humid" if "bermuda" in turf else "cool-humid"
    answer = _rank(base, targets=[{"weed": weed}], turf=[turf], zone=zone, date="2027-06-20", options={"top": 50})
    for program in answer.ranked:
        for application in program.applications:
            actives = {a.active for product in application.products for a in product.actives}
            if "sulfentrazone" in actives and application.adjuvant is not None:
                assert application.adjuvant.id not in ("mso", "coc")


def test_a_stated_sulfentrazone_with_oil_stands_under_a_stop(base: KnowledgeBase) -> None:
    target = [{"weed": "yellow-nutsedge", "stage": "5-8-leaf"}]
    found = _expected(base, "sulfentrazone", "0.25 lb ai/acre", "mso", targets=target, turf=["kentucky-bluegrass"])
    assert "adjuvant-injury" in {stop.code for stop in found.stops}
    assert found.control[0].likely is not None


@pytest.mark.parametrize("forecast", [{}, {"max_temp_f": 84, "max_temp_next_3_days_f": 84}])
def test_in_summer_the_amine_stands_above_the_ester(base: KnowledgeBase, forecast: dict[str, float]) -> None:
    target = [{"weed": "dandelion", "stage": "vegetative"}]
    answer = _rank(
        base, date="2027-07-10", targets=target, forecast=forecast, turf=["kentucky-bluegrass"], options={"top": 10}
    )
    seen = 0
    for program in answer.ranked:
        for product in program.applications[0].products:
            for active in product.actives:
                esters = [f.id for f in base.actives[active.active].forms if f.kind == "ester"]
                others = [f.id for f in base.actives[active.active].forms if f.kind != "ester"]
                if esters and others:
                    assert active.form not in esters
                    seen += 1
    assert seen
    said = [reason.text for program in answer.ranked for reason in program.reasons if reason.code == "volatility"]
    assert said
    assert all("volatility" in text for text in said)


def test_an_ester_into_heat_is_stopped(base: KnowledgeBase) -> None:
    hot = {"max_temp_f": 92, "max_temp_next_3_days_f": 95}
    found = _expected(base, "2-4-d", "1.0 lb ae/acre", form="2-4-d-ehe", forecast=hot, date="2027-07-10")
    assert "volatility" in {stop.code for stop in found.stops}


@pytest.mark.parametrize("turf", ["tall-fescue", "kentucky-bluegrass", "perennial-ryegrass"])
@pytest.mark.parametrize("date", ["2027-05-10", "2027-06-15", "2027-09-20"])
def test_triclopyr_leads_on_wild_violet_and_two_applications_are_proposed(
    base: KnowledgeBase, turf: str, date: str
) -> None:
    answer = _rank(base, turf=[turf], date=date)
    assert "triclopyr" in answer.ranked[0].actives
    triclopyr = [p for p in answer.ranked if "triclopyr" in p.actives]
    assert any(len(program.applications) == 2 for program in triclopyr)


def test_about_eighty_percent_of_wild_violet_after_one_application_counts_as_good(base: KnowledgeBase) -> None:
    found = _expected(base, "triclopyr", "1.0 lb ae/acre", form="triclopyr-tea")
    assert 70 <= found.control[0].likely <= 88


@pytest.mark.parametrize("date", ["2027-05-15", "2027-10-05"])
def test_triclopyr_is_the_piece_on_ground_ivy_and_the_reason_names_stolons(base: KnowledgeBase, date: str) -> None:
    answer = _rank(
        base, date=date, targets=[{"weed": "ground-ivy", "stage": "vegetative"}], turf=["kentucky-bluegrass"]
    )
    first = answer.ranked[0]
    assert "triclopyr" in first.actives
    assert any("stolons" in reason.text for reason in first.reasons)


def test_sulfentrazone_and_halosulfuron_lead_on_yellow_nutsedge(base: KnowledgeBase) -> None:
    target = [{"weed": "yellow-nutsedge", "stage": "5-8-leaf"}]
    answer = _rank(base, date="2027-06-20", targets=target, turf=["kentucky-bluegrass"])
    assert {"sulfentrazone", "halosulfuron-methyl"} & set(answer.ranked[0].actives)
    top = {active for program in answer.ranked[:3] for active in program.actives}
    assert {"sulfentrazone", "halosulfuron-methyl"} <= top
    speed = [r.text for p in answer.ranked for r in p.reasons if r.code == "speed" and "sulfentrazone" in p.actives]
    assert any("from sulfentrazone, sooner than" in text for text in speed)
    little = (
        _expected(base, "triclopyr", "0.75 lb ae/acre", targets=target, turf=["kentucky-bluegrass"]).control[0].likely
    )
    assert 2 <= little <= 30


@pytest.mark.parametrize("weed", ["dandelion", "broadleaf-plantain", "buckhorn-plantain"])
def test_2_4_d_carries_taprooted_weeds(base: KnowledgeBase, weed: str) -> None:
    target = [{"weed": weed, "stage": "vegetative"}]
    answer = _rank(base, date="2027-05-10", targets=target, turf=["kentucky-bluegrass"])
    assert "2-4-d" in answer.ranked[0].actives
    auxins = {"2-4-d": "1.0", "triclopyr": "0.75", "dicamba": "0.25", "mecoprop-p": "0.6", "fluroxypyr": "0.2"}
    alone = {
        a: _expected(base, a, f"{rate} lb ae/acre", targets=target).control[0].likely for a, rate in auxins.items()
    }
    assert max(alone, key=lambda key: alone[key]) == "2-4-d"


@pytest.mark.parametrize("active", ["quinclorac", "topramezone"])
def test_a_crabgrass_specialist_is_no_dandelion_program(base: KnowledgeBase, active: str) -> None:
    target = [{"weed": "dandelion", "stage": "vegetative"}]
    situation = plain(date="2027-05-10", targets=target, turf=["kentucky-bluegrass"])
    found = why_not(base, WhyNotRequest.model_validate({"situation": situation, "actives": [active]}))
    assert not found.allowed or (found.rank is not None and found.rank > 5)
    if found.best is not None:
        assert found.best.control[0].likely < 70


def test_quinclorac_adds_clover_to_2_4_d(base: KnowledgeBase) -> None:
    target = [{"weed": "white-clover", "stage": "vegetative"}]
    alone = _expected(base, "2-4-d", "1.0 lb ae/acre", targets=target, turf=["kentucky-bluegrass"])
    request = {
        "situation": plain(targets=target, turf=["kentucky-bluegrass"]),
        "program": {
            "applications": [
                {
                    "day": 0,
                    "actives": [
                        {"active": "2-4-d", "rate": {"value": 1.0, "unit": "lb ae/acre"}},
                        {"active": "quinclorac", "rate": {"value": 0.75, "unit": "lb ai/acre"}},
                    ],
                }
            ]
        },
        "days_after": 28,
    }
    both = expect(base, ExpectRequest.model_validate(request))
    assert both.control[0].likely >= alone.control[0].likely + 20


@pytest.mark.parametrize("active", ["2-4-d", "mecoprop-p", "dicamba"])
def test_full_rate_on_cool_season_turf_less_on_warm_least_on_bentgrass(base: KnowledgeBase, active: str) -> None:
    usual = {scope: r.usual.base for r in base.actives[active].rates for scope in r.turf}
    assert usual["cool-lawn"] > usual["warm-hardy"] > usual["bentgrass"]


def test_the_same_mixture_follows_the_turf(base: KnowledgeBase) -> None:
    mixture = base.mixtures["2-4-d-mecoprop-p-dicamba"]
    load = {scope: sum(part.rate.base for part in r.parts) for r in mixture.rates for scope in r.turf}
    assert load["cool-lawn"] > load["warm-hardy"] > load["bentgrass"]


@pytest.mark.parametrize("active", ["2-4-d", "mecoprop-p", "dicamba", "triclopyr", "mcpa"])
def test_too_little_water_is_refused(base: KnowledgeBase, active: str) -> None:
    situation = plain(targets=[{"weed": "dandelion", "stage": "vegetative"}], carrier=BROAD_FLOOR)
    found = why_not(base, WhyNotRequest.model_validate({"situation": situation, "actives": [active]}))
    assert not found.allowed
    assert "carrier-volume" in {stop.code for stop in found.stops}
    assert any("10 gal/acre" in stop.text for stop in found.stops)
