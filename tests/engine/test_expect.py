"""A stated program: computed whatever stands against it, and every stop said."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from app.engine.errors import InputError
from app.engine.expect import expect
from app.engine.output import Expectation, as_json
from app.engine.recommend import recommend
from app.engine.situation import ExpectRequest, Situation
from knowledge.base import KnowledgeBase
from tests.conftest import plain
from tests.engine.made import fact, with_active, with_tolerance

TRICLOPYR = {"active": "triclopyr", "form": "triclopyr-tea", "rate": {"value": 0.75, "unit": "lb ae/acre"}}


def _active(active: str, value: float, unit: str = "lb ae/acre", form: str | None = None) -> dict[str, Any]:
    return {"active": active, "form": form, "rate": {"value": value, "unit": unit}}


def _expect(base: KnowledgeBase, *tanks: list[dict[str, Any]], days: int | None = None, **changes: Any) -> Expectation:
    interval = changes.pop("interval", 28)
    adjuvant = changes.pop("adjuvant", None)
    applications = [
        {"day": number * interval, "actives": tank, "adjuvant": {"id": adjuvant} if adjuvant else None}
        for number, tank in enumerate(tanks)
    ]
    told = {"situation": plain(**changes), "program": {"applications": applications}, "days_after": days}
    return expect(base, ExpectRequest.model_validate(told))


def _stops(answer: Expectation) -> set[str]:
    return {stop.code for stop in answer.stops}


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"targets": [{"weed": "dandelion", "stage": "vegetative"}, {"weed": "white-clover"}]},
        {"targets": [{"weed": "smooth-crabgrass", "stage": "not-emerged"}], "date": "2027-04-10"},
        {"targets": [{"weed": "smooth-crabgrass", "tillers": 2}], "date": "2027-06-25"},
    ],
)
def test_a_ranked_program_is_expected_to_do_what_its_rank_says(base: KnowledgeBase, changes: dict[str, Any]) -> None:
    ranked = recommend(base, Situation.model_validate(plain(**changes))).ranked
    assert ranked
    for program in ranked:
        applications = [
            {
                "day": application.day,
                "actives": [
                    _active(a.active, a.rate.value, a.rate.unit, a.form)
                    for p in application.products
                    for a in p.actives
                ],
                "adjuvant": {"id": application.adjuvant.id} if application.adjuvant else None,
            }
            for application in program.applications
        ]
        told = {"situation": plain(**changes), "program": {"applications": applications}}
        answer = expect(base, ExpectRequest.model_validate(told))
        assert answer.stops == ()
        for ours, theirs in zip(answer.control, program.control, strict=True):
            assert (ours.weed, ours.stage, ours.days_after) == (theirs.weed, theirs.stage, theirs.days_after)
            # Rates are shown at four digits, and a second application is counted at its usual interval.
            assert ours.likely == pytest.approx(theirs.likely, abs=2.0)
        assert [t.likely_pct for t in answer.turf_injury] == pytest.approx(
            [t.likely_pct for t in program.turf_injury], abs=0.2
        )


def test_more_of_it_never_does_less(base: KnowledgeBase) -> None:
    likely = [
        _expect(base, [_active("triclopyr", rate, form="triclopyr-tea")]).control[0].likely
        for rate in (0.1, 0.3, 0.5, 0.75, 1.0, 1.5, 3.0)
    ]
    assert all(value is not None for value in likely)
    assert likely == sorted(likely)  # type: ignore[type-var]
    assert likely[0] != likely[-1]


def test_a_second_application_adds_to_the_first(base: KnowledgeBase) -> None:
    once, twice = _expect(base, [TRICLOPYR]), _expect(base, [TRICLOPYR], [TRICLOPYR])
    assert twice.control[0].likely > once.control[0].likely  # type: ignore[operator]
    assert twice.turf_injury[0].likely_pct > once.turf_injury[0].likely_pct  # type: ignore[operator]


def test_it_is_computed_where_a_stop_stands(base: KnowledgeBase) -> None:
    answer = _expect(base, [_active("triclopyr", 1.5, form="triclopyr-bee")], forecast={"max_temp_f": 95})
    assert {"single-rate", "volatility", "temperature"} <= _stops(answer)
    assert answer.control[0].likely is not None
    assert all(stop.text for stop in answer.stops)


@pytest.mark.parametrize(("rate", "stopped"), [(1.0, False), (1.001, True)])
def test_a_rate_over_the_ceiling_is_a_stop(base: KnowledgeBase, rate: float, stopped: bool) -> None:
    made = with_tolerance(with_active(base, limits=[fact(single_max="1.0 lb ae/acre")]), {})
    assert ("single-rate" in _stops(_expect(made, [_active("2-4-d", rate)]))) == stopped


@pytest.mark.parametrize(("interval", "stopped"), [(28, False), (27, True)])
def test_an_interval_too_short_is_a_stop(base: KnowledgeBase, interval: int, stopped: bool) -> None:
    made = with_tolerance(with_active(base, limits=[fact(min_interval_days=28)]), {})
    answer = _expect(made, [_active("2-4-d", 0.75)], [_active("2-4-d", 0.75)], interval=interval)
    assert ("retreat-interval" in _stops(answer)) == stopped


def test_another_active_does_not_wait_for_the_first(base: KnowledgeBase) -> None:
    made = with_tolerance(with_active(base, limits=[fact(min_interval_days=28)]), {})
    answer = _expect(made, [_active("2-4-d", 0.75)], [_active("mcpa", 0.75)], interval=14)
    assert "retreat-interval" not in _stops(answer)


@pytest.mark.parametrize(("second", "stopped"), [(1.0, False), (1.001, True)])
def test_two_rates_add_up_for_the_year(base: KnowledgeBase, second: float, stopped: bool) -> None:
    made = with_tolerance(with_active(base, limits=[fact(annual_max="1.75 lb ae/acre")]), {})
    answer = _expect(made, [_active("2-4-d", 0.75)], [_active("2-4-d", second)])
    assert ("annual-rate" in _stops(answer)) == stopped


@pytest.mark.parametrize(("planned", "stopped"), [("2027-07-15", False), ("2027-07-14", True)])
def test_seed_waits_for_the_second_application(base: KnowledgeBase, planned: str, stopped: bool) -> None:
    made = with_tolerance(with_active(base, seeding_interval=[fact(turf=["all"], days=28)]), {})
    condition = {"stand": "established", "seeding_planned": planned}
    answer = _expect(made, [_active("mcpa", 0.75)], [_active("2-4-d", 0.75)], turf_condition=condition)
    mine = [s for s in answer.stops if s.code == "seeding-interval" and "2,4-D" in s.text]
    assert bool(mine) == stopped


def test_a_pair_that_does_not_go_together_is_a_stop(base: KnowledgeBase) -> None:
    answer = _expect(base, [_active("glyphosate", 0.5), _active("diquat", 0.5, "lb ai/acre")])
    assert "incompatible-mix" in _stops(answer)
    apart = _expect(base, [_active("glyphosate", 0.5)], [_active("diquat", 0.5, "lb ai/acre")])
    assert "incompatible-mix" not in _stops(apart)


def test_an_adjuvant_that_is_left_out_is_a_stop(base: KnowledgeBase) -> None:
    made = with_tolerance(with_active(base, adjuvants=[fact(id="nis", use="required")]), {})
    assert "adjuvant-required" in _stops(_expect(made, [_active("2-4-d", 0.75)]))
    assert "adjuvant-required" not in _stops(_expect(made, [_active("2-4-d", 0.75)], adjuvant="nis"))


def test_nothing_known_is_null_with_its_reason(base: KnowledgeBase) -> None:
    weed = base.weeds["dandelion"]
    others = tuple(r for r in weed.responses if r.active != "prodiamine")
    made = replace(base, weeds={**base.weeds, weed.id: weed.model_copy(update={"responses": others})})
    target = {"weed": "dandelion", "stage": "vegetative"}
    (control,) = _expect(made, [_active("prodiamine", 0.5, "lb ai/acre")], targets=[target]).control
    assert (control.low, control.likely, control.high, control.basis) == (None, None, None, None)
    assert "prodiamine" in control.text
    assert control.parts[0].likely is None


def test_a_resisting_population_is_said(base: KnowledgeBase) -> None:
    target = {"weed": "wild-violet", "stage": "flowering", "resistant_to": ["triclopyr"]}
    (control,) = _expect(base, [TRICLOPYR], targets=[target]).control
    assert control.parts[0].likely == 0
    assert "resist" in control.text + control.parts[0].text


@pytest.mark.parametrize("days", [14, 42, 90])
def test_it_is_judged_on_the_day_asked_for(base: KnowledgeBase, days: int) -> None:
    (control,) = _expect(base, [TRICLOPYR], days=days).control
    assert control.days_after == days
    assert f"{days} days" in control.text


def test_a_band_holds_its_likely(base: KnowledgeBase) -> None:
    for tanks in ([[TRICLOPYR]], [[TRICLOPYR, _active("2-4-d", 1.0)]], [[TRICLOPYR], [_active("dicamba", 0.25)]]):
        (control,) = _expect(base, *tanks).control
        assert 0 <= control.low < control.likely < control.high <= 100  # type: ignore[operator]


@pytest.mark.parametrize(("carrier", "stopped"), [(9.9, True), (10.0, False)])
def test_the_water_of_the_program_counts(base: KnowledgeBase, carrier: float, stopped: bool) -> None:
    made = with_tolerance(with_active(base, carrier_floor=fact(value="10 gal/acre")), {})
    application = {"actives": [_active("2-4-d", 0.75)], "carrier": {"value": carrier, "unit": "gal/acre"}}
    told = {"situation": plain(), "program": {"applications": [application]}}
    assert ("carrier-volume" in _stops(expect(made, ExpectRequest.model_validate(told)))) == stopped


def test_a_form_that_is_not_told_is_not_taken_for_the_safest(base: KnowledgeBase) -> None:
    """At 88 F the ester is stopped and the salt is not: which of the two it is must be asked for."""
    hot = {"max_temp_f": 88, "max_temp_next_3_days_f": 88, "rain_free_hours": 48, "wind_mph": 5}
    ester = _expect(base, [_active("triclopyr", 0.75, form="triclopyr-bee")], forecast=hot)
    salt = _expect(base, [_active("triclopyr", 0.75, form="triclopyr-tea")], forecast=hot)
    unknown = _expect(base, [_active("triclopyr", 0.75)], forecast=hot)
    assert "volatility" in _stops(ester) - _stops(salt)
    said = {item.code for item in (*unknown.stops, *unknown.cautions)}
    assert "volatility" in said


@pytest.mark.parametrize(
    ("active", "path"),
    [
        (_active("2-4-dd", 1), "program.applications.0.actives.1.active"),
        (_active("2-4-d", 1, form="mcpa-dma"), "program.applications.0.actives.1.form"),
        (_active("2-4-d", 1, "qt/acre"), "program.applications.0.actives.1.rate.unit"),
    ],
)
def test_a_fault_names_its_place_in_the_program(base: KnowledgeBase, active: dict[str, Any], path: str) -> None:
    with pytest.raises(InputError) as caught:
        _expect(base, [TRICLOPYR, active])
    assert [fault.path for fault in caught.value.faults] == [path]


def test_the_shape_is_the_agreed_one(base: KnowledgeBase) -> None:
    data = as_json(_expect(base, [TRICLOPYR, _active("2-4-d", 1.0)], [TRICLOPYR]))
    assert {"control", "turf_injury", "stops", "cautions", "sources"} <= set(data)
    cited = {
        s for key in ("control", "turf_injury", "stops", "cautions") for item in data[key] for s in item["sources"]
    }
    cited |= {s for control in data["control"] for part in control["parts"] for s in part["sources"]}
    assert cited == set(data["sources"])
