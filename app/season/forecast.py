"""A forecast as it is told: hours of one place, and days beyond them. What is missing stays missing."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime, timedelta
from datetime import date as Date
from typing import Annotated, Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, AwareDatetime, BeforeValidator, Field, model_validator

from app.engine.errors import FieldFault, InputError
from app.engine.measures import EARLIEST_YEAR, LATEST_YEAR, FieldError, Input
from app.engine.measures import Day as CalendarDay
from app.engine.situation import Forecast as DayWeather
from knowledge.base import KnowledgeBase

HOUR = timedelta(hours=1)
# Each day is warmest inside the first of these local hours and coolest inside the second (common practice, no source):
# where they are all told, so are its extremes.
_WARMEST, _COOLEST = (10, 20), (0, 9)
MOST_HOURS, MOST_DAYS = 24 * 32, 400


def _instant(value: Any) -> Any:
    # ISO text alone: a bare number would be read as seconds since 1970.
    if not isinstance(value, str | datetime):
        raise ValueError("must be a time with its offset, for example 2027-07-14T06:00:00-04:00")
    return value


def _in_range(value: datetime) -> datetime:
    if not EARLIEST_YEAR <= value.year <= LATEST_YEAR:
        raise ValueError(f"the year must lie between {EARLIEST_YEAR} and {LATEST_YEAR}")
    return value.astimezone(UTC)


Instant = Annotated[AwareDatetime, BeforeValidator(_instant), AfterValidator(_in_range)]


def zone_named(name: str) -> ZoneInfo:
    """The time zone of that name.

    Raises
    ------
    ValueError
        Where the time zone database does not hold it.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        what = f"'{name}' is no time zone; write its name in the time zone database, for example America/New_York"
        raise ValueError(what) from error


def _known_zone(name: str) -> str:
    zone_named(name)
    return name


ZoneName = Annotated[str, Field(min_length=1, max_length=64), AfterValidator(_known_zone)]


class Hour(Input):
    """The weather of one hour that begins at `start` (an instant, kept in UTC); what is absent is unknown.

    Attributes
    ----------
    temp_f, soil_temp_f : float
        Air and soil temperature [degF].
    rh_pct, cloud_pct, rain_chance_pct : float, optional
        Relative humidity, sky covered and chance of rain [percent].
    wind_mph, gust_mph : float, optional
        Steady wind and gusts [mph].
    rain_in : float, optional
        Rain that falls in this hour [inches].
    """

    start: Instant
    temp_f: float = Field(ge=-80, le=140)
    rh_pct: float | None = Field(default=None, ge=0, le=100)
    wind_mph: float | None = Field(default=None, ge=0, le=200)
    gust_mph: float | None = Field(default=None, ge=0, le=250)
    rain_in: float | None = Field(default=None, ge=0, le=20)
    rain_chance_pct: float | None = Field(default=None, ge=0, le=100)
    cloud_pct: float | None = Field(default=None, ge=0, le=100)
    soil_temp_f: float | None = Field(default=None, ge=-20, le=140)

    @property
    def end(self) -> datetime:
        """The instant at which the hour is over."""
        return self.start + HOUR


class Day(Input):
    """The weather of a whole day as daily tables tell it: temperatures [degF] and rain [inches]."""

    date: CalendarDay
    min_f: float | None = Field(default=None, ge=-80, le=130)
    max_f: float | None = Field(default=None, ge=-80, le=140)
    soil_temp_f: float | None = Field(default=None, ge=-20, le=140)
    rain_in: float | None = Field(default=None, ge=0, le=60)

    @model_validator(mode="after")
    def _warmest_is_warmer(self) -> Day:
        if self.min_f is not None and self.max_f is not None and self.min_f > self.max_f:
            raise FieldError("min_f", f"{self.min_f:g} F is above the day's maximum of {self.max_f:g} F")
        return self


