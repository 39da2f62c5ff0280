"""How two bands of control lie to each other, and what may be said of their difference."""

from __future__ import annotations

import math

from app.engine.output import Control
from app.engine.sides import Standing

# Bands are shown to a tenth of a percent; none is taken to lie nearer to none or all than half of it.
_LEAST, _PERCENT = 0.0005, 100.0


def band_of(shown: Control) -> tuple[float, float, float] | None:
    """Low, likely and high control [percent]; None where nothing is known."""
    if shown.low is None or shown.likely is None or shown.high is None:
        return None
    return shown.low, shown.likely, shown.high


def standing_of(one: Control, other: Control) -> Standing:
    """How the control by two programs of one weed compares.

    Returns
    -------
    str
        `apart` where the central 80 % bands do not overlap; `likely` where they do but the central
        80 % band of the difference, on the log-odds scale, does not hold zero; else `equal`; `unknown` where
        one of them has no figure.

    Notes
    -----
    The two are taken as independent. Programs on one site share its errors, so the band of the difference
    is rather too wide than too narrow, and `likely` is said too seldom rather than too often.
    """
    mine, theirs = band_of(one), band_of(other)
    if mine is None or theirs is None:
        return "unknown"
    if mine[0] > theirs[2] or theirs[0] > mine[2]:
        return "apart"
    (low, mean, high), (other_low, other_mean, other_high) = (tuple(map(_log_odds, band)) for band in (mine, theirs))
    spread = math.hypot((high - low) / 2, (other_high - other_low) / 2)
    return "likely" if abs(mean - other_mean) > spread else "equal"


def _log_odds(percent: float) -> float:
    share = min(max(percent / _PERCENT, _LEAST), 1 - _LEAST)
    return math.log(share / (1 - share))
