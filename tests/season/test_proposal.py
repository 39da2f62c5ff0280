"""The proposal of a year: complete, plain, honest, and nothing of the trade's secrets in it."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from app.engine.output import Caution
from app.season.pricing import Pricing
from app.season.proposal import Proposal, proposal, season_controls
from app.season.proposal_purposes import For, in_brief, purposes
from app.season.proposal_words import level_words, likely_words, promise
from app.season.year_calls import calls_of
from app.season.year_output import YearPlan
from app.season.year_price import year_price
from knowledge.base import KnowledgeBase
from tests.season.planned_year import AMINE, AREAS, EARLY, SEDGE, VISITS, WEEDS, controls, planned_year, resting, visit
from tests.season.test_year_price import PLAIN
from tests.services.year_place import asked_year

TODAY = date(2027, 2, 1)
PRICING = Pricing(**{**PLAIN, "payment": "Due in 30 days."})
JARGON = ("group", "mechanism", "emergence", "active", "rate", "acre", "adjuvant", "surfactant", "herbicide")


def made(base: KnowledgeBase, plan: YearPlan | None = None, today: date = TODAY, **told: Any) -> Proposal:
    plan = plan or planned_year(8)
    brief, asked = told.pop("brief", False), asked_year(**told)
    return proposal(base, asked, plan, year_price(plan, AREAS, PRICING), PRICING, today, brief=brief)


def texts(found: Proposal) -> list[str]:
    said = [text for v in found.visits for p in v.purposes for text in (p.what, p.why, p.expect)]
    return [found.promise, *said, *(line.text for line in found.lines), *(one.words for one in found.expected)]


def test_it_names_no_active_no_product_and_no_term_of_the_trade(base: KnowledgeBase) -> None:
    # Common practice, no source: a customer buys a result; what is sprayed stands on the slip and on the label.
    names = {active.name.lower() for active in base.actives.values()} | {"pellmere", "wrenhollow", "mistlewick"}
    whole = " ".join(texts(made(base))).lower()
    assert not [name for name in names if name in whole]
    assert not set(re.findall("[a-z]+", whole)) & set(JARGON)
    assert "{" not in whole


def test_every_visit_says_what_when_why_and_what_it_costs(base: KnowledgeBase) -> None:
    found = made(base)
    assert [one.when for one in found.visits][:2] == ["April 2 to 16", "April 30 to May 14"]
    assert found.price == sum(one.price for one in found.visits if one.price is not None)
    for one, (day, _, weeds, _, _) in zip(found.visits, VISITS, strict=True):
        told = " ".join(part.what for part in one.purposes)
        assert f"about {day:%B} {day.day}" in told
        assert all(base.weeds[weed].name in told for weed in weeds)
        assert all(part.why or part.as_on is not None for part in one.purposes)
    # What is done a second time is explained once.
    assert (found.visits[6].purposes[0].why, found.visits[6].purposes[0].as_on) == ("", 6)
    assert found.visits[0].purposes[0].sources


def test_what_visits_are_for_follows_the_weed_and_its_time(base: KnowledgeBase) -> None:
    found = purposes(base, "cool-humid", calls_of(planned_year(8)))
    assert found == (
        (For("preemergence-grass", ("smooth-crabgrass", "prostrate-knotweed", "spotted-spurge")),),
        (For("broadleaf-spring", ("dandelion", "white-clover", "ground-ivy")),),
        (For("preemergence-second", ("smooth-crabgrass", "spotted-spurge")),),
        (For("sedge", ("yellow-nutsedge",)), For("broadleaf-summer", ("prostrate-knotweed",))),
        (For("postemergence-grass", ("smooth-crabgrass",)), For("weeds", ("white-clover",))),
        (For("broadleaf-autumn", ("wild-violet", "ground-ivy", "broadleaf-plantain")),),
        (For("broadleaf-autumn", ("wild-violet", "dandelion", "yellow-woodsorrel")),),
        (For("winter-postemergence", ("common-chickweed", "purple-deadnettle")),),
    )


def both(number: int, *weeds: str) -> YearPlan:
    """A visit that treats soil and leaves, against some weeds."""
    tank = visit(number).applications[0].model_copy(update={"products": (EARLY, AMINE)})
    return planned_year([visit(number, applications=(tank,), against=weeds)])


def test_soil_and_leaves_in_one_visit_part_the_weeds_by_whether_they_are_up(base: KnowledgeBase) -> None:
    (told,) = purposes(base, "cool-humid", calls_of(both(1, "smooth-crabgrass", "dandelion")))
    assert told == (For("preemergence-grass", ("smooth-crabgrass",)), For("broadleaf-spring", ("dandelion",)))
    (later,) = purposes(base, "cool-humid", calls_of(both(6, "common-chickweed", "dandelion")))
    assert later[1] == For("broadleaf-autumn", ("dandelion",))


def test_in_brief_a_visit_has_two_sentences_at_most(base: KnowledgeBase) -> None:
    every = tuple(weed for weed, *_ in WEEDS)
    (told,) = purposes(base, "cool-humid", calls_of(both(1, *every)))
    short = in_brief(told)
    assert len(told) > 3
    assert [one.soil for one in short] == [True, False]
    assert {key for one in short for key in one.weeds} == set(every)
    shown = made(base, both(1, *every), brief=True).visits[0].purposes
    assert "other weeds" in shown[1].what
    assert "the same day" in shown[1].what


@pytest.mark.parametrize(
    ("likely", "words"),
    [
        (90, "nearly all of it"),
        (89.9, "most of it"),
        (70, "most of it"),
        (69.9, "more than half"),
        (55, "more than half"),
        (54.9, "about half"),
        (40, "about half"),
        (39.9, "some of it"),
        (20, "some of it"),
        (19.9, "little of it"),
    ],
)
def test_words_follow_the_figure_on_both_sides_of_every_threshold(
    base: KnowledgeBase, likely: float, words: str
) -> None:
    assert level_words(base, likely) == words


def test_expected_control_is_told_with_its_band_the_surest_first(base: KnowledgeBase) -> None:
    found = made(base)
    assert [one.likely for one in found.expected] == sorted((row[3] for row in WEEDS), reverse=True)
    violet = next(one for one in found.expected if one.name == "wild violet")
    assert (violet.low, violet.likely, violet.high, violet.words) == (28, 48, 69, "about half")


def test_a_weed_told_by_area_alone_is_told_of_its_worst(base: KnowledgeBase) -> None:
    first, *_ = controls(1)
    rows = (first.model_copy(update={"area": "front"}), first.model_copy(update={"area": "back", "likely": 60.0}))
    assert season_controls(planned_year(control=rows))["smooth-crabgrass"].likely == 60.0
    whole = first.model_copy(update={"likely": 80.0})
    assert season_controls(planned_year(control=(*rows, whole)))["smooth-crabgrass"].likely == 80.0


def test_the_promise_is_one_sentence_that_promises_no_more_than_is_likely(base: KnowledgeBase) -> None:
    said = made(base).promise
    assert said == (
        "Eight visits from April to October: over the season we expect nearly all of the smooth crabgrass, dandelion "
        "and white clover to be gone from your lawn, most of the broadleaf plantain, common chickweed and five other "
        "weeds, more than half of the ground ivy, and about half of the wild violet."
    )
    weak = [one.model_copy(update={"low": 2.0, "likely": 10.0, "high": 30.0}) for one in controls()]
    assert promise(base, [TODAY], weak) == "One visit in February to hold back the weeds of your lawn."
    two = [controls()[0], controls()[10]]
    assert promise(base, [TODAY, TODAY], two).endswith("from your lawn, and about half of the wild violet.")


def test_one_weed_is_told_by_its_band_and_several_by_what_is_likely_of_each() -> None:
    crabgrass, knotweed = controls(2)
    assert likely_words([knotweed]) == "55 to 85 percent"
    # Nobody promises all of it.
    assert likely_words([crabgrass]) == "90 percent or more"
    assert likely_words([crabgrass.model_copy(update={"low": 99.0})]) == "95 percent or more"
    assert likely_words([crabgrass, knotweed]) == "70 to 95 percent"
    assert likely_words([knotweed, knotweed]) == "about 70 percent"


def test_what_is_asked_follows_what_is_done_and_what_stands_around(base: KnowledgeBase) -> None:
    soil = made(base, planned_year([visit(1, area.id) for area in AREAS]))
    leaf = made(base, planned_year([visit(2, area.id) for area in AREAS]))
    codes = {name: {line.code for line in found.lines} for name, found in (("soil", soil), ("leaf", leaf))}
    assert codes["soil"] - codes["leaf"] == {"water-in", "seeding", "no-digging"}
    assert codes["leaf"] - codes["soil"] == {"mowing", "no-water"}
    # Published: two days before and after a spray on crabgrass, Ohio State University Extension, Lorain County
    # (2024), Crabgrass and early weeds.
    assert "in the 2 days before" in next(line.text for line in leaf.lines if line.code == "mowing")
    watered = made(base, areas=[{**area.model_dump(mode="json"), "surroundings": ["well-head"]} for area in AREAS])
    assert {line.code for line in watered.lines} - {line.code for line in made(base).lines} == {"well-head"}
    flowers = Caution(code="open-flowers", text="White clover is in flower.", severity="caution", settled_by=None)
    bees = made(base, planned_year([visit(2, cautions=(flowers,))]))
    assert {line.code for line in bees.lines} - codes["leaf"] == {"bees"}
    for part in ("ask", "caution", "cover", "pay"):
        assert soil.of(part), part


def test_a_part_of_the_lawn_is_named_and_all_of_it_is_not(base: KnowledgeBase) -> None:
    found = made(base, planned_year([visit(1, "front"), visit(1, "back"), visit(2, "back")]))
    assert [one.where for one in found.visits] == ["", "Back lawn"]


def test_an_offer_ends_before_the_first_visit_can_no_longer_be_made(base: KnowledgeBase) -> None:
    assert made(base).valid_until == TODAY + timedelta(days=30)
    late = date(2027, 3, 30)
    assert made(base, today=late).valid_until == date(2027, 4, 16)
    assert made(base, today=date(2027, 6, 1)).valid_until == date(2027, 7, 1)


def test_days_without_an_application_are_no_visits_of_the_offer(base: KnowledgeBase) -> None:
    found = made(base, planned_year([visit(1), resting(2), visit(4)]))
    assert [(one.order, one.price is not None) for one in found.visits] == [(1, True), (2, True)]
    assert "Two visits" in found.promise
    with pytest.raises(ValueError, match="no proposal"):
        made(base, planned_year([resting(1)]))


def test_an_unknown_price_is_left_open(base: KnowledgeBase) -> None:
    plan = planned_year([visit(1), visit(4, cost_per_1000_ft2=None)])
    found = made(base, plan)
    assert (found.price, found.visits[0].price) == (None, Decimal("45.00"))
    without = proposal(base, asked_year(), plan, None, None, TODAY)
    assert (without.price, without.payment, without.currency) == (None, "", "USD")
    assert without.valid_until == TODAY + timedelta(days=30)


def test_a_weed_of_the_plan_without_an_expectation_is_still_named(base: KnowledgeBase) -> None:
    tank = visit(4).applications[0].model_copy(update={"products": (SEDGE,)})
    found = made(
        base, planned_year([visit(4, applications=(tank,), against=("yellow-nutsedge",))], control=controls(2))
    )
    (told,) = found.visits[0].purposes
    assert "yellow nutsedge" in told.what
    assert told.expect == ""
