"""US or metric: how figures are shown, and how typed figures are read."""

from __future__ import annotations

import re
from typing import Literal

from app.engine.measures import Measure
from app.engine.output import Amount
from knowledge.quantities import UNITS, Quantity

System = Literal["us", "metric"]
COOKIE = "units"
LABELS: dict[System, dict[str, str]] = {
    "us": {
        **{"temperature": "°F", "wind": "mph", "height": "in", "carrier": "gal/1000 ft2", "past_rate": "lb/acre"},
        **{"small_area": "1000 ft2", "area": "ft2"},
    },
    "metric": {
        **{"temperature": "°C", "wind": "km/h", "height": "cm", "carrier": "L/ha", "past_rate": "g/ha"},
        **{"small_area": "100 m2", "area": "m2"},
    },
}
# How a metric rate of product or spray is written in US units.
_US_OF = {
    **{"L/ha": "gal/acre", "mL/ha": "fl oz/1000 ft2", "mL/100 m2": "fl oz/1000 ft2"},
    **{"g/ha": "oz/acre", "kg/ha": "lb/acre", "g/100 m2": "lb/1000 ft2"},
}
_KM_PER_MILE, _CM_PER_INCH, _M_PER_FOOT = 1.609344, 2.54, 0.3048
_FREEZING_F = 32.0
# Smallest amount of active written in pounds or kilograms; below it, in ounces or grams.
_LEAST_WHOLE = 1.0
_GRAMS_FROM_WHICH_KILOGRAMS = 10_000


def system_named(name: str | None) -> System:
    """The system of a name; US where it says nothing that is known."""
    return "metric" if name == "metric" else "us"


def figure(value: float, digits: int = 3) -> str:
    """A figure to so many significant digits, never in powers of ten.

    >>> figure(1120.85), figure(0.0925), figure(1.0)
    ('1120', '0.0925', '1')
    """
    return f"{float(f'{value:.{digits}g}'):.10f}".rstrip("0").rstrip(".")


def _factor(kind: str) -> float:
    """Metric units in one US unit of a kind."""
    if kind == "carrier":
        return Quantity(1, "gal/1000 ft2").to("L/ha").value
    if kind == "past_rate":
        return Quantity(1, "lb/acre").base
    return {"temperature": 5 / 9, "wind": _KM_PER_MILE, "height": _CM_PER_INCH}[kind]


def converted(kind: str, value: float, typed_in: System, wanted: System) -> float:
    """A figure of one system in the other."""
    if typed_in == wanted or kind not in LABELS["us"]:
        return value
    zero = _FREEZING_F if kind == "temperature" else 0.0
    if wanted == "metric":
        return (value - zero) * _factor(kind)
    return value / _factor(kind) + zero


def retyped(kind: str, text: str, typed_in: System, wanted: System) -> str:
    """A typed figure as it would be typed in the other system; what is no number stays as it is."""
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return text
    if typed_in == wanted or kind not in LABELS["us"]:
        return text
    shown = converted(kind, value, typed_in, wanted)
    return figure(round(shown, 1)) if kind == "temperature" else figure(shown, 4)


def _counted(quantity: Quantity) -> str:
    """`ae` or `ai` for a rate of active, else nothing."""
    counted = quantity.dimension.removesuffix("-rate")
    return counted if counted in ("ae", "ai") else ""


def rate(amount: Amount | Measure | Quantity, system: System) -> str:
    """A rate per acre or hectare, or a share of the spray, for example ``0.75 lb ae/acre``."""
    quantity = Quantity(amount.value, amount.unit)
    counted, dimension = _counted(quantity), quantity.dimension
    if counted:
        unit = f"g {counted}/ha" if system == "metric" else f"lb {counted}/acre"
    elif dimension in ("volume-rate", "mass-rate") and system == "metric":
        # Granules go by the kilogram.
        heavy = quantity.base >= _GRAMS_FROM_WHICH_KILOGRAMS
        unit = "L/ha" if dimension == "volume-rate" else "kg/ha" if heavy else "g/ha"
    elif amount.unit in _US_OF:
        unit = _US_OF[amount.unit]
    else:
        return f"{figure(amount.value, 4)} {amount.unit}"
    value = quantity.base if unit == "g/ha" else quantity.to(unit).value
    return f"{figure(value)} {unit}"


# Measures in which an amount is written, the largest first, each from the amount at which it reads well.
_MEASURES: dict[tuple[str, System], tuple[tuple[str, float], ...]] = {
    ("volume", "us"): (("gal", 1.0), ("fl oz", 0.0)),
    ("volume", "metric"): (("L", 1.0), ("mL", 0.0)),
    ("mass", "us"): (("lb", 1.0), ("oz", 0.0)),
    ("mass", "metric"): (("kg", 1.0), ("g", 0.0)),
}


