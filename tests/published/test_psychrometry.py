"""Wet bulb and Delta T against printed tables and other reckonings; the basis stands beside each check."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.season.psychrometry import celsius, delta_t_c, wet_bulb_c

# Published: air [C], humidity [percent], wet-bulb depression [C], read from a psychrometric table (Weather and Water
# teaching module, Relative Humidity Table); humidity is rounded to 1 percent there, so 0.4 C is allowed.
TABLE = [
    *((15, 80, 2), (15, 62, 4), (20, 83, 2), (20, 52, 6), (20, 38, 8), (20, 26, 10), (25, 85, 2), (25, 71, 4)),
    *((25, 57, 6), (25, 45, 8), (25, 34, 10), (30, 86, 2), (30, 73, 4), (30, 61, 6), (30, 50, 8), (30, 40, 10)),
    *((34, 54, 8), (34, 44, 10)),
]
# Computed: air [C], humidity [percent], wet bulb [C] at 101325 Pa by the ASHRAE equations, and Delta T of the
# Stull 2011 formula (methods PSY-01).
COMPUTED = [
    *((5, 60, 2.115, 3.47), (10, 40, 4.563, 5.813), (10, 80, 8.29, 2.071), (15, 50, 9.672, 5.6)),
    *((15, 90, 14.01, 1.155), (20, 30, 10.853, 9.183), (20, 50, 13.783, 6.301), (20, 70, 16.441, 3.72)),
    *((25, 20, 12.513, 12.502), (25, 50, 17.889, 7.002), (25, 80, 22.38, 2.67), (30, 30, 17.972, 11.632)),
    *((30, 50, 22.005, 7.703), (35, 20, 18.87, 15.698), (35, 40, 23.934, 10.486), (40, 15, 20.356, 19.231)),
    *((20, 40, 12.355, 7.681), (25, 60, 19.471, 5.497), (30, 80, 27.091, 2.87)),
]


def stull(air_c: float, rh: float) -> float:
    """Wet bulb [C]; coefficients from memory (Stull 2011, spr-dt-formula), matched by the rows above."""
    return (
        air_c * math.atan(0.151977 * math.sqrt(rh + 8.313659))
        + math.atan(air_c + rh)
        - math.atan(rh - 1.676331)
        + 0.00391838 * rh**1.5 * math.atan(0.023101 * rh)
        - 4.686035
    )


@pytest.mark.parametrize(("air_c", "rh", "depression"), TABLE)
def test_a_printed_table(air_c: float, rh: float, depression: float) -> None:
    assert delta_t_c(air_c * 9 / 5 + 32, rh) == pytest.approx(depression, abs=0.4)


@pytest.mark.parametrize(("air_c", "rh", "wet", "by_stull"), COMPUTED)
def test_check_values(air_c: float, rh: float, wet: float, by_stull: float) -> None:
    assert wet_bulb_c(air_c, rh) == pytest.approx(wet, abs=0.005)
    assert air_c - stull(air_c, rh) == pytest.approx(by_stull, abs=0.005)


@pytest.mark.parametrize(("air_c", "rh", "sea", "high"), [(20, 50, 6.217, 6.655), (30, 30, 12.028, 12.758)])
def test_height_raises_it(air_c: float, rh: float, sea: float, high: float) -> None:
    """Computed (PSY-02): at 1500 m (84556 Pa) about 6 to 7 percent more."""
    air_f = air_c * 9 / 5 + 32
    assert delta_t_c(air_f, rh) == pytest.approx(sea, abs=0.005)
    assert delta_t_c(air_f, rh, 1500) == pytest.approx(high, abs=0.01)


def test_a_printed_psychrometer_entry() -> None:
    """Published: dry bulb 68 F and wet bulb 62 F are 71 percent (US Army technical manual, PSY-04)."""
    assert wet_bulb_c(celsius(68), 71) == pytest.approx(celsius(62), abs=0.25)


# The published error is against another definition of the wet bulb (along a moist adiabat), which differs from the
# psychrometric one by 0.1 to 0.3 C (computed, PSY-01).
DEFINITIONS_C = 0.3


@given(st.floats(5, 40), st.floats(15, 99))
def test_stull_stays_within_its_published_error(air_c: float, rh: float) -> None:
    """Published: errors of the fit from -1.0 to +0.65 C at sea level, not where it is both cold and very dry."""
    assert -1.0 - DEFINITIONS_C <= stull(air_c, rh) - wet_bulb_c(air_c, rh) <= 0.65 + DEFINITIONS_C


def test_stull_is_near_in_the_mean() -> None:
    """Published: mean absolute error below 0.3 C."""
    grid = [(air, rh) for air in range(5, 41, 5) for rh in range(15, 100, 5)]
    mean = sum(abs(stull(air, rh) - wet_bulb_c(air, rh)) for air, rh in grid) / len(grid)
    assert mean < 0.3 + DEFINITIONS_C / 2


@given(st.floats(-20, 120), st.floats(0, 100))
def test_it_is_never_negative_and_falls_with_humidity(air_f: float, rh: float) -> None:
    found = delta_t_c(air_f, rh)
    assert found >= 0
    assert delta_t_c(air_f, min(rh + 5, 100)) <= found + 1e-3
