"""The demo branch: made by its simulator, whole, possible on its days, within its labels, and nobody's."""

from __future__ import annotations

import csv
import io
import json
import re
import tomllib
from collections.abc import Iterator
from datetime import date as Date
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from app.engine.product import Product
from app.engine.understood import stage_from_counts
from app.season.applied import brought, shelf_key
from app.season.record import ApplicationRecord, Branch
from app.services import branch_demo, follow_ups, forecasts, properties, records, rounds, scouting, shelf, trials
from app.services.branch import branch
from app.services.customers import customers
from app.store.opening import Store, open_store
from app.store.records import Wanted, found
from demo_data.branch_places import PLACES as SERVED
from demo_data.branch_places import TOWNS
from demo_data.branch_simulator import AUTUMN, FOLDER, files, main
from demo_data.branch_weather import JULY, OCTOBER, humidity
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM, Weed
from tests.demo_data.demo_shelf import PLACES, demo_shelf

ROOT = Path(__file__).resolve().parents[2]
Row = dict[str, str]
SHELF = {shelf_key(product.name): product for product in demo_shelf()}
# What stands in names of places and customers: plain words, and surnames made up for nobody.
STREETS = "Alder Creamery Ferry Meadow Mill Orchard Quarry Ridge Willow Court Lane Road Street"
WORDS = (
    "Cemetery Church County Field Green Ground Hall North Office Offices Owner Parks Rentals School Schools South "
    "Sports"
)
SURNAMES = "Brackmoor Fenwythe Hazelcote Marlhythe Ousterby Quernley Rookstead Thornhythe Tolbeck"


@cache
def rows(file: str) -> tuple[Row, ...]:
    """Rows of a committed file."""
    return tuple(csv.DictReader(io.StringIO((FOLDER / file).read_text(encoding="utf-8"))))


@cache
def told() -> tuple[dict[str, Any], ...]:
    """The records as the file has them."""
    return tuple(json.loads((FOLDER / "records.json").read_text(encoding="utf-8")))


