"""Rounding to what a person can pour or weigh, never above the maximum."""

from __future__ import annotations

import math
from dataclasses import dataclass

from app.mixing.plan import System
from knowledge.base import KnowledgeBase
from knowledge.models import Measures
from knowledge.quantities import Quantity

# Room for the rounding of unit conversions, as a share of one step.
_ROUNDING = 1e-9
# How measures are said in larger ones: unit, larger unit, how many of the one make the other.
_LARGER = {
    "fl oz": (("gal", 128.0), ("qt", 32.0)),
    "oz": (("lb", 16.0),),
    "mL": (("L", 1000.0),),
    "g": (("kg", 1000.0),),
}


@dataclass(frozen=True)
class Pour:
    """What is poured for an amount.

    Attributes
    ----------
    amount, pour : Quantity
        Exact, and as measured, in the unit of the measure.
    error : float
        How far `pour` is from `amount` [percent of the amount].
    step : float
        Mark of the measure that it is read on, in the unit of `pour`.
    """

    amount: Quantity
    pour: Quantity
    error: float
    step: float


def measures_for(base: KnowledgeBase, amount: Quantity, system: System) -> Measures:
    """The measures for a volume or a weight in a system of units."""
    state = "liquid" if amount.dimension == "volume" else "dry"
    return next(item for item in base.measures.values() if (item.system, item.state) == (system, state))


def pour(base: KnowledgeBase, amount: Quantity, ceiling: Quantity | None, system: System) -> Pour:
    """Round an amount to the coarsest mark whose error is small enough.

    Parameters
    ----------
    amount : Quantity
        Exact amount, a volume or a weight.
    ceiling : Quantity or None
        The most that may be poured, of the same dimension; None where it is unknown, and then it is
        never more than the amount itself.

    Returns
    -------
    Pour
        Rounded to the nearest mark where that stays within the ceiling, else down.
    """
    measures = measures_for(base, amount, system)
    exact = amount.to(measures.unit)
    most = ceiling.to(measures.unit).value if ceiling is not None else exact.value
    enough = base.parameter("pour-error")
    found = None
    for step in measures.steps:
        value = _rounded(exact.value, most, step)
        error = 100 * (value - exact.value) / exact.value
        found = Pour(exact, Quantity(value, measures.unit), error, step)
        if abs(error) <= enough:
            break
    assert found is not None, "every measure has a mark"
    return found


def _rounded(value: float, most: float, step: float) -> float:
    nearest = math.floor(value / step + 0.5)
    highest = math.floor(most / step + _ROUNDING)
    # Written as whole marks, so that no rest of binary fractions is shown.
    return round(min(nearest, highest) * step, 6)


def said(measured: Quantity) -> str:
    """A poured amount in the measures at hand.

    >>> said(Quantity(50, "fl oz")), said(Quantity(52.3, "oz")), said(Quantity(240, "mL"))
    ('1 qt 18 fl oz', '3 lb 4.3 oz', '240 mL')
    """
    parts, rest = [], measured.value
    for unit, size in _LARGER[measured.unit]:
        count = math.floor(rest / size + _ROUNDING)
        if count:
            parts.append(f"{count} {unit}")
            rest -= count * size
    rest = round(rest, 6)
    if rest > 0 or not parts:
        parts.append(f"{rest:g} {measured.unit}")
    return " ".join(parts)