class HourlyForecast(Input):
    """Hours of one place in the order of time, whole hours apart, and days beyond them.

    `timezone` is the place's name in the time zone database; local times are told by it. `elevation_m` [m above
    the sea] refines the wet bulb where it is told.
    """

    place: str = Field(default="", max_length=120)
    latitude: float = Field(ge=-90, le=90)
    longitude: float = Field(ge=-180, le=180)
    timezone: ZoneName
    elevation_m: float | None = Field(default=None, ge=-430, le=6000)
    hours: tuple[Hour, ...] = Field(default=(), max_length=MOST_HOURS)
    daily: tuple[Day, ...] = Field(default=(), max_length=MOST_DAYS)
    by_hand: bool = False

    @model_validator(mode="after")
    def _hours_follow_each_other(self) -> HourlyForecast:
        for number, (earlier, later) in enumerate(zip(self.hours, self.hours[1:], strict=False), start=1):
            apart = later.start - earlier.start
            if apart <= timedelta(0):
                what = "is told twice" if not apart else "comes before the hour above it; put the hours in order"
                raise FieldError(f"hours.{number}.start", f"{later.start.isoformat()} {what}")
            if apart % HOUR:
                what = "is not whole hours after the one above it; tell hours alone"
                raise FieldError(f"hours.{number}.start", f"{later.start.isoformat()} {what}")
        return self

    @model_validator(mode="after")
    def _days_follow_each_other(self) -> HourlyForecast:
        for number, (earlier, later) in enumerate(zip(self.daily, self.daily[1:], strict=False), start=1):
            if later.date <= earlier.date:
                what = "is told twice" if later.date == earlier.date else "comes before the day above it"
                raise FieldError(f"daily.{number}.date", f"{later.date} {what}")
        return self

    @property
    def zone(self) -> ZoneInfo:
        """The time zone of the place."""
        return zone_named(self.timezone)


# Its name in the API's document, where the situation has a forecast of its own, is the longer one.
Forecast = HourlyForecast


def bounds(zone: ZoneInfo, day: Date) -> tuple[datetime, datetime]:
    """The instants at which a local day begins and ends, in UTC; 23 or 25 hours apart where the clock is changed."""
    begins, ends = (
        datetime(at.year, at.month, at.day, tzinfo=zone).astimezone(UTC) for at in (day, day + timedelta(days=1))
    )
    return begins, ends


