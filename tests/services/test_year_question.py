"""From a kept property to the question of its year.

The steps of pressure by cover are common practice, no source; the rest is computed by hand.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest

from app.engine.errors import InputError
from app.season.forecast import Forecast
from app.season.property import Property
from app.services import forecasts, properties, records, year_facts
from app.services.knowledge_service import knowledge_base
from app.services.year_question import known, question, read_wish, wish_of
from app.store.opening import Store, open_in_memory
from tests.services.kept import NOW, applied
from tests.services.test_forecasts import TOLD
from tests.services.year_kept import LAWN, SEASON, place_with


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    yield opened
    opened.close()


@pytest.mark.parametrize(
    ("cover", "pressure"),
    [(None, "moderate"), (0, "low"), (4.9, "low"), (5, "moderate"), (20, "moderate"), (20.1, "high"), (100, "high")],
)
def test_pressure_follows_cover(cover: float | None, pressure: str) -> None:
    # common practice, no source: below 5 % low, above 20 % high.
    assert year_facts.pressure_of(knowledge_base(), cover) == pressure


def test_the_weeds_come_from_notes_records_and_what_is_usual(store: Store) -> None:
    slug = place_with(store)
    sprayed = applied(
        property=slug, property_name="", area="back", date="2026-05-04", targets=[{"weed": "ground-ivy"}], turf=[]
    )
    records.keep(store, "key-of-ground-ivy", sprayed, NOW)
    found = {item.weed.weed: item for item in known(store, slug, SEASON).weeds}
    crabgrass, dandelion, ivy = (found[key] for key in ("smooth-crabgrass", "dandelion", "ground-ivy"))
    # Of two areas the greater pressure counts; resistance that was noted once holds.
    assert (dandelion.weed.pressure, dandelion.weed.resistant_to, dandelion.weed.areas) == ("moderate", ("2-4-d",), ())
    assert (crabgrass.weed.pressure, crabgrass.weed.priority, crabgrass.weed.areas) == ("high", 2, ("front",))
    assert "25 % cover" in crabgrass.text
    assert (ivy.whence, ivy.weed.areas, ivy.text) == ("record", ("back",), "sprayed against on 2026-05-04")
    likely = [item for item in found.values() if item.whence == "likely"]
    assert {"white-clover", "broadleaf-plantain"} <= {item.weed.weed for item in likely}
    assert all(item.text.startswith("usual here: ") for item in likely)
    # Those had, the most urgent first, then the worst of those usual.
    asked = question(store, slug, SEASON, read_wish({"visits": {"count": 4}})).asked
    assert [weed.weed for weed in asked.weeds] == ["smooth-crabgrass", "dandelion", "ground-ivy", "white-clover"]


def test_a_weed_that_is_the_turf_itself_stands_on_the_other_areas_alone(store: Store) -> None:
    slug = place_with(store)
    told = {"area": "back", "weed": "quackgrass", "date": "2026-06-01"}
    properties.add_note(store, slug, told)
    base = knowledge_base()
    ground = known(store, slug, SEASON).ground
    (weed,) = [key for key, item in base.weeds.items() if item.same_species_turf == ("tall-fescue",)]
    note = properties.notes_of(store, slug)[0].note.model_copy(update={"weed": weed, "area": "front"})
    found = year_facts.weeds_of(base, ground, [note, note.model_copy(update={"area": "back"})], [], "cool-humid")
    assert found[0].weed.weed == weed
    assert found[0].weed.areas == ("front",)


def test_areas_bring_their_turf_surroundings_and_seedings(store: Store) -> None:
    front = {
        "id": "front",
        "name": "Front",
        **LAWN,
        "slope": "steep",
        "surroundings": ["tree-roots"],
        "stress": "shade",
    }
    plans = [{"kind": "seeding", "date": "2027-09-07", "area": "front"}, {"kind": "event", "date": "2027-06-01"}]
    slug = place_with(store, areas=[front, {"id": "back", "name": "Back", **LAWN, "stress": "drought"}], plans=plans)
    areas = {area.id: area for area in question(store, slug, SEASON, read_wish({})).asked.areas}
    assert areas["front"].surroundings == ("tree-roots", "slope")
    assert areas["front"].turf_condition.seeding_planned == date(2027, 9, 7)
    assert areas["front"].turf_condition.stress == "shade"
    # Drought was of the day it was seen on.
    assert areas["back"].turf_condition.stress is None
    assert areas["back"].turf_condition.seeding_planned is None


@pytest.mark.parametrize(
    ("emerged", "weeks", "seeding"),
    [("2026-12-04", 4.0, None), ("2027-05-24", None, date(2027, 5, 24)), (None, None, None)],
)
def test_a_young_stand_is_as_old_as_on_the_first_day(emerged: str | None, weeks: float | None, seeding: Any) -> None:
    told = {"name": "Yard", "zone": "cool-humid", "areas": [{"id": "a", "name": "A", **LAWN, "stand": "seedling"}]}
    told["areas"][0]["emerged"] = emerged  # type: ignore[index]
    ground = year_facts.ground_of(knowledge_base(), Property.model_validate(told), date(2027, 1, 1))
    condition = ground.areas[0].turf_condition
    assert (condition.weeks_since_emergence, condition.seeding_planned) == (weeks, seeding)
    # A stand that is yet to come up is no stand of seedlings before.
    assert condition.stand == (None if seeding else "seedling")


def test_one_use_is_planned_at_a_time_and_the_others_are_said(store: Store) -> None:
    field = {**LAWN, "site_use": "sports-turf", "area": {"value": 2, "unit": "acre"}}
    areas = [
        {"id": "front", "name": "Front", **LAWN},
        {"id": "back", "name": "Pitch", **field},
        {"id": "yard", "name": "Yard", "site_use": "residential-lawn"},
    ]
    slug = place_with(store, areas=areas)
    found = known(store, slug, SEASON).ground
    # The larger ground leads.
    assert (found.site_use, [area.id for area in found.areas]) == ("sports-turf", ["back"])
    assert found.site_uses == ("residential-lawn", "sports-turf")
    assert any("Front" in text and "one use at a time" in text for text in found.left_out)
    assert any("Yard" in text and "turf is not told" in text for text in found.left_out)
    chosen = question(store, slug, SEASON, read_wish({"site_use": "residential-lawn"}))
    assert [area.id for area in chosen.asked.areas] == ["front"]
    assert chosen.asked.site_use == "residential-lawn"
    with pytest.raises(InputError) as caught:
        question(store, slug, SEASON, read_wish({"site_use": "golf-green"}))
    assert caught.value.faults[0].path == "site_use"


@pytest.mark.parametrize(
    ("told", "path"),
    [
        ({"zone": None}, "property.zone"),
        ({"areas": [{"id": "front", "name": "Front"}, {"id": "back", "name": "Back"}]}, "property.areas"),
        ({"ended": "2026-11-30"}, "property"),
    ],
)
def test_what_cannot_be_planned_says_what_is_missing(store: Store, told: dict[str, Any], path: str) -> None:
    slug = place_with(store, **told)
    with pytest.raises(InputError) as caught:
        question(store, slug, SEASON, read_wish({}))
    assert [fault.path for fault in caught.value.faults] == [path]


def test_what_was_applied_counts_by_year_and_up_to_the_first_day(store: Store) -> None:
    slug = place_with(store)
    for number, day in enumerate(("2025-05-01", "2026-05-01", "2027-04-10", "2027-06-01"), start=1):
        done = applied(property=slug, property_name="", area="front", date=day, turf=[], targets=[])
        records.keep(store, f"key-of-record-{number}", done.model_copy(update={"products": _quinclorac()}), NOW)
    whole = question(store, slug, SEASON, read_wish({})).asked
    assert whole.applied_this_year == ()
    assert [(past.date, past.area, past.active) for past in whole.applied_last_year] == [
        (date(2026, 5, 1), "front", "quinclorac")
    ]
    rest = question(store, slug, SEASON, read_wish({"from": "2027-05-01"})).asked
    assert [(past.date, past.rate.value) for past in rest.applied_this_year] == [(date(2027, 4, 10), 0.75)]


def _quinclorac() -> Any:
    rate = {"value": 0.75, "unit": "lb ai/acre"}
    told = {"name": "Quick", "actives": [{"active": "quinclorac", "rate": rate}]}
    return applied(products=[told]).products


def test_temperatures_are_read_from_a_kept_forecast(store: Store) -> None:
    slug = place_with(store)
    days = [{"date": "2026-12-31", "min_f": 20, "max_f": 30}, {"date": "2027-03-01", "min_f": 31, "max_f": 52}]
    told = Forecast.model_validate({**TOLD.model_dump(mode="json"), "hours": [], "daily": days})
    kept = forecasts.keep(store, "Measured", told, NOW)
    found = question(store, slug, SEASON, read_wish({"forecast": kept.slug}))
    # The year alone, day by day.
    assert [(day.date, day.min_f, day.max_f) for day in found.asked.weather.daily] == [(date(2027, 3, 1), 31, 52)]
    assert found.note.forecast == kept.slug


def test_a_wish_is_read_back_from_its_question(store: Store) -> None:
    slug = place_with(store)
    told = {
        "from": "2027-03-01",
        "visits": {"dates": ["2027-04-08", "2027-05-06"]},
        "weeds": [{"weed": "dandelion", "pressure": "high", "areas": ["back"]}],
        "locks": [{"date": "2027-04-08", "actives": ["prodiamine"]}],
        "forbid": [{"actives": ["dicamba"]}],
        "limits": {"max_products_per_visit": 2},
    }
    wish = read_wish(told)
    found = question(store, slug, SEASON, wish)
    back = wish_of(found.asked, found.note)
    assert back == wish.model_copy(update={"site_use": "residential-lawn"})
    assert found.note.weeds["dandelion"].startswith("noted on 2026-06-21, 12 % cover")
