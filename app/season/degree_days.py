"""Degree-days of daily extremes: how much warmth above a threshold a day has brought.

Thresholds and temperatures are in one unit; here that is degF, and a result counts degree-days F (5/9 of it are
degree-days C).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date as Date
from datetime import timedelta
from typing import Literal, get_args

from app.engine.output import Output
from app.season.forecast import Day

Method = Literal["average", "modified", "sine"]
METHODS: tuple[str, ...] = get_args(Method)


class DegreeDay(Output):
    """One day: its degree-days [degF days] and the total up to it; null where its extremes are not told."""

    date: Date
    min_f: float | None
    max_f: float | None
    degree_days: float | None
    total: float


class DegreeDays(Output):
    """Degree-days of a run of days, and what is missing in it."""

    method: Method
    base_f: float
    upper_f: float | None
    days: tuple[DegreeDay, ...]
    total: float
    missing: tuple[Date, ...]
    text: str
    notices: tuple[str, ...]


def average(low: float, high: float, base: float) -> float:
    """Simple average: the mean of the extremes less the threshold, at least nothing. It knows no upper cut-off.

    >>> average(40, 70, 50)
    5.0
    """
    return max((low + high) / 2 - base, 0.0)


def modified_average(low: float, high: float, base: float, upper: float | None = None) -> float:
    """Average of extremes that are first brought between the threshold and the upper cut-off, where there is one.

    >>> modified_average(40, 70, 50)
    10.0
    """
    ceiling = math.inf if upper is None else upper
    held = [min(max(value, base), ceiling) for value in (low, high)]
    return sum(held) / 2 - base


def single_sine(low: float, high: float, base: float, upper: float | None = None) -> float:
    """Mean over the day of a sine wave between its extremes, above the threshold, cut off flat at the upper one.

    Parameters
    ----------
    low, high : float
        Lowest and highest temperature of the day.
    base, upper : float
        Threshold below which nothing counts, and the one above which warmth counts no more.

    Returns
    -------
    float
        Degree-days in the unit of the temperatures.

    Notes
    -----
    Baskerville and Emin (1969), the horizontal cut-off as in Zalom and co-authors (1983).

    >>> round(single_sine(40, 70, 50), 4)
    7.5424
    """
    whole = _above(low, high, base)
    return whole if upper is None else whole - _above(low, high, upper)


def _above(low: float, high: float, threshold: float) -> float:
    mean, half = (low + high) / 2, (high - low) / 2
    if high <= threshold:
        return 0.0
    if low >= threshold:
        return mean - threshold
    theta = math.asin((threshold - mean) / half)
    return ((mean - threshold) * (math.pi / 2 - theta) + half * math.cos(theta)) / math.pi


def of_day(method: Method, low: float, high: float, base: float, upper: float | None = None) -> float:
    """Degree-days of one day by the method named."""
    if method == "average":
        return average(low, high, base)
    if method == "modified":
        return modified_average(low, high, base, upper)
    return single_sine(low, high, base, upper)


def degree_days(
    days: Sequence[Day],
    base_f: float,
    upper_f: float | None = None,
    method: Method = "sine",
    start: Date | None = None,
) -> DegreeDays:
    """Degree-days of a run of days with the running total.

    A day that is missing, or whose extremes are not told, brings nothing and is named: the total is then too low.

    Parameters
    ----------
    days : sequence of Day
        Days in order, with their extremes [degF].
    base_f, upper_f : float
        Threshold and upper cut-off [degF].
    method : str
        `average`, `modified` or `sine`.
    start : date, optional
        Counted from this day on; from the first where none is given.
    """
    told = {day.date: day for day in days if start is None or day.date >= start}
    rows, missing, total = [], [], 0.0
    first = start if start is not None else min(told, default=None)
    last = max(told, default=None)
    at = first
    while at is not None and last is not None and at <= last:
        day = told.get(at)
        found = None
        if day is not None and day.min_f is not None and day.max_f is not None:
            found = of_day(method, day.min_f, day.max_f, base_f, upper_f)
            total += found
        else:
            missing.append(at)
        low, high = (day.min_f, day.max_f) if day is not None else (None, None)
        rows.append(DegreeDay(date=at, min_f=low, max_f=high, degree_days=found, total=total))
        at += timedelta(days=1)
    return DegreeDays(
        method=method,
        base_f=base_f,
        upper_f=upper_f,
        days=tuple(rows),
        total=total,
        missing=tuple(missing),
        text=_said(rows, base_f, total, len(missing)),
        notices=tuple(_notices(missing, method, upper_f)),
    )


def _said(rows: Sequence[DegreeDay], base_f: float, total: float, missing: int) -> str:
    if not rows:
        return "No day is told from that date on."
    least = "at least " if missing else ""
    counted = f"{total:.0f} degree-days F ({total * 5 / 9:.0f} degree-days C)"
    return f"{rows[0].date} to {rows[-1].date}: {least}{counted} above {base_f:g} F."


def _notices(missing: Sequence[Date], method: Method, upper_f: float | None) -> list[str]:
    said = []
    if missing:
        named = ", ".join(day.isoformat() for day in missing[:10]) + (", ..." if len(missing) > 10 else "")
        days = "1 day is" if len(missing) == 1 else f"{len(missing)} days are"
        said.append(f"{days} not told and not filled in, so the total is too low: {named}.")
    if method == "average" and upper_f is not None:
        said.append("The simple average knows no upper cut-off; use the modified average or the sine.")
    return said
