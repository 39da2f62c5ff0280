"""Emergence: what is reached, what is ahead, what is unknown; nothing beyond the days that are told."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.engine.errors import InputError
from app.season.emergence import EmergenceEvent, EmergenceForecast, emergence
from app.season.forecast import Day
from app.services.knowledge_service import knowledge_base
from knowledge.base import KnowledgeBase

NEW_YEAR = date(2027, 1, 1)


def days(start: date, count: int, mean: float | None = 60, soil: float | None = None) -> list[Day]:
    return [
        Day(
            date=start + timedelta(days=n),
            min_f=None if mean is None else mean - 10,
            max_f=None if mean is None else mean + 10,
            soil_temp_f=soil,
        )
        for n in range(count)
    ]


def event_of(found: EmergenceForecast, kind: str, event: str, base_f: float | None = None) -> EmergenceEvent:
    (one,) = (
        e for w in found.weeds for e in w.events if (e.kind, e.event) == (kind, event) and base_f in (None, e.base_f)
    )
    return one


def crab(base: KnowledgeBase, daily: list[Day], today: date | None = None) -> EmergenceEvent:
    """The first seedlings of smooth crabgrass by air degree-days above 50 F from 1 January."""
    return event_of(emergence(base, daily, ["smooth-crabgrass"], today=today), "air-degree-days", "first")


def test_what_lies_behind_is_past(base: KnowledgeBase) -> None:
    found = crab(base, days(NEW_YEAR, 30), date(2027, 1, 20))
    # 10 degree-days a day: 70 with the 7th day, 140 with the 14th.
    assert (found.status, found.earliest, found.latest) == ("past", date(2027, 1, 7), date(2027, 1, 14))
    assert found.text == (
        "First seedlings (70 to 140 degree-days of air above 50 F from 1 January; 39 to 78 above 10 C): reached "
        "between 7 January and 14 January."
    )


@pytest.mark.parametrize(
    ("today", "status"),
    [(6, "ahead"), (7, "under-way"), (13, "under-way"), (14, "past")],
)
def test_the_day_of_asking_parts_past_from_ahead(base: KnowledgeBase, today: int, status: str) -> None:
    assert crab(base, days(NEW_YEAR, 30), date(2027, 1, today)).status == status


def test_nothing_is_reckoned_beyond_the_last_day(base: KnowledgeBase) -> None:
    short = crab(base, days(NEW_YEAR, 6))
    assert (short.status, short.earliest, short.latest, short.so_far) == ("not-reached", None, None, 60)
    assert "not reached by 6 January; so far 60 of 70 to 140 degree-days." in short.text
    part = crab(base, days(NEW_YEAR, 10))
    assert (part.status, part.earliest, part.latest) == ("under-way", date(2027, 1, 7), None)
    assert "begun on 7 January, the upper figure not reached by 10 January; so far 100 of" in part.text


def test_a_sum_that_lacks_its_start_is_unknown(base: KnowledgeBase) -> None:
    late = crab(base, days(date(2027, 3, 10), 60))
    assert (late.status, late.missing, late.so_far) == ("unknown", "daily", None)
    assert "the sum runs from 1 January 2027, and no air temperatures are told" in late.text


def test_a_missing_day_ends_a_sum(base: KnowledgeBase) -> None:
    daily = [day for day in days(NEW_YEAR, 30) if day.date != date(2027, 1, 5)]
    found = crab(base, daily)
    assert (found.status, found.missing, found.so_far) == ("unknown", "daily", 40)
    assert "no air temperatures are told for 5 January 2027; so far 40" in found.text
    late = crab(base, [day for day in days(NEW_YEAR, 30) if day.date != date(2027, 1, 10)])
    assert (late.status, late.earliest, late.latest, late.missing) == ("under-way", date(2027, 1, 7), None, "daily")


def test_air_is_never_taken_for_soil(base: KnowledgeBase) -> None:
    found = emergence(base, days(NEW_YEAR, 150, mean=90))
    for weed in found.weeds:
        for event in weed.events:
            if event.kind == "air-degree-days":
                assert event.status == "past"
                continue
            assert (event.status, event.missing) == ("unknown", "daily.soil_temp_f")
            assert "no soil temperature is told, and air is not taken for soil" in event.text


def test_soil_counts_once_it_held_for_three_days(base: KnowledgeBase) -> None:
    """Three nights running above 50 F: the preemergence active should be down (Kent County extension 2009, seen)."""
    daily = days(date(2027, 4, 1), 4, soil=45) + days(date(2027, 4, 5), 2, soil=52) + days(date(2027, 4, 7), 1, soil=48)
    daily += days(date(2027, 4, 8), 6, soil=52)
    found = emergence(base, daily, ["smooth-crabgrass"])
    first = next(e for e in found.weeds[0].events if e.event == "treat-before" and e.low == e.high == 50)
    assert (first.earliest, first.status, first.at_start) == (date(2027, 4, 10), "past", False)


def test_readings_that_begin_warm_say_so(base: KnowledgeBase) -> None:
    found = emergence(base, days(date(2027, 5, 1), 10, soil=70), ["yellow-woodsorrel"])
    event = event_of(found, "soil-temperature", "first")
    assert event.at_start
    assert "3 May or earlier, since the soil was as warm when the readings began" in event.text


def test_a_falling_threshold_waits_for_the_soil_to_cool(base: KnowledgeBase) -> None:
    """Annual bluegrass germinates once soil drops below 70 F (University of Georgia extension, seen)."""
    warm, cool = days(date(2027, 8, 1), 40, soil=78), days(date(2027, 9, 10), 20, soil=66)
    found = emergence(base, warm + cool, ["annual-bluegrass"])
    event = event_of(found, "soil-temperature", "first")
    assert (event.earliest, event.status) == (date(2027, 9, 12), "past")
    assert event_of(emergence(base, warm, ["annual-bluegrass"]), "soil-temperature", "first").status == "not-reached"
    spring = event_of(emergence(base, days(date(2027, 3, 1), 20, soil=50), ["annual-bluegrass"]), *_FIRST_SOIL)
    assert (spring.status, spring.missing) == ("unknown", "daily.soil_temp_f")


_FIRST_SOIL = ("soil-temperature", "first")


def test_the_depth_of_readings_is_held_against_the_figure(base: KnowledgeBase) -> None:
    daily = days(date(2027, 4, 1), 30, soil=60)
    text = {
        depth: event_of(
            emergence(base, daily, ["goosegrass"], soil_depth_in=depth), "soil-temperature", "first"
        ).text
        for depth in (None, 0.5, 4.0)
    }  # fmt: skip
    assert "the depth of your soil readings is not told" in text[None]
    assert "your soil readings" not in text[0.5]
    assert "your soil readings are from 4 inches (10.2 cm)" in text[4.0]


def test_a_weed_without_figures_has_the_calendar_alone(base: KnowledgeBase) -> None:
    (weed,) = emergence(base, days(NEW_YEAR, 3), ["dandelion"], "cool-humid").weeds
    assert weed.events == ()
    assert weed.text == (
        "Dandelion: no figure of its emergence is recorded. By the calendar of the zone seedlings are usually seen "
        "25 May to 30 June."
    )


def test_every_weed_has_its_sentence_and_sources(base: KnowledgeBase) -> None:
    found = emergence(base, days(NEW_YEAR, 360, soil=60), zone="transition")
    assert {weed.weed for weed in found.weeds} == {key for key, weed in base.weeds.items() if weed.emergence}
    for weed in found.weeds:
        assert weed.text.startswith(weed.name[0].upper())
        for event in weed.events:
            assert event.sources
            assert set(event.sources) <= set(found.sources)


@given(
    soil=st.lists(st.floats(20, 100), min_size=1, max_size=60),
    cooler=st.floats(0, 30),
    start=st.dates(date(2027, 1, 1), date(2027, 10, 1)),
)
def test_more_heat_never_puts_an_event_off(soil: list[float], cooler: float, start: date) -> None:
    base = knowledge_base()
    weeds = ["smooth-crabgrass", "yellow-nutsedge", "redroot-pigweed", "spotted-spurge"]

    def reckoned(less: float) -> list[EmergenceEvent]:
        daily = [
            Day(date=start + timedelta(days=n), min_f=t - less, max_f=t - less + 15, soil_temp_f=max(t - less, -20))
            for n, t in enumerate(soil)
        ]
        return [event for weed in emergence(base, daily, weeds).weeds for event in weed.events]

    for warm, cool in zip(reckoned(0), reckoned(cooler), strict=True):
        if cool.earliest is not None:
            assert warm.earliest is not None
            assert warm.earliest <= cool.earliest
        assert warm.earliest is None or warm.latest is None or warm.earliest <= warm.latest


@pytest.mark.parametrize(
    ("daily", "weeds", "zone", "said"),
    [
        ([], (), None, r"^daily: must name at least one day"),
        (days(NEW_YEAR, 2)[::-1], (), None, r"^daily\.1\.date: 2027-01-01 comes before the day above it"),
        (days(NEW_YEAR, 1) * 2, (), None, r"^daily\.1\.date: 2027-01-01 is told twice"),
        (days(NEW_YEAR, 2), ("crabgras",), None, r"^weeds\.0: 'crabgras' is no known weed; nearest"),
        (days(NEW_YEAR, 2), ("henbit", "henbit"), None, r"^weeds\.1: 'henbit' is named twice"),
        (days(NEW_YEAR, 2), (), "north", r"^zone: 'north' is no known zone"),
    ],
)
def test_bad_input_is_said(
    base: KnowledgeBase, daily: list[Day], weeds: tuple[str, ...], zone: str | None, said: str
) -> None:
    with pytest.raises(InputError, match=said):
        emergence(base, daily, weeds, zone)
