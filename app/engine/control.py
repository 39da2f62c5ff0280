"""The control model: shifts on the log-odds of control, mixtures and sequences, over arrays.

Every figure of the knowledge base is a band on percent control. On the log-odds scale it is a
normal with mean logit(likely) and a standard deviation from the band; rate, stage, season and
weather shift the mean. Mixtures multiply survivors between mechanisms and are correlated inside
one; sequences multiply survivors in time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Standard normal quantile of 0.9: a central 80 % band runs this many standard deviations either way.
Z90 = 1.2815515655446004

# Log-odds that stands for "no activity at all"; its control is nil at any printed precision.
NO_ACTIVITY = -30.0


def logit(share: Floats | float) -> Floats:
    """Log-odds of a share between 0 and 1, both excluded."""
    value = np.asarray(share, dtype=np.float64)
    return np.log(value) - np.log1p(-value)


def expit(log_odds: Floats | float) -> Floats:
    """Share for a log-odds; the inverse of `logit`, without overflow at either end."""
    value = np.asarray(log_odds, dtype=np.float64)
    small = np.exp(-np.abs(value))
    return np.where(value >= 0, 1 / (1 + small), small / (1 + small))


def band_sd(low: float, high: float) -> float:
    """Standard deviation on the log-odds scale of a central 80 % band [shares]."""
    return (math.log(high / (1 - high)) - math.log(low / (1 - low))) / (2 * Z90)


def rate_shift(rate: float, reference: float, slope: float) -> float:
    """Shift for a rate against the reference rate, from the log-logistic dose-response.

    Parameters
    ----------
    rate, reference : float
        Rates in one unit, more than zero.
    slope : float
        Slope b of the log-logistic curve on the logarithm of the rate.

    Notes
    -----
    Source: log-logistic model of Seefeldt et al. (1995), Weed Technology 9, with the lower limit
    at no control and the upper at full control, so that logit(c) is linear in ln(rate).
    """
    return slope * math.log(rate / reference)


def colby_expected(shares: Floats) -> Floats:
    """Expected control of a mixture of independent actives; the last axis holds the actives.

    Source: Colby (1967), Weeds 15:20-22: surviving fractions multiply.
    """
    return np.asarray(1 - np.prod(1 - np.asarray(shares, dtype=np.float64), axis=-1))


@dataclass(frozen=True)
class Survivors:
    """Log of the surviving share of a tank, with its sensitivity to each part's log-odds.

    Attributes
    ----------
    log_share : array (candidates, targets)
        Natural logarithm of the surviving share.
    spread_sum, spread_squares : array (candidates, targets)
        Sum and sum of squares over the parts of -d(log survivors)/d(log-odds) times the part's
        standard deviation; together they give the variance under any common correlation.
    """

    log_share: Floats
    spread_sum: Floats
    spread_squares: Floats

    def then(self, later: Survivors) -> Survivors:
        """Survivors of this one that also meet a later one."""
        return Survivors(
            self.log_share + later.log_share,
            self.spread_sum + later.spread_sum,
            self.spread_squares + later.spread_squares,
        )

    def regrown(self, factor: Floats) -> Survivors:
        """Survivors that have spread by a factor of one or more, never beyond the whole."""
        grown = np.minimum(self.log_share + np.log(factor), 0.0)
        return Survivors(grown, self.spread_sum, self.spread_squares)


def mix(log_odds: Floats, sd: Floats, groups: Ints, rho: Floats) -> Survivors:
    """Survivors of tanks of several actives.

    Parameters
    ----------
    log_odds, sd : array (candidates, parts, targets)
        Mean and standard deviation of each part alone on the log-odds scale.
    groups : array (candidates, parts)
        Mechanism of each part; parts of one number share a mechanism.
    rho : array (candidates, parts, targets)
        How alike susceptibilities inside the part's mechanism are, 0 (independent) to 1 (only
        the best counts).

    Notes
    -----
    Inside a mechanism c = max + (1 - rho)(product model - max), that is, survivors are
    rho * min(s) + (1 - rho) * prod(s). Between mechanisms survivors multiply (Colby 1967).
    """
    control = expit(log_odds)
    log_alone = np.log1p(-control)
    parts = log_odds.shape[1]
    total = np.zeros(log_alone[:, 0].shape)
    spread_sum = np.zeros_like(total)
    spread_squares = np.zeros_like(total)
    for i in range(parts):
        same = groups == groups[:, i : i + 1]
        first = ~np.any(same[:, :i], axis=1) if i else np.ones(len(groups), dtype=bool)
        if not first.any():
            continue
        member = same[:, :, None]
        masked = np.where(member, log_alone, 0.0)
        product = np.exp(np.sum(masked, axis=1))
        best = np.exp(np.min(masked, axis=1))
        share = rho[:, i]
        survivors = share * best + (1 - share) * product
        lead = first[:, None]
        total += np.where(lead, np.log(survivors), 0.0)
        leader = np.arange(parts)[None, :, None] == np.argmin(masked, axis=1)[:, None]
        weight = (share * best)[:, None] * (leader & member) + ((1 - share) * product)[:, None] * member
        spread = np.where(lead[:, None], weight / survivors[:, None] * control * sd, 0.0)
        spread_sum += np.sum(spread, axis=1)
        spread_squares += np.sum(spread**2, axis=1)
    return Survivors(total, spread_sum, spread_squares)


def share_emerged(days: float, half: float) -> float:
    """Share of a season's seedlings that come up within some days of a preemergence application.

    Parameters
    ----------
    days, half : float
        Days since the application, and days by which half of them are up.

    >>> round(share_emerged(80, 40), 2)
    0.75
    """
    return float(1 - 2 ** (-days / half))


def exposed_days(days: float, span: float) -> float:
    """Days of decay that count in control judged so long after a preemergence application.

    What stands on the judging day came up through fresher residue for the most part, and fewer
    seedlings come the longer one waits, so later days count less: span (1 - exp(-days / span)).

    >>> round(exposed_days(60, 150), 1)
    49.5
    """
    return float(span * (1 - math.exp(-days / span)))


@dataclass(frozen=True)
class Band:
    """Central 80 % band of control [percent], each an array (candidates, targets)."""

    low: Floats
    likely: Floats
    high: Floats


def blend(branches: list[tuple[float, Survivors]], correlation: float) -> Band:
    """Band of control where shares of the plants meet different survivors.

    Parameters
    ----------
    branches : list of (float, Survivors)
        Shares of the plants, summing to one, with what each meets.
    correlation : float
        Correlation of the parts' errors inside one program, 0 to 1: one site, one season.

    Notes
    -----
    The variance is carried to the log-odds scale by its first derivatives (delta method).
    """
    surviving = sum((share * np.exp(s.log_share) for share, s in branches), np.zeros_like(branches[0][1].log_share))
    surviving = np.clip(surviving, 1e-12, 1 - 1e-12)
    linear = sum((share * np.exp(s.log_share) * s.spread_sum for share, s in branches), np.zeros_like(surviving)) / (
        surviving * (1 - surviving)
    )
    square = (
        sum(((share * np.exp(s.log_share)) ** 2 * s.spread_squares for share, s in branches), np.zeros_like(surviving))
        / (surviving * (1 - surviving)) ** 2
    )
    sd = np.sqrt((1 - correlation) * square + correlation * linear**2)
    centre = np.log1p(-surviving) - np.log(surviving)
    return Band(*(100 * expit(centre + step * Z90 * sd) for step in (-1, 0, 1)))
