"""From a scouted stage to a date: every weed can be aged, nothing goes backwards, bad input is said plainly."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.engine.errors import InputError
from app.season.ageing import Aged, aged
from app.season.course import courses
from app.services.knowledge_service import knowledge_base
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM, ZONES

JUNE_21 = date(2027, 6, 21)
BY_WARMTH = ("smooth-crabgrass", "goosegrass", "green-foxtail", "barnyardgrass", "annual-bluegrass")
CRABGRASS = ("1-3-leaf", "4-5-leaf", "1-3-tiller", "multi-tiller", "heading", "mature")


def days(start: date, count: int, low: float, high: float) -> list[tuple[date, float, float]]:
    return [(start + timedelta(days=n), low, high) for n in range(count)]


def crab(base: KnowledgeBase, after: int, low: float = 62, high: float = 80, told: int = 90) -> Aged:
    on = JUNE_21 + timedelta(days=after)
    return aged(base, "smooth-crabgrass", "1-3-leaf", JUNE_21, on, "cool-humid", days(JUNE_21, told, low, high))


@pytest.mark.parametrize("zone", ZONES)
def test_every_weed_at_every_stage_can_be_aged(base: KnowledgeBase, zone: str) -> None:
    for weed in base.weeds.values():
        stages = STAGES_BY_LIFE_FORM[weed.life_form]
        windows = [w for w in weed.calendar if zone in w.zones]
        for stage in stages:
            own = [date.fromisoformat(f"2027-{w.start}") for w in windows if w.stage == stage]
            for scouted in {date(2027, 5, 10), *own}:
                for after in (0, 1, 14, 60):
                    found = aged(base, weed.id, stage, scouted, scouted + timedelta(days=after), zone)
                    place = (weed.id, stage, scouted, after)
                    assert set(found.stages) <= set(stages), place
                    assert found.stage in found.stages, place
                    assert (found.earliest, found.latest) == (found.stages[0], found.stages[-1]), place
                    assert len(set(found.stages)) == len(found.stages), place
                    assert found.text.endswith("."), place
                    assert found.sources, place


def test_a_note_of_the_calendar_s_own_days_is_aged_by_it(base: KnowledgeBase) -> None:
    """A note inside the window of its stage agrees with the calendar, whatever the weed."""
    for weed in base.weeds.values():
        for window in weed.calendar:
            zone = window.zones[0]
            start = date.fromisoformat(f"2027-{window.start}") + timedelta(days=3)
            found = aged(base, weed.id, window.stage, start, start + timedelta(days=1), zone)
            assert found.by == "calendar", (weed.id, window)


@given(
    data=st.data(),
    zone=st.sampled_from(ZONES),
    weed_id=st.sampled_from(("smooth-crabgrass", "henbit", "common-purslane", "annual-sedge", "annual-bluegrass")),
    day=st.dates(date(2027, 1, 1), date(2027, 12, 31)),
    first=st.integers(0, 170),
    more=st.integers(0, 10),
)
def test_a_later_date_never_gives_an_earlier_stage(
    data: st.DataObject, zone: str, weed_id: str, day: date, first: int, more: int
) -> None:
    base = knowledge_base()
    weed = base.weeds[weed_id]
    stage = data.draw(st.sampled_from(STAGES_BY_LIFE_FORM[weed.life_form]))
    told = data.draw(st.integers(0, 60))
    daily = days(day, told, 55, 75)
    ways = courses(weed, zone, stage, day, 42)
    order = list(dict.fromkeys(step.stage for step in ways[0].steps)) if ways else STAGES_BY_LIFE_FORM[weed.life_form]
    sooner = aged(base, weed_id, stage, day, day + timedelta(days=first), zone, daily)
    later = aged(base, weed_id, stage, day, day + timedelta(days=first + more), zone, daily)
    for end in ("stage", "earliest", "latest"):
        assert order.index(getattr(sooner, end)) <= order.index(getattr(later, end)), (end, sooner, later)


@given(
    weed_id=st.sampled_from(BY_WARMTH),
    zone=st.sampled_from(ZONES),
    day=st.dates(date(2027, 1, 1), date(2027, 12, 31)),
    after=st.integers(1, 90),
    told=st.integers(1, 90),
    high=st.floats(30, 100),
    warmer=st.floats(0, 20),
)
def test_more_heat_never_gives_an_earlier_stage(
    weed_id: str, zone: str, day: date, after: int, told: int, high: float, warmer: float
) -> None:
    base = knowledge_base()
    order = STAGES_BY_LIFE_FORM["grass"]
    for stage in ("1-3-leaf", "4-5-leaf", "1-3-tiller"):
        on = day + timedelta(days=after)
        cool = aged(base, weed_id, stage, day, on, zone, days(day, told, 25, high))
        warm = aged(base, weed_id, stage, day, on, zone, days(day, told, 25, high + warmer))
        for end in ("stage", "earliest", "latest"):
            assert order.index(getattr(cool, end)) <= order.index(getattr(warm, end)), (end, cool, warm)


@given(day=st.dates(date(2027, 1, 1), date(2027, 12, 31)), after=st.integers(1, 120))
def test_a_perennial_comes_round_by_the_calendar(day: date, after: int) -> None:
    """Dandelion: an established plant is never a seedling again."""
    base = knowledge_base()
    for stage in ("vegetative", "flowering", "seed-set", "overwintering"):
        found = aged(base, "dandelion", stage, day, day + timedelta(days=after), "cool-humid")
        assert "seedling" not in found.stages
        assert "not-emerged" not in found.stages


def test_a_dandelion_flowers_again_after_winter(base: KnowledgeBase) -> None:
    # Common practice, no source: it flowers most in spring from plants that wintered as rosettes.
    found = aged(base, "dandelion", "overwintering", date(2027, 1, 10), date(2027, 5, 2), "cool-humid")
    assert found.stage == "flowering"


def test_warmth_is_counted_from_the_note_to_the_day_before(base: KnowledgeBase) -> None:
    """14 days of 71 F on average are 14 x 21 degree-days above 50 F, 163 above 10 C."""
    found = crab(base, 14)
    assert found.degree_days == pytest.approx(294)
    assert found.by == "degree-days"
    assert found.text == (
        "Smooth crabgrass: 1 to 3 leaves on 21 June; 4 to 5 leaves expected on 5 July (4 to 5 leaves to 1 to 3 "
        "tillers), by 294 degree-days above 50 F (163 above 10 C)."
    )


def test_crabgrass_tillers_some_weeks_after_its_first_leaves(base: KnowledgeBase) -> None:
    """Common practice, no source: in warm June weather seedlings of 1 to 3 leaves tiller within two to five weeks."""
    reached = next(n for n in range(60) if crab(base, n).stage == "1-3-tiller")
    assert 14 <= reached <= 35


def test_no_warmth_means_no_growth(base: KnowledgeBase) -> None:
    found = crab(base, 20, low=30, high=50)
    assert (found.stage, found.stages, found.degree_days) == ("1-3-leaf", ("1-3-leaf",), 0)


def test_days_that_end_before_the_date_are_carried_on_by_the_calendar(base: KnowledgeBase) -> None:
    whole, part = crab(base, 25, told=25), crab(base, 25, told=14)
    assert whole.by == "degree-days"
    assert part.by == "calendar"
    assert part.degree_days == pytest.approx(294)
    assert "to 5 July and from there by the calendar" in part.text
    assert CRABGRASS.index(part.stage) >= CRABGRASS.index(crab(base, 14).stage)
    assert [c.settled_by for c in part.cautions if c.code == "growth-no-daily"] == ["daily"]


def test_a_missing_day_ends_the_warmth(base: KnowledgeBase) -> None:
    daily = [day for day in days(JUNE_21, 20, 62, 80) if day[0] != date(2027, 6, 25)]
    found = aged(base, "smooth-crabgrass", "1-3-leaf", JUNE_21, date(2027, 7, 5), "cool-humid", daily)
    assert found.degree_days == pytest.approx(4 * 21)
    assert found.by == "calendar"


def test_heading_waits_for_the_calendar(base: KnowledgeBase) -> None:
    """Crabgrasses head by day length: no warmth in June brings it on (from memory)."""
    found = aged(
        base, "smooth-crabgrass", "1-3-leaf", date(2027, 5, 10), date(2027, 7, 1), "cool-humid",
        days(date(2027, 5, 10), 90, 75, 99),
    )  # fmt: skip
    assert found.stages == ("multi-tiller",)


def test_a_note_of_the_same_day_stands(base: KnowledgeBase) -> None:
    found = crab(base, 0)
    assert (found.stage, found.stages, found.by, found.cautions) == ("1-3-leaf", ("1-3-leaf",), "note", ())
    assert found.text == "Smooth crabgrass: 1 to 3 leaves on 21 June, as noted."


def test_a_seedling_of_a_biennial_does_not_flower_in_its_first_year(base: KnowledgeBase) -> None:
    # Common practice, no source: bull thistle makes a rosette in its first year.
    for after in range(0, 120, 10):
        found = aged(
            base, "bull-thistle", "seedling", date(2027, 5, 10), date(2027, 5, 10) + timedelta(after), "cool-humid"
        )
        assert not {"flowering", "seed-set"} & set(found.stages)


def test_a_note_outside_the_calendar_says_so(base: KnowledgeBase) -> None:
    autumn = aged(base, "dandelion", "flowering", date(2027, 10, 20), date(2027, 11, 3), "cool-humid")
    assert (autumn.by, autumn.stage) == ("note", "flowering")
    assert "growth-not-aged" in [c.code for c in autumn.cautions]
    late = aged(base, "smooth-crabgrass", "1-3-leaf", date(2027, 7, 15), date(2027, 7, 29), "cool-humid")
    assert late.by == "calendar"
    assert "growth-off-calendar" in [c.code for c in late.cautions]


def test_an_old_note_asks_to_look_again(base: KnowledgeBase) -> None:
    threshold = int(base.parameter("growth-note-old"))
    codes = {n: [c.code for c in crab(base, n).cautions] for n in (threshold - 1, threshold)}
    assert "growth-note-old" not in codes[threshold - 1]
    assert "growth-note-old" in codes[threshold]


def test_plants_of_last_summer_are_said_to_be_dead(base: KnowledgeBase) -> None:
    found = aged(base, "smooth-crabgrass", "multi-tiller", date(2027, 8, 1), date(2027, 12, 1), "cool-humid")
    assert "dead or dying from about 20 October" in " ".join(c.text for c in found.cautions)


def test_a_note_of_more_than_a_growing_season_is_refused(base: KnowledgeBase) -> None:
    stale = int(base.parameter("growth-note-stale"))
    assert crab(base, stale)
    with pytest.raises(InputError, match=r"scouted: the note is 181 days older than .*look again"):
        crab(base, stale + 1)


@pytest.mark.parametrize(
    ("weed", "stage", "zone", "on", "said"),
    [
        ("smooth-crabgrass", "1-3-leaf", "cool-humid", date(2027, 6, 20), r"^on: 2027-06-20 lies before the day of"),
        ("smoth-crabgrass", "1-3-leaf", "cool-humid", JUNE_21, r"^weed: .*nearest: smooth-crabgrass"),
        ("smooth-crabgrass", "flowering", "cool-humid", JUNE_21, r"^stage: 'flowering' is no stage of smooth cr"),
        ("smooth-crabgrass", "1-3-leaf", "cold", JUNE_21, r"^zone: 'cold' is no known zone"),
    ],
)  # fmt: skip
def test_bad_input_is_said(base: KnowledgeBase, weed: str, stage: str, zone: str, on: date, said: str) -> None:
    with pytest.raises(InputError, match=said):
        aged(base, weed, stage, JUNE_21, on, zone)


def test_a_day_upside_down_is_refused(base: KnowledgeBase) -> None:
    with pytest.raises(InputError, match=r"daily\.0: lowest 80 F lies above highest 60 F"):
        crab(base, 3, low=80, high=60)
