"""The control of each plot at a rating date: as rated, or reckoned from cover against the check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from app.trials.trial import CHECK, Design, Plot

RatedBy = Literal["control", "cover", "cover-and-before"]


class NotRated(ValueError):
    """Control cannot be reckoned: the message says why."""


@dataclass(frozen=True)
class Rated:
    """Control by plot [%], None where it is missing.

    Attributes
    ----------
    below_zero : int
        Plots with more weed than the check, counted as no control.
    without_check : int
        Plots left out because the check of their block bears no weed.
    without_before : int
        Plots whose cover before the application is not told, where other plots tell theirs.
    check_cover : float, optional
        Mean cover of the checks at this date [%], where control is reckoned from it.
    """

    values: tuple[float | None, ...]
    by: RatedBy
    below_zero: int = 0
    without_check: int = 0
    without_before: int = 0
    check_cover: float | None = None


def abbott(check: float, treated: float) -> float:
    """Percent control from what lives in the check and in the treated plot (Abbott 1925).

    >>> round(abbott(60, 9), 1), round(abbott(60, 70), 2)
    (85.0, -16.67)
    """
    return 100 * (check - treated) / check


def henderson_tilton(check_before: float, check_after: float, before: float, after: float) -> float:
    """Percent control where plots started unequal (Henderson and Tilton 1955, formula from memory).

    >>> round(henderson_tilton(50, 60, 40, 5), 4)
    89.5833
    """
    return 100 * (1 - (after / before) * (check_before / check_after))


def rated(plots: Sequence[Plot], design: Design) -> Rated:
    """Control of each plot of one weed and date, in the order given.

    In blocks a plot is held against the check of its own block, otherwise against the mean of the
    checks. More weed than in the check counts as no control.

    Raises
    ------
    NotRated
        Where there is neither control nor cover, or cover without a check.
    """
    if any(plot.control_pct is not None for plot in plots):
        return Rated(tuple(plot.control_pct for plot in plots), "control")
    covered = [plot for plot in plots if plot.cover_pct is not None]
    if not covered:
        raise NotRated("no plot has a rating; give control_pct, or cover_pct with a check named nontreated")
    checks = [plot for plot in covered if plot.treatment.casefold() == CHECK]
    if not checks:
        raise NotRated("cover without a check named nontreated gives no control; add its plots, or give control_pct")
    lacking = sum(plot.cover_before_pct is None for plot in covered)
    before = lacking == 0
    values: list[float | None] = []
    below = barren = 0
    for plot in plots:
        value = _against(plot, _checks_of(plot, checks, design), before)
        if value is None and plot.cover_pct is not None:
            barren += 1
        if value is not None and value < 0:
            below += plot.treatment.casefold() != CHECK
            value = 0.0
        values.append(value)
    if all(value is None for value in values):
        raise NotRated("the checks bear no weed, so control cannot be reckoned from cover")
    by: RatedBy = "cover-and-before" if before else "cover"
    cover = float(np.mean([check.cover_pct for check in checks if check.cover_pct is not None]))
    return Rated(tuple(values), by, below, barren, lacking if lacking < len(covered) else 0, cover)


def _checks_of(plot: Plot, checks: Sequence[Plot], design: Design) -> Sequence[Plot]:
    return [check for check in checks if check.rep == plot.rep] if design == "rcbd" else checks


def _against(plot: Plot, checks: Sequence[Plot], before: bool) -> float | None:
    if plot.cover_pct is None or not checks:
        return None
    # The check is what control is held against, so its own is none by definition.
    after = float(np.mean([check.cover_pct for check in checks if check.cover_pct is not None]))
    if after <= 0:
        return None
    if plot.treatment.casefold() == CHECK:
        return 0.0
    if not before:
        return abbott(after, plot.cover_pct)
    start = float(np.mean([check.cover_before_pct for check in checks if check.cover_before_pct is not None]))
    if not plot.cover_before_pct or start <= 0:
        return None
    return henderson_tilton(start, after, plot.cover_before_pct, plot.cover_pct)
