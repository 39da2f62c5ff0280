"""The main job: the shape and the promises of an answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any

import pytest

from app.engine.errors import InputError
from app.engine.output import Recommendation, as_json
from app.engine.recommend import recommend
from app.engine.screening import screen
from app.engine.situation import Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase
from tests.engine.made import fact, with_active, with_tolerance
from tests.engine.reference import Listing

Make = Callable[..., Situation]
TEA = {"active": "triclopyr", "form": "triclopyr-tea", "content": {"value": 3.0, "unit": "lb ae/gal"}}
PRODUCT = {"name": "Larkmere Triad", "formulation": "SL", "actives": [TEA], "rate": {"value": 1.0, "unit": "qt/acre"}}

SITUATION = "situation headline ranked turned_down no_treatment notices sources"
RANKED = "rank id name actives groups applications control turf_injury cost score score_parts reasons cautions"
SHAPES = {
    "applications": "day date products adjuvant carrier",
    "control": "weed stage low likely high days_after basis parts sources",
    "turf_injury": "turf class likely_pct text sources",
    "reasons": "code text sources",
    "cautions": "code severity text settled_by sources",
}


def _cited(answer: Recommendation) -> set[str]:
    found: set[str] = set()

    def walk(item: object) -> None:
        if isinstance(item, dict):
            for key, value in item.items():
                if key == "sources" and isinstance(value, list):
                    found.update(value)
                else:
                    walk(value)
        elif isinstance(item, list):
            for value in item:
                walk(value)

    data = as_json(answer)
    data.pop("sources")
    walk(data)
    return found


SITUATIONS: list[dict[str, Any]] = [
    {},
    {"targets": [{"weed": "dandelion"}, {"weed": "white-clover", "priority": 3}], "forecast": {}, "turf_condition": {}},
    {"targets": [{"weed": "smooth-crabgrass", "stage": "not-emerged"}], "date": "2027-04-10"},
    {
        "targets": [{"weed": "yellow-nutsedge"}, {"weed": "virginia-buttonweed"}],
        "turf": ["common-bermudagrass"],
        "zone": "warm-humid",
        "date": "2027-07-01",
        "surroundings": ["tree-roots"],
        "forecast": {"max_temp_f": 93, "max_temp_next_3_days_f": 95, "soil_moisture": "dry"},
    },
]


@pytest.fixture(params=range(len(SITUATIONS)), scope="module")
def told(request: pytest.FixtureRequest) -> Situation:
    from tests.conftest import plain

    return Situation.model_validate(plain(**SITUATIONS[request.param]))


@pytest.fixture(scope="module")
def answer(base: KnowledgeBase, told: Situation) -> Recommendation:
    return recommend(base, told)


def test_the_shape_is_the_agreed_one(answer: Recommendation) -> None:
    data = as_json(answer)
    assert set(SITUATION.split()) <= set(data)
    assert data["ranked"]
    for program in data["ranked"]:
        assert set(RANKED.split()) <= set(program)
        for key, wanted in SHAPES.items():
            assert all(set(wanted.split()) <= set(item) for item in program[key])
        for application in program["applications"]:
            for product in application["products"]:
                assert {"product", "actives", "rate"} <= set(product)
                assert all({"active", "form", "rate"} <= set(active) for active in product["actives"])
        for control in program["control"]:
            assert all({"active", "likely", "sources"} <= set(part) for part in control["parts"])
        assert {"per_1000_ft2", "per_acre", "currency"} <= set(program["cost"])
        assert list(program["score_parts"]) == ["control", "turf_safety", "resistance", "cost", "passes", "off_target"]
    for item in data["turned_down"]:
        assert item["actives"]
        assert item["stops"]
        assert all({"code", "text", "sources"} <= set(stop) for stop in item["stops"])


def test_the_situation_comes_back_as_it_was_told(answer: Recommendation, told: Situation) -> None:
    shown = as_json(answer)["situation"]
    derived = shown.pop("derived")
    assert Situation.model_validate(shown) == told
    assert {"season", "targets", "green_up", "unknowns"} <= set(derived)
    assert [target["weed"] for target in derived["targets"]] == [target.weed for target in told.targets]


def test_every_source_cited_is_listed_and_none_besides(answer: Recommendation) -> None:
    assert _cited(answer) == set(answer.sources)


def test_ranks_count_up_and_scores_sink(answer: Recommendation) -> None:
    assert [p.rank for p in answer.ranked] == list(range(1, len(answer.ranked) + 1))
    # Each of six parts is shown at two decimals, so neighbours may differ by their rounding.
    assert all(a.score >= b.score - 0.06 for a, b in pairwise(answer.ranked))
    for program in answer.ranked:
        assert program.score == pytest.approx(sum(program.score_parts.values()), abs=1e-9)


def test_figures_lie_in_their_bounds(answer: Recommendation) -> None:
    for program in answer.ranked:
        assert 0 <= program.score <= 100
        for control in program.control:
            if control.likely is not None:
                assert control.low is not None
                assert control.high is not None
                assert 0 <= control.low <= control.likely <= control.high <= 100
        for injury in program.turf_injury:
            assert injury.likely_pct is None or 0 <= injury.likely_pct <= 100
            assert injury.tolerance in ("T", "I")


def test_programs_are_all_different(answer: Recommendation) -> None:
    assert len({program.id for program in answer.ranked}) == len(answer.ranked)
    assert len({frozenset(program.actives) for program in answer.ranked}) == len(answer.ranked)


def test_each_program_says_why_it_stands_above_the_next(answer: Recommendation) -> None:
    for program, below in pairwise(answer.ranked):
        said = {reason.code: reason.text for reason in program.reasons}
        assert {"above-next", "would-change", "lead-active", "mechanisms"} <= set(said)
        assert below.name in said["above-next"]
        assert below.name in said["would-change"]


def test_the_ranked_obey_the_options(base: KnowledgeBase, situation: Make) -> None:
    for top in (1, 7):
        answer = recommend(base, situation(options={"top": top, "max_applications": 1, "adjuvants": False}))
        assert len(answer.ranked) == top
        assert all(len(program.applications) == 1 for program in answer.ranked)
        assert all(a.adjuvant is None for program in answer.ranked for a in program.applications)


def test_a_longer_list_begins_with_the_shorter_one(base: KnowledgeBase, situation: Make) -> None:
    short, long = (recommend(base, situation(options={"top": top})).ranked for top in (3, 12))
    assert [program.id for program in long[:3]] == [program.id for program in short]


def test_near_duplicates_fold(base: KnowledgeBase, situation: Make) -> None:
    answer = recommend(base, situation(options={"top": 10}))
    assert answer.ranked[0].folded
    for program in answer.ranked:
        shown = [program.name, *(folded.name for folded in program.folded)]
        assert len(set(shown)) == len(shown) or any("(" in name for name in shown)
        assert all(folded.score <= program.score + 0.06 for folded in program.folded)


def test_turned_down_actives_are_in_no_program(base: KnowledgeBase, told: Situation) -> None:
    options = told.options.model_copy(update={"top": 50})
    answer = recommend(base, told.model_copy(update={"options": options}))
    ranked = {active for program in answer.ranked for active in program.actives}
    down = {active for item in answer.turned_down for active in item.actives}
    assert down
    assert not ranked & down


def test_every_active_that_does_something_passes_or_is_turned_down(base: KnowledgeBase, told: Situation) -> None:
    understood = understand(told, base)
    screened = screen(base, understood)
    passing = frozenset().union(*(screened.actives_of(place) for place in range(len(screened.programs))))
    down = {active for item in recommend(base, told).turned_down for active in item.actives}
    listing = Listing(base, understood, 0.0, 0.0)
    floor = base.parameter("activity-floor")
    doing = {dose.active.id for dose in listing.doses if listing.activity(dose) >= floor}
    assert doing
    assert doing - (passing | down) == set()
    assert not passing & down


@pytest.mark.parametrize(
    ("facts", "record", "changes", "code"),
    [
        ({}, {"class": "S"}, {}, "turf-sensitive"),
        ({}, {"class": "unknown"}, {}, "turf-unknown"),
        ({}, {"stress_barred": ["none"]}, {}, "turf-condition"),
        ({"seedling": []}, {}, {"turf_condition": {"stand": "seedling"}}, "seedling-turf"),
        ({"seeding_interval": []}, {}, {"turf_condition": {"seeding_planned": "2027-09-01"}}, "seeding-interval"),
        ({}, {"max_air_f": 70}, {}, "temperature"),
        ({"sites_barred": [fact(site_uses=["residential-lawn"], text="Label.")]}, {}, {}, "site-use"),
        ({"limits": [fact(annual_max="0.1 lb ae/acre")]}, {}, {}, "annual-rate"),
        ({"limits": [fact(single_max="0.1 lb ae/acre")]}, {}, {}, "single-rate"),
        ({"adjuvants": [fact(id="uan", use="required")]}, {}, {}, "adjuvant-required"),
        (
            {"surroundings": [fact(id="slope", outcome="stop", text="No.")]},
            {},
            {"surroundings": ["slope"]},
            "surroundings",
        ),
        ({}, {}, {"local_rules": [{"kind": "ban-active", "active": "triclopyr"}]}, "local-rule"),
    ],
)
def test_an_active_is_turned_down_with_its_stop(
    base: KnowledgeBase,
    situation: Make,
    facts: dict[str, Any],
    record: dict[str, Any],
    changes: dict[str, Any],
    code: str,
) -> None:
    made = with_tolerance(with_active(base, "triclopyr", **facts), record, key="triclopyr")
    (item,) = [i for i in recommend(made, situation(**changes)).turned_down if i.actives == ("triclopyr",)]
    assert code in {stop.code for stop in item.stops}
    assert item.name == "triclopyr"


def test_the_headline_says_what_how_much_and_how_often(answer: Recommendation) -> None:
    first = answer.ranked[0]
    for target in answer.situation.derived.targets:
        assert target.name.lower() in answer.headline.lower()
    assert first.applications[0].products[0].actives[0].name in answer.headline
    assert "/acre" in answer.headline
    assert ("twice" in answer.headline or "days later" in answer.headline) == (len(first.applications) == 2)
    assert f"{first.control[0].likely:.0f} %" in answer.headline


def test_dates_of_applications_follow_the_situation(answer: Recommendation, told: Situation) -> None:
    for program in answer.ranked:
        for application in program.applications:
            assert (application.date - told.date).days == application.day
        days = [application.day for application in program.applications]
        assert days[0] == 0
        assert days == sorted(set(days))


def test_priorities_move_the_parts(base: KnowledgeBase, situation: Make) -> None:
    alone = {"control": 1, "turf_safety": 0, "resistance": 0, "cost": 0, "passes": 0, "off_target": 0}
    answer = recommend(base, situation(priorities=alone))
    assert answer.ranked[0].score_parts["cost"] == 0
    assert answer.ranked[0].score == pytest.approx(answer.ranked[0].score_parts["control"])


def test_products_given_inline_are_ranked(base: KnowledgeBase, situation: Make) -> None:
    answer = recommend(base, situation(catalog=[PRODUCT]))
    rate = answer.ranked[0].applications[0].products[0].actives[0].rate
    assert (rate.value, rate.unit) == (0.75, "lb ae/acre")
    assert {active for p in answer.ranked for active in p.actives} == {"triclopyr"}


def test_a_product_given_inline_is_named_with_its_rate(base: KnowledgeBase, situation: Make) -> None:
    (shown,) = recommend(base, situation(catalog=[PRODUCT])).ranked[0].applications[0].products
    assert shown.product == "Larkmere Triad"
    assert shown.rate is not None
    assert (shown.rate.value, shown.rate.unit) == (1.0, "qt/acre")


def test_a_product_with_a_weak_part_is_ranked_or_turned_down(base: KnowledgeBase, situation: Make) -> None:
    """2,4-D does little on wild violet; the product that also holds it is still one product."""
    weak = {"active": "2-4-d", "form": "2-4-d-dma", "content": {"value": 1.0, "unit": "lb ae/gal"}}
    answer = recommend(base, situation(catalog=[{**PRODUCT, "actives": [TEA, weak]}]))
    ranked = {frozenset(program.actives) for program in answer.ranked}
    assert ranked == {frozenset({"triclopyr", "2-4-d"})}


def test_a_shelf_that_is_not_there_is_said(base: KnowledgeBase, situation: Make) -> None:
    with pytest.raises(InputError, match="catalog"):
        recommend(base, situation(catalog="shelf"))


def test_a_resisting_population_is_told(base: KnowledgeBase, situation: Make) -> None:
    target = {"weed": "buckhorn-plantain", "stage": "vegetative", "resistant_to": ["2-4-d"]}
    answer = recommend(base, situation(targets=[target], options={"top": 20}))
    parts = [part for p in answer.ranked for part in p.control[0].parts if part.active == "2-4-d"]
    assert parts
    assert all(part.likely == 0 for part in parts)


def test_a_whole_group_can_be_resisted(base: KnowledgeBase, situation: Make) -> None:
    target = {"weed": "dandelion", "stage": "vegetative", "resistant_to": ["4"]}
    answer = recommend(base, situation(targets=[target], options={"top": 20}))
    assert answer.ranked
    assert all(set(p.groups) != {4} for p in answer.ranked)


@pytest.mark.parametrize(
    ("absent", "field"),
    [
        ({"forecast": {"max_temp_next_3_days_f": 75, "rain_free_hours": 48, "wind_mph": 5}}, "forecast.max_temp_f"),
        ({"forecast": {"max_temp_f": 72, "rain_free_hours": 48, "wind_mph": 5}}, "forecast.max_temp_next_3_days_f"),
        ({"forecast": {"max_temp_f": 72, "max_temp_next_3_days_f": 75, "wind_mph": 5}}, "forecast.rain_free_hours"),
        ({"forecast": {"max_temp_f": 72, "max_temp_next_3_days_f": 75, "rain_free_hours": 48}}, "forecast.wind_mph"),
        ({"turf_condition": {"green_up": "active", "stress": "none", "mowing_height_in": 3}}, "turf_condition.stand"),
        ({"turf_condition": {"stand": "established", "mowing_height_in": 3}}, "turf_condition.stress"),
        ({"targets": [{"weed": "wild-violet"}]}, "targets.0.stage"),
        ({}, "surroundings"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_fact_that_is_not_told_and_would_matter_is_asked_for(
    base: KnowledgeBase, situation: Make, absent: dict[str, Any], field: str
) -> None:
    """Each of these, told badly, holds the spray, stops an active, shifts control or asks for care."""
    answer = recommend(base, situation(**absent))
    asked = {caution.settled_by for caution in answer.cautions}
    asked |= {caution.settled_by for program in answer.ranked for caution in program.cautions}
    assert field in asked


def test_every_caution_that_is_settled_names_a_field_of_the_situation(answer: Recommendation, told: Situation) -> None:
    data = told.model_dump()
    fields = [c.settled_by for c in answer.cautions] + [c.settled_by for p in answer.ranked for c in p.cautions]
    for field in filter(None, fields):
        here: Any = data
        for part in field.split("."):
            here = here[int(part)] if isinstance(here, list | tuple) else here[part]
        assert here in (None, (), [])


def test_the_gravest_caution_stands_first(answer: Recommendation) -> None:
    order = ["warning", "caution", "info"]
    for cautions in (answer.cautions, *(program.cautions for program in answer.ranked)):
        places = [order.index(caution.severity) for caution in cautions]
        assert places == sorted(places)
        assert len({(c.code, c.text) for c in cautions}) == len(cautions)


def test_notices_stand_on_every_answer(answer: Recommendation) -> None:
    text = " ".join(answer.notices).lower()
    for word in ("label is the law", "local codes", "protective equipment", "drift", "water", "bees", "dried"):
        assert word in text or (word == "drift" and "wind" in text)


def _texts(item: object) -> Iterator[str]:
    if isinstance(item, dict):
        for value in item.values():
            yield from _texts(value)
    elif isinstance(item, list):
        for value in item:
            yield from _texts(value)
    elif isinstance(item, str):
        yield item


def test_no_sentence_is_left_unfilled(answer: Recommendation) -> None:
    for text in _texts(as_json(answer)):
        assert "{" not in text
        assert "None" not in text
        assert "nan" not in text.split()