def amount_words(amount: Amount | Measure | Quantity, system: System) -> str:
    """An amount of product in the measure that reads best.

    >>> amount_words(Quantity(0.5, "L"), "us"), amount_words(Quantity(0.5, "L"), "metric")
    ('16.9 fl oz', '500 mL')
    """
    quantity = Quantity(amount.value, amount.unit)
    for unit, least in _MEASURES[quantity.dimension, system]:
        shown = quantity.to(unit).value
        if shown >= least:
            break
    return f"{figure(shown)} {unit}"


def _product_on(rate: Quantity, hectares: float) -> Quantity | None:
    """What a rate of product takes on so many hectares; None for other rates."""
    unit = {"volume-rate": "L", "mass-rate": "g"}.get(rate.dimension)
    return Quantity(rate.base * hectares, unit) if unit is not None else None


def small_rate(amount: Amount | Measure | Quantity, system: System) -> str:
    """A rate of active or product for 1000 ft2 or 100 m2; nothing for other amounts."""
    quantity = Quantity(amount.value, amount.unit)
    counted = _counted(quantity)
    if not counted:
        small = Quantity(1000, "ft2") if system == "us" else Quantity(100, "m2")
        taken = _product_on(quantity, small.to("ha").value)
        return amount_words(taken, system) if taken is not None else ""
    if system == "metric":
        return f"{figure(quantity.base / 100, 2)} g {counted}"
    return f"{figure(quantity.to(f'oz {counted}/acre').value / 43.56, 2)} oz {counted}"


def for_area(amount: Amount, area: Measure, system: System) -> str:
    """Amount of active or product that a whole area takes; nothing for other amounts."""
    quantity = Quantity(amount.value, amount.unit)
    counted = _counted(quantity)
    if not counted:
        taken = _product_on(quantity, area.quantity.to("ha").value)
        return amount_words(taken, system) if taken is not None else ""
    if system == "metric":
        grams = quantity.base * area.quantity.to("ha").value
        return (
            f"{figure(grams / 1000)} kg {counted}" if grams >= 1000 * _LEAST_WHOLE else f"{figure(grams)} g {counted}"
        )
    pounds = quantity.to(f"lb {counted}/acre").value * area.quantity.to("acre").value
    return f"{figure(pounds)} lb {counted}" if pounds >= _LEAST_WHOLE else f"{figure(16 * pounds)} oz {counted}"


def area(told: Measure, system: System) -> str:
    """An area as told, or in the system asked for where it was told in the other."""
    metric = told.unit in ("m2", "ha")
    if metric == (system == "metric"):
        return f"{told.value:,.6g} {told.unit}"
    pairs = {"ft2": "m2", "acre": "ha", "m2": "ft2", "ha": "acre"}
    return f"{told.quantity.to(pairs[told.unit]).value:,.4g} {pairs[told.unit]}"


def spoken(kind: str, value: float, system: System) -> str:
    """A figure of the engine (degrees F, mph, inches) with its unit, as it is read."""
    shown = converted(kind, value, "us", system)
    return f"{figure(shown, 3 if kind != 'temperature' else 2 if abs(shown) < 100 else 3)} {LABELS[system][kind]}"


_RATES = "lb ae/acre|lb ai/acre|oz ae/acre|oz ai/acre|lb/acre|oz/acre|gal/acre|gal/1000 ft2|fl oz/acre"
_NUMBER = r"\d+(?:\.\d+)?"
_MEASURE = re.compile(
    rf"(?<![\w.,/-])(?<!base )((?:{_NUMBER}(?:, and |, | to | and | or |-))*{_NUMBER})([ -])"
    rf"({_RATES}|F|mph|inches|inch|ft)(?![\w/])"
)


def sentence(text: str, system: System) -> str:
    """A sentence of the facts or the engine with its figures in the system asked for.

    >>> sentence("between 55 and 80 F, at 0.5 to 1 lb ae/acre", "metric")
    'between 13 and 27 °C, at 560 to 1120 g ae/ha'
    >>> sentence("Above 90 F", "us")
    'Above 90 °F'
    """

    def said(match: re.Match[str]) -> str:
        figures, gap, unit = match.groups()
        if system == "us":
            return f"{figures}{gap}{'°F' if unit == 'F' else unit}"
        shown = re.sub(_NUMBER, lambda number: _metric(float(number.group()), unit)[0], figures)
        return f"{shown}{gap}{_metric(1.0, unit)[1]}"

    return _MEASURE.sub(said, text)


def _metric(value: float, unit: str) -> tuple[str, str]:
    """A figure of a US unit in metric, and that unit."""
    if unit == "F":
        return f"{(value - _FREEZING_F) * 5 / 9:.0f}", "°C"
    plain = {"mph": (_KM_PER_MILE, "km/h"), "ft": (_M_PER_FOOT, "m")}
    if unit in plain:
        return figure(value * plain[unit][0], 2), plain[unit][1]
    if unit in ("inch", "inches"):
        return figure(value * _CM_PER_INCH, 2), "cm"
    dimension = UNITS[unit][0]
    counted = f"g {dimension[:2]}/ha" if dimension[:2] in ("ae", "ai") else "g/ha"
    return figure(Quantity(value, unit).base), "L/ha" if dimension == "volume-rate" else counted
