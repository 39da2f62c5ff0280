"""The control model against published formulas, and its bands against Monte Carlo.

Sources: Colby SR (1967), Weeds 15:20-22, from memory: E = X + Y - XY/100, three parts
E = 100 - (100-X)(100-Y)(100-Z)/10000. Seefeldt SS, Jensen JE, Fuerst EP (1995), Weed Technology
9:218-227, from memory: y = C + (D - C)/(1 + (x/I50)^b). Monte Carlo: computed with numpy.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import expit as scipy_expit
from scipy.special import logit as scipy_logit

from app.engine.control import blend, colby_expected, expit, logit, mix, rate_shift


@pytest.mark.parametrize(
    ("alone", "expected"),
    [((60, 40), 76.0), ((80, 80), 96.0), ((0, 55), 55.0), ((50, 50, 50), 87.5), ((70, 30, 20), 83.2)],
)
def test_colby_worked_numbers(alone: tuple[float, ...], expected: float) -> None:
    assert 100 * colby_expected(np.asarray(alone) / 100) == pytest.approx(expected)
    shares = np.clip(np.asarray(alone) / 100, 1e-9, 1)
    mean = logit(shares)[None, :, None]
    groups = np.asarray([list(range(len(alone)))])
    found = mix(mean, np.zeros(mean.shape), groups, np.full(mean.shape, 0.5))
    assert 100 * (1 - np.exp(found.log_share[0, 0])) == pytest.approx(expected, abs=1e-4)


@given(st.floats(1, 5000), st.floats(1, 5000), st.floats(0.3, 6))
def test_rate_follows_the_log_logistic_curve(rate: float, half: float, slope: float) -> None:
    # With the lower limit at full control the curve's survivors are 1 / (1 + (x / I50)^b).
    curve = 1 - 1 / (1 + (rate / half) ** slope)
    assert float(expit(0.0 + rate_shift(rate, half, slope))) == pytest.approx(curve, abs=1e-9)


@given(st.floats(-30, 30))
def test_log_odds_agree_with_scipy(value: float) -> None:
    assert float(expit(value)) == pytest.approx(float(scipy_expit(value)), rel=1e-12)
    share = min(max(float(scipy_expit(value)), 1e-12), 1 - 1e-12)
    assert float(logit(share)) == pytest.approx(float(scipy_logit(share)), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(
    ("likely", "sds", "groups", "rho", "correlation"),
    [
        ((0.8, 0.6), (0.6, 0.6), (4, 2), 0.5, 0.5),
        ((0.8, 0.7), (0.5, 0.8), (4, 4), 0.5, 0.5),
        ((0.9, 0.5, 0.4), (0.7, 0.5, 0.6), (4, 4, 14), 0.9, 0.5),
        ((0.5, 0.3), (0.8, 0.8), (4, 27), 0.5, 0.0),
    ],
)
def test_bands_agree_with_monte_carlo(
    likely: tuple[float, ...], sds: tuple[float, ...], groups: tuple[int, ...], rho: float, correlation: float
) -> None:
    parts = len(likely)
    mean, sd = np.asarray(logit(np.asarray(likely))), np.asarray(sds)
    rng = np.random.default_rng(20270615)
    common, own = rng.standard_normal((200_000, 1)), rng.standard_normal((200_000, parts))
    drawn = mean + sd * (np.sqrt(correlation) * common + np.sqrt(1 - correlation) * own)
    every = np.broadcast_to(np.asarray([groups]), (len(drawn), parts))
    survivors = mix(drawn[:, :, None], np.zeros((*drawn.shape, 1)), every, np.full((*drawn.shape, 1), rho))
    low, median, high = np.percentile(100 * (1 - np.exp(survivors.log_share[:, 0])), [10, 50, 90])
    shape = (1, parts, 1)
    band = blend(
        [(1.0, mix(mean.reshape(shape), sd.reshape(shape), np.asarray([groups]), np.full(shape, rho)))], correlation
    )
    # First derivatives on the log-odds scale are within four points of control even for two weak partners.
    assert band.low[0, 0] == pytest.approx(low, abs=4.0)
    assert band.likely[0, 0] == pytest.approx(median, abs=4.0)
    assert band.high[0, 0] == pytest.approx(high, abs=4.0)
