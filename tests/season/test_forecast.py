"""Forecasts: order, gaps, days of 23 and 25 hours, and the weather of a day of work."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from pydantic import ValidationError

from app.engine.errors import InputError
from app.season.forecast import Day, Forecast, Hour, bounds, dates_of, day_weather, gaps, hours_of, starts_of, warmest
from knowledge.base import KnowledgeBase
from tests.season.weather import DAY, ZONE, at, fair

# Days on which clocks are changed in New York and Berlin (time zone database): hours of the day.
CHANGES = [
    (ZONE, date(2027, 3, 14), 23),
    (ZONE, date(2027, 11, 7), 25),
    (ZONE, date(2027, 7, 14), 24),
    ("Europe/Berlin", date(2027, 3, 28), 23),
    ("Europe/Berlin", date(2027, 10, 31), 25),
    ("Asia/Kolkata", date(2027, 7, 14), 24),
]


@pytest.mark.parametrize(("zone", "day", "count"), CHANGES)
def test_a_local_day_has_its_hours(zone: str, day: date, count: int) -> None:
    begins, ends = bounds(ZoneInfo(zone), day)
    assert (ends - begins) == timedelta(hours=count)
    forecast = fair(1, first=day, zone=zone)
    assert len(hours_of(forecast, day)) == len(starts_of(forecast, day)) == count
    assert dates_of(forecast) == (day,)
    assert gaps(forecast) == ()


def test_the_hour_that_comes_twice_is_two_hours() -> None:
    forecast = fair(1, first=date(2027, 11, 7))
    twice = [hour.start for hour in forecast.hours if hour.start.astimezone(forecast.zone).hour == 1]
    assert twice == [at("2027-11-07T05:00Z"), at("2027-11-07T06:00Z")]
    skipped = fair(1, first=date(2027, 3, 14))
    assert 2 not in {hour.start.astimezone(skipped.zone).hour for hour in skipped.hours}


def test_told_hours_between_the_local_ones_make_the_grid() -> None:
    # Whole hours of UTC stand at the half hour in India.
    hours = tuple(Hour(start=at("2027-07-13T18:00Z") + timedelta(hours=n), temp_f=80) for n in range(30))
    forecast = Forecast(latitude=12.9, longitude=77.6, timezone="Asia/Kolkata", hours=hours)
    starts = starts_of(forecast, date(2027, 7, 14))
    assert len(starts) == 24
    assert set(starts) <= {hour.start for hour in hours}


def test_gaps_are_named_and_stay() -> None:
    forecast = fair(1, lambda _, hour: None if hour in (3, 13, 14) else {})
    assert gaps(forecast) == (at("2027-07-14T07:00Z"), at("2027-07-14T17:00Z"), at("2027-07-14T18:00Z"))
    assert len(hours_of(forecast, DAY)) == 21
    assert len(starts_of(forecast, DAY)) == 24


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"timezone": "Larkmere/Town"}, "is no time zone"),
        ({"timezone": "../etc/passwd"}, "is no time zone"),
        ({"latitude": 91}, "less than or equal to 90"),
        ({"hours": [{"start": "2027-07-14T06:00:00", "temp_f": 70}]}, "timezone"),
        ({"hours": [{"start": 1_800_000_000, "temp_f": 70}]}, "with its offset"),
        ({"hours": [{"start": "2027-07-14T06:00:00Z", "temp_f": 170}]}, "140"),
        ({"hours": [{"start": "2027-07-14T06:00:00Z"}]}, "required"),
        ({"hours": [{"start": f"2027-07-14T0{n}:00:00Z", "temp_f": 70} for n in (6, 5)]}, "in order"),
        ({"hours": [{"start": f"2027-07-14T{n}:00:00Z", "temp_f": 70} for n in ("06", "06")]}, "twice"),
        ({"hours": [{"start": f"2027-07-14T06:{n}:00Z", "temp_f": 70} for n in ("00", "30")]}, "whole hours"),
        ({"daily": [{"date": "2027-07-15", "min_f": 80, "max_f": 70}]}, "above the day's maximum"),
        ({"daily": [{"date": "2027-07-15"}, {"date": "2027-07-15"}]}, "twice"),
    ],
)
def test_what_is_no_forecast_is_refused(changes: dict[str, Any], said: str) -> None:
    told = {"latitude": 40.7, "longitude": -74.0, "timezone": ZONE, **changes}
    with pytest.raises(ValidationError, match=said):
        Forecast.model_validate(told)


def test_the_weather_of_a_day_of_work(base: KnowledgeBase) -> None:
    forecast = fair(
        4,
        lambda day, hour: {
            "temp_f": 60 + hour + 2 * day,
            "wind_mph": float(hour),
            "rh_pct": 90 - 2 * hour,
            "soil_temp_f": 70 if hour < 12 else 74,
            "rain_in": 0.3 if (day, hour) == (1, 2) else 0,
        },
    )
    found = day_weather(forecast, DAY, 7, 12, base)
    assert (found.max_temp_f, found.min_temp_f, found.max_temp_next_3_days_f) == (83, 60, 89)
    assert (found.wind_mph, found.rh_pct, found.soil_temp_f) == (9, 72, 72)
    # Sprayed from 7 to 8, it stays dry until 2 the next morning.
    assert found.rain_free_hours == 18
    assert found.soil_moisture is None


def test_dry_hours_reach_as_far_as_the_forecast(base: KnowledgeBase) -> None:
    assert day_weather(fair(1), DAY, 7, 17, base).rain_free_hours == 16
    assert day_weather(fair(1, lambda *_: {"rain_in": 0.5}), DAY, 7, 17, base).rain_free_hours == 0
    assert day_weather(fair(1, lambda _, h: None if h == 10 else {}), DAY, 7, 10, base).rain_free_hours == 2
    untold = {"rain_in": None, "rain_chance_pct": None}
    assert day_weather(fair(1, lambda *_: untold), DAY, 7, 17, base).rain_free_hours is None
    # Rain at 7 and 8 and nothing told of 9: that no hour is dry is not known.
    mixed = fair(1, lambda _, h: untold if h == 9 else {"rain_in": 0.5})
    assert day_weather(mixed, DAY, 7, 10, base).rain_free_hours is None


def test_what_cannot_be_known_stays_unknown(base: KnowledgeBase) -> None:
    late = fair(1, lambda _, hour: None if hour < 12 else {})
    found = day_weather(late, DAY, 7, 17, base)
    assert (found.max_temp_f, found.min_temp_f, found.wind_mph, found.rh_pct) == (None, None, None, None)
    assert found.max_temp_next_3_days_f is None
    # A day that begins at six in the morning still holds its warm part.
    assert warmest(fair(1, lambda _, hour: None if hour < 6 else {}), DAY) == 72
    assert day_weather(fair(1, lambda _, h: {"wind_mph": None} if h == 9 else {}), DAY, 7, 17, base).wind_mph is None


def test_daily_figures_tell_the_days_without_hours(base: KnowledgeBase) -> None:
    daily = tuple(Day(date=DAY + timedelta(days=n), min_f=60, max_f=80 + n, soil_temp_f=71) for n in range(4))
    found = day_weather(fair(1, daily=daily), DAY, 7, 17, base)
    assert (found.max_temp_f, found.max_temp_next_3_days_f, found.min_temp_f, found.soil_temp_f) == (80, 83, 60, 71)
    # Where one of the three is not told, what is known of the others counts only where it is warm already.
    assert day_weather(fair(1, daily=daily[:3]), DAY, 7, 17, base).max_temp_next_3_days_f == 82
    cool = tuple(day.model_copy(update={"max_f": 64.0}) for day in daily[:3])
    assert day_weather(fair(1, daily=cool), DAY, 7, 17, base).max_temp_next_3_days_f is None


@pytest.mark.parametrize(("start", "end"), [(7, 7), (17, 7), (-1, 5), (0, 25)])
def test_working_hours_are_a_part_of_a_day(base: KnowledgeBase, start: int, end: int) -> None:
    with pytest.raises(InputError, match="work_from_hour"):
        day_weather(fair(1), DAY, start, end, base)


def test_the_working_hours_are_those_of_the_clock(base: KnowledgeBase) -> None:
    # Spring, New York: 6 am is the sixth hour of the day, autumn the eighth.
    for day in (date(2027, 3, 14), date(2027, 11, 7)):
        forecast = fair(1, lambda _, hour: {"wind_mph": float(hour)}, first=day)
        assert day_weather(forecast, day, 6, 7, base).wind_mph == 6
