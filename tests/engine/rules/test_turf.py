"""Rules on the turf: both sides of every threshold, and what is not told."""

from __future__ import annotations

from typing import Any

import pytest

from knowledge.base import KnowledgeBase
from tests.engine.made import dose, fact, findings, outcomes, question, with_active, with_tolerance


def _turf(**changes: Any) -> dict[str, Any]:
    return {"turf_condition": {"stand": "established", "green_up": "active", "stress": "none", **changes}}


@pytest.mark.parametrize(("kind", "found"), [("T", []), ("I", []), ("unknown", []), ("S", ["stop"])])
def test_a_sensitive_turf_is_a_stop(base: KnowledgeBase, kind: str, found: list[str]) -> None:
    made = with_tolerance(base, {"class": kind, "condition": "with care"})
    assert outcomes("turf-sensitive", question(made)) == found


def test_the_record_of_the_site_wins_over_the_general_one(base: KnowledgeBase) -> None:
    made = with_tolerance(base, {"class": "T"}, {"class": "S", "site_uses": ["golf-green"]})
    assert outcomes("turf-sensitive", question(made)) == []
    assert outcomes("turf-sensitive", question(made, told={"site_use": "golf-green"})) == ["stop"]


def test_one_sensitive_turf_among_several_is_a_stop(base: KnowledgeBase) -> None:
    made = with_tolerance(base, {"class": "S"}, turf="fine-fescue")
    made = with_tolerance(made, {"class": "T"})
    assert outcomes("turf-sensitive", question(made, told={"turf": ["tall-fescue", "fine-fescue"]})) == ["stop"]


@pytest.mark.parametrize(
    ("records", "found"),
    [([], ["stop"]), ([{"class": "unknown"}], ["stop"]), ([{"class": "T"}], []), ([{"class": "S"}], [])],
)
def test_a_turf_of_which_nothing_is_known_is_not_guessed_at(
    base: KnowledgeBase, records: list[dict[str, Any]], found: list[str]
) -> None:
    assert outcomes("turf-unknown", question(with_tolerance(base, *records))) == found


@pytest.mark.parametrize(
    ("level", "kind", "found"),
    [
        ("alone", "T", ["stop"]),
        ("partner", "T", ["stop"]),
        ("stated", "T", ["caution"]),
        ("product", "T", ["caution"]),
        ("alone", "S", []),
    ],
)
def test_without_a_usual_rate_nothing_is_proposed(base: KnowledgeBase, level: str, kind: str, found: list[str]) -> None:
    made = with_tolerance(base, {"class": kind})
    assert outcomes("no-turf-rate", question(made, of=dose(made, usual=None, level=level))) == found
    assert outcomes("no-turf-rate", question(made, of=dose(made, level=level))) == []


@pytest.mark.parametrize(("rate", "found"), [("0.5 lb ae/acre", []), ("0.501 lb ae/acre", ["stop"])])
def test_the_turf_bounds_the_rate(base: KnowledgeBase, rate: str, found: list[str]) -> None:
    made = with_tolerance(base, {"max_rate": "0.5 lb ae/acre"})
    assert outcomes("turf-condition", question(made, of=dose(made, rate))) == found


def test_a_ceiling_in_other_units_is_the_same_ceiling(base: KnowledgeBase) -> None:
    made = with_tolerance(base, {"max_rate": "560.4 g ae/ha"})
    assert outcomes("turf-condition", question(made, of=dose(made, "0.4999 lb ae/acre"))) == []
    assert outcomes("turf-condition", question(made, of=dose(made, "0.5001 lb ae/acre"))) == ["stop"]


def test_a_form_that_the_turf_does_not_take_is_a_stop(base: KnowledgeBase) -> None:
    ester = next(form for form in base.actives["2-4-d"].forms if form.kind == "ester")
    made = with_tolerance(base, {"forms_barred": [ester.id]})
    assert outcomes("turf-condition", question(made)) == []
    assert outcomes("turf-condition", question(made, of=dose(made, form=ester))) == ["stop"]


@pytest.mark.parametrize(("stress", "found"), [("drought", ["stop"]), ("heat", []), ("none", []), (None, ["unknown"])])
def test_turf_under_a_barred_stress_waits(base: KnowledgeBase, stress: str | None, found: list[str]) -> None:
    made = with_tolerance(base, {"stress_barred": ["drought"]})
    told = findings("turf-condition", question(made, told=_turf(stress=stress)))
    assert [finding.outcome for finding in told] == found
    assert all(finding.settled_by == "turf_condition.stress" for finding in told if finding.outcome == "unknown")


