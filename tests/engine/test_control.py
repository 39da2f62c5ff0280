"""The control model's pieces at their edges. Worked examples from outside stand in tests/published/."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.engine.control import NO_ACTIVITY, Z90, band_sd, blend, expit, logit, mix

shares = st.floats(min_value=0.01, max_value=0.99)


def _tank(controls: list[float], groups: list[int], rho: float) -> float:
    mean = logit(np.asarray(controls))[None, :, None]
    found = mix(mean, np.full(mean.shape, 0.5), np.asarray([groups]), np.full(mean.shape, rho))
    return float(1 - np.exp(found.log_share[0, 0]))


@given(st.lists(shares, min_size=2, max_size=4), st.floats(min_value=0, max_value=1))
def test_a_mixture_inside_one_mechanism_lies_between_the_best_and_the_product(
    controls: list[float], rho: float
) -> None:
    mixed = _tank(controls, [4] * len(controls), rho)
    product = 1 - np.prod([1 - c for c in controls])
    assert max(controls) - 1e-9 <= mixed <= product + 1e-9


@given(st.lists(st.tuples(shares, st.integers(1, 3)), min_size=2, max_size=4), st.floats(min_value=0, max_value=1))
def test_the_order_in_the_tank_does_not_matter(parts: list[tuple[float, int]], rho: float) -> None:
    there = _tank([c for c, _ in parts], [g for _, g in parts], rho)
    back = _tank([c for c, _ in parts[::-1]], [g for _, g in parts[::-1]], rho)
    assert there == pytest.approx(back, abs=1e-12)


@given(shares, st.floats(min_value=0, max_value=1))
def test_an_inactive_partner_changes_nothing(control: float, rho: float) -> None:
    inactive = float(expit(NO_ACTIVITY))
    assert _tank([control, max(inactive, 1e-13)], [4, 2], rho) == pytest.approx(control, abs=1e-9)


@given(
    st.floats(min_value=1, max_value=60), st.floats(min_value=61, max_value=80), st.floats(min_value=81, max_value=99)
)
def test_a_single_active_gives_its_own_band_back(low: float, likely: float, high: float) -> None:
    sd = band_sd(low / 100, high / 100)
    mean = logit(np.asarray([[[likely / 100]]]))
    band = blend([(1.0, mix(mean, np.full(mean.shape, sd), np.asarray([[4]]), np.full(mean.shape, 0.5)))], 0.5)
    assert band.likely[0, 0] == pytest.approx(likely)
    # The recorded band may lie askew about its likely value; ours is even on the log-odds scale.
    width = logit(band.high[0, 0] / 100) - logit(band.low[0, 0] / 100)
    assert width == pytest.approx(2 * Z90 * sd)


def test_extreme_log_odds_do_not_overflow() -> None:
    assert expit(np.asarray([-800.0, 0.0, 800.0])).tolist() == [0.0, 0.5, 1.0]


def test_survivors_never_grow_beyond_the_whole() -> None:
    mean = np.asarray([[[-3.0]]])
    survivors = mix(mean, np.ones(mean.shape), np.asarray([[4]]), np.ones(mean.shape))
    assert survivors.regrown(np.asarray([5.0])).log_share[0, 0] == 0.0
