"""Temperatures day by day, as the growth of weeds takes them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date as Date
from datetime import timedelta

from app.engine.errors import FieldFault, InputError
from app.engine.measures import Day, Input

_COLDEST_F, _HOTTEST_F = -80.0, 140.0

# A day with the lowest and the highest air temperature [F].
AirDay = tuple[Date, float, float]


class DailyTemperature(Input):
    """One day: lowest and highest air, and the mean of the soil where it was measured [F]."""

    date: Day
    min_f: float
    max_f: float
    soil_f: float | None = None


def day_faults(days: Sequence[DailyTemperature], *, whole: bool) -> list[FieldFault]:
    """What is wrong with a run of days.

    Parameters
    ----------
    whole : bool
        Whether a day that is left out is a fault.
    """
    faults = []
    for index, day in enumerate(days):
        if day.min_f > day.max_f:
            what = f"{day.min_f:g} F is above the highest of that day, {day.max_f:g} F"
            faults.append(FieldFault(f"daily.{index}.min_f", what))
        for name in ("min_f", "max_f", "soil_f"):
            value = getattr(day, name)
            if value is not None and not _COLDEST_F <= value <= _HOTTEST_F:
                what = f"{value:g} F is no temperature of a lawn; it must lie between {_COLDEST_F:g} and {_HOTTEST_F:g}"
                faults.append(FieldFault(f"daily.{index}.{name}", what))
        before = days[index - 1].date if index else None
        if before is not None and day.date <= before:
            what = f"{day.date} comes after {before}; give each day once, in order"
            faults.append(FieldFault(f"daily.{index}.date", what))
        elif whole and before is not None and day.date > before + timedelta(days=1):
            what = f"{day.date} comes after {before}; the days between are missing"
            faults.append(FieldFault(f"daily.{index}.date", what))
    return faults


def degree_days(days: Sequence[AirDay], base_f: float) -> float:
    """Degree-days of the simple daily average above a base, floored at nil each day [F degree-days].

    Raises
    ------
    InputError
        For a day whose lowest lies above its highest.
    """
    for index, (_, low, high) in enumerate(days):
        if low > high:
            raise InputError([FieldFault(f"daily.{index}", f"lowest {low:g} F lies above highest {high:g} F")])
    return sum(max(0.0, (low + high) / 2 - base_f) for _, low, high in days)


def in_c_days(degree_days_f: float) -> float:
    """Fahrenheit degree-days as Celsius degree-days."""
    return degree_days_f / 1.8


def in_c(temperature_f: float) -> float:
    """A temperature in Celsius."""
    return (temperature_f - 32) / 1.8
