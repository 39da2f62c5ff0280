"""Forecasts to vary: an invented place, fair weather unless it is told otherwise."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from datetime import date as Date
from typing import Any
from zoneinfo import ZoneInfo

from app.season.forecast import HOUR, Day, Forecast, Hour, bounds

DAY = Date(2027, 7, 14)
ZONE = "America/New_York"
FAIR: dict[str, Any] = {
    "temp_f": 72.0,
    "rh_pct": 60.0,
    "wind_mph": 6.0,
    "gust_mph": 9.0,
    "rain_in": 0.0,
    "rain_chance_pct": 5.0,
    "cloud_pct": 40.0,
}


def at(text: str) -> datetime:
    """An instant in UTC from ISO text."""
    return datetime.fromisoformat(text).astimezone(UTC)


def local_hour(start: datetime, zone: str = ZONE) -> int:
    """The hour of the local clock."""
    return start.astimezone(ZoneInfo(zone)).hour


def _same(_day: int, _hour: int) -> dict[str, Any] | None:
    return {}


def fair(
    days: int = 2,
    change: Callable[[int, int], dict[str, Any] | None] = _same,
    *,
    first: Date = DAY,
    zone: str = ZONE,
    daily: tuple[Day, ...] = (),
    **place: Any,
) -> Forecast:
    """Fair hours of whole local days; `change` of day and local hour says what differs, None leaves the hour out."""
    hours = []
    start, number = bounds(ZoneInfo(zone), first)[0], 0
    while number < days:
        local = start.astimezone(ZoneInfo(zone))
        number = (local.date() - first).days
        if number < days and (changed := change(number, local.hour)) is not None:
            hours.append(Hour(start=start, **{**FAIR, **changed}))
        start += HOUR
    told = {"latitude": 40.7, "longitude": -74.0, "place": "Larkmere", **place}
    return Forecast(timezone=zone, hours=tuple(hours), daily=daily, **told)
