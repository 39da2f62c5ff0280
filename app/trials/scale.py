"""The scale of the analysis: percent as rated, or the arcsine of the square root in degrees."""

from __future__ import annotations

import math
import warnings

import numpy as np

from app.trials.fit import Fit, Floats
from app.trials.output import Scale, Transformation

UNEQUAL = 0.05
RULE = (
    "Claims rest on the percentages as rated, unless Brown and Forsythe's test finds the spread of the residuals "
    f"unequal between treatments (p < {UNEQUAL}) and finds it more even on the arcsine of the square root."
)


def arcsine(percent: Floats) -> Floats:
    """Arcsine of the square root of a percentage, in degrees: 50 % is 45 degrees."""
    return np.degrees(np.arcsin(np.sqrt(np.clip(percent, 0, 100) / 100)))


def back(value: float, scale: Scale) -> float:
    """A figure of the scale in percent again."""
    if scale == "percent":
        return value
    return 100 * math.sin(math.radians(min(max(value, 0.0), 90.0))) ** 2


def unit(scale: Scale) -> str:
    """Unit of a difference on the scale."""
    return "points" if scale == "percent" else "degrees"


def equal_spread(fit: Fit) -> float | None:
    """Probability that residuals spread alike in all treatments (Brown and Forsythe 1974, scipy's median form).

    None where it cannot be told: fewer than two treatments with three plots, or no spread at all. Two plots lie
    equally far from their median, and in blocks the residuals of two treatments mirror each other, so neither can
    show a spread of its own.
    """
    from scipy.stats import levene

    groups = [fit.residuals[[t == name for t in fit.table.treatments]] for name in fit.table.names]
    groups = [group for group in groups if len(group) > 2]
    mirrored = fit.table.design == "rcbd" and len(fit.table.names) == 2
    if len(groups) < 2 or mirrored or fit.mse is None:
        return None
    with warnings.catch_warnings():
        # Where every deviation is alike there is nothing to test, which the answer below says.
        warnings.simplefilter("ignore", RuntimeWarning)
        p = float(levene(*groups, center="median").pvalue)
    return p if math.isfinite(p) else None


def chosen(percent: Fit, transformed: Fit) -> Transformation:
    """Which scale the claims rest on, by the rule, and why."""
    plain, angular = equal_spread(percent), equal_spread(transformed)
    use: Scale = "percent"
    if plain is None:
        reason = "The spread of the residuals could not be tested; percentages are kept as rated."
    elif plain >= UNEQUAL:
        reason = f"The spread of the residuals does not differ between treatments (p = {plain:.2f}); kept as rated."
    elif angular is not None and angular > plain:
        use = "arcsine"
        reason = (
            f"The spread of the residuals differs between treatments (p = {plain:.3f}) and is more even on the arcsine "
            f"of the square root (p = {angular:.3f}): means are back-transformed from there."
        )
    else:
        reason = (
            f"The spread of the residuals differs between treatments (p = {plain:.3f}), but no less on the arcsine of "
            "the square root; kept as rated, with a warning."
        )
    return Transformation(chosen=use, rule=RULE, reason=reason, equal_spread_p=plain, equal_spread_p_arcsine=angular)