def sprayed() -> Iterator[tuple[ApplicationRecord, Product]]:
    """Each record with its product on the demo shelf."""
    for item in told():
        record = ApplicationRecord.model_validate(item["record"])
        yield from ((record, SHELF[shelf_key(product.name)]) for product in record.products)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A store with the demo shelf and the demo branch."""
    opened = open_store(tmp_path_factory.mktemp("branch") / "store.sqlite")
    shelf.fill_demo(opened)
    assert branch_demo.fill_demo(opened) == len(SERVED)
    yield opened
    opened.close()


def test_the_files_are_what_the_simulator_makes() -> None:
    # The rounds are written by hand: they only choose among what is made.
    made = {path.name: path.read_bytes() for path in FOLDER.iterdir() if path.name != "rounds.json"}
    assert made == files()


def test_the_simulator_writes_its_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("demo_data.branch_simulator.FOLDER", tmp_path / "branch")
    main()
    assert {path.name: path.read_bytes() for path in (tmp_path / "branch").iterdir()} == files()


def test_the_files_are_shipped() -> None:
    shipped = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert "branch/*" in shipped["tool"]["setuptools"]["package-data"]["demo_data"]


def test_the_basis_is_told() -> None:
    assert "basis of everything in this folder is `invented`" in (ROOT / "demo_data" / "README.md").read_text("utf-8")


def test_the_branch_is_as_large_as_a_round_needs() -> None:
    assert len(SERVED) == 60
    assert 45 <= len({place.billed for place in SERVED}) <= 55
    assert sum(len(place.areas) > 1 for place in SERVED) >= 8
    assert len({place.technician for place in SERVED}) == 3
    seeded = [row for row in rows("properties.csv") if "seeding 2027-09" in row["plans"]]
    assert len({row["property"] for row in seeded}) == 2
    assert [row["emerged"] for row in rows("properties.csv") if row["stand"] == "seedling"] == ["2027-05-24"]
    assert [(row["property"], row["area"]) for row in rows("properties.csv") if not row["turf"]] == [
        ("34 Willow Lane", "Back")
    ]
    summer = [row for row in rows("notes.csv") if row["date"] < "2027-07-14"]
    autumn = [row for row in rows("notes.csv") if row["date"] > "2027-09-01"]
    assert 100 <= len(summer) <= 130
    assert 25 <= len(autumn) <= 50
    assert len(summer) + len(autumn) == len(rows("notes.csv"))
    assert {row["property"] for row in autumn} == set(AUTUMN)
    names = {(date[:7], name) for date, name in {(i["record"]["date"], i["record"]["property_name"]) for i in told()}}
    assert sum(month == "2027-04" for month, _ in names) == 40
    assert sum(month == "2027-05" for month, _ in names) == 25


def test_nothing_is_named_after_anybody() -> None:
    allowed = {*STREETS.split(), *WORDS.split(), *SURNAMES.split(), *PLACES, "of", "household", "Town"}
    for row in rows("properties.csv"):
        for name in (row["property"], row["customer"]):
            assert {word for word in name.split() if not word.isdigit()} <= allowed, name
    assert set(TOWNS) <= PLACES
    kept = json.loads((FOLDER / "branch.json").read_text(encoding="utf-8"))
    people = {person["name"].split()[-1] for person in kept["technicians"]}
    assert people == {"Sallowby", "Fernhythe", "Mossgarth"}
    # No licensing scheme has such numbers: letters of the county, then what it is for, then a running number.
    numbers = [kept["licence"], *(person["licence"] for person in kept["technicians"])]
    assert len(set(numbers)) == 4
    assert all(re.fullmatch(r"LKM-[BT]-\d{4}", number) for number in numbers)


def holds(weed: Weed, zone: str, stage: str, day: str) -> bool:
    """Whether the calendar of a weed has a stage on a day."""
    windows = [window for window in weed.calendar if zone in window.zones and window.stage == stage]
    return any(window.holds(day[5:]) for window in windows)


def test_every_weed_is_at_a_stage_that_its_calendar_has_that_day(base: KnowledgeBase) -> None:
    seen = [(row["weed"], row["stage"], row["date"]) for row in rows("notes.csv")]
    seen += [(t["weed"], t["stage"], i["record"]["date"]) for i in told() for t in i["record"]["targets"]]
    for name, stage, day in seen:
        weed = base.weeds[name]
        assert stage in STAGES_BY_LIFE_FORM[weed.life_form]
        assert holds(weed, "cool-humid", stage, day), (name, stage, day)
    assert not holds(base.weeds["smooth-crabgrass"], "cool-humid", "heading", "2027-07-01"), "the check can fail"


def test_counts_agree_with_stages_and_covers_are_what_is_written_down(base: KnowledgeBase) -> None:
    for row in rows("notes.csv"):
        counts = [int(row[key]) if row[key] else None for key in ("tillers", "leaves")]
        if any(counts):
            assert stage_from_counts(base.weeds[row["weed"]], *counts) == (row["stage"],), row
        cover = int(row["cover_pct"])
        assert 1 <= cover <= 60
        assert cover < 10 or cover % 5 == 0
        assert Date.fromisoformat(row["date"]).weekday() < 6, "nobody scouts on a Sunday"


def test_the_weather_is_that_of_its_weeks() -> None:
    for file, weeks, low, high in (("july", JULY, 83, 95), ("october", OCTOBER, 55, 68)):
        hours = rows(f"forecast-{file}.csv")
        assert len(hours) == 7 * 24
        for day in weeks:
            there = [row for row in hours if row["time"].startswith(day.date)]
            assert low <= max(int(row["temp_f"]) for row in there) <= high
    july = {row["time"]: row for row in rows("forecast-july.csv")}
    # Still, clear air at dawn, in which an inversion is reckoned with, on the days that are neither wet nor windy.
    for day in ("12", "13", "14", "17", "18"):
        dawn = july[f"2027-07-{day} 06:00"]
        assert int(dawn["wind_mph"]) < 4
        assert int(dawn["cloud"]) < 50
        assert int(dawn["rh"]) > 85
    storm = {time[:10] for time, row in july.items() if float(row["rain_in"]) > 0.1}
    assert storm == {"2027-07-15"}
    assert max(july.values(), key=lambda row: int(row["gust_mph"]))["time"].startswith("2027-07-16")
    autumn = rows("forecast-october.csv")
    assert {row["time"][:10] for row in autumn if float(row["rain_in"])} == {"2027-10-06"}
    assert {row["time"][:10] for row in autumn if int(row["temp_f"]) <= 32} == {"2027-10-08"}
    assert {row["time"][:10] for row in autumn if int(row["wind_mph"]) > 15} == {"2027-10-07"}


def test_humidity_is_that_of_the_tables() -> None:
    # Saturation vapour pressure 12.27 hPa at 10 degC and 23.37 hPa at 20 degC: from memory.
    assert humidity(68, 50) == pytest.approx(100 * 12.27 / 23.37, abs=1)


def test_the_days_of_the_year_follow_each_other_and_end_as_the_forecast_has_them() -> None:
    days = rows("daily-2027.csv")
    assert (days[0]["date"], days[-1]["date"], len(days)) == ("2027-01-01", "2027-07-18", 199)
    hours = rows("forecast-july.csv")
    for day in days:
        low, high, soil = (int(day[key]) for key in ("min_f", "max_f", "soil_f"))
        assert low < high
        assert 28 <= soil <= 85
        there = [int(row["temp_f"]) for row in hours if row["time"].startswith(day["date"])]
        assert not there or (min(there), max(there)) == (low, high)


def test_every_product_is_on_the_shelf_and_used_within_its_label(base: KnowledgeBase) -> None:
    daily = {row["date"]: row for row in rows("daily-2027.csv")}
    for record, product in sprayed():
        where = f"{record.property_name}, {record.date}"
        used = record.products[0]
        assert used.registration == product.registration
        assert product.expiry is None or product.expiry > record.date
        assert record.site_use in (product.site_uses or ())
        purpose = "preemergence" if record.targets[0].stage == "not-emerged" else "postemergence"
        for turf in record.turf:
            (line,) = [line for line in product.rates if line.purpose == purpose and turf in line.turf]
            assert used.rate is not None
            assert line.low.quantity.base <= used.rate.quantity.base <= line.high.quantity.base * (1 + 1e-9), where
        high = float(daily[record.date.isoformat()]["max_f"])
        assert product.max_air_f is None or high <= product.max_air_f, where
        floor = product.carrier_floor
        assert record.carrier is None or floor is None or record.carrier.quantity.base >= floor.quantity.base, where
        # The actives that the record tells are those that the shelf would give for its rate.
        bare = record.model_copy(update={"products": (used.model_copy(update={"actives": ()}),)})
        for mine, theirs in zip(used.actives, brought(base, bare, SHELF)[0].actives, strict=True):
            assert (mine.active, mine.form, mine.rate.unit) == (theirs.active, theirs.form, theirs.rate.unit)
            assert mine.rate.value == pytest.approx(theirs.rate.value, rel=1e-4)


def test_amounts_are_rate_times_area_and_the_weather_is_that_of_the_day() -> None:
    daily = {row["date"]: row for row in rows("daily-2027.csv")}
    for record, _ in sprayed():
        used = record.products[0]
        assert record.treated is not None
        assert used.rate is not None
        if used.amount is not None:
            # L/ha times ha is L, g/ha times ha is g; a tenth of the unit is the finest that is poured or weighed.
            exact = used.rate.quantity.base * record.treated.quantity.base / 10_000
            step = used.amount.model_copy(update={"value": 0.1}).quantity.base
            assert used.amount.quantity.base == pytest.approx(exact, abs=step / 2 * (1 + 1e-6))
        day = daily[record.date.isoformat()]
        assert record.weather.temp_f is not None
        assert float(day["min_f"]) <= record.weather.temp_f <= float(day["max_f"])
        assert record.weather.wind_mph is None or 3 <= record.weather.wind_mph <= 10
    assert sum(record.products[0].amount is None for record, _ in sprayed()) == 1


def test_nothing_was_sprayed_where_it_must_not_be() -> None:
    grown = {(row["property"], row["area"]): row for row in rows("properties.csv")}
    for record, product in sprayed():
        row = grown[record.property_name, record.area_name]
        assert row["stand"] == "established"
        assert record.turf == tuple(row["turf"].split("; "))
        for day in re.findall(r"seeding (\S+)", row["plans"]):
            waits = product.seeding_interval_days
            assert waits is not None
            assert (Date.fromisoformat(day) - record.date).days >= waits


def test_an_empty_store_is_filled_and_a_second_time_changes_nothing(filled: Store) -> None:
    def all_of_it() -> tuple[object, ...]:
        with filled.reading() as session:
            kept = found(session, Wanted())
        notes = scouting.open_notes_of(filled, [item.slug for item in properties.every(filled)])
        stock = tuple((item.product, item.version) for item in shelf.stored_products(filled))
        return branch(filled), properties.every(filled), notes, kept, stock, forecasts.every(filled)

    before = all_of_it()
    assert branch_demo.fill_demo(filled) == 0
    assert all_of_it() == before
    assert branch(filled)[0].name == "Tarnbeck branch"
    assert customers(filled).found == len({place.billed for place in SERVED})


def test_what_is_kept_is_what_the_files_say(filled: Store) -> None:
    kept = {item.slug: item for item in properties.every(filled)}
    areas = {(item.property.name, area.name) for item in kept.values() for area in item.property.areas}
    assert areas == {(row["property"], row["area"]) for row in rows("properties.csv")}
    notes = scouting.open_notes_of(filled, list(kept))
    assert sum(len(told) for told in notes.values()) == len(rows("notes.csv"))
    for item in told():
        record = item["record"]
        place = kept[record["property"]].property
        area = place.area_of(record["area"])
        assert area is not None
        assert (place.name, area.name, area.area) == (
            record["property_name"],
            record["area_name"],
            ApplicationRecord.model_validate(record).treated,
        )
    missing = {slug for slug, item in kept.items() if properties.what_is_missing(item.property)}
    assert missing == {"34-willow-lane"}
    weather = {item.name: item.forecast for item in forecasts.every(filled)}
    assert set(weather) == {branch_demo.SUMMER, branch_demo.AUTUMN}
    assert (len(weather[branch_demo.SUMMER].hours), len(weather[branch_demo.SUMMER].daily)) == (168, 199)


def test_gaps_are_the_ones_meant_and_the_stock_bears_it(filled: Store) -> None:
    told_of = {item["key"]: records.one(filled, item["key"]) for item in told()}
    gaps = {gap.path for kept in told_of.values() for gap in kept.gaps}
    assert gaps == {"started", "finished", "weather.wind_mph", "products.0.amount"}
    assert sum(kept.unfinished for kept in told_of.values()) == 4
    said = [text for kept in told_of.values() for text in kept.stock]
    assert said == ["Larkmere Early Feed: its amount is not told, so nothing was taken off the stock."]
    left = {item.product.name: item.product.stock for item in shelf.stored_products(filled)}
    for _, product in sprayed():
        stock, before = left[product.name], product.stock
        assert stock is not None
        assert before is not None
        # Enough stays for the summer.
        assert 0.1 * before.value < stock.value < before.value


def test_two_records_were_rated_and_one_moves_the_advice(filled: Store) -> None:
    seen = [item for kept in told() for item in follow_ups.follow_ups_of(filled, kept["key"])]
    assert sorted(item.days_after for item in seen) == [28, 28]
    assert all(item.trials for item in seen)
    assert sum(not item.said for item in seen) == 1
    assert {slug for item in seen for slug in item.trials} == {item.slug for item in trials.listing(filled)}


def test_the_rounds_wait_to_be_planned_with_stops_of_their_technician(filled: Store) -> None:
    kept = rounds.listing(filled)
    assert len(kept) == 2
    places = {item.slug: item.property for item in properties.every(filled)}
    for item in kept:
        assert item.plan is None
        assert item.round.sprayer is not None
        assert len(item.round.stops) == 12
        assert {places[stop.property].technician for stop in item.round.stops} == {item.round.technician}


def test_prices_of_the_branch_are_of_a_size_that_the_trade_knows() -> None:
    told = Branch.model_validate(json.loads((FOLDER / "branch.json").read_text(encoding="utf-8"))).pricing
    assert told is not None
    # Common practice, no source: a technician costs 25 to 60 USD an hour, a quarter of an hour does a small lawn, and
    # a third of the price or less is left of it.
    assert told.currency == "USD"
    assert 25 <= told.labour_per_hour <= 60
    assert 10 <= told.minutes_per_visit + 5 * told.minutes_per_1000_ft2 <= 30
    assert 10 <= told.margin_pct <= 35
    assert told.stand_in_per_1000_ft2 is not None
    assert told.payment.endswith(".")
