"""Separation of means: Fisher's protected least significant difference and Tukey's honest one."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations

import numpy as np

from app.trials.fit import Fit, Floats, Table
from app.trials.letters import letters
from app.trials.output import Comparison, LeastDifference, MeanRow, Scale, Separation
from app.trials.scale import back, unit
from app.trials.words import compared


@lru_cache(maxsize=512)
def tukey_critical(alpha: float, treatments: int, df: int) -> float:
    """Upper quantile of the studentised range (scipy)."""
    from scipy.stats import studentized_range

    return float(studentized_range.ppf(1 - alpha, treatments, df))


def t_critical(alpha: float, df: int) -> float:
    """Two-sided quantile of Student's t (scipy)."""
    from scipy.special import stdtrit

    return float(stdtrit(df, 1 - alpha / 2))


def separation(fit: Fit, raw: Table, scale: Scale, alpha: float) -> Separation:
    """Means, least differences, letters and comparisons of a fitted table.

    Parameters
    ----------
    fit : Fit
        The fit on the scale of the analysis.
    raw : Table
        The same plots in percent.
    alpha : float
        Error rate of a comparison (LSD), or of all together (HSD).

    Notes
    -----
    LSD = t * sed, only after a significant F test ("protected"); HSD = q / sqrt(2) * sed, with unequal
    replication the form of Tukey and Kramer. `sed` is the standard error of the difference by the
    covariance of the least-squares means, so missing plots are allowed for pair by pair.
    """
    names, k = fit.table.names, len(fit.table.names)
    order = sorted(range(k), key=lambda i: (-fit.means[i], names[i]))
    grand = float(fit.table.values.mean())
    cv = 100 * float(np.sqrt(fit.mse)) / grand if fit.mse is not None and grand > 0 else None
    if fit.mse is None:
        nothing = LeastDifference(value=None, alpha=alpha, exact=True)
        means = tuple(_mean_row(fit, raw, i, None, None, None, scale) for i in order)
        return Separation(
            scale=scale, anova=fit.anova, grand_mean=grand, cv_pct=None, lsd=nothing, hsd=nothing,
            protected=False, means=means, comparisons=(),
        )  # fmt: skip
    variances = np.diag(fit.covariance)
    sed = np.sqrt(np.maximum(variances[:, None] + variances[None, :] - 2 * fit.covariance, 0.0))
    gap = np.abs(fit.means[:, None] - fit.means[None, :])
    least = t_critical(alpha, fit.df)
    honest = tukey_critical(alpha, k, fit.df) / float(np.sqrt(2))
    protected = fit.p is not None and fit.p < alpha
    by_lsd = (gap > least * sed) & protected
    by_hsd = gap > honest * sed
    np.fill_diagonal(by_lsd, False)
    np.fill_diagonal(by_hsd, False)
    lsd_letters, hsd_letters = letters(by_lsd, order), letters(by_hsd, order)
    pairs = sed[np.triu_indices(k, 1)]
    even = bool(np.allclose(pairs, pairs[0], rtol=1e-9))
    found = [
        _comparison(fit, a, b, float(sed[a, b]), (least, honest), bool(by_lsd[a, b]), bool(by_hsd[a, b]), scale, alpha)
        for a, b in combinations(order, 2)
    ]
    return Separation(
        scale=scale,
        anova=fit.anova,
        grand_mean=grand,
        cv_pct=cv,
        lsd=LeastDifference(value=least * float(pairs.mean()), alpha=alpha, exact=even),
        hsd=LeastDifference(value=honest * float(pairs.mean()), alpha=alpha, exact=even),
        protected=protected,
        means=tuple(_mean_row(fit, raw, i, least, lsd_letters[i], hsd_letters[i], scale) for i in order),
        comparisons=tuple(found),
    )


def _mean_row(
    fit: Fit, raw: Table, index: int, least: float | None, lsd: str | None, hsd: str | None, scale: Scale
) -> MeanRow:
    name = fit.table.names[index]
    plots = raw.of(name)
    mean, se = float(fit.means[index]), float(np.sqrt(fit.covariance[index, index]))
    reach = least * se if least is not None else None
    return MeanRow(
        treatment=name,
        n=len(plots),
        mean=back(mean, scale),
        raw_mean=float(plots.mean()),
        sd=spread(plots),
        se=se if least is not None else None,
        low=back(mean - reach, scale) if reach is not None else None,
        high=back(mean + reach, scale) if reach is not None else None,
        letter_lsd=lsd,
        letter_hsd=hsd,
        in_analysis=True,
    )


def within_percent(found: Separation) -> Separation:
    """The same with the intervals of the means cut at 0 and 100 %, beyond which no control lies."""
    means = [
        row if row.low is None or row.high is None
        else row.model_copy(update={"low": min(max(row.low, 0.0), 100.0), "high": max(min(row.high, 100.0), 0.0)})
        for row in found.means
    ]  # fmt: skip
    return found.model_copy(update={"means": tuple(means)})


def spread(plots: Floats) -> float | None:
    """Standard deviation of plots, None for one."""
    return float(plots.std(ddof=1)) if len(plots) > 1 else None


def _comparison(
    fit: Fit,
    a: int,
    b: int,
    sed: float,
    critical: tuple[float, float],
    lsd: bool,
    hsd: bool,
    scale: Scale,
    alpha: float,
) -> Comparison:
    from scipy.special import stdtr

    difference = float(fit.means[a] - fit.means[b])
    p = 2 * float(stdtr(fit.df, -abs(difference) / sed))
    least, honest = critical[0] * sed, critical[1] * sed
    first, second = fit.table.names[a], fit.table.names[b]
    told = Comparison(
        a=first,
        b=second,
        difference=difference,
        p=p,
        low=difference - least,
        high=difference + least,
        different_lsd=lsd,
        hsd_low=difference - honest,
        hsd_high=difference + honest,
        different_hsd=hsd,
        text="",
    )
    means = (back(float(fit.means[a]), scale), back(float(fit.means[b]), scale))
    return told.model_copy(update={"text": compared(told, means, unit(scale), alpha)})