def starts_of(forecast: Forecast, day: Date) -> tuple[datetime, ...]:
    """The instants at which the hours of a local day begin, told or not; 23 or 25 where the clock is changed."""
    begins, ends = bounds(forecast.zone, day)
    # Zones a half hour off put the told hours between the local ones: the grid is that of what is told.
    offset = (forecast.hours[0].start - begins) % HOUR if forecast.hours else timedelta(0)
    count = -((begins + offset - ends) // HOUR)
    return tuple(begins + offset + HOUR * number for number in range(count))


def hours_of(forecast: Forecast, day: Date) -> tuple[Hour, ...]:
    """The hours told that begin on a local day."""
    begins, ends = bounds(forecast.zone, day)
    return tuple(hour for hour in forecast.hours if begins <= hour.start < ends)


def dates_of(forecast: Forecast) -> tuple[Date, ...]:
    """The local days on which an hour is told."""
    return tuple(dict.fromkeys(hour.start.astimezone(forecast.zone).date() for hour in forecast.hours))


def gaps(forecast: Forecast) -> tuple[datetime, ...]:
    """The instants of hours that are missing between the first and the last; nothing fills them in."""
    missing = []
    for earlier, later in zip(forecast.hours, forecast.hours[1:], strict=False):
        at = earlier.end
        while at < later.start:
            missing.append(at)
            at += HOUR
    return tuple(missing)


def warmest(forecast: Forecast, day: Date) -> float | None:
    """The highest air temperature of a local day [degF], or None where it is not told.

    Of hours and a daily figure the warmer counts. Hours tell it where none of the warm part of the day is missing.
    """
    told = _extreme(forecast, day, _WARMEST, max)
    return max(
        (value for value in (told, *(d.max_f for d in _daily(forecast, day))) if value is not None), default=None
    )


def coolest(forecast: Forecast, day: Date) -> float | None:
    """The lowest air temperature of a local day [degF], or None where it is not told."""
    told = _extreme(forecast, day, _COOLEST, min)
    return min(
        (value for value in (told, *(d.min_f for d in _daily(forecast, day))) if value is not None), default=None
    )


def _extreme(
    forecast: Forecast, day: Date, part: tuple[int, int], of: Callable[[Iterable[float]], float]
) -> float | None:
    told = {hour.start: hour.temp_f for hour in hours_of(forecast, day)}
    needed = [at for at in starts_of(forecast, day) if part[0] <= at.astimezone(forecast.zone).hour < part[1]]
    return of(told.values()) if needed and all(at in told for at in needed) else None


def _daily(forecast: Forecast, day: Date) -> tuple[Day, ...]:
    return tuple(item for item in forecast.daily if item.date == day)


def is_wet(hour: Hour, chance_pct: float, amount_in: float) -> bool | None:
    """Whether rain is reckoned with in an hour, or None where nothing tells.

    Parameters
    ----------
    hour : Hour
        The hour.
    chance_pct, amount_in : float
        Chance of rain [percent] and rain [inches] from which it counts.
    """
    if hour.rain_in is None and hour.rain_chance_pct is None:
        return None
    falls = hour.rain_in is not None and hour.rain_in >= amount_in
    return falls or (hour.rain_chance_pct is not None and hour.rain_chance_pct >= chance_pct)


def day_weather(
    forecast: Forecast,
    day: Date,
    work_from_hour: int,
    work_to_hour: int,
    base: KnowledgeBase,
) -> DayWeather:
    """The weather of a day of work as the engine takes it; what cannot be known stays unknown.

    Parameters
    ----------
    forecast : Forecast
        Hours and days of the place.
    day : date
        The local day.
    work_from_hour, work_to_hour : int
        Local hours of the clock between which is worked, 0 to 24.
    base : KnowledgeBase
        Holds from which chance and amount on rain is reckoned with.

    Returns
    -------
    situation.Forecast
        Extremes of the day and the highest of the next three [degF] (known where all three are, or where one that is
        told is warm already: the others can only make it warmer), the mean soil
        temperature [degF], wind [mph] and humidity [percent] as medians over the working hours, and the longest
        time without rain [h] that follows a dry working hour, at most as far as the forecast reaches.

    Raises
    ------
    InputError
        Where the working hours are no span of a day.
    """
    if not 0 <= work_from_hour < work_to_hour <= 24:
        what = f"work from {work_from_hour} to {work_to_hour} is no part of a day; tell hours from 0 to 24 that rise"
        raise InputError([FieldFault("work_from_hour", what)])
    zone, told = forecast.zone, {hour.start: hour for hour in hours_of(forecast, day)}
    starts = starts_of(forecast, day)
    work = [told.get(at) for at in starts if work_from_hour <= at.astimezone(zone).hour < work_to_hour]
    later = [warmest(forecast, day + timedelta(days=ahead)) for ahead in (1, 2, 3)]
    known, warm = [value for value in later if value is not None], base.parameter("warm-air-f")
    return DayWeather(
        max_temp_f=warmest(forecast, day),
        max_temp_next_3_days_f=max(known) if len(known) == len(later) or (known and max(known) >= warm) else None,
        min_temp_f=coolest(forecast, day),
        soil_temp_f=_soil(forecast, day, [told.get(at) for at in starts]),
        wind_mph=_median([hour.wind_mph if hour else None for hour in work]),
        rh_pct=_median([hour.rh_pct if hour else None for hour in work]),
        rain_free_hours=_rain_free(work, wetness(forecast, base)),
    )


def _median(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return statistics.median(known) if known and len(known) == len(values) else None


def _soil(forecast: Forecast, day: Date, hours: Sequence[Hour | None]) -> float | None:
    known = [hour.soil_temp_f for hour in hours if hour is not None and hour.soil_temp_f is not None]
    if known and len(known) == len(hours):
        return statistics.fmean(known)
    return next((item.soil_temp_f for item in _daily(forecast, day)), None)


def _rain_free(work: Sequence[Hour | None], wet: dict[datetime, bool | None]) -> float | None:
    told = [hour for hour in work if hour is not None and wet[hour.start] is not None]
    if not told:
        return None
    dry = [hour for hour in told if not wet[hour.start]]
    if not dry:
        # Where an hour is unknown, rain in all the others does not tell that none is dry.
        return 0.0 if len(told) == len(work) else None
    runs = dry_runs(wet)
    return float(max(runs.get(hour.end, 0) for hour in dry))


def wetness(forecast: Forecast, base: KnowledgeBase) -> dict[datetime, bool | None]:
    """Whether rain is reckoned with, by the instant at which an hour begins; None where nothing tells."""
    chance, amount = base.parameter("spray-rain-chance"), base.parameter("spray-rain-amount")
    return {hour.start: is_wet(hour, chance, amount) for hour in forecast.hours}


def dry_runs(wet: dict[datetime, bool | None]) -> dict[datetime, int]:
    """How many hours from each told one on are dry, without a break; `wet` holds them in order."""
    runs: dict[datetime, int] = {}
    for at in reversed(wet):
        runs[at] = runs.get(at + HOUR, 0) + 1 if wet[at] is False else 0
    return runs
