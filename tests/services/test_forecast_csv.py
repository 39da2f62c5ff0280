"""Tables of weather: headings, units, times of changed clocks, and every fault at once."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.engine.errors import InputError
from app.services.forecast_cells import converted, instant, moment, reading
from app.services.forecast_columns import HOURLY, columns_of, parted
from app.services.forecast_csv import read_days, read_hours
from tests.season.weather import ZONE, at


def faults(text: str, zone: str = ZONE) -> list[str]:
    with pytest.raises(InputError) as raised:
        read_hours(text, zone)
    return [fault.message for fault in raised.value.faults]


def test_a_table_with_headings_of_its_own() -> None:
    text = (
        "Local time;Temp (°C);Humidity;Wind (km/h);Wind gusts m/s;Precip [mm];PoP;Sky cover;Soil temp °C;UV index\n"
        "14.07.2027 06:00;20,5;80 %;10;5;2,54;30%;50;18;1\n"
        "14.07.2027 07:00;25;;5 kn;;T;;;;2\n"
    )
    read = read_hours(text, ZONE)
    first, second = read.hours
    assert first.start == at("2027-07-14T10:00Z")
    assert (first.temp_f, first.rh_pct, first.rain_in, first.soil_temp_f) == (68.9, 80, 0.1, 64.4)
    # 1 mile is 1.609344 km, a knot 1.852 km an hour (exact definitions).
    assert (first.wind_mph, first.gust_mph) == (6.21, 11.18)
    assert (second.temp_f, second.rh_pct, second.wind_mph, second.rain_in) == (77, None, 5.75, 0)
    assert second.gust_mph is None
    assert read.notices == ("Columns that are not read: UV index.",)


@pytest.mark.parametrize(
    ("told", "wanted"),
    [
        ("2027-07-14T06:00-04:00", "2027-07-14T10:00Z"),
        ("2027-07-14T10:00:00Z", "2027-07-14T10:00Z"),
        ("2027-07-14 06:00", "2027-07-14T10:00Z"),
        ("7/14/2027 6:00 AM", "2027-07-14T10:00Z"),
        ("07/14/2027, 6 am", "2027-07-14T10:00Z"),
        ("7/14/2027 12:00 AM", "2027-07-14T04:00Z"),
        ("7/14/2027 12 p.m.", "2027-07-14T16:00Z"),
        ("14.7.2027 18:00", "2027-07-14T22:00Z"),
    ],
)
def test_times_in_many_spellings(told: str, wanted: str) -> None:
    (hour,) = read_hours(f"time\ttemp_f\n{told}\t70\n", ZONE).hours
    assert hour.start == at(wanted)


def test_date_and_hour_in_two_columns() -> None:
    for heading, told in (("hour", "6 AM"), ("hour", "6"), ("time", "06:00")):
        (hour,) = read_hours(f"date,{heading},temp_f\n7/14/2027,{told},70\n", ZONE).hours
        assert hour.start == at("2027-07-14T10:00Z"), heading


def test_the_hour_that_comes_twice_is_told_by_its_order() -> None:
    clocks = ["00:00", "01:00", "01:00", "02:00"]
    text = "time,temp_f\n" + "".join(f"2027-11-07 {clock},50\n" for clock in clocks)
    starts = [hour.start for hour in read_hours(text, ZONE).hours]
    assert starts == [at("2027-11-07T04:00Z") + timedelta(hours=n) for n in range(4)]


def test_the_hour_that_does_not_come_is_a_fault() -> None:
    (said,) = faults("time,temp_f\n2027-03-14 01:00,50\n2027-03-14 02:00,50\n2027-03-14 03:00,50\n")
    assert said.startswith("line 3, time: 2027-03-14 02:00 does not come")


@given(st.sampled_from([date(2027, 3, 13), date(2027, 11, 6), date(2027, 7, 14)]), st.integers(1, 60))
def test_local_times_in_order_are_read_back(first: date, count: int) -> None:
    from zoneinfo import ZoneInfo

    zone = ZoneInfo(ZONE)
    wanted = [at(f"{first}T12:00Z") + timedelta(hours=n) for n in range(count)]
    before, found = None, []
    for start in wanted:
        local = start.astimezone(zone).strftime("%Y-%m-%d %H:%M")
        before = instant(moment(local), zone, before)
        found.append(before)
    assert found == wanted


def test_every_fault_is_named_at_once_and_nothing_is_taken() -> None:
    text = (
        "time,temp_f,rh,wind\n"
        "2027-07-14 06:00,70,60,5 mph\n"
        "x,71,200,5\n"
        "2027-07-14 06:00,,60,5 mph\n"
        "2027-07-14 06:30,warm,60,5 mph\n"
        "2027-07-14,70,60,5 furlongs\n"
    )
    assert [said.split(":")[0] for said in faults(text)] == [
        *("line 3, time", "line 3, wind", "line 4, time", "line 4, temp_f", "line 5, time", "line 5, temp_f"),
        *("line 6, time", "line 6, wind"),
    ]


def test_a_figure_out_of_range_is_named_where_the_time_is_wrong_too() -> None:
    said = faults("time,temp_f,rh\nx,71,200\n")
    assert [item.split(":")[0] for item in said] == ["line 2, time", "line 2, rh"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty"),
        ("time,temp_f\n", "no row"),
        ("when,how warm\n1,2\n", "no column of air temperature"),
        ("temp_f\n70\n", "no column of time"),
        ("time,temp_f,temperature\n2027-07-14 06:00,70,70\n", "mean the same"),
        ("time,temp (mph)\n2027-07-14 06:00,70\n", "a temperature is told in F, C"),
        ("time,temp\n2027-07-14 06:00,70\n", "has no unit"),
        ("time,temp_f\n14/7/2027 6:00,70\n", "the month comes first"),
        ("time,temp_f\n2027-07-14,70\n", "no time of the day"),
        ("time,temp_f\n7/14/2027 13 PM,70\n", "twelve hours"),
        ("time,temp_f\n2027-07-14 25:00,70\n", "no time"),
        ('time,temp_f\n"2027-07-14 06:00,70\n', "quotation mark"),
    ],
)
def test_what_is_no_table_is_refused(text: str, said: str) -> None:
    assert said in faults(text)[0]


def test_too_many_rows_are_refused() -> None:
    rows = "".join(f"{at('2027-01-01T00:00Z') + timedelta(hours=n)},50\n" for n in range(800))
    assert "more than 768 rows" in faults(f"time,temp_f\n{rows}")[0]


def test_units_told_once_count_for_figures_without_one() -> None:
    text = "time,temp,wind,rain\n2027-07-14 06:00,20,10,5\n"
    metric, us = (read_hours(text, ZONE, system).hours[0] for system in ("metric", "us"))
    assert (metric.temp_f, metric.wind_mph, metric.rain_in) == (68, 6.21, 0.1969)
    assert (us.temp_f, us.wind_mph, us.rain_in) == (20, 10, 5)
    # The heading, and the cell before it, lead.
    assert read_hours("time,temp_c\n2027-07-14 06:00,68 F\n", ZONE, "metric").hours[0].temp_f == 68


@given(st.floats(-40, 50).map(lambda value: round(value, 1)))
def test_celsius_and_fahrenheit_are_one(air_c: float) -> None:
    assert reading(f"{air_c}", "temperature", "C", None) == pytest.approx(air_c * 9 / 5 + 32, abs=0.006)
    assert converted(air_c * 9 / 5 + 32, "F") == air_c * 9 / 5 + 32


def test_headings_are_parted_from_their_units() -> None:
    assert parted("Rain") == ("rain", None)
    assert parted("rain in") == ("rain", "in")
    assert parted("Relative humidity (%)") == ("relative humidity", "%")
    found = columns_of(["valid", "Air Temperature [deg F]", "wspd_kn"], HOURLY)
    assert {name: column.unit for name, column in found.items()} == {"start": None, "temp": "F", "wind": "kn"}


def test_daily_tables() -> None:
    read = read_days("Date\tTmin (C)\tTmax (C)\tSoil (C)\tnote\n2027-03-01\t5\t15\t8\ta\n2027-03-03\t\t20\t\tb\n")
    first, second = read.days
    assert (first.date, first.min_f, first.max_f, first.soil_temp_f) == (date(2027, 3, 1), 41, 59, 46.4)
    assert (second.min_f, second.max_f) == (None, 68)
    assert read.notices == ("Columns that are not read: note.",)


def test_faults_of_daily_tables() -> None:
    with pytest.raises(InputError) as raised:
        read_days("date,min_f,max_f\n2027-03-02,40,60\n2027-03-01,40,60\n2027-03-03,70,60\nspring,40,60\n")
    assert [fault.message.split(":")[0] for fault in raised.value.faults] == [
        *("line 3, date", "line 4, min_f", "line 5, date")
    ]
    with pytest.raises(InputError, match="no column for max"):
        read_days("date,min_f\n2027-03-01,40\n")
