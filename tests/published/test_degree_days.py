"""Degree-days against printed examples, check values of another reckoning, and numerical averaging by scipy."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from app.season.degree_days import average, modified_average, single_sine

# min, max, lower, upper, single sine, simple average, modified average.
# Computed, not published: numerical averaging of the clipped sine (methods GDD-02, basis computed).
# The first fourteen in degF, the others in degC; the formulas know no unit.
COMPUTED = [
    (40, 70, 50, None, 7.5424, 5.0, 10.0),
    (45, 75, 50, None, 10.8816, 10.0, 12.5),
    (30, 60, 50, None, 2.5424, 0.0, 5.0),
    (50, 80, 50, None, 15.0, 15.0, 15.0),
    (60, 90, 50, None, 25.0, 25.0, 25.0),
    (35, 52, 50, None, 0.2947, 0.0, 1.0),
    (40, 50, 50, None, 0.0, 0.0, 0.0),
    (48, 52, 50, None, 0.6366, 0.0, 1.0),
    (34, 60, 40, None, 8.2539, 7.0, 10.0),
    (44, 84, 53, None, 12.8559, 11.0, 15.5),
    (50, 82, 55, 90, 11.8526, 11.0, 13.5),
    (45, 95, 50, 88, 19.5501, 20.0, 19.0),
    (55, 100, 50, 88, 24.793, 27.5, 21.5),
    (90, 100, 50, 88, 38.0, 45.0, 39.0),
    (5, 20, 10, None, 3.7712, 2.5, 5.0),
    (0, 15, 10, None, 1.2712, 0.0, 2.5),
    (12, 35, 10, 30, 12.4874, 13.5, 11.0),
    (-5, 12, 0, None, 4.6884, 3.5, 6.0),
    (7, 14, 12, 33, 0.4681, 0.0, 1.0),
    (10, 15, 11, 16, 1.6939, 1.5, 2.0),
]


@pytest.mark.parametrize(("low", "high", "base", "upper", "sine", "simple", "modified"), COMPUTED)
def test_check_values(
    low: float, high: float, base: float, upper: float | None, sine: float, simple: float, modified: float
) -> None:
    assert single_sine(low, high, base, upper) == pytest.approx(sine, abs=6e-5)
    assert average(low, high, base) == pytest.approx(simple)
    if upper is not None and low > upper:
        # The check value lowers the maximum alone to the cut-off and so counts more than the cut-off allows;
        # here both extremes are held, as the sine is.
        assert modified_average(low, high, base, upper) == upper - base < modified
    else:
        assert modified_average(low, high, base, upper) == pytest.approx(modified)


@pytest.mark.parametrize(("low", "high", "base", "upper"), [row[:4] for row in COMPUTED])
def test_the_sine_is_the_mean_of_its_wave(low: float, high: float, base: float, upper: float | None) -> None:
    """Computed with scipy: the clipped wave integrated over half a turn, from its lowest to its highest point."""
    mean, half, ceiling = (low + high) / 2, (high - low) / 2, math.inf if upper is None else upper

    def above(angle: float) -> float:
        return max(min(mean + half * math.sin(angle), ceiling) - base, 0.0)

    edges = [math.asin((t - mean) / half) for t in (base, ceiling) if abs(t - mean) < half]
    area, _ = quad(above, -math.pi / 2, math.pi / 2, points=edges or None)
    assert single_sine(low, high, base, upper) == pytest.approx(area / math.pi, abs=1e-7)


def test_the_printed_simple_average() -> None:
    """Published: average 64 F less threshold 53 F gives 11 (University of California IPM, GDD-03)."""
    assert average(44, 84, 53) == 11
    assert average(60, 68, 53) == 11


def test_the_printed_example_of_a_library() -> None:
    """Published: minimum 34, maximum 60, base 40 gives 7 by daily average (documentation of a library, GDD-07)."""
    assert average(34, 60, 40) == 7
    # Its single sine, computed there: 8.25387.
    assert single_sine(34, 60, 40) == pytest.approx(8.25387, abs=1e-5)


@pytest.mark.parametrize(
    ("low", "high", "base", "straight"), [(40, 70, 50, 7.5), (30, 60, 50, 2.5), (45, 75, 50, 11.25)]
)
def test_near_the_four_cases_of_a_weather_service(low: float, high: float, base: float, straight: float) -> None:
    """Published formulas (Met Eireann, GDD-04): on days that straddle the base within 0.4 of the sine."""
    mean = (low + high) / 2
    four = (high - base) / 2 - (base - low) / 4 if mean > base else (high - base) / 4
    assert four == straight
    assert abs(single_sine(low, high, base) - four) < 0.4
