"""Least squares against statsmodels' formulas and scipy, on random layouts."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from patsy import build_design_matrices, dmatrix
from scipy.stats import f_oneway
from statsmodels.formula.api import ols
from statsmodels.regression.linear_model import OLS
from statsmodels.stats.anova import anova_lm

from app.trials.fit import Table, TooFew, fitted
from tests.trials.layouts import blocks, randomised, tables
from tests.trials.made import table_of

CLOSE = {"rel": 1e-8, "abs": 1e-8}


def model_of(table: Table):  # type: ignore[no-untyped-def]
    """The same plots as a formula of statsmodels, blocks first."""
    frame = pd.DataFrame({"y": table.values, "treatment": table.treatments, "block": table.reps})
    formula = "y ~ C(block) + C(treatment)" if table.design == "rcbd" else "y ~ C(treatment)"
    return ols(formula, frame).fit()


def means_of(table: Table):  # type: ignore[no-untyped-def]
    """The fit by statsmodels, and the rows whose product with its parameters are the least-squares means: over a grid
    of treatments and blocks, so that each block counts alike."""
    frame = pd.DataFrame({"treatment": table.treatments, "block": table.reps})
    design = dmatrix("C(block) + C(treatment)" if table.design == "rcbd" else "C(treatment)", frame)
    labels = tuple(dict.fromkeys(table.reps)) if table.design == "rcbd" else table.reps[:1]
    grid = pd.DataFrame([(name, label) for name in table.names for label in labels], columns=["treatment", "block"])
    rows = np.asarray(build_design_matrices([design.design_info], grid)[0])
    return OLS(table.values, np.asarray(design)).fit(), rows.reshape(len(table.names), len(labels), -1).mean(axis=1)


@settings(max_examples=60, deadline=None)
@given(tables())
def test_the_analysis_of_variance_is_that_of_statsmodels(table: Table) -> None:
    fit, expected = fitted(table), anova_lm(model_of(table), typ=1)
    rows = {row.source: row for row in fit.anova}
    names = {"treatment": "C(treatment)", "error": "Residual"} | (
        {"block": "C(block)"} if table.design == "rcbd" else {}
    )
    for ours, theirs in names.items():
        assert rows[ours].df == expected.loc[theirs, "df"]
        assert rows[ours].ss == pytest.approx(expected.loc[theirs, "sum_sq"], **CLOSE)
        assert rows[ours].ms == pytest.approx(expected.loc[theirs, "mean_sq"], **CLOSE)
        if ours != "error":
            assert rows[ours].f == pytest.approx(expected.loc[theirs, "F"], **CLOSE)
            assert rows[ours].p == pytest.approx(expected.loc[theirs, "PR(>F)"], **CLOSE)
    assert sum(rows[name].ss for name in names) == pytest.approx(rows["total"].ss, **CLOSE)
    assert sum(rows[name].df for name in names) == rows["total"].df == len(table.values) - 1


@settings(max_examples=40, deadline=None)
@given(randomised())
def test_without_blocks_it_is_a_one_way_analysis(table: Table) -> None:
    row = next(row for row in fitted(table).anova if row.source == "treatment")
    expected = f_oneway(*(table.of(name) for name in table.names))
    assert row.f == pytest.approx(float(expected.statistic), **CLOSE)
    assert row.p == pytest.approx(float(expected.pvalue), **CLOSE)


@settings(max_examples=50, deadline=None)
@given(tables())
def test_means_and_their_covariance_are_those_of_statsmodels(table: Table) -> None:
    fit, (model, rows) = fitted(table), means_of(table)
    assert fit.means == pytest.approx(rows @ np.asarray(model.params), **CLOSE)
    assert fit.covariance == pytest.approx(rows @ np.asarray(model.cov_params()) @ rows.T, **CLOSE)
    assert fit.residuals == pytest.approx(np.asarray(model.resid), **CLOSE)


@settings(max_examples=30, deadline=None)
@given(blocks(complete=True))
def test_with_no_plot_missing_a_mean_is_the_plain_mean(table: Table) -> None:
    assert fitted(table).means == pytest.approx([float(table.of(name).mean()) for name in table.names], **CLOSE)


def test_a_missing_plot_is_estimated_as_by_yates() -> None:
    # Yates's formula of a missing plot in blocks, from memory: (rB + tT - G) / ((r - 1)(t - 1)), with B, T, G the
    # totals of its block, its treatment and all. The adjusted mean is that of the plots with the estimate among them.
    rows = {"A": [52.0, 61.0, 58.0, 70.0], "B": [80.0, None, 85.0, 91.0], "C": [30.0, 25.0, 41.0, 38.0]}
    told = {name: [value for value in row if value is not None] for name, row in rows.items()}
    block, own, whole = 61.0 + 25.0, sum(told["B"]), sum(map(sum, told.values()))
    estimate = (4 * block + 3 * own - whole) / (3 * 2)
    fit = fitted(table_of("rcbd", rows))
    assert fit.means[1] == pytest.approx((own + estimate) / 4, **CLOSE)
    assert fit.means[0] == pytest.approx(sum(told["A"]) / 4, **CLOSE)


def test_what_cannot_be_fitted_is_told() -> None:
    with pytest.raises(TooFew, match="only one treatment"):
        fitted(table_of("rcbd", {"A": [1, 2, 3]}))
    with pytest.raises(TooFew, match="two or more replicates"):
        fitted(table_of("rcbd", {"A": [1], "B": [2], "C": [3]}))
    with pytest.raises(TooFew, match="cannot be told apart"):
        fitted(table_of("rcbd", {"A": [1, 2, None, None], "B": [3, 4, None, None], "C": [None, None, 5, 6]}))


def test_two_blocks_with_a_lost_plot_leave_no_error() -> None:
    # A has two plots, so it would be wrong to say that each treatment has one.
    with pytest.raises(TooFew, match="3 plots are too few") as told:
        fitted(table_of("rcbd", {"A": [50, 60], "B": [70, None]}))
    assert "each treatment has one plot" not in str(told.value)


@pytest.mark.parametrize("design", ["rcbd", "crd"])
def test_plots_that_agree_wholly_have_no_error(design: str) -> None:
    fit = fitted(table_of(design, {"A": [33.3, 33.3, 33.3], "B": [66.7, 66.7, 66.7]}))  # type: ignore[arg-type]
    assert fit.mse is None
    assert fit.p is None
    assert not fit.covariance.any()
    assert fit.means == pytest.approx([33.3, 66.7])
