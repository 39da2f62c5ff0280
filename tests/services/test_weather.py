"""Use cases of weather: forecasts in their three forms, tanks, and degree-days."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from app.engine.errors import InputError, UnknownId
from app.engine.output import as_json
from app.engine.product import Product
from app.services.forecast_by_hand import ByHand, hours_by_hand
from app.services.weather import degree_days, threshold, windows
from tests.season.weather import ZONE, fair

DEMO = Path(__file__).parents[2] / "demo_data"
PLACE: dict[str, Any] = {"name": "Larkmere", "latitude": 40.1, "longitude": -83.2, "timezone": ZONE}
HAND: dict[str, Any] = {
    "date": "2027-07-14",
    "morning_f": 62,
    "afternoon_f": 80,
    "wind_morning_mph": 5,
    "wind_afternoon_mph": 9,
    "humidity_pct": 50,
    "cloud_pct": 30,
    "rain_from_hour": "none",
}
PRODUCT: dict[str, Any] = {
    "name": "Larkmere Broadleaf",
    "formulation": "SL",
    "actives": [{"active": "2-4-d", "form": "2-4-d-dma", "content": {"value": 3.8, "unit": "lb ae/gal"}}],
    "rate": {"value": 2, "unit": "pt/acre"},
    "max_air_f": 70,
}


def paths(payload: Any) -> list[str]:
    with pytest.raises(InputError) as raised:
        windows(payload)
    return [fault.path for fault in raised.value.faults]


def test_one_forecast_in_two_forms_answers_alike() -> None:
    forecast = fair(2, **{key: PLACE[key] for key in ("latitude", "longitude")})
    told = forecast.model_dump(mode="json", exclude_none=True)
    table = "time,temp_f,rh,wind_mph,gust_mph,rain_in,rain_chance,cloud\n" + "".join(
        f"{h.start.isoformat()},{h.temp_f},{h.rh_pct},{h.wind_mph},{h.gust_mph},{h.rain_in},{h.rain_chance_pct},{h.cloud_pct}\n"
        for h in forecast.hours
    )
    by_json, by_table = windows({"forecast": told}), windows({"csv": table, "place": PLACE})
    assert as_json(by_json) == as_json(by_table)
    assert by_json.days[0].open_hours > 10


def test_a_day_by_hand() -> None:
    found = windows({"by_hand": HAND, "place": PLACE})
    (day,) = found.days
    assert day.words == "open 6 am to 9 pm"
    assert any("by hand" in notice for notice in found.notices)
    assert any("half wave" in notice for notice in found.notices)
    rain = windows({"by_hand": {**HAND, "rain_from_hour": 14}, "place": PLACE}).days[0]
    assert rain.words == "open 6 am to 2 pm"


@pytest.mark.parametrize("field", ["wind_morning_mph", "humidity_pct", "rain_from_hour"])
def test_what_is_not_told_by_hand_is_unknown(field: str) -> None:
    told = {key: value for key, value in HAND.items() if key != field}
    day = windows({"by_hand": told, "place": PLACE}).days[0]
    assert next(hour for hour in day.hours if hour.start.hour == 9).state == "unknown"


def test_hours_by_hand_meet_what_was_told() -> None:
    hours = {h.start.hour: h for h in hours_by_hand(ByHand.model_validate(HAND), "UTC")}
    assert (hours[6].temp_f, hours[15].temp_f) == (62, 80)
    assert all(62 <= hour.temp_f <= 80 for hour in hours.values())
    assert (hours[11].wind_mph, hours[12].wind_mph) == (5, 9)
    autumn = ByHand.model_validate({**HAND, "date": "2027-11-07"})
    assert len(hours_by_hand(autumn, ZONE)) == 25


def test_a_tank_binds_by_facts_label_and_what_is_told() -> None:
    tank = {"name": "Tank A", "turf": ["tall-fescue"], "products": [PRODUCT], "actives": [{"active": "dicamba"}]}
    limits = {"air": [{"max_f": 90, "why": "the house stops there"}], "max_wind_mph": 8, "wind_why": "near gardens"}
    found = windows({"by_hand": HAND, "place": PLACE, "tank": tank, "limits": limits})
    assert found.limits.name == "Tank A"
    codes = {reason.code for hour in found.days[0].hours for reason in hour.reasons if reason.severity == "stop"}
    assert {"label-temperature", "label-wind", "darkness"} <= codes
    assert {"temperature", "volatility"} <= {limit.code for limit in found.limits.air}


def test_products_of_the_shelf_are_named_by_id() -> None:
    def held(slug: str) -> Product:
        if slug != "larkmere":
            raise UnknownId("product", slug, ())
        return Product.model_validate(PRODUCT)

    asked = {"by_hand": HAND, "place": PLACE, "tank": {"products": [{"id": "larkmere"}]}}
    assert windows(asked, held).limits.name == "Larkmere Broadleaf"
    for lookup, said in ((None, "no shelf"), (held, "is no product")):
        with pytest.raises(InputError, match=said):
            windows({**asked, "tank": {"products": [{"id": "other"}]}}, lookup)


@pytest.mark.parametrize(
    ("payload", "named"),
    [
        ([], [""]),
        ({}, ["forecast"]),
        ({"csv": "x", "by_hand": HAND, "place": PLACE}, ["by_hand"]),
        ({"csv": "time,temp_f\n2027-07-14 06:00,70\n"}, ["place"]),
        ({"by_hand": {**HAND, "rain_from_hour": 24}, "place": PLACE}, ["by_hand.rain_from_hour"]),
        ({"by_hand": HAND, "place": {**PLACE, "timezone": "Larkmere"}}, ["place.timezone"]),
        ({"by_hand": HAND, "place": {**PLACE, "latitude": 91, "timezone": "x"}}, ["place.latitude", "place.timezone"]),
        ({"by_hand": HAND, "place": PLACE, "tank": {"turf": ["moss"], "actives": [{"active": "salt"}]}},
         ["tank.turf.0", "tank.actives.0.active"]),
        ({"by_hand": HAND, "place": PLACE, "tank": {"actives": [{"active": "dicamba", "form": "salt"}]}},
         ["tank.actives.0.form"]),
        ({"by_hand": HAND, "place": PLACE, "limits": {"dry": [{"hours": 1, "sources": ["nobody-1900"]}]}},
         ["limits.dry.0.sources"]),
        ({"by_hand": HAND, "place": PLACE, "wind": 5}, ["wind"]),
        ({"by_hand": HAND, "place": PLACE, "daily": [{"date": "2027-07-16"}, {"date": "2027-07-15"}]},
         ["daily.1.date"]),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_named(payload: Any, named: list[str]) -> None:
    assert paths(payload) == named


def test_the_demo_forecast_holds_every_state() -> None:
    text = (DEMO / "forecast.csv").read_text(encoding="utf-8")
    tank = {"turf": ["tall-fescue"], "actives": [{"active": "triclopyr", "form": "triclopyr-bee"}]}
    found = windows({"csv": text, "place": PLACE, "tank": tank})
    assert {hour.state for day in found.days for hour in day.hours} == {"open", "closed", "unknown"}
    codes = {reason.code for day in found.days for hour in day.hours for reason in hour.reasons}
    assert {"rain", "rainfast", "inversion", "delta-t", "volatility", "darkness", "gusts"} <= codes


def test_degree_days_of_a_table_and_of_json_agree() -> None:
    table = "date,min_f,max_f\n2027-03-01,40,70\n2027-03-02,45,75\n"
    daily = [{"date": "2027-03-01", "min_f": 40, "max_f": 70}, {"date": "2027-03-02", "min_f": 45, "max_f": 75}]
    one, other = degree_days({"csv": table}), degree_days({"daily": daily})
    assert as_json(one) == as_json(other)
    assert one.total == pytest.approx(7.5424 + 10.8816, abs=1e-3)
    assert degree_days({"daily": daily, "from": "2027-03-02", "method": "average"}).total == 10


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"daily": []}, "daily"),
        ({"csv": "date,min_f,max_f\n2027-03-01,40,70\n"}, "daily"),
        ({"upper_f": 50}, "upper_f"),
        ({"method": "guess"}, "method"),
        ({"from": "spring"}, "from"),
        ({"from": "2020-01-01"}, "daily"),
        ({"daily": [{"date": "2027-03-01"}, {"date": "2027-03-01"}]}, "daily.1.date"),
    ],
)
def test_degree_days_that_cannot_be_counted(changes: dict[str, Any], path: str) -> None:
    with pytest.raises(InputError) as raised:
        degree_days({"daily": [{"date": "2027-03-01", "min_f": 40, "max_f": 70}], **changes})
    assert raised.value.faults[0].path == path


@pytest.mark.parametrize(("text", "found"), [("50", 50), ("50F", 50), ("10C", 50), ("10 °C", 50), ("-5 C", 23)])
def test_thresholds_in_either_unit(text: str, found: float) -> None:
    assert threshold("--base", text) == found
    with pytest.raises(InputError, match="--base"):
        threshold("--base", "warm")
