"""The control model's pieces at their edges. Worked examples from outside stand in tests/published/."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.engine.control import (
    NO_ACTIVITY,
    Z90,
    Survivors,
    band_sd,
    blend,
    colby_expected,
    expit,
    logit,
    mix,
    rate_shift,
)

shares = st.floats(min_value=0.01, max_value=0.99)
rhos = st.floats(min_value=0, max_value=1)


def _mixed(controls: list[float], groups: list[int], rho: float, sd: float = 0.5) -> Survivors:
    mean = logit(np.asarray(controls))[None, :, None]
    return mix(mean, np.full(mean.shape, sd), np.asarray([groups]), np.full(mean.shape, rho))


def _tank(controls: list[float], groups: list[int], rho: float) -> float:
    return float(1 - np.exp(_mixed(controls, groups, rho).log_share[0, 0]))


@given(st.lists(shares, min_size=2, max_size=4), rhos)
def test_a_mixture_inside_one_mechanism_lies_between_the_best_and_the_product(
    controls: list[float], rho: float
) -> None:
    mixed = _tank(controls, [4] * len(controls), rho)
    product = 1 - np.prod([1 - c for c in controls])
    assert max(controls) - 1e-9 <= mixed <= product + 1e-9


@given(st.lists(shares, min_size=2, max_size=4))
def test_the_edges_of_likeness_are_the_best_and_the_product(controls: list[float]) -> None:
    groups = [4] * len(controls)
    assert _tank(controls, groups, 1.0) == pytest.approx(max(controls), abs=1e-9)
    assert _tank(controls, groups, 0.0) == pytest.approx(float(colby_expected(np.asarray(controls))), abs=1e-9)


@given(st.lists(shares, min_size=2, max_size=4), rhos)
def test_different_mechanisms_multiply_whatever_the_likeness(controls: list[float], rho: float) -> None:
    groups = list(range(1, len(controls) + 1))
    assert _tank(controls, groups, rho) == pytest.approx(float(colby_expected(np.asarray(controls))), abs=1e-9)


@given(st.lists(shares, min_size=2, max_size=4), rhos, rhos)
def test_more_alike_is_never_better(controls: list[float], one: float, other: float) -> None:
    less, more = sorted((one, other))
    groups = [4] * len(controls)
    assert _tank(controls, groups, less) >= _tank(controls, groups, more) - 1e-12


@given(st.lists(st.tuples(shares, st.integers(1, 3)), min_size=1, max_size=4), shares, rhos, st.data())
def test_a_part_that_does_more_never_makes_the_tank_do_less(
    parts: list[tuple[float, int]], other: float, rho: float, data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, len(parts) - 1))
    controls, groups = [c for c, _ in parts], [g for _, g in parts]
    raised = [max(c, other) if i == place else c for i, c in enumerate(controls)]
    assert _tank(raised, groups, rho) >= _tank(controls, groups, rho) - 1e-12


@given(st.lists(st.tuples(shares, st.integers(1, 3)), min_size=2, max_size=5), rhos, st.randoms(use_true_random=False))
def test_the_order_in_the_tank_does_not_matter(parts: list[tuple[float, int]], rho: float, random_: object) -> None:
    turned = list(parts)
    random_.shuffle(turned)  # type: ignore[attr-defined]
    there = _mixed([c for c, _ in parts], [g for _, g in parts], rho)
    back = _mixed([c for c, _ in turned], [g for _, g in turned], rho)
    for name in ("log_share", "spread_sum", "spread_squares"):
        assert getattr(there, name)[0, 0] == pytest.approx(getattr(back, name)[0, 0], rel=1e-9, abs=1e-12)


@given(shares, rhos)
def test_an_inactive_partner_changes_nothing(control: float, rho: float) -> None:
    inactive = float(expit(NO_ACTIVITY))
    assert _tank([control, max(inactive, 1e-13)], [4, 2], rho) == pytest.approx(control, abs=1e-9)


@given(
    st.floats(min_value=1, max_value=60), st.floats(min_value=61, max_value=80), st.floats(min_value=81, max_value=99)
)
def test_a_single_active_gives_its_own_band_back(low: float, likely: float, high: float) -> None:
    sd = band_sd(low / 100, high / 100)
    band = blend([(1.0, _mixed([likely / 100], [4], 0.5, sd))], 0.5)
    assert band.likely[0, 0] == pytest.approx(likely)
    # The recorded band may lie askew about its likely value; ours is even on the log-odds scale.
    width = logit(band.high[0, 0] / 100) - logit(band.low[0, 0] / 100)
    assert width == pytest.approx(2 * Z90 * sd)


@given(st.lists(st.tuples(shares, st.integers(1, 3)), min_size=1, max_size=4), rhos, rhos)
def test_a_band_holds_its_likely_and_widens_with_correlation(
    parts: list[tuple[float, int]], rho: float, correlation: float
) -> None:
    tank = _mixed([c for c, _ in parts], [g for _, g in parts], rho)
    band = blend([(1.0, tank)], correlation)
    assert 0 <= band.low[0, 0] <= band.likely[0, 0] <= band.high[0, 0] <= 100
    apart, together = blend([(1.0, tank)], 0.0), blend([(1.0, tank)], 1.0)
    assert apart.low[0, 0] >= band.low[0, 0] - 1e-9 >= together.low[0, 0] - 2e-9


@given(shares, shares, st.floats(min_value=0, max_value=1))
def test_branches_blend_by_their_shares(one: float, other: float, share: float) -> None:
    branches = [(share, _mixed([one], [4], 0.5)), (1 - share, _mixed([other], [4], 0.5))]
    assert blend(branches, 0.5).likely[0, 0] == pytest.approx(100 * (share * one + (1 - share) * other), abs=1e-7)
    assert blend(branches[::-1], 0.5).low[0, 0] == pytest.approx(blend(branches, 0.5).low[0, 0])


@given(shares, shares)
def test_a_later_tank_meets_the_survivors(one: float, other: float) -> None:
    both = _mixed([one], [4], 0.5).then(_mixed([other], [4], 0.5))
    assert float(np.exp(both.log_share[0, 0])) == pytest.approx((1 - one) * (1 - other))
    sums = _mixed([one], [4], 0.5).spread_sum + _mixed([other], [4], 0.5).spread_sum
    assert both.spread_sum[0, 0] == pytest.approx(float(sums[0, 0]))


@given(shares, st.floats(min_value=1, max_value=5))
def test_survivors_spread_but_never_beyond_the_whole(control: float, factor: float) -> None:
    grown = _mixed([control], [4], 0.5).regrown(np.asarray([factor]))
    assert float(np.exp(grown.log_share[0, 0])) == pytest.approx(min(1.0, (1 - control) * factor))


@given(st.floats(min_value=0.01, max_value=100), st.floats(min_value=0.01, max_value=100), st.floats(0.1, 5))
def test_the_rate_shift_is_even_about_the_reference(rate: float, reference: float, slope: float) -> None:
    assert rate_shift(rate, rate, slope) == 0
    assert rate_shift(rate, reference, slope) == pytest.approx(-rate_shift(reference, rate, slope))
    assert rate_shift(2 * rate, reference, slope) > rate_shift(rate, reference, slope)


@given(shares)
def test_log_odds_and_share_are_inverse(share: float) -> None:
    assert float(expit(logit(share))) == pytest.approx(share, rel=1e-12)


def test_extreme_log_odds_do_not_overflow() -> None:
    assert expit(np.asarray([-800.0, 0.0, 800.0])).tolist() == [0.0, 0.5, 1.0]


def test_certain_ends_stay_inside_the_whole() -> None:
    nothing = mix(np.full((1, 1, 1), NO_ACTIVITY), np.zeros((1, 1, 1)), np.asarray([[4]]), np.ones((1, 1, 1)))
    band = blend([(1.0, nothing)], 0.5)
    assert band.likely[0, 0] == pytest.approx(0, abs=1e-6)
    everything = Survivors(np.full((1, 1), -60.0), np.zeros((1, 1)), np.zeros((1, 1)))
    assert blend([(1.0, everything)], 0.5).high[0, 0] <= 100
