"""The weather over the demo branch: a summer week, an autumn week, and a year so far. All of it is invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date as Date
from datetime import timedelta

import numpy as np

SEED = 20270712


@dataclass(frozen=True)
class Told:
    """A day as the forecast has it.

    Attributes
    ----------
    low, high, dew : float
        Lowest and highest air temperature and dew point [F]; `low` is that of sunrise.
    calm, wind, gusts : float
        Wind in the night and at its strongest in the afternoon, and its gusts then [mph].
    cloud : int
        Sky covered [percent].
    rain : dict of int to float
        Rain [in] by the hour in which it falls.
    soil : float
        Mean soil temperature at two inches [F].
    """

    date: str
    low: float
    high: float
    dew: float
    calm: float
    wind: float
    gusts: float
    cloud: int
    soil: float
    rain: dict[int, float]


STORM = {15: 0.12, 16: 0.44, 17: 0.08}
DRIZZLE = {6: 0.02, 7: 0.05, 8: 0.08, 9: 0.06, 10: 0.04, 11: 0.07, 12: 0.05, 13: 0.03, 14: 0.02}
JULY = (
    Told("2027-07-12", 64, 86, 63, 2, 7, 11, 20, 76, {}),
    Told("2027-07-13", 62, 83, 61, 2, 6, 9, 15, 77, {}),
    Told("2027-07-14", 63, 85, 63, 2, 6, 9, 15, 77, {}),
    Told("2027-07-15", 68, 88, 67, 2, 8, 13, 45, 79, STORM),
    Told("2027-07-16", 69, 89, 61, 9, 17, 27, 30, 77, {}),
    Told("2027-07-17", 66, 93, 65, 2, 6, 10, 10, 78, {}),
    Told("2027-07-18", 70, 95, 69, 2, 8, 13, 25, 80, {}),
)
OCTOBER = (
    Told("2027-10-04", 43, 62, 43, 3, 6, 10, 30, 58, {}),
    Told("2027-10-05", 45, 66, 46, 3, 7, 11, 40, 58, {}),
    Told("2027-10-06", 50, 57, 50, 5, 8, 13, 95, 57, DRIZZLE),
    Told("2027-10-07", 44, 55, 37, 10, 18, 29, 50, 55, {}),
    Told("2027-10-08", 30, 58, 30, 1, 5, 8, 5, 52, {}),
    Told("2027-10-09", 37, 64, 40, 2, 6, 9, 15, 53, {}),
    Told("2027-10-10", 46, 68, 47, 3, 7, 11, 35, 55, {}),
)
HOURS = ("time", "temp_f", "rh", "wind_mph", "gust_mph", "rain_in", "rain_chance", "cloud", "soil_f")
DAYS = ("date", "min_f", "max_f", "soil_f")
# The clock of the day: coolest, warmest, and between them the wind.
COOLEST, WARMEST = 5, 15
# A storm takes so much off the air [F] for the hours after it begins.
STORM_COOLS, STORM_LASTS = 14.0, 5
# The year of the place, day by day: mean of the year, half its swing, coldest day of the year, and how far the
# highs lie above the lows in winter and in summer [F]; days hold on to what they are.
YEAR_MEAN, YEAR_SWING, COLDEST_DAY = 48.5, 23.5, 22
SPREAD_WINTER, SPREAD_SUMMER = 14.0, 21.0
NOISE_WINTER, NOISE_SUMMER, HOLDS = 6.5, 3.5, 0.65
# Soil follows the air slowly, is a little warmer under the sun, and hardly freezes under turf.
SOIL_TAKES, SOIL_SUN, SOIL_LEAST = 0.22, 2.5, 31.0
Row = dict[str, object]


def humidity(temp_f: float, dew_f: float) -> int:
    """Relative humidity [percent] of air at a temperature and dew point [F] (Magnus; constants from memory).

    >>> humidity(68, 68), humidity(88, 66)
    (100, 48)
    """
    air, dew = ((value - 32) / 1.8 for value in (temp_f, dew_f))
    share = np.exp(17.625 * dew / (243.04 + dew) - 17.625 * air / (243.04 + air))
    return int(np.clip(np.rint(100 * share), 15, 100))


def air(days: tuple[Told, ...], number: int, hour: int) -> float:
    """Air temperature [F] of an hour: up from sunrise to afternoon, then down to the next sunrise."""
    day = days[number]
    if COOLEST <= hour <= WARMEST:
        part = (hour - COOLEST) / (WARMEST - COOLEST)
        found = day.low + (day.high - day.low) * (1 - np.cos(np.pi * part)) / 2
    else:
        late = hour > WARMEST
        highest = day.high if late or number == 0 else days[number - 1].high
        next_low = day.low if not late or number + 1 == len(days) else days[number + 1].low
        part = ((hour - WARMEST) % 24) / ((COOLEST - WARMEST) % 24)
        found = next_low + (highest - next_low) * (1 - part) ** 1.6
    if day.rain is STORM and min(STORM) < hour <= min(STORM) + STORM_LASTS:
        found = max(found - STORM_COOLS * (1 - (hour - min(STORM) - 1) / STORM_LASTS), day.low)
    return float(found)


def between(days: tuple[Told, ...], number: int, hour: int, of: Callable[[Told], float]) -> float:
    """A figure that each day tells for its noon, in between for the hours between two noons."""
    other = min(max(number + (1 if hour >= 12 else -1), 0), len(days) - 1)
    part = abs(hour - 12) / 24
    return (1 - part) * of(days[number]) + part * of(days[other])


def hours(days: tuple[Told, ...], seed: int = SEED) -> list[Row]:
    """The hours of a week, as rows of a table."""
    chance, rows = np.random.default_rng(seed), []
    for number, day in enumerate(days):
        for hour in range(24):
            temp = round(air(days, number, hour))
            aloft = float(np.sin(np.pi * np.clip((hour - 7) / 14, 0, 1)))
            calm = between(days, number, hour, lambda told: told.calm) if hour >= 12 else day.calm
            wind = calm + (day.wind - calm) * aloft
            dew = between(days, number, hour, lambda told: told.dew)
            steady = max(1, round(wind + float(chance.uniform(-0.6, 0.6))))
            rain = day.rain.get(hour, 0.0)
            near = any(abs(hour - wet) <= 1 for wet in day.rain)
            sky = 90 if near else day.cloud
            rows.append(
                {
                    "time": f"{day.date} {hour:02d}:00",
                    "temp_f": temp,
                    "rh": humidity(temp, min(dew, temp)),
                    "wind_mph": steady,
                    "gust_mph": max(steady, round(steady * day.gusts / day.wind), 22 if rain > 0.1 else 0),
                    "rain_in": rain,
                    "rain_chance": 80 if rain else 40 if near else 5,
                    "cloud": int(np.clip(sky + chance.integers(-5, 6), 0, 100)),
                    "soil_f": round(day.soil + 3 * np.sin(2 * np.pi * (hour - 11) / 24)),
                }
            )
    return rows


def extremes(rows: list[Row]) -> dict[str, tuple[int, int, int]]:
    """Lowest and highest air and mean soil temperature [F] of each day of a table of hours."""
    found: dict[str, list[tuple[int, int]]] = {}
    for row in rows:
        found.setdefault(str(row["time"])[:10], []).append((int(str(row["temp_f"])), int(str(row["soil_f"]))))
    return {
        day: (min(t for t, _ in told), max(t for t, _ in told), round(float(np.mean([s for _, s in told]))))
        for day, told in found.items()
    }


def daily(year: int = 2027, seed: int = SEED) -> list[Row]:
    """The days of the year so far; those of the summer week are as its hours have them."""
    chance, week = np.random.default_rng(seed), extremes(hours(JULY))
    day, last = Date(year, 1, 1), Date.fromisoformat(JULY[-1].date)
    off, soil, rows = 0.0, SOIL_LEAST, list[Row]()
    while day <= last:
        warmth = (1 - np.cos(2 * np.pi * (day.timetuple().tm_yday - COLDEST_DAY) / 365)) / 2
        noise = NOISE_WINTER + (NOISE_SUMMER - NOISE_WINTER) * warmth
        off = HOLDS * off + float(chance.normal(0, noise * np.sqrt(1 - HOLDS**2)))
        mean = YEAR_MEAN - YEAR_SWING + 2 * YEAR_SWING * warmth + off
        spread = (SPREAD_WINTER + (SPREAD_SUMMER - SPREAD_WINTER) * warmth) * float(chance.uniform(0.7, 1.25))
        soil = max(SOIL_LEAST, soil + SOIL_TAKES * (mean + SOIL_SUN * warmth - soil))
        told = (round(mean - spread / 2), round(mean + spread / 2), round(soil))
        low, high, ground = week.get(day.isoformat(), told)
        rows.append({"date": day.isoformat(), "min_f": low, "max_f": high, "soil_f": ground})
        day += timedelta(days=1)
    return rows
