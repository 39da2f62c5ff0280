"""Least squares for one table of plots: treatments, with or without blocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from app.trials.output import AnovaRow
from app.trials.trial import Design

Floats = NDArray[np.float64]
# Below this share of the whole variation, what is left is rounding of the machine and not an error.
_NO_ERROR = 1e-12


@dataclass(frozen=True)
class Table:
    """Plots that are analysed together, one figure each.

    Attributes
    ----------
    treatments, reps : tuple of str, shape (n,)
        Treatment and block (or replicate) of each plot.
    values : ndarray, shape (n,)
        The figure of each plot, in any unit.
    """

    design: Design
    treatments: tuple[str, ...]
    reps: tuple[str, ...]
    values: Floats

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Treatments, in the order in which they first stand."""
        return tuple(dict.fromkeys(self.treatments))

    @cached_property
    def counts(self) -> tuple[int, ...]:
        """Plots of each treatment."""
        return tuple(self.treatments.count(name) for name in self.names)

    def of(self, name: str) -> Floats:
        """Figures of one treatment."""
        return self.values[[treatment == name for treatment in self.treatments]]

    def with_values(self, values: Floats) -> Table:
        """The same plots with other figures."""
        return Table(self.design, self.treatments, self.reps, values)


@dataclass(frozen=True)
class Fit:
    """A fitted table.

    Attributes
    ----------
    means : ndarray, shape (k,)
        Least-squares means of the treatments, in the order of `Table.names`: each block counts alike.
    covariance : ndarray, shape (k, k)
        Covariance of the means by the pooled error.
    residuals : ndarray, shape (n,)
    mse : float
        Error mean square, None where the plots of each treatment agree wholly.
    """

    table: Table
    anova: tuple[AnovaRow, ...]
    means: Floats
    covariance: Floats
    residuals: Floats
    mse: float | None
    df: int

    @property
    def p(self) -> float | None:
        """Probability of the F test of treatments."""
        return next(row.p for row in self.anova if row.source == "treatment")


class TooFew(ValueError):
    """The plots do not suffice: the message says for what."""


def fitted(table: Table) -> Fit:
    """Fit treatments, and blocks where the design has them, by ordinary least squares.

    Sums of squares are sequential: blocks first, then treatments adjusted for blocks, so that they add
    up to the total; with no plot missing the order makes no difference. A mean is the treatment's
    coefficient where blocks sum to zero.

    Raises
    ------
    TooFew
        For one treatment, no degree of freedom for the error, or treatments and blocks that cannot be
        told apart.

    Notes
    -----
    The fit and its covariance are those of statsmodels' OLS.
    """
    from scipy.special import fdtrc
    from statsmodels.regression.linear_model import OLS

    names, n = table.names, len(table.values)
    if len(names) < 2:
        raise TooFew("only one treatment was rated; a comparison needs two or more besides a check of constant zero")
    blocks = tuple(dict.fromkeys(table.reps)) if table.design == "rcbd" else ()
    matrix = np.hstack([_indicators(table.treatments, names), _sum_to_zero(table.reps, blocks)])
    if max(table.counts) < 2:
        raise TooFew("each treatment has one plot; give two or more replicates, or no error can be reckoned")
    if np.linalg.matrix_rank(matrix) < matrix.shape[1]:
        raise TooFew("too many plots are missing: treatments and blocks cannot be told apart")
    df = n - matrix.shape[1]
    if df < 1:
        raise TooFew(f"{n} plots are too few for {len(names)} treatments in blocks: no error can be reckoned")
    result = OLS(table.values, matrix).fit()
    total = float(((table.values - table.values.mean()) ** 2).sum())
    sse = float(result.ssr)
    if sse <= _NO_ERROR * max(total, float((table.values**2).sum())):
        sse = 0.0
    before = total
    rows = []
    mse = sse / df if sse > 0 else None
    if len(blocks) > 1:
        nested = OLS(table.values, np.hstack([np.ones((n, 1)), _sum_to_zero(table.reps, blocks)])).fit()
        before = float(nested.ssr)
        rows.append(_row("block", len(blocks) - 1, total - before, mse, df, fdtrc))
    rows.append(_row("treatment", len(names) - 1, before - sse, mse, df, fdtrc))
    rows.append(AnovaRow(source="error", df=df, ss=sse, ms=sse / df, f=None, p=None))
    rows.append(AnovaRow(source="total", df=n - 1, ss=total, ms=None, f=None, p=None))
    k = len(names)
    covariance = np.asarray(result.normalized_cov_params)[:k, :k] * (mse or 0.0)
    return Fit(table, tuple(rows), np.asarray(result.params)[:k], covariance, np.asarray(result.resid), mse, df)


def _row(source: str, df: int, ss: float, mse: float | None, error_df: int, upper_tail: object) -> AnovaRow:
    assert callable(upper_tail)
    ms = max(ss, 0.0) / df
    f = ms / mse if mse else None
    p = float(upper_tail(df, error_df, f)) if f is not None else None
    return AnovaRow(source=source, df=df, ss=max(ss, 0.0), ms=ms, f=f, p=p)


def _indicators(labels: Sequence[str], names: Sequence[str]) -> Floats:
    return np.array([[float(label == name) for name in names] for label in labels])


def _sum_to_zero(labels: Sequence[str], names: Sequence[str]) -> Floats:
    """Contrasts of blocks that sum to zero, shape (n, blocks - 1); no column without blocks."""
    if len(names) < 2:
        return np.empty((len(labels), 0))
    full = _indicators(labels, names)
    return full[:, :-1] - full[:, -1:]