@pytest.mark.parametrize(("height", "found"), [(1.99, ["stop"]), (2.0, []), (None, ["unknown"])])
def test_turf_mown_too_low_is_not_sprayed(base: KnowledgeBase, height: float | None, found: list[str]) -> None:
    made = with_tolerance(base, {"min_height_in": 2.0})
    told = findings("turf-condition", question(made, told=_turf(mowing_height_in=height)))
    assert [finding.outcome for finding in told] == found
    assert [f.settled_by for f in told if f.outcome == "unknown"] == (
        ["turf_condition.mowing_height_in"] if height is None else []
    )


def test_an_intermediate_tolerance_says_its_condition(base: KnowledgeBase) -> None:
    intermediate = with_tolerance(base, {"class": "I", "condition": "only in spring"})
    (caution,) = findings("turf-condition", question(intermediate))
    assert caution.outcome == "caution"
    assert "only in spring" in caution.sentence(intermediate)
    assert outcomes("turf-condition", question(with_tolerance(base, {"condition": "any time"}))) == []


_RULE = [fact(turf=["all"], min_mowings=4, min_weeks=8, text="Wait for four mowings.")]


@pytest.mark.parametrize(
    ("age", "found"),
    [
        ({"mowings_since_emergence": 4}, []),
        ({"mowings_since_emergence": 3}, ["stop"]),
        ({"weeks_since_emergence": 8}, []),
        ({"weeks_since_emergence": 7.9}, ["stop"]),
        ({"mowings_since_emergence": 0, "weeks_since_emergence": 8}, []),
        ({"mowings_since_emergence": 4, "weeks_since_emergence": 1}, []),
        ({"mowings_since_emergence": 3, "weeks_since_emergence": 7}, ["stop"]),
        ({}, ["unknown"]),
    ],
)
def test_a_young_stand_waits_for_its_age(base: KnowledgeBase, age: dict[str, float], found: list[str]) -> None:
    made = with_tolerance(with_active(base, seedling=_RULE), {})
    assert outcomes("seedling-turf", question(made, told=_turf(stand="seedling", **age))) == found


@pytest.mark.parametrize(
    ("rules", "found"),
    [
        ([], ["stop"]),
        ([fact(turf=["warm-season"], min_mowings=1, text="Elsewhere.")], ["stop"]),
        ([fact(turf=["all"], allowed=False, text="Never.")], ["stop"]),
        ([fact(turf=["all"], text="From emergence.")], []),
        ([fact(turf=["all"], text="Safe."), fact(turf=["tall-fescue"], allowed=False, text="Not here.")], ["stop"]),
        ([fact(turf=["cool-lawn"], text="Safe."), fact(turf=["cool-season"], allowed=False, text="No.")], []),
    ],
)
def test_a_young_stand_without_a_rule_is_not_guessed_at(
    base: KnowledgeBase, rules: list[dict[str, Any]], found: list[str]
) -> None:
    made = with_tolerance(with_active(base, seedling=rules), {})
    old = _turf(stand="seedling", mowings_since_emergence=9, weeks_since_emergence=20)
    assert outcomes("seedling-turf", question(made, told=old)) == found
    assert outcomes("seedling-turf", question(made, told=_turf())) == []


@pytest.mark.parametrize(
    ("stand", "field"), [("seedling", "seedling"), ("newly-sprigged", "sprigged"), ("newly-sodded", "sodded")]
)
def test_the_window_of_the_turf_wins_for_its_own_stand(base: KnowledgeBase, stand: str, field: str) -> None:
    made = with_tolerance(with_active(base, seedling=_RULE), {field: {"min_weeks": 2}})
    for other in ("seedling", "newly-sprigged", "newly-sodded"):
        young = _turf(stand=other, weeks_since_emergence=2)
        assert outcomes("seedling-turf", question(made, told=young)) == ([] if other == stand else ["stop"])
    assert outcomes("seedling-turf", question(made, told=_turf(stand=stand, weeks_since_emergence=1.9))) == ["stop"]


def test_a_stand_that_is_not_told_is_asked_for_where_it_matters(base: KnowledgeBase) -> None:
    strict = with_tolerance(with_active(base, seedling=_RULE), {})
    (found,) = findings("seedling-turf", question(strict, told=_turf(stand=None)))
    assert (found.outcome, found.settled_by) == ("unknown", "turf_condition.stand")
    easy = with_tolerance(with_active(base, seedling=[fact(turf=["all"], text="From emergence.")]), {})
    assert outcomes("seedling-turf", question(easy, told=_turf(stand=None))) == []
    none = with_tolerance(with_active(base), {})
    assert outcomes("seedling-turf", question(none, told=_turf(stand=None))) == ["unknown"]


