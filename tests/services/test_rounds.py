"""Rounds as they are kept, planned and recorded; by the invented shelf and lawns."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest

from app.engine.errors import InputError, UnknownId
from app.season.forecast import Forecast
from app.services import forecasts, properties, records, round_answers, round_done, round_plan, rounds, scouting
from app.services.forecast_by_hand import ByHand, hours_by_hand
from app.services.records import one as record_of
from app.services.shelf import fill_demo, shelf_products
from app.store.changed import Changed
from app.store.opening import Store, open_in_memory

NOW = datetime(2027, 7, 14, 13, 30, tzinfo=UTC)
AREA = {
    "id": "front",
    "name": "Front",
    "turf": ["tall-fescue"],
    "area": {"value": 6000, "unit": "ft2"},
    "site_use": "residential-lawn",
    "stand": "established",
    "stress": "none",
}


@pytest.fixture(scope="module")
def filled() -> Iterator[Store]:
    store = open_in_memory()
    fill_demo(store)
    for number, weed in enumerate(("ground-ivy", "white-clover", "wild-violet")):
        place = properties.add(
            store, {"name": f"{number} Quarry Lane", "zone": "cool-humid", "areas": [AREA]}, customer=None
        )
        seen = {"area": "front", "weed": weed, "stage": "vegetative", "cover_pct": 30, "date": "2027-07-10"}
        scouting.add_note(store, place.slug, seen)
    yield store
    store.close()


def told(name: str, **more: Any) -> dict[str, Any]:
    stops = [{"property": f"{number}-quarry-lane", "area": "front"} for number in range(3)]
    return {"name": name, "date": "2027-07-14", "technician": "Jo Alder", "tanks": 2, "stops": stops, **more}


def test_a_round_is_kept_planned_and_recorded(filled: Store) -> None:
    made = rounds.make(filled, told("The evening before"), NOW)
    assert made.plan is None
    kept = round_plan.plan(filled, made.slug, made.version, NOW)
    assert kept.plan is not None
    assert [stop.status for stop in kept.plan.stops] == ["spray"] * 3
    assert kept.plan.proven
    assert rounds.one(filled, made.slug) == kept
    before = {product.name: product.stock for product in shelf_products(filled)}
    record = round_done.done(filled, made.slug, "0-quarry-lane", "front", NOW)
    again = round_done.done(filled, made.slug, "0-quarry-lane", "front", NOW)
    assert (record.new, again.new, again.key) == (True, False, record.key)
    found = record_of(filled, record.key).record
    assert found.date == kept.round.date
    assert found.treated is not None
    assert found.treated.value == 6000
    assert found.applicator == "Jo Alder"
    assert {w.weed for w in found.targets} == {"ground-ivy"}
    # 13:30 UTC is 9:30 in the morning at the place.
    assert found.finished == "09:30"
    tank = next(t for t in kept.plan.tanks if t.label == kept.plan.stops[0].tank)
    assert [p.name for p in found.products] == [p.product for p in tank.products]
    for used in found.products:
        assert used.amount is not None
        assert used.amount.value > 0
    # What went out is off the shelf, once.
    after = {product.name: product.stock for product in shelf_products(filled)}
    assert any(after[p.name] != before[p.name] for p in found.products)
    now = rounds.one(filled, made.slug)
    assert now.done == {("0-quarry-lane", "front"): record.key}
    assert len(now.undone) == 2


def test_what_is_recorded_keeps_its_plan(filled: Store) -> None:
    made = rounds.make(filled, told("Kept plan"), NOW)
    kept = round_plan.plan(filled, made.slug, made.version, NOW)
    round_done.done(filled, made.slug, "1-quarry-lane", "front", NOW)
    with pytest.raises(InputError, match="recorded already"):
        round_plan.plan(filled, made.slug, kept.version, NOW)
    with pytest.raises(InputError, match="recorded already"):
        rounds.change(filled, made.slug, told("Kept plan", tanks=1), kept.version, NOW)
    fewer = told("Kept plan")
    fewer["stops"] = fewer["stops"][:1]
    with pytest.raises(InputError, match="has its record already"):
        rounds.change(filled, made.slug, fewer, kept.version, NOW)
    with pytest.raises(InputError, match="it stays"):
        rounds.remove(filled, made.slug, kept.version)
    renamed = rounds.change(filled, made.slug, told("Another name"), kept.version, NOW)
    assert renamed.plan == kept.plan


def test_what_the_plan_rests_on_takes_it_along(filled: Store) -> None:
    made = rounds.make(filled, told("Changed"), NOW)
    kept = round_plan.plan(filled, made.slug, made.version, NOW)
    other = rounds.change(filled, made.slug, told("Changed", technician="Sam Reed"), kept.version, NOW)
    assert other.plan == kept.plan
    assert rounds.change(filled, made.slug, told("Changed", tanks=1), other.version, NOW).plan is None
    with pytest.raises(Changed):
        rounds.change(filled, made.slug, told("Changed"), kept.version, NOW)
    with pytest.raises(Changed):
        rounds.planned(filled, made.slug, kept.plan, made.version, NOW)  # type: ignore[arg-type]


def test_a_hot_day_bars_what_must_not_be_sprayed_in_heat(filled: Store) -> None:
    def day(highest: float) -> str:
        told_by_hand = ByHand.model_validate(
            {
                "date": "2027-07-14",
                "morning_f": 66,
                "afternoon_f": highest,
                "wind_morning_mph": 5,
                "wind_afternoon_mph": 6,
                "humidity_pct": 60,
                "cloud_pct": 60,
                "rain_from_hour": "none",
            }
        )
        place = {"place": "Pellmere", "latitude": 41.2, "longitude": -84.1, "timezone": "America/New_York"}
        hours = hours_by_hand(told_by_hand, place["timezone"])
        return forecasts.keep(filled, f"{highest} F", Forecast(**place, hours=hours), NOW).slug

    mild = round_plan.plan_of(filled, rounds.make(filled, told("Mild", forecast=day(80)), NOW).round)
    hot = round_plan.plan_of(filled, rounds.make(filled, told("Hot", forecast=day(97)), NOW).round)
    assert all(stop.status == "spray" for stop in mild.stops)
    assert "97 F" in hot.weather_text
    ceilings = [tank.max_air_f for tank in hot.tanks if tank.max_air_f is not None]
    assert all(ceiling >= 97 for ceiling in ceilings)
    for stop in hot.stops:
        assert stop.status == "spray" or stop.why


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        ({"stops": [{"property": "nowhere", "area": "front"}]}, "stops.0.property", "no property that is kept"),
        ({"stops": [{"property": "0-quarry-lane", "area": "back"}]}, "stops.0.area", "no area of 0 Quarry Lane"),
        ({"sprayer": "lost"}, "sprayer", "no sprayer"),
        ({"forecast": "lost"}, "forecast", "no forecast"),
        ({"tanks": 0}, "tanks", "greater than or equal to 1"),
        ({"tanks": 7}, "tanks", "less than or equal to 6"),
        ({"date": "14.7.2027"}, "date", "YYYY-MM-DD"),
        ({"stops": [{"property": "0-quarry-lane", "area": "front"}] * 2}, "stops.1", "stands twice"),
    ],
)
def test_what_is_no_round_is_refused_and_nothing_kept(filled: Store, change: Any, field: str, said: str) -> None:
    before = rounds.listing(filled)
    with pytest.raises(InputError) as caught:
        rounds.make(filled, told("Not kept", **change), NOW)
    assert field in [fault.path for fault in caught.value.faults]
    assert said in str(caught.value)
    assert rounds.listing(filled) == before


def test_a_round_without_stops_is_not_planned(filled: Store) -> None:
    made = rounds.make(filled, told("Empty", stops=[]), NOW)
    with pytest.raises(InputError, match="at least one area"):
        round_plan.plan(filled, made.slug, made.version, NOW)
    with pytest.raises(InputError, match="not planned yet"):
        round_answers.sheet(filled, made.slug)
    with pytest.raises(InputError, match="not planned yet"):
        round_done.done(filled, made.slug, "0-quarry-lane", "front", NOW)
    with pytest.raises(UnknownId):
        rounds.one(filled, "no-such-round")
    rounds.remove(filled, made.slug, made.version)
    with pytest.raises(UnknownId):
        rounds.one(filled, made.slug)


def test_a_stop_that_is_not_sprayed_has_no_record(filled: Store) -> None:
    place = properties.add(filled, {"name": "9 Quarry Lane", "zone": "cool-humid", "areas": [AREA]}, customer=None)
    stops = [{"property": place.slug, "area": "front"}]
    made = rounds.make(filled, told("Nothing seen", stops=stops), NOW)
    kept = round_plan.plan(filled, made.slug, made.version, NOW)
    assert kept.plan is not None
    assert kept.plan.stops[0].status == "nothing"
    with pytest.raises(InputError, match="no stop that this round sprays"):
        round_done.done(filled, made.slug, place.slug, "front", NOW)


def test_a_stop_whose_record_is_void_can_be_recorded_again(filled: Store) -> None:
    made = rounds.make(filled, told("Void"), NOW)
    round_plan.plan(filled, made.slug, made.version, NOW)
    first = round_done.done(filled, made.slug, "2-quarry-lane", "front", NOW)
    records.void(filled, first.key, first.version, "Jo Alder", "rained off", NOW)
    assert rounds.one(filled, made.slug).done == {}
    second = round_done.done(filled, made.slug, "2-quarry-lane", "front", NOW)
    assert second.new
    assert second.key != first.key
    assert rounds.one(filled, made.slug).done == {("2-quarry-lane", "front"): second.key}


def test_the_second_application_of_a_program_is_told_as_one(filled: Store) -> None:
    place = properties.add(filled, {"name": "12 Quarry Lane", "zone": "cool-humid", "areas": [AREA]}, customer=None)
    seen = {"area": "front", "weed": "wild-violet", "stage": "vegetative", "cover_pct": 30, "date": "2027-07-10"}
    scouting.add_note(filled, place.slug, seen)
    stops = [{"property": place.slug, "area": "front"}]
    made = rounds.make(filled, told("First of two", stops=stops), NOW)
    kept = round_plan.plan(filled, made.slug, made.version, NOW)
    assert kept.plan is not None
    (stop,) = kept.plan.stops
    # One spray seldom finishes wild violet (common practice, no source).
    assert stop.again is not None
    record = round_done.done(filled, made.slug, stop.property, stop.area, NOW).record
    assert (record.application, record.next_due) == (1, stop.again)
    assert "products" in record.filled_in
    later = rounds.make(filled, told("Second of two", date=stop.again.isoformat(), stops=stops), NOW)
    again = round_plan.plan(filled, later.slug, later.version, NOW)
    assert again.plan is not None
    assert again.plan.stops[0].status == "spray"
    second = round_done.done(filled, later.slug, stop.property, stop.area, NOW)
    assert second.record.application == 2
