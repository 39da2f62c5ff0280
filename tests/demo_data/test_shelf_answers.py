"""What the demo shelf answers: the ranking of its products in situations whose answer the trade knows."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.output import Recommendation
from app.engine.recommend import recommend
from app.engine.situation import Situation, WhyNotRequest
from app.engine.why_not import why_not
from knowledge.base import KnowledgeBase
from tests.demo_data.demo_shelf import demo_shelf

SHELF = demo_shelf()
COOL, WARM = "cool-humid", "warm-humid"


def situation(
    turf: str, date: str, air: float, *targets: tuple[str, str], zone: str = COOL, **changes: Any
) -> dict[str, Any]:
    """A fair day on an established, unstressed stand, with every product of the shelf at hand."""
    return {
        "date": date,
        "zone": zone,
        "site_use": "residential-lawn",
        "turf": [turf],
        "turf_condition": {"stand": "established", "green_up": "active", "stress": "none", "mowing_height_in": 3.0},
        "targets": [{"weed": weed, "stage": stage} for weed, stage in targets],
        "forecast": {
            "max_temp_f": air,
            "max_temp_next_3_days_f": air,
            "min_temp_f": air - 20,
            "soil_temp_f": air - 10,
            "rain_free_hours": 48,
            "wind_mph": 5,
            "soil_moisture": "adequate",
        },
        "catalog": "shelf",
        **changes,
    }


def ranked(base: KnowledgeBase, told: dict[str, Any]) -> Recommendation:
    return recommend(base, Situation.model_validate(told), SHELF)


DORMANT = {"stand": "established", "green_up": "dormant", "stress": "none", "mowing_height_in": 1.5}
# The first program holds one of these actives. Beside each, where it was looked up.
LEADS: dict[str, tuple[dict[str, Any], set[str]]] = {
    # Patton, Weisenberger and Liu 2020, Weed Technology 34(4): adding other auxins to triclopyr gave no better
    # control of violet than triclopyr alone. Published.
    "wild violet in tall fescue": (
        situation("tall-fescue", "2027-05-20", 74, ("wild-violet", "flowering")),
        {"triclopyr"},
    ),
    # South Dakota State University Extension, Perennial weed control in lawns and turf with fall herbicide
    # applications: a triclopyr-type entry stands first for ground ivy. Published (entry partly seen).
    "ground ivy in autumn": (
        situation("kentucky-bluegrass", "2027-10-10", 65, ("ground-ivy", "vegetative")),
        {"triclopyr"},
    ),
    # The preemergence barriers of cool-season lawns: common practice, no source.
    "crabgrass before it is up": (
        situation("kentucky-bluegrass", "2027-04-01", 60, ("smooth-crabgrass", "not-emerged")),
        {"prodiamine", "dithiopyr", "pendimethalin"},
    ),
    # Crabgrass specialists after emergence: common practice, no source.
    "crabgrass with tillers": (
        situation("tall-fescue", "2027-07-05", 82, ("smooth-crabgrass", "1-3-tiller")),
        {"quinclorac", "topramezone", "fenoxaprop-p"},
    ),
    # Sulfentrazone does the heavy lifting on yellow nutsedge, halosulfuron is the other specialist: common practice,
    # no source.
    "yellow nutsedge": (
        situation("kentucky-bluegrass", "2027-06-20", 80, ("yellow-nutsedge", "5-8-leaf")),
        {"sulfentrazone", "halosulfuron-methyl"},
    ),
    # 2,4-D carries dandelion; quinclorac, mecoprop or dicamba beside it adds clover: common practice, no source.
    "dandelion with white clover": (
        situation("kentucky-bluegrass", "2027-05-10", 74, ("dandelion", "vegetative"), ("white-clover", "vegetative")),
        {"2-4-d"},
    ),
    # Dicamba for knotweed and its kin: common practice, no source.
    "prostrate knotweed": (
        situation("tall-fescue", "2027-04-25", 66, ("prostrate-knotweed", "seedling")),
        {"dicamba"},
    ),
    # Price, Pennywort, University of Georgia urban agriculture page: metsulfuron gives good control and atrazine is
    # used early after green-up in St. Augustinegrass. Published.
    "dollarweed in St. Augustinegrass": (
        situation("st-augustinegrass", "2027-04-20", 78, ("dollarweed", "vegetative"), zone=WARM),
        {"atrazine", "metsulfuron-methyl"},
    ),
    # Winter sprays of the bermudagrass trade, sulfonylureas and glyphosate on dormant turf: common practice, no source.
    "annual bluegrass in dormant bermudagrass": (
        situation(
            "common-bermudagrass",
            "2027-01-20",
            60,
            ("annual-bluegrass", "1-3-tiller"),
            zone=WARM,
            site_use="golf-rough",
            turf_condition=DORMANT,
        ),
        {"foramsulfuron", "trifloxysulfuron", "glyphosate"},
    ),
    # Triclopyr helps on summer annuals such as spurge: common practice, no source.
    "spurge": (
        situation("tall-fescue", "2027-07-10", 82, ("prostrate-spurge", "vegetative")),
        {"triclopyr", "2-4-d", "sulfentrazone"},
    ),
    # Brewer, Cox, Rana and Askew 2015, Virginia Turfgrass Journal: topramezone handles large goosegrass, sulfentrazone
    # seedlings only. Published.
    "goosegrass in tall fescue": (
        situation("tall-fescue", "2027-07-10", 82, ("goosegrass", "1-3-tiller")),
        {"topramezone", "fenoxaprop-p"},
    ),
}


@pytest.mark.parametrize("name", LEADS)
def test_the_first_program_holds_what_the_trade_would_reach_for(base: KnowledgeBase, name: str) -> None:
    told, leads = LEADS[name]
    answer = ranked(base, told)
    first = answer.ranked[0]
    assert leads & set(first.actives), first.name
    names = {product.name for product in SHELF}
    for program in answer.ranked:
        for application in program.applications:
            assert {product.product for product in application.products} <= names


def test_wild_violet_is_treated_twice(base: KnowledgeBase) -> None:
    # One application rarely finishes it; plan two: common practice, no source.
    told, _ = LEADS["wild violet in tall fescue"]
    assert len(ranked(base, told).ranked[0].applications) == 2


@pytest.mark.parametrize("name", LEADS)
def test_each_tank_keeps_to_every_label(base: KnowledgeBase, name: str) -> None:
    told, _ = LEADS[name]
    by_name = {product.name: product for product in SHELF}
    for program in ranked(base, told).ranked:
        for application in program.applications:
            spray = "none" if application.adjuvant is None else application.adjuvant.id
            for used in application.products:
                assert used.product is not None
                label = by_name[used.product]
                uses = {said.id: said.use for said in label.adjuvants}
                required = {adjuvant for adjuvant, use in uses.items() if use == "required"}
                assert uses.get(spray) != "forbidden"
                assert not required or spray in required
                assert told["site_use"] in (label.site_uses or ())
                assert told["turf"][0] in (label.turf or ())


@pytest.mark.parametrize("name", LEADS)
def test_a_granule_goes_into_no_tank(base: KnowledgeBase, name: str) -> None:
    told, _ = LEADS[name]
    granules = {product.name for product in SHELF if product.granular}
    answer = ranked(base, {**told, "options": {"top": 50}, "carrier": {"value": 87, "unit": "gal/acre"}})
    applications = [application for program in answer.ranked for application in program.applications]
    for application in applications:
        if {product.product for product in application.products} & granules:
            assert len(application.products) == 1
            assert application.adjuvant is None
            assert application.carrier is None
        else:
            assert application.carrier is not None


def test_a_granule_is_offered_by_itself(base: KnowledgeBase) -> None:
    told, _ = LEADS["crabgrass before it is up"]
    only = [product for product in SHELF if product.name == "Larkmere Early Feed"]
    answer = recommend(base, Situation.model_validate(told), only)
    assert answer.ranked[0].applications[0].products[0].product == "Larkmere Early Feed"


def stops(base: KnowledgeBase, told: dict[str, Any], product: str, active: str) -> set[str]:
    """Codes of what stands against one product of the shelf, alone at hand."""
    request = WhyNotRequest.model_validate({"situation": told, "actives": [active]})
    answer = why_not(base, request, [item for item in SHELF if item.name == product])
    assert not answer.allowed
    return {stop.code for stop in answer.stops}


def test_a_label_that_contradicts_does_not_lift_the_stop(base: KnowledgeBase) -> None:
    clover = situation("tall-fescue", "2027-05-20", 74, ("white-clover", "vegetative"))
    assert "site-use" in stops(base, clover, "Mistlewick Thistle", "clopyralid")
    crabgrass = situation("zoysiagrass-japonica", "2027-06-20", 80, ("smooth-crabgrass", "1-3-leaf"), zone="transition")
    assert "turf-sensitive" in stops(base, crabgrass, "Linnetby Bright", "mesotrione")


def test_what_bars_a_mixture_is_told_and_not_what_an_adjuvant_would_do(base: KnowledgeBase) -> None:
    # Dicamba moves in soil to tree roots: common practice, no source. The label's ban on oil is not what bars it.
    told, _ = LEADS["wild violet in tall fescue"]
    answer = ranked(base, {**told, "surroundings": ["tree-roots"]})
    codes = {item.product: {stop.code for stop in item.stops} for item in answer.turned_down}
    assert codes["Siskinford Four"] == {"surroundings"}


@pytest.mark.parametrize(("air", "allowed"), [(75, True), (76, False)])
def test_a_stricter_label_binds(base: KnowledgeBase, air: float, allowed: bool) -> None:
    told = situation("tall-fescue", "2027-05-20", air, ("dandelion", "vegetative"), site_use="commercial-grounds")
    request = WhyNotRequest.model_validate({"situation": told, "actives": ["2-4-d"]})
    answer = why_not(base, request, [item for item in SHELF if item.name == "Tarnbeck Ester"])
    assert answer.allowed == allowed
    assert allowed or {stop.code for stop in answer.stops} == {"label-temperature"}
