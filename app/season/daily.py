"""Temperatures day by day, as the growth of weeds takes them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date as Date

from app.engine.errors import FieldFault, InputError
from app.season.degree_days import average

# A day with the lowest and the highest air temperature [F].
AirDay = tuple[Date, float, float]


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
    return sum(average(low, high, base_f) for _, low, high in days)


def in_c_days(degree_days_f: float) -> float:
    """Fahrenheit degree-days as Celsius degree-days."""
    return degree_days_f / 1.8


def in_c(temperature_f: float) -> float:
    """A temperature in Celsius."""
    return (temperature_f - 32) / 1.8


def tidy(value: float) -> str:
    """A figure with at most one decimal.

    >>> tidy(10.0), tidy(8.888)
    ('10', '8.9')
    """
    return f"{value:.1f}".removesuffix(".0")


def day_words(day: Date, beside: Date) -> str:
    """A day in words, its year where it differs from the other's.

    >>> day_words(Date(2027, 6, 5), Date(2027, 9, 1)), day_words(Date(2027, 6, 5), Date(2028, 1, 1))
    ('5 June', '5 June 2027')
    """
    return f"{day.day} {day:%B}" + (f" {day.year}" if day.year != beside.year else "")
