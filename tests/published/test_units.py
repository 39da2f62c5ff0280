"""Every unit against pint, a general-purpose units library."""

from __future__ import annotations

import pint
import pytest

from knowledge.quantities import UNITS

REGISTRY = pint.UnitRegistry()
# unit -> (the same in pint's words, the base unit of its dimension)
SAME = {
    "lb ae/acre": ("pound / acre", "gram / hectare"),
    "lb ai/acre": ("pound / acre", "gram / hectare"),
    "oz ae/acre": ("ounce / acre", "gram / hectare"),
    "oz ai/acre": ("ounce / acre", "gram / hectare"),
    "g ae/ha": ("gram / hectare", "gram / hectare"),
    "g ai/ha": ("gram / hectare", "gram / hectare"),
    "kg ae/ha": ("kilogram / hectare", "gram / hectare"),
    "kg ai/ha": ("kilogram / hectare", "gram / hectare"),
    "fl oz/1000 ft2": ("US_fluid_ounce / (1000 * foot**2)", "liter / hectare"),
    "fl oz/acre": ("US_fluid_ounce / acre", "liter / hectare"),
    "pt/acre": ("US_pint / acre", "liter / hectare"),
    "qt/acre": ("US_liquid_quart / acre", "liter / hectare"),
    "gal/acre": ("US_liquid_gallon / acre", "liter / hectare"),
    "gal/1000 ft2": ("US_liquid_gallon / (1000 * foot**2)", "liter / hectare"),
    "L/ha": ("liter / hectare", "liter / hectare"),
    "mL/100 m2": ("milliliter / (100 * meter**2)", "liter / hectare"),
    "oz/acre": ("ounce / acre", "gram / hectare"),
    "lb/acre": ("pound / acre", "gram / hectare"),
    "lb ae/gal": ("pound / US_liquid_gallon", "gram / liter"),
    "lb ai/gal": ("pound / US_liquid_gallon", "gram / liter"),
    "lb/gal": ("pound / US_liquid_gallon", "gram / liter"),
    "g ae/L": ("gram / liter", "gram / liter"),
    "g ai/L": ("gram / liter", "gram / liter"),
    "ft2": ("foot**2", "meter**2"),
    "acre": ("acre", "meter**2"),
    "m2": ("meter**2", "meter**2"),
    "ha": ("hectare", "meter**2"),
    "gal": ("US_liquid_gallon", "liter"),
    "L": ("liter", "liter"),
    "weeks": ("week", "day"),
    "mL/ha": ("milliliter / hectare", "liter / hectare"),
    "oz/1000 ft2": ("ounce / (1000 * foot**2)", "gram / hectare"),
    "lb/1000 ft2": ("pound / (1000 * foot**2)", "gram / hectare"),
    "g/ha": ("gram / hectare", "gram / hectare"),
    "kg/ha": ("kilogram / hectare", "gram / hectare"),
    "g/100 m2": ("gram / (100 * meter**2)", "gram / hectare"),
    "fl oz/gal": ("US_fluid_ounce / US_liquid_gallon", ""),
    "mL/L": ("milliliter / liter", ""),
    "oz/gal": ("ounce / US_liquid_gallon", "gram / liter"),
    "g/L": ("gram / liter", "gram / liter"),
    "kg/L": ("kilogram / liter", "gram / liter"),
    "qt": ("US_liquid_quart", "liter"),
    "pt": ("US_pint", "liter"),
    "fl oz": ("US_fluid_ounce", "liter"),
    "mL": ("milliliter", "liter"),
    "lb": ("pound", "gram"),
    "oz": ("ounce", "gram"),
    "kg": ("kilogram", "gram"),
    "g": ("gram", "gram"),
}


@pytest.mark.parametrize("unit", sorted(SAME))
def test_a_unit_is_what_pint_says(unit: str) -> None:
    theirs, base = SAME[unit]
    # pint's acre is the US survey acre; ours is the international one, four parts in a million smaller.
    tolerance = 5e-6 if "acre" in theirs else 1e-9
    assert UNITS[unit][1] == pytest.approx(REGISTRY.parse_expression(theirs).to(base).magnitude, rel=tolerance)


def test_every_measured_unit_is_checked() -> None:
    plain = {
        "% w/w",
        "% v/v",
        "degF",
        "mph",
        "days",
        "hours",
        "in",
        "mowings",
        "percent",
        "points",
        "ratio",
        "applications",
    }
    assert set(UNITS) - set(SAME) == plain
