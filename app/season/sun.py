"""Sunrise and sunset of a place. Where the sun does not rise or set, that is told, not raised."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from datetime import date as Date
from typing import Literal
from zoneinfo import ZoneInfo

from astral import Observer
from astral.sun import elevation, sunrise, sunset

from app.season.forecast import bounds

Course = Literal["rises and sets", "up all day", "down all day"]
_DAY = timedelta(days=1)
# The sun's centre stands so low when its upper edge shows on the horizon, refraction included [degrees].
_HORIZON = -0.833
# Reckoned from two days, one event may come out seconds apart.
_SAME = timedelta(minutes=30)


@dataclass(frozen=True)
class SunDay:
    """The sun on a local day; the first sunrise and the last sunset, None where there is none.

    Attributes
    ----------
    sunrise, sunset : datetime or None
        Instants in UTC.
    course : str
        Whether it rises and sets, or stays up or down for the whole day.
    """

    date: Date
    sunrise: datetime | None
    sunset: datetime | None
    course: Course


def sun_of(latitude: float, longitude: float, zone: ZoneInfo, day: Date) -> SunDay:
    """The sun on a local day.

    Parameters
    ----------
    latitude, longitude : float
        Place [degrees], north and east positive.
    zone : ZoneInfo
        Its time zone.
    day : date
        The local day.
    """
    begins, ends = bounds(zone, day)
    rises, sets = (
        [at for at in _events(latitude, longitude, begins, ends, of) if begins <= at < ends] for of in (True, False)
    )
    course: Course = "rises and sets"
    if not rises and not sets:
        up = _is_up(latitude, longitude, begins + (ends - begins) / 2)
        course = "up all day" if up else "down all day"
    return SunDay(day, rises[0] if rises else None, sets[-1] if sets else None, course)


def daylight(latitude: float, longitude: float, begins: datetime, ends: datetime) -> list[tuple[datetime, datetime]]:
    """The spans between two instants in which the sun is up, in order.

    A span that had begun before, or goes on after, is told from two days before or to two days after.
    """
    first, last = begins - 2 * _DAY, ends + 2 * _DAY
    marks = sorted(
        [(at, True) for at in _events(latitude, longitude, first, last, True)]
        + [(at, False) for at in _events(latitude, longitude, first, last, False)]
    )
    spans = []
    since = first if _is_up(latitude, longitude, first) else None
    for at, rises in marks:
        if rises:
            since = at if since is None else since
        elif since is not None:
            spans.append((since, at))
            since = None
    if since is not None:
        spans.append((since, last))
    return [span for span in spans if span[1] > begins and span[0] < ends]


def _is_up(latitude: float, longitude: float, at: datetime) -> bool:
    return elevation(Observer(latitude, longitude), at, with_refraction=False) > _HORIZON


def _events(latitude: float, longitude: float, begins: datetime, ends: datetime, rises: bool) -> list[datetime]:
    """Sunrises, or sunsets, between two instants."""
    observer, found = Observer(latitude, longitude), list[datetime]()
    day = begins.date() - _DAY
    while day <= ends.date() + _DAY:
        try:
            at = (sunrise if rises else sunset)(observer, date=day, tzinfo=UTC)
        except ValueError:
            # The sun does not cross the horizon on this day.
            at = None
        if at is not None and begins <= at < ends and not any(abs(at - other) < _SAME for other in found):
            found.append(at)
        day += _DAY
    return sorted(found)
