"""US or metric: how figures are shown, and how typed figures are read."""

from __future__ import annotations

from typing import Literal

from app.engine.output import Amount
from knowledge.quantities import Quantity

System = Literal["us", "metric"]
COOKIE = "units"
LABELS: dict[System, dict[str, str]] = {
    "us": {"temperature": "°F", "wind": "mph", "height": "in", "carrier": "gal/1000 ft2", "area": "ft2"},
    "metric": {"temperature": "°C", "wind": "km/h", "height": "cm", "carrier": "L/ha", "area": "m2"},
}
_KM_PER_MILE, _CM_PER_INCH = 1.609344, 2.54


def system_named(name: str | None) -> System:
    """The system of a name; US where it says nothing that is known."""
    return "metric" if name == "metric" else "us"


def read(kind: str, value: float, system: System) -> float:
    """A typed figure in the unit the engine takes (degrees F, mph, in)."""
    if system == "us":
        return value
    return {"temperature": value * 9 / 5 + 32, "wind": value / _KM_PER_MILE, "height": value / _CM_PER_INCH}[kind]


def rate(amount: Amount, system: System) -> str:
    """A rate of active as it is shown, for example ``0.75 lb ae/acre (0.28 oz ae/1000 ft2)``."""
    quantity = Quantity(amount.value, amount.unit)
    counted = quantity.dimension.removesuffix("-rate")
    if counted not in ("ae", "ai"):
        return f"{amount.value:g} {amount.unit}"
    if system == "metric":
        return f"{quantity.to(f'g {counted}/ha').value:.3g} g {counted}/ha"
    per_1000 = quantity.to(f"oz {counted}/acre").value / 43.56
    return f"{amount.value:g} lb {counted}/acre ({per_1000:.2g} oz {counted}/1000 ft2)"


def text_rate(text: str, system: System) -> str:
    """A rate written in the facts, in the system asked for."""
    value, _, unit = text.partition(" ")
    quantity = Quantity(float(value), unit)
    counted = quantity.dimension.removesuffix("-rate")
    if counted not in ("ae", "ai"):
        return text
    target = f"g {counted}/ha" if system == "metric" else f"lb {counted}/acre"
    return f"{quantity.to(target).value:.3g} {target}"
