"""Separation of means against statsmodels and scipy, and what must not change it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import studentized_range, tukey_hsd
from statsmodels.regression.linear_model import OLS

from app.trials.fit import Fit, Table, fitted
from app.trials.output import Separation
from app.trials.separation import separation, tukey_critical
from tests.trials.layouts import blocks, randomised, tables
from tests.trials.made import table_of
from tests.trials.test_fit import means_of

CLOSE = {"rel": 1e-8, "abs": 1e-8}


def separated(fit: Fit, alpha: float = 0.05) -> Separation:
    return separation(fit, fit.table, "percent", alpha)


@settings(max_examples=25, deadline=None)
@given(tables())
def test_pairs_are_those_of_statsmodels(table: Table) -> None:
    found = separated(fitted(table))
    model, rows = means_of(table)
    place = {name: index for index, name in enumerate(table.names)}
    for pair in found.comparisons:
        told = model.t_test(rows[place[pair.a]] - rows[place[pair.b]])
        low, high = told.conf_int(alpha=0.05)[0]
        assert pair.difference == pytest.approx(float(told.effect[0]), **CLOSE)
        assert pair.p == pytest.approx(float(told.pvalue), **CLOSE)
        assert (pair.low, pair.high) == pytest.approx((low, high), **CLOSE)
    for row in found.means:
        told = model.t_test(rows[place[row.treatment]])
        assert row.mean == pytest.approx(float(told.effect[0]), **CLOSE)
        assert row.se == pytest.approx(float(told.sd[0, 0]), **CLOSE)
        assert (row.low, row.high) == pytest.approx(tuple(told.conf_int(alpha=0.05)[0]), **CLOSE)


@settings(max_examples=8, deadline=None)
@given(randomised() | randomised(equal=True))
def test_tukeys_decisions_are_those_of_scipy(table: Table) -> None:
    # With equal replication Tukey's own method, otherwise that of Tukey and Kramer.
    found = separated(fitted(table))
    expected = tukey_hsd(*(table.of(name) for name in table.names))
    interval = expected.confidence_interval(0.95)
    place = {name: index for index, name in enumerate(table.names)}
    for pair in found.comparisons:
        i, j = place[pair.a], place[pair.b]
        assert pair.different_hsd == (expected.pvalue[i, j] < 0.05)
        assert (pair.hsd_low, pair.hsd_high) == pytest.approx((interval.low[i, j], interval.high[i, j]), rel=1e-6)


@settings(max_examples=12, deadline=None)
@given(blocks())
def test_tukeys_decisions_in_blocks_are_those_of_the_studentised_range(table: Table) -> None:
    # In blocks scipy has no such test: the range of the residual variance, by its distribution in scipy.
    fit = fitted(table)
    k = len(table.names)
    place = {name: index for index, name in enumerate(table.names)}
    for pair in separated(fit).comparisons:
        i, j = place[pair.a], place[pair.b]
        sed = np.sqrt(fit.covariance[i, i] + fit.covariance[j, j] - 2 * fit.covariance[i, j])
        p = studentized_range.sf(np.sqrt(2) * pair.difference / sed, k, fit.df)
        assert pair.different_hsd == (p < 0.05)


@settings(max_examples=25, deadline=None)
@given(tables(), st.data())
def test_the_order_of_the_plots_makes_no_difference(table: Table, data: st.DataObject) -> None:
    moved = data.draw(st.permutations(range(len(table.values))))
    other = Table(
        table.design,
        tuple(table.treatments[i] for i in moved),
        tuple(table.reps[i] for i in moved),
        table.values[list(moved)],
    )
    one, two = separated(fitted(table)), separated(fitted(other))
    for first, second in zip(one.means, two.means, strict=True):
        assert (first.treatment, first.letter_lsd, first.letter_hsd) == (
            second.treatment,
            second.letter_lsd,
            second.letter_hsd,
        )
        assert first.mean == pytest.approx(second.mean, **CLOSE)
    for a, b in zip(one.comparisons, two.comparisons, strict=True):
        assert (a.a, a.b, a.different_lsd, a.different_hsd) == (b.a, b.b, b.different_lsd, b.different_hsd)
        assert a.p == pytest.approx(b.p, **CLOSE)


@settings(max_examples=25, deadline=None)
@given(tables(), st.floats(0.05, 20), st.floats(-50, 50))
def test_another_unit_changes_no_decision(table: Table, factor: float, shift: float) -> None:
    one = separated(fitted(table))
    two = separated(fitted(table.with_values(table.values * factor + shift)))
    assert [row.p for row in one.anova[:-2]] == pytest.approx([row.p for row in two.anova[:-2]], rel=1e-6, abs=1e-9)
    pairs = {frozenset((p.a, p.b)): p for p in two.comparisons}
    for pair in one.comparisons:
        other = pairs[frozenset((pair.a, pair.b))]
        assert (pair.different_lsd, pair.different_hsd) == (other.different_lsd, other.different_hsd)
        assert other.difference == pytest.approx(factor * pair.difference, rel=1e-6, abs=1e-6)
    assert one.lsd.value is not None
    assert two.lsd.value == pytest.approx(factor * one.lsd.value, rel=1e-6)


@settings(max_examples=30, deadline=None)
@given(tables(), st.sampled_from([0.01, 0.05, 0.1]))
def test_fishers_difference_needs_a_significant_f_test(table: Table, alpha: float) -> None:
    fit = fitted(table)
    found = separated(fit, alpha)
    assert fit.p is not None
    assert found.protected == (fit.p < alpha)
    for pair in found.comparisons:
        assert pair.different_lsd == (found.protected and pair.p < alpha)
        assert pair.difference >= 0
    letters = {row.treatment: row.letter_lsd or "" for row in found.means}
    assert all(bool(set(letters[p.a]) & set(letters[p.b])) != p.different_lsd for p in found.comparisons)
    honest = {row.treatment: row.letter_hsd or "" for row in found.means}
    assert all(bool(set(honest[p.a]) & set(honest[p.b])) != p.different_hsd for p in found.comparisons)
    assert "a" in (found.means[0].letter_hsd or "")


def test_the_least_difference_is_exact_only_with_equal_replication() -> None:
    whole = separated(fitted(table_of("rcbd", {"A": [10, 20, 31], "B": [40, 52, 60], "C": [70, 85, 88]})))
    lost = separated(fitted(table_of("rcbd", {"A": [10, 20, 31], "B": [40, None, 60], "C": [70, 85, 88]})))
    assert whole.lsd.exact
    assert whole.hsd.exact
    assert not lost.lsd.exact
    # A pair with the lost plot needs a greater difference than one without.
    wide = {(p.a, p.b): p.high - p.low for p in lost.comparisons}
    assert wide[("C", "B")] > wide[("C", "A")]


def test_without_an_error_nothing_is_compared() -> None:
    found = separated(fitted(table_of("crd", {"A": [0, 0, 0], "B": [90, 90, 90]})))
    assert found.comparisons == ()
    assert found.lsd.value is None
    assert not found.protected
    assert [(row.treatment, row.letter_lsd, row.se) for row in found.means] == [("B", None, None), ("A", None, None)]
    assert [row.mean for row in found.means] == pytest.approx([90, 0])


# Computed: quantiles of the studentised range by scipy.
@pytest.mark.parametrize(
    ("alpha", "treatments", "df", "q"),
    [
        (0.05, 3, 6, 4.3392), (0.05, 3, 27, 3.5064), (0.05, 4, 8, 4.5288), (0.05, 4, 20, 3.9583),
        (0.05, 5, 12, 4.5077), (0.05, 6, 15, 4.5947), (0.05, 6, 24, 4.3727), (0.05, 7, 21, 4.5973),
        (0.01, 3, 6, 6.3305), (0.01, 3, 27, 4.4948), (0.01, 4, 8, 6.2038), (0.01, 4, 20, 5.018),
        (0.01, 5, 12, 5.8363), (0.01, 6, 15, 5.7956), (0.01, 6, 24, 5.3735), (0.01, 7, 21, 5.6455),
    ],
)  # fmt: skip
def test_quantiles_of_the_studentised_range(alpha: float, treatments: int, df: int, q: float) -> None:
    assert tukey_critical(alpha, treatments, df) == pytest.approx(q, abs=1e-4)


def test_two_treatments_are_students_t() -> None:
    # Fisher's and Tukey's differences are one where there is one pair; F is the square of t.
    table = table_of("crd", {"A": [10, 22, 31, 28], "B": [40, 35, 61, 50]})
    found = separated(fitted(table))
    assert found.lsd.value == pytest.approx(found.hsd.value, rel=1e-6)
    matrix = np.array([[1.0, float(name == "B")] for name in table.treatments])
    t = OLS(table.values, matrix).fit().tvalues[1]
    assert found.anova[0].f == pytest.approx(t**2, **CLOSE)
