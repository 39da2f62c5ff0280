"""Sunrise and sunset against another library (ephem), and where there is none."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import ephem
import pytest

from app.season.forecast import bounds
from app.season.sun import daylight, sun_of

PLACES = [
    (40.7, -74.0, "America/New_York"),
    (29.7, -95.4, "America/Chicago"),
    (64.1, -21.9, "Atlantic/Reykjavik"),
    (59.3, 18.1, "Europe/Stockholm"),
    (0.0, 36.8, "Africa/Nairobi"),
    (-36.8, 174.8, "Pacific/Auckland"),
    (21.3, -157.9, "Pacific/Honolulu"),
]
# The last four are days on which clocks are changed.
DATES = [
    *(date(2027, 1, 15), date(2027, 4, 10), date(2027, 6, 21), date(2027, 9, 23)),
    *(date(2027, 3, 14), date(2027, 11, 7), date(2027, 3, 28), date(2027, 10, 31)),
]


def by_ephem(latitude: float, longitude: float, begins: datetime, *, rises: bool) -> datetime:
    """The next sunrise or sunset; the sun's upper edge at the horizon with 34' of refraction."""
    observer = ephem.Observer()
    observer.lat, observer.lon, observer.date = str(latitude), str(longitude), begins.replace(tzinfo=None)
    observer.pressure, observer.horizon = 0, "-0:34"
    found = observer.next_rising(ephem.Sun()) if rises else observer.next_setting(ephem.Sun())
    at: datetime = found.datetime().replace(tzinfo=UTC)
    return at


@pytest.mark.parametrize("day", DATES)
@pytest.mark.parametrize(("latitude", "longitude", "zone"), PLACES)
def test_within_two_minutes_of_another_library(latitude: float, longitude: float, zone: str, day: date) -> None:
    """Computed with ephem."""
    found = sun_of(latitude, longitude, ZoneInfo(zone), day)
    begins, _ = bounds(ZoneInfo(zone), day)
    assert found.course == "rises and sets"
    assert found.sunrise is not None
    assert found.sunset is not None
    near = timedelta(minutes=2)
    assert abs(found.sunrise - by_ephem(latitude, longitude, begins, rises=True)) < near
    # In high summer the sun may set after midnight; the last sunset of the day is asked for.
    assert abs(found.sunset - by_ephem(latitude, longitude, found.sunset - timedelta(hours=1), rises=False)) < near


@pytest.mark.parametrize(
    ("latitude", "day", "course"),
    [
        (69.6, date(2027, 6, 21), "up all day"),
        (69.6, date(2027, 12, 21), "down all day"),
        (-77.8, date(2027, 12, 21), "up all day"),
        (69.6, date(2027, 3, 21), "rises and sets"),
    ],
)
def test_where_it_does_not_rise_or_set(latitude: float, day: date, course: str) -> None:
    found = sun_of(latitude, 19.0, ZoneInfo("Europe/Oslo"), day)
    assert found.course == course
    assert (found.sunrise is None) == (course != "rises and sets")


@pytest.mark.parametrize(("day", "share"), [(date(2027, 6, 21), 1.0), (date(2027, 12, 21), 0.0)])
def test_daylight_near_the_pole(day: date, share: float) -> None:
    begins, ends = bounds(ZoneInfo("Europe/Oslo"), day)
    spans = daylight(69.6, 18.9, begins, ends)
    covered = sum((min(e, ends) - max(s, begins) for s, e in spans), timedelta())
    assert covered == share * (ends - begins)


def test_daylight_of_two_days_is_two_spans() -> None:
    zone = ZoneInfo("America/New_York")
    begins, ends = bounds(zone, date(2027, 7, 14))[0], bounds(zone, date(2027, 7, 15))[1]
    spans = daylight(40.7, -74.0, begins, ends)
    assert len(spans) == 2
    assert all(timedelta(hours=14) < end - start < timedelta(hours=15) for start, end in spans)
