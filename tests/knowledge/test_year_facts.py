"""Facts of the year: what is refused, and what they amount to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from knowledge.base import KnowledgeBase
from knowledge.checks import check
from knowledge.loader import load
from knowledge.models import ZONES, Climate

Breaks = Callable[[KnowledgeBase], KnowledgeBase]


@pytest.fixture(scope="module")
def few(few_facts: Path) -> KnowledgeBase:
    """Few weeds are enough to break a record, and quicker to check."""
    return load(few_facts)


def mechanism(base: KnowledgeBase, key: str, **changes: Any) -> KnowledgeBase:
    return replace(base, mechanisms={**base.mechanisms, key: base.mechanisms[key].model_copy(update=changes)})


def january(base: KnowledgeBase, low: float, high: float) -> KnowledgeBase:
    zone = base.climate["transition"]
    told = zone.model_copy(update={"max_f": ((low, high), *zone.max_f[1:])})
    return replace(base, climate={**base.climate, "transition": told})


def likely(base: KnowledgeBase, key: str, **changes: Any) -> KnowledgeBase:
    return replace(base, likely={**base.likely, key: base.likely[key].model_copy(update=changes)})


def first_likely(base: KnowledgeBase, weed: str) -> KnowledgeBase:
    """The first weed of the golf turf exchanged for another."""
    first, *rest = base.likely["golf-cool-season"].weeds
    return likely(base, "golf-cool-season", weeds=(first.model_copy(update={"weed": weed}), *rest))


def silent_in(base: KnowledgeBase, key: str, zone: str) -> KnowledgeBase:
    """A weed whose calendar does not speak of a zone."""
    weed = base.weeds[key]
    kept = tuple(window for window in weed.calendar if zone not in window.zones)
    return replace(base, weeds={**base.weeds, key: weed.model_copy(update={"calendar": kept})})


def without(base: KnowledgeBase, kind: str, key: str) -> KnowledgeBase:
    return replace(base, **{kind: {name: item for name, item in getattr(base, kind).items() if name != key}})


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        (lambda base: without(base, "climate", "warm-arid"), "nothing of the zone 'warm-arid'"),
        (lambda base: january(base, 50, 40), "month 1 must rise from low to high"),
        (lambda base: january(base, 40, 450), "month 1 must rise from low to high"),
        (lambda base: without(base, "mechanisms", "14"), "nothing of group 14"),
        (lambda base: mechanism(base, "3", alternate_weeds=("goosegras",)), "'goosegras' is no weed"),
        (lambda base: mechanism(base, "3", alternate_years=False), "says nothing while alternate_years is false"),
        (lambda base: mechanism(base, "0", alternate_years=True), "rotate with each other"),
        (
            lambda base: replace(base, mechanisms={**base.mechanisms, "12": base.mechanisms["14"]}),
            "no active belongs to this group",
        ),
        (lambda base: first_likely(base, "goosegras"), "'goosegras' is no weed"),
        (lambda base: first_likely(base, "goosegrass"), "stands twice"),
        (lambda base: silent_in(base, "annual-bluegrass", "warm-arid"), "tells nothing of the zone 'warm-arid'"),
        (lambda base: without(base, "likely", "warm-arid-warm-season"), "nothing is told of"),
        (
            lambda base: likely(base, "golf-cool-season", site_uses=()),
            "cool-humid-cool-season and golf-cool-season tell alike of",
        ),
    ],
)
def test_a_broken_record_is_found(few: KnowledgeBase, broken: Breaks, said: str) -> None:
    assert check(few) == []
    assert any(said in problem.message for problem in check(broken(few)))


def test_a_year_has_twelve_months(base: KnowledgeBase) -> None:
    told = base.climate["transition"].model_dump(mode="json")
    with pytest.raises(ValidationError, match="at least 12 items"):
        Climate.model_validate({**told, "max_f": told["max_f"][:11]})


@pytest.mark.parametrize("zone", ZONES)
def test_a_zone_warms_to_midsummer_and_cools_from_it(base: KnowledgeBase, zone: str) -> None:
    """The warmest month of a place in the country is July or August (common practice, no source)."""
    for end in (0, 1):
        course = [base.usual_max_f(zone, month)[end] for month in range(1, 13)]
        peak = course.index(max(course))
        assert peak in (6, 7)
        assert course[: peak + 1] == sorted(course[: peak + 1])
        assert course[peak:] == sorted(course[peak:], reverse=True)


@pytest.mark.parametrize(
    ("zone", "month", "place"),
    [
        # Mean daily maxima of places in these zones, from memory: Minneapolis, Boston, Seattle; Denver, Boise;
        # Kansas City, Richmond; Atlanta, Orlando; El Paso, Phoenix.
        *(("cool-humid", 1, 24), ("cool-humid", 7, 82), ("cool-humid", 12, 47)),
        *(("cool-arid", 7, 90), ("cool-arid", 1, 38)),
        *(("transition", 7, 89), ("transition", 1, 48)),
        *(("warm-humid", 7, 90), ("warm-humid", 1, 72)),
        *(("warm-arid", 6, 96), ("warm-arid", 7, 106)),
    ],
)
def test_a_known_place_lies_in_its_zone(base: KnowledgeBase, zone: str, month: int, place: float) -> None:
    low, high = base.usual_max_f(zone, month)
    assert low <= place <= high


def test_usual_programs_stay_possible(base: KnowledgeBase) -> None:
    """A split spring barrier of one mechanism, and auxins in spring and autumn (common practice, no source)."""
    barrier, auxin = base.mechanisms["3"], base.mechanisms["4"]
    assert barrier.in_a_row
    assert barrier.most_visits == 2
    assert auxin.in_a_row
    assert auxin.most_visits > barrier.most_visits


def test_where_resistance_is_quick_no_mechanism_stands_alone_twice(base: KnowledgeBase) -> None:
    """The working rule of extension: never one group alone twice running (common practice, no source)."""
    for key, use in base.mechanisms.items():
        if use.risk == "high":
            assert not use.in_a_row, key
            assert use.alternate_years, key
    assert {key for key, use in base.mechanisms.items() if use.risk == "high"} == {"1", "2", "5", "9"}


def test_documented_cases_are_those_published(base: KnowledgeBase) -> None:
    """Published cases in turf: Brosnan and others 2020, Breeden and others 2017, Derr 2002, Patton and others 2018,
    Head 2018, Barua and others 2020."""
    published = {
        (key, found.weed)
        for key, use in base.mechanisms.items()
        for found in use.documented
        if found.basis == "published"
    }
    assert published == {
        *(("1", "smooth-crabgrass"), ("1", "annual-bluegrass"), ("2", "annual-bluegrass")),
        *(("3", "annual-bluegrass"), ("3", "goosegrass"), ("4", "buckhorn-plantain"), ("4", "smooth-crabgrass")),
        *(("5", "annual-bluegrass"), ("9", "annual-bluegrass"), ("14", "goosegrass")),
    }


@pytest.mark.parametrize(
    ("group", "weed", "asked"),
    [
        ("3", "annual-bluegrass", True),
        ("3", "smooth-crabgrass", False),
        ("2", "yellow-nutsedge", True),
        ("2", "dandelion", True),
        ("4", "dandelion", False),
    ],
)
def test_another_year_asks_for_another_mechanism(base: KnowledgeBase, group: str, weed: str, asked: bool) -> None:
    assert base.must_alternate(group, weed) is asked


def test_parameters_of_the_year_agree_with_each_other(base: KnowledgeBase) -> None:
    """Weights rise with pressure; a repeat on weeds comes after four weeks (common practice, no source)."""
    low, moderate, high = (base.parameter(f"year-pressure-{name}") for name in ("low", "moderate", "high"))
    assert 0 < low < moderate < high
    assert base.parameter("year-visit-gap") == 28
    for share in ("summer-share", "late-flush", "carry-over"):
        assert 0 < base.parameter(f"year-{share}") < 1


SEASONS = ("cool-season", "warm-season")


@pytest.mark.parametrize("zone", ZONES)
def test_every_turf_has_its_likely_weeds(base: KnowledgeBase, zone: str) -> None:
    for turf in (*SEASONS, *base.turf):
        for site in base.sites:
            told = base.likely_weeds(zone, turf, site)
            assert 6 <= len(told) <= 12, (turf, site)
            assert [item.pressure for item in told] == sorted(
                (item.pressure for item in told), key=("high", "moderate", "low").index
            )
            for item in told:
                assert turf not in base.weeds[item.weed].same_species_turf
                assert item.sources


def test_bermudagrass_is_a_weed_of_other_turf_alone(base: KnowledgeBase) -> None:
    def named(turf: str, zone: str) -> set[str]:
        return {item.weed for item in base.likely_weeds(zone, turf, "residential-lawn")}

    assert "bermudagrass-weed" in named("tall-fescue", "warm-humid")
    assert "bermudagrass-weed" in named("st-augustinegrass", "warm-humid")
    assert "bermudagrass-weed" not in named("common-bermudagrass", "warm-humid")
    assert "tall-fescue-weed" not in named("tall-fescue", "cool-humid")


@pytest.mark.parametrize(
    ("zone", "turf", "site", "weed"),
    [
        # Northern lawns are planned against crabgrass, dandelion, clover and ground ivy, southern ones against
        # crabgrass and annual bluegrass (common practice, no source).
        ("cool-humid", "kentucky-bluegrass", "residential-lawn", "smooth-crabgrass"),
        ("cool-humid", "kentucky-bluegrass", "residential-lawn", "ground-ivy"),
        ("cool-humid", "kentucky-bluegrass", "residential-lawn", "white-clover"),
        ("warm-humid", "common-bermudagrass", "residential-lawn", "annual-bluegrass"),
        # Large crabgrass and goosegrass for lawns of North Carolina (NC State Extension, lawn calendars).
        ("warm-humid", "common-bermudagrass", "residential-lawn", "large-crabgrass"),
        ("warm-humid", "common-bermudagrass", "residential-lawn", "goosegrass"),
        # Dandelion, spurge and crabgrass in the calendar of the Nebraska Panhandle (University of Nebraska).
        ("cool-arid", "kentucky-bluegrass", "residential-lawn", "dandelion"),
        ("cool-arid", "kentucky-bluegrass", "residential-lawn", "spotted-spurge"),
        # Summer grasses before mid-March in the low desert, and spurge (USGA Green Section 2014).
        ("warm-arid", "common-bermudagrass", "golf-rough", "southern-crabgrass"),
        ("warm-arid", "common-bermudagrass", "golf-rough", "spotted-spurge"),
        # Annual bluegrass and goosegrass stand first among the weeds of golf turf (Brosnan and others 2020).
        ("transition", "creeping-bentgrass", "golf-green", "annual-bluegrass"),
        ("transition", "hybrid-bermudagrass", "golf-fairway", "goosegrass"),
    ],
)
def test_known_weeds_of_a_place_are_among_them(base: KnowledgeBase, zone: str, turf: str, site: str, weed: str) -> None:
    assert weed in {item.weed for item in base.likely_weeds(zone, turf, site)}
