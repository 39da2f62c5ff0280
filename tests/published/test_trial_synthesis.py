"""Pooling of trials against printed worked examples, and against what was reckoned from their rows."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from app.trials.separation import t_critical
from app.trials.synthesis import Pooled, pooled


def normal_interval(mean: float, se: float) -> tuple[float, float]:
    """As the examples print it; the house takes the t distribution and the error of Hartung and Knapp."""
    reach = float(norm.ppf(0.975)) * se
    return mean - reach, mean + reach


def plain_se(found: Pooled, variances: np.ndarray) -> float:  # type: ignore[type-arg]
    """Standard error of the random-effects mean without the adjustment of Hartung and Knapp."""
    return float((1 / (variances + found.tau2)).sum() ** -0.5)


def test_stroke_care_is_heterogeneous() -> None:
    # Published: Normand S-LT (1999) Statistics in Medicine 18:321-359, tables VIII and IX (reproduced in the tests of
    # the R package metafor). The rows carry two decimals, so tau squared differs from the printed 218.72 in the second.
    y = np.array([-20.0, -2, -55, -71, -4, 1, 11, -10, 7])
    v = np.array([40.59, 2.05, 15.28, 150.22, 20.19, 1.22, 95.38, 8.03, 20.69])
    found = pooled(y, v)
    assert found.fixed == pytest.approx(-3.49, abs=0.005)
    assert normal_interval(found.fixed, float((1 / v).sum() ** -0.5)) == pytest.approx((-5.03, -1.96), abs=0.01)
    assert found.mean == pytest.approx(-14.1, abs=0.05)
    assert normal_interval(found.mean, plain_se(found, v)) == pytest.approx((-24.45, -3.75), abs=0.01)
    assert found.tau2 == pytest.approx(218.72, abs=0.01)
    # Computed from the rows.
    assert found.q == pytest.approx(241.117, abs=5e-4)
    assert found.tau2 == pytest.approx(218.712, abs=5e-4)
    assert 100 * found.i2 == pytest.approx(96.68, abs=5e-3)
    assert found.mean == pytest.approx(-14.0972, abs=5e-5)
    assert plain_se(found, v) == pytest.approx(5.2797, abs=5e-5)


def test_the_interval_is_that_of_hartung_and_knapp_and_never_shorter() -> None:
    # Formula from memory (Hartung and Knapp 2001): weighted squares about the mean over k - 1, by t of k - 1.
    y = np.array([-20.0, -2, -55, -71, -4, 1, 11, -10, 7])
    v = np.array([40.59, 2.05, 15.28, 150.22, 20.19, 1.22, 95.38, 8.03, 20.69])
    found = pooled(y, v)
    weights = 1 / (v + found.tau2)
    own = float((weights * (y - found.mean) ** 2).sum() / (len(y) - 1) / weights.sum()) ** 0.5
    assert found.se == pytest.approx(max(own, plain_se(found, v)), rel=1e-9)
    assert found.df == 8
    assert t_critical(0.05, found.df) > norm.ppf(0.975)


def test_risk_differences_that_agree() -> None:
    # Published: Normand S-LT (1999), tables III and VII: 2.94, 95 % interval 0.4 to 5.5, tau squared 0.
    y = np.array([2.8026, 0.0, 1.9711, 1.7961, 3.5334, 4.4031])
    v = np.array([17.7575, 37.5657, 8.1323, 10.8998, 8.0114, 6.132])
    found = pooled(y, v)
    assert found.mean == pytest.approx(2.94, abs=0.005)
    assert normal_interval(found.mean, plain_se(found, v)) == pytest.approx((0.4, 5.5), abs=0.05)
    assert found.tau2 == 0
    assert found.i2 == 0
    # Computed from the rows.
    assert found.q == pytest.approx(0.8597, abs=5e-5)
    assert found.mean == pytest.approx(2.9444, abs=5e-5)
    assert plain_se(found, v) == pytest.approx(1.3068, abs=5e-5)


def test_eight_parallel_experiments() -> None:
    # Published: effects and standard errors of Gelman A and co-authors (2013), complete pooling 7.69 with 4.07.
    y = np.array([28.0, 8, -3, 7, -1, 1, 18, 12])
    v = np.array([15.0, 10, 16, 11, 9, 11, 10, 18]) ** 2
    found = pooled(y, v)
    assert found.mean == pytest.approx(7.69, abs=0.005)
    assert plain_se(found, v) == pytest.approx(4.07, abs=0.005)
    # Computed.
    assert found.q == pytest.approx(4.7071, abs=5e-5)
    assert found.q_p == pytest.approx(0.6957, abs=5e-5)
    assert found.tau2 == 0


# Thirteen trials of a vaccine: Colditz GA et al. (1994) as analysed by van Houwelingen, Arends and Stijnen (2002)
# Statistics in Medicine 21:589-624. Rows 1 to 7 published, 8 to 13 from memory: ill and well, treated and not.
BCG = np.array(
    [
        (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761),
        (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232),
        (17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825),
    ],
    dtype=float,
)  # fmt: skip


def test_odds_ratios_of_thirteen_trials() -> None:
    a, b, c, d = BCG.T
    y, v = np.log(a * d / (b * c)), (1 / BCG).sum(axis=1)
    assert y[:7] == pytest.approx([-0.9387, -1.6662, -1.3863, -1.4564, -0.2191, -0.9581, -1.6338], abs=5e-5)
    assert v[:7] == pytest.approx([0.3571, 0.2081, 0.4334, 0.0203, 0.052, 0.0099, 0.227], abs=5e-5)
    found = pooled(y, v)
    # Published: fixed odds ratio 0.647, 0.595 to 0.702 (the paper itself prints .703).
    assert np.exp(found.fixed) == pytest.approx(0.647, abs=5e-4)
    fixed = normal_interval(found.fixed, float((1 / v).sum() ** -0.5))
    assert np.exp(fixed) == pytest.approx((0.595, 0.702), abs=5e-4)
    # Computed: DerSimonian and Laird.
    assert found.mean == pytest.approx(-0.74739, abs=5e-6)
    assert plain_se(found, v) == pytest.approx(0.19226, abs=5e-6)
    assert found.tau2 == pytest.approx(0.36634, abs=5e-6)
    assert found.q == pytest.approx(163.165, abs=5e-4)
    assert 100 * found.i2 == pytest.approx(92.65, abs=5e-3)


def test_risk_ratios_of_thirteen_trials() -> None:
    # Computed: DerSimonian and Laird.
    a, b, c, d = BCG.T
    y, v = np.log(a / (a + b) / (c / (c + d))), 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)
    found = pooled(y, v)
    assert found.mean == pytest.approx(-0.71412, abs=5e-6)
    assert plain_se(found, v) == pytest.approx(0.17874, abs=5e-6)
    assert normal_interval(found.mean, plain_se(found, v)) == pytest.approx((-1.06445, -0.36379), abs=5e-6)
    assert found.tau2 == pytest.approx(0.30876, abs=5e-6)
    assert found.q == pytest.approx(152.233, abs=5e-4)
    assert 100 * found.i2 == pytest.approx(92.12, abs=5e-3)
