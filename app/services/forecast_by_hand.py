"""A forecast told by hand: a few figures of a day, made into hours, with what that rests on."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from app.engine.measures import Day as CalendarDay
from app.engine.measures import Input
from app.season.forecast import HOUR, Hour, bounds, zone_named

# Local hours at which the morning's lowest and the afternoon's highest temperature are reckoned with, and from which
# the afternoon's wind counts (common practice, no source).
_COOLEST, _WARMEST, _AFTERNOON = 6, 15, 12
BASIS = (
    "How hours were made by hand: the temperature rises in a half wave from the morning's to the "
    "afternoon's and falls again; the afternoon's humidity stands for the whole day; wind counts for its half of the "
    "day; from the hour told on rain is reckoned with until midnight. What was not told is unknown."
)


def _rain_from(value: Any) -> Any:
    whole = isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 24
    if value is None or value == "none" or whole:
        return value
    raise ValueError("must be a whole hour from 0 to 23, 'none' for a dry day, or left out")


RainFrom = Annotated[int | Literal["none"] | None, BeforeValidator(_rain_from)]


class ByHand(Input):
    """A few figures of one day: temperatures [degF], wind [mph], the afternoon's humidity and the sky [percent].

    `rain_from_hour` is the local hour from which rain is expected, `none` for a dry day, null where it is not told.
    """

    date: CalendarDay
    morning_f: float = Field(ge=-80, le=130)
    afternoon_f: float = Field(ge=-80, le=140)
    wind_morning_mph: float | None = Field(default=None, ge=0, le=200)
    wind_afternoon_mph: float | None = Field(default=None, ge=0, le=200)
    humidity_pct: float | None = Field(default=None, ge=0, le=100)
    cloud_pct: float | None = Field(default=None, ge=0, le=100)
    rain_from_hour: RainFrom = None


def hours_by_hand(told: ByHand, timezone: str) -> tuple[Hour, ...]:
    """The hours of the day as told by hand, as many as the day has."""
    zone = zone_named(timezone)
    start, end = bounds(zone, told.date)
    hours = []
    while start < end:
        clock = start.astimezone(zone).hour
        wet = None if told.rain_from_hour is None else told.rain_from_hour != "none" and clock >= told.rain_from_hour
        hours.append(
            Hour(
                start=start,
                temp_f=round(_temperature(told, clock), 1),
                rh_pct=told.humidity_pct,
                wind_mph=told.wind_morning_mph if clock < _AFTERNOON else told.wind_afternoon_mph,
                rain_chance_pct=None if wet is None else 100.0 if wet else 0.0,
                cloud_pct=told.cloud_pct,
            )
        )
        start += HOUR
    return tuple(hours)


def _temperature(told: ByHand, clock: int) -> float:
    """A half wave up from the coolest to the warmest hour, and one down to the coolest of the next day."""
    if _COOLEST <= clock <= _WARMEST:
        share = (clock - _COOLEST) / (_WARMEST - _COOLEST)
    else:
        whole = timedelta(days=1) / HOUR
        since = (clock - _WARMEST) % whole
        share = 1 - since / (whole - (_WARMEST - _COOLEST))
    return told.morning_f + (told.afternoon_f - told.morning_f) * (1 - math.cos(math.pi * share)) / 2