@pytest.mark.parametrize(
    ("planned", "last_day", "found"),
    [
        ("2027-06-17", 0, []),
        ("2027-06-16", 0, ["stop"]),
        ("2027-07-15", 28, []),
        ("2027-07-14", 28, ["stop"]),
        ("2027-05-20", 0, ["stop"]),
    ],
)
def test_seed_waits_for_the_last_application(
    base: KnowledgeBase, planned: str, last_day: int, found: list[str]
) -> None:
    made = with_active(base, seeding_interval=[fact(turf=["all"], days=28)])
    asked = question(made, told=_turf(seeding_planned=planned), last_day=last_day)
    assert outcomes("seeding-interval", asked) == found


@pytest.mark.parametrize("records", [[], [fact(turf=["all"], days=None)], [fact(turf=["warm-season"], days=1)]])
def test_an_unknown_interval_bars_seeding(base: KnowledgeBase, records: list[dict[str, Any]]) -> None:
    made = with_active(base, seeding_interval=records)
    assert outcomes("seeding-interval", question(made, told=_turf(seeding_planned="2028-05-20"))) == ["stop"]
    assert outcomes("seeding-interval", question(made)) == []


@pytest.mark.parametrize(("days", "found"), [(28, ["unknown"]), (27, [])])
def test_a_long_wait_is_said_where_no_seeding_is_told(base: KnowledgeBase, days: int, found: list[str]) -> None:
    worth = base.rules["seeding-interval"].thresholds["worth_saying"].value
    made = with_active(base, seeding_interval=[fact(turf=["all"], days=days - 28 + int(worth))])
    told = findings("seeding-interval", question(made))
    assert [finding.outcome for finding in told] == found
    assert all(finding.settled_by == "turf_condition.seeding_planned" for finding in told)


def test_the_most_specific_interval_counts(base: KnowledgeBase) -> None:
    made = with_active(base, seeding_interval=[fact(turf=["all"], days=0), fact(turf=["cool-season"], days=90)])
    assert outcomes("seeding-interval", question(made, told=_turf(seeding_planned="2027-06-20"))) == ["stop"]


_WARM = {"turf": ["common-bermudagrass"], "zone": "warm-humid"}


@pytest.mark.parametrize(
    ("state", "found"), [("transition", ["stop"]), ("active", []), ("dormant", ["caution"]), (None, ["unknown"])]
)
def test_warm_season_turf_waits_for_its_green_up(base: KnowledgeBase, state: str | None, found: list[str]) -> None:
    rules = [
        fact(state="transition", outcome="stop", text="Wait."),
        fact(state="dormant", outcome="caution", text="Only when fully brown."),
    ]
    made = with_tolerance(with_active(base, green_up=rules), {}, turf="common-bermudagrass")
    # On a day of full growth the calendar alone would let it pass.
    told = {**_WARM, "date": "2027-07-10", "turf_condition": {"stand": "established", "green_up": state}}
    answers = findings("green-up", question(made, told=told))
    assert [finding.outcome for finding in answers] == found
    assert all(f.settled_by == "turf_condition.green_up" for f in answers if f.outcome == "unknown")


@pytest.mark.parametrize(("state", "found"), [("dormant", ["stop"]), ("active", [])])
def test_the_turf_itself_may_bar_a_state(base: KnowledgeBase, state: str, found: list[str]) -> None:
    record = {"class": "I", "condition": "not on brown turf", "green_up_barred": ["dormant"]}
    made = with_tolerance(with_active(base), record, turf="common-bermudagrass")
    assert outcomes("green-up", question(made, told={**_WARM, **_turf(green_up=state)})) == found


def test_cool_season_turf_is_not_asked_for_its_green_up(base: KnowledgeBase) -> None:
    made = with_active(base, green_up=[fact(state="transition", outcome="stop", text="Wait.")])
    told = {"turf_condition": {"stand": "established"}}
    assert outcomes("green-up", question(made, told=told)) == []


@pytest.mark.parametrize(("likely", "found"), [(29, []), (30, []), (31, ["stop"])])
def test_injury_beyond_what_is_acceptable_is_a_stop(base: KnowledgeBase, likely: float, found: list[str]) -> None:
    made = with_tolerance(base, {"class": "I", "condition": "with care", "injury": [5, likely, 60]})
    assert outcomes("turf-injury", question(made)) == found
