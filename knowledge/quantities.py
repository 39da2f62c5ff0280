"""Quantities with units: parsed once from text, compared and converted exactly.

Every figure in the facts and in a request carries its unit. A quantity is parsed here into a
frozen value; nothing downstream sees a bare number whose unit is a convention.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

# Exact definitions: international yard and pound agreement (1959), US liquid gallon of 231 in3.
GRAM_PER_POUND = 453.59237
GRAM_PER_OUNCE = GRAM_PER_POUND / 16
HECTARE_PER_ACRE = 0.40468564224
FT2_PER_ACRE = 43560.0
LITRE_PER_GALLON = 3.785411784
LITRE_PER_FLUID_OUNCE = LITRE_PER_GALLON / 128

_ACRE = 1 / HECTARE_PER_ACRE
_THOUSAND_FT2 = FT2_PER_ACRE / 1000 / HECTARE_PER_ACRE

# unit -> (dimension, factor to the base unit of that dimension)
UNITS: dict[str, tuple[str, float]] = {
    # active rates; base g/ha
    "lb ae/acre": ("ae-rate", GRAM_PER_POUND * _ACRE),
    "lb ai/acre": ("ai-rate", GRAM_PER_POUND * _ACRE),
    "oz ae/acre": ("ae-rate", GRAM_PER_OUNCE * _ACRE),
    "oz ai/acre": ("ai-rate", GRAM_PER_OUNCE * _ACRE),
    "g ae/ha": ("ae-rate", 1.0),
    "g ai/ha": ("ai-rate", 1.0),
    "kg ae/ha": ("ae-rate", 1000.0),
    "kg ai/ha": ("ai-rate", 1000.0),
    # product rates by volume; base L/ha
    "fl oz/1000 ft2": ("volume-rate", LITRE_PER_FLUID_OUNCE * _THOUSAND_FT2),
    "fl oz/acre": ("volume-rate", LITRE_PER_FLUID_OUNCE * _ACRE),
    "pt/acre": ("volume-rate", LITRE_PER_GALLON / 8 * _ACRE),
    "qt/acre": ("volume-rate", LITRE_PER_GALLON / 4 * _ACRE),
    "gal/acre": ("volume-rate", LITRE_PER_GALLON * _ACRE),
    "gal/1000 ft2": ("volume-rate", LITRE_PER_GALLON * _THOUSAND_FT2),
    "L/ha": ("volume-rate", 1.0),
    "mL/100 m2": ("volume-rate", 0.1),
    "mL/ha": ("volume-rate", 0.001),
    # product rates by weight; base g/ha
    "oz/acre": ("mass-rate", GRAM_PER_OUNCE * _ACRE),
    "lb/acre": ("mass-rate", GRAM_PER_POUND * _ACRE),
    "oz/1000 ft2": ("mass-rate", GRAM_PER_OUNCE * _THOUSAND_FT2),
    "lb/1000 ft2": ("mass-rate", GRAM_PER_POUND * _THOUSAND_FT2),
    "g/ha": ("mass-rate", 1.0),
    "kg/ha": ("mass-rate", 1000.0),
    "g/100 m2": ("mass-rate", 100.0),
    # product in the spray of a spot treatment; base a share of the spray, or g/L
    "fl oz/gal": ("volume-share", 1 / 128),
    "mL/L": ("volume-share", 0.001),
    "oz/gal": ("mass-share", GRAM_PER_OUNCE / LITRE_PER_GALLON),
    "g/L": ("mass-share", 1.0),
    # content of a product; base g/L, or a fraction by weight
    "lb ae/gal": ("ae-content", GRAM_PER_POUND / LITRE_PER_GALLON),
    "lb ai/gal": ("ai-content", GRAM_PER_POUND / LITRE_PER_GALLON),
    "g ae/L": ("ae-content", 1.0),
    "g ai/L": ("ai-content", 1.0),
    "% w/w": ("weight-fraction", 0.01),
    "lb/gal": ("density", GRAM_PER_POUND / LITRE_PER_GALLON),
    "kg/L": ("density", 1000.0),
    # areas; base m2
    "ft2": ("area", HECTARE_PER_ACRE * 10000 / FT2_PER_ACRE),
    "acre": ("area", HECTARE_PER_ACRE * 10000),
    "m2": ("area", 1.0),
    "ha": ("area", 10000.0),
    # volumes; base L
    "gal": ("volume", LITRE_PER_GALLON),
    "qt": ("volume", LITRE_PER_GALLON / 4),
    "pt": ("volume", LITRE_PER_GALLON / 8),
    "fl oz": ("volume", LITRE_PER_FLUID_OUNCE),
    "L": ("volume", 1.0),
    "mL": ("volume", 0.001),
    # weights; base g
    "lb": ("mass", GRAM_PER_POUND),
    "oz": ("mass", GRAM_PER_OUNCE),
    "kg": ("mass", 1000.0),
    "g": ("mass", 1.0),
    # shares of the spray
    "% v/v": ("volume-share", 0.01),
    # plain thresholds of the rules
    "degF": ("temperature-f", 1.0),
    "mph": ("speed-mph", 1.0),
    "days": ("days", 1.0),
    "weeks": ("days", 7.0),
    "hours": ("hours", 1.0),
    "in": ("height-in", 1.0),
    "mowings": ("mowings", 1.0),
    "percent": ("percent", 1.0),
    "points": ("percent", 1.0),
    "ratio": ("ratio", 1.0),
    "applications": ("applications", 1.0),
}

RATE_UNITS = tuple(u for u, (d, _) in UNITS.items() if d.endswith("-rate"))
ACTIVE_RATE_UNITS = tuple(u for u, (d, _) in UNITS.items() if d in ("ae-rate", "ai-rate"))
VOLUME_RATE_UNITS = tuple(u for u, (d, _) in UNITS.items() if d == "volume-rate")
MASS_RATE_UNITS = tuple(u for u, (d, _) in UNITS.items() if d == "mass-rate")
SPRAY_SHARE_UNITS = tuple(u for u, (d, _) in UNITS.items() if d in ("volume-share", "mass-share"))
VOLUME_UNITS = tuple(u for u, (d, _) in UNITS.items() if d == "volume")
MASS_UNITS = tuple(u for u, (d, _) in UNITS.items() if d == "mass")
AREA_UNITS = tuple(u for u, (d, _) in UNITS.items() if d == "area")
CARRIER_UNITS = ("gal/acre", "gal/1000 ft2", "L/ha")

_TEXT = re.compile(r"^\s*([0-9]+(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?)\s+(\S.*?)\s*$")


class QuantityError(ValueError):
    """A text or unit that is not a quantity this project knows."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its unit.

    Parameters
    ----------
    value : float
        The figure as written, zero or more.
    unit : str
        One of `UNITS`.
    """

    value: float
    unit: str

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            raise QuantityError(f"unit '{self.unit}' is not known; use one of {', '.join(UNITS)}")
        if not self.value >= 0 or self.value == float("inf"):
            raise QuantityError(f"value {self.value} must be a finite number, zero or more")

    @property
    def dimension(self) -> str:
        """What the unit measures, for example `ae-rate`."""
        return UNITS[self.unit][0]

    @property
    def base(self) -> float:
        """The value in the base unit of its dimension (g/ha for active rates)."""
        return self.value * UNITS[self.unit][1]

    def to(self, unit: str) -> Quantity:
        """The same quantity in another unit of the same dimension.

        Raises
        ------
        QuantityError
            When the units measure different things (an acid equivalent is not an active
            ingredient; a volume is not a weight).
        """
        if unit not in UNITS:
            raise QuantityError(f"unit '{unit}' is not known")
        dimension, factor = UNITS[unit]
        if dimension != self.dimension:
            raise QuantityError(f"'{self.unit}' cannot be given in '{unit}'")
        return Quantity(self.base / factor, unit)

    def __str__(self) -> str:
        return f"{self.value:.6g} {self.unit}"


def parse_quantity(text: str) -> Quantity:
    """Read a quantity such as ``1.5 lb ae/acre``.

    >>> parse_quantity("1.5 lb ae/acre").to("g ae/ha").value
    1681.276734...
    """
    match = _TEXT.match(text)
    if match is None:
        raise QuantityError(f"'{text}' is not a quantity; write a number, a space and a unit")
    return Quantity(float(match.group(1)), match.group(2))


def acid_equivalent_factor(acid_molecular_weight: float, form_molecular_weight: float) -> float:
    """Fraction of a salt's or ester's weight that counts as parent acid [kg/kg].

    Parameters
    ----------
    acid_molecular_weight, form_molecular_weight : float
        Molecular weights of the parent acid and of the salt or ester [g/mol].
    """
    return acid_molecular_weight / form_molecular_weight
