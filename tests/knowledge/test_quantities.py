"""Quantities: parsing, conversion and refusal."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from knowledge.quantities import UNITS, Quantity, QuantityError, parse_quantity

_BY_DIMENSION: dict[str, list[str]] = {}
for _unit, (_dimension, _) in UNITS.items():
    _BY_DIMENSION.setdefault(_dimension, []).append(_unit)
PAIRS = [(a, b) for units in _BY_DIMENSION.values() for a in units for b in units if a != b]


@given(st.sampled_from(PAIRS), st.floats(min_value=1e-6, max_value=1e9))
def test_a_round_trip_between_units_is_exact(pair: tuple[str, str], value: float) -> None:
    there = Quantity(value, pair[0]).to(pair[1])
    assert math.isclose(there.to(pair[0]).value, value, rel_tol=1e-12)


@pytest.mark.parametrize(
    "text", ["1.0", "lb ae/acre", "1.0lb ae/acre", "-1 lb ae/acre", "1.0 stone/acre", "", "nan gal"]
)
def test_what_is_no_quantity_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_quantity(text)


@pytest.mark.parametrize(
    ("quantity", "unit"), [("1 lb ae/acre", "lb ai/acre"), ("1 qt/acre", "lb/acre"), ("1 gal", "acre")]
)
def test_units_of_different_things_are_not_mixed(quantity: str, unit: str) -> None:
    with pytest.raises(QuantityError):
        parse_quantity(quantity).to(unit)


@pytest.mark.parametrize("value", [-1.0, math.inf, math.nan])
def test_a_value_is_finite_and_not_negative(value: float) -> None:
    with pytest.raises(QuantityError):
        Quantity(value, "gal")
