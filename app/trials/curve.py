"""Control against rate: the four-parameter log-logistic curve."""

from __future__ import annotations

import math
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from app.trials.fit import Floats, Table
from app.trials.output import DoseCurve, Effective
from app.trials.separation import t_critical
from app.trials.trial import Treatment
from app.trials.words import said_figure

SHARES = (50.0, 90.0)
CONTROL = (0.0, 100.0)
_LOWER, _UPPER = 1, 2
_NUMBERS = {2: "two", 3: "three", 4: "four", 5: "five"}
_DRAWN = 60


@dataclass(frozen=True)
class LogLogistic:
    """A fitted curve: ``lower + (upper - lower) / (1 + exp(slope * (log x - log ed50)))``.

    Attributes
    ----------
    parameters : ndarray, shape (4,)
        Slope, lower, upper, log of ED50.
    covariance : ndarray, shape (4, 4)
    residual_se : float
        In the unit of the figures.
    """

    parameters: Floats
    covariance: Floats
    residual_se: float
    df: int

    def at(self, dose: float) -> float:
        """The curve at a dose."""
        return float(log_logistic(np.array([dose]), *self.parameters)[0])

    def effective(self, share: float, alpha: float) -> tuple[float, float, float]:
        """Dose that brings a share [%] of the way between the limits, with its interval (delta method on its log)."""
        slope, *_, log_ed50 = self.parameters
        odds = math.log(share / (100 - share))
        gradient = np.array([-odds * np.sign(slope) / slope**2, 0.0, 0.0, 1.0])
        log_dose = log_ed50 + odds / abs(slope)
        reach = t_critical(alpha, self.df) * math.sqrt(float(gradient @ self.covariance @ gradient))
        return tuple(_power(log_dose + step) for step in (0.0, -reach, reach))  # type: ignore[return-value]


class NoFit(ValueError):
    """No curve can be fitted: the message says why."""


def log_logistic(dose: Floats, slope: float, lower: float, upper: float, log_ed50: float) -> Floats:
    """The curve at each dose; at dose zero its limit."""
    with np.errstate(divide="ignore", over="ignore"):
        return lower + (upper - lower) / (1 + np.exp(slope * (np.log(dose) - log_ed50)))


def _slopes(dose: Floats, slope: float, lower: float, upper: float, log_ed50: float) -> Floats:
    """Derivatives of the curve by its four parameters, shape (n, 4).

    By hand, since a step taken in proportion to a lower limit near zero is no step at all.
    """
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        way = np.log(dose) - log_ed50
        share = 1 / (1 + np.exp(slope * way))
        steep = (upper - lower) * share * (1 - share)
        by_slope = np.where((dose > 0) & (steep != 0), -steep * way, 0.0)
    return np.column_stack([by_slope, 1 - share, share, steep * slope])


def fit_curve(
    dose: Floats, value: Floats, *, lower: float | None = None, within: tuple[float, float] | None = None
) -> LogLogistic:
    """Fit the curve by least squares (scipy), ED50 on its logarithm so that it stays above zero.

    Parameters
    ----------
    dose, value : ndarray, shape (n,)
        Dose of each plot, zero or more, and its figure.
    lower : float, optional
        The lower limit, where it is known by what it is.
    within : (float, float), optional
        The range of figures that can be. A limit that would lie outside is held at its edge: beyond it a curve would
        promise what cannot be seen. A limit that is held is not fitted, and its variance is zero.

    Raises
    ------
    NoFit
        For too few different doses (one more than what is fitted), or where no curve is found inside the doses.
    """
    held = {} if lower is None else {_LOWER: lower}
    distinct = np.unique(dose)
    fitted = 4 - len(held)
    if len(distinct) < fitted + 1:
        raise NoFit(
            f"{len(distinct)} rates do not fix a curve of {_NUMBERS[fitted]} parameters; "
            f"{_NUMBERS[fitted + 1]} or more are needed"
        )
    if np.ptp(value) == 0:
        raise NoFit("every plot has the same figure")
    least, most = within or (-math.inf, math.inf)
    try:
        curve = _least_squares(dose, value, held)
    except NoFit:
        if within is None:
            raise
        # Figures that rise to the last dose draw a free limit to infinity.
        held = held | {_UPPER: most}
        curve = _least_squares(dose, value, held)
    while True:
        outside = {}
        if curve.parameters[_LOWER] < least:
            outside[_LOWER] = least
        if curve.parameters[_UPPER] > most:
            outside[_UPPER] = most
        if not outside:
            break
        held = held | outside
        curve = _least_squares(dose, value, held)
    used = distinct[distinct > 0]
    if not used[0] / 10 <= _power(curve.parameters[3]) <= used[-1] * 10:
        raise NoFit("the rate that would give half of the effect lies far outside the rates tried")
    return curve


def _least_squares(dose: Floats, value: Floats, held: Mapping[int, float]) -> LogLogistic:
    """The curve of the least sum of squares from several starts, with some parameters held; lower limit first."""
    from scipy.optimize import OptimizeWarning, curve_fit

    free = [place for place in range(4) if place not in held]

    def curve(x: Floats, *told: float) -> Floats:
        return log_logistic(x, *_whole(told, free, held))

    def slopes(x: Floats, *told: float) -> Floats:
        return _slopes(x, *_whole(told, free, held))[:, free]

    distinct = np.unique(dose)
    used = distinct[distinct > 0]
    means = np.array([value[dose == d].mean() for d in distinct])
    direction = -1.0 if means[-1] >= means[0] else 1.0
    best: tuple[float, Floats, Floats] | None = None
    middles = used[1:] if len(used) > 1 else used
    for steep, middle in product((1.0, 3.0), middles):
        start = [direction * steep, float(means.min()), float(means.max()), math.log(middle)]
        try:
            with warnings.catch_warnings():
                # Another start may do better; none at all is told below.
                warnings.simplefilter("error", OptimizeWarning)
                warnings.simplefilter("ignore", RuntimeWarning)
                p0 = [start[place] for place in free]
                found, covariance = curve_fit(curve, dose, value, p0=p0, jac=slopes, maxfev=400, xtol=1e-12, ftol=1e-12)
        except (RuntimeError, OptimizeWarning):
            continue
        rest = float(((value - curve(dose, *found)) ** 2).sum())
        if not np.isfinite(covariance).all():
            continue
        if best is not None and abs(rest - best[0]) <= 1e-9 * best[0]:
            # Two starts from different doses agree.
            break
        if best is None or rest < best[0]:
            best = (rest, found, covariance)
    if best is None:
        raise NoFit("no curve fits: control does not settle between two limits within these rates")
    rest, found, covariance = best
    parameters, whole = _whole(found, free, held), np.zeros((4, 4))
    whole[np.ix_(free, free)] = covariance
    if not held and parameters[_LOWER] > parameters[_UPPER]:
        # The same curve written the other way round.
        turned = [0, _UPPER, _LOWER, 3]
        signs = np.array([-1.0, 1.0, 1.0, 1.0])
        parameters = parameters[turned] * signs
        whole = whole[np.ix_(turned, turned)] * np.outer(signs, signs)
    df = len(value) - len(free)
    return LogLogistic(parameters, whole, math.sqrt(rest / df), df)


def _whole(told: Sequence[float] | Floats, free: Sequence[int], held: Mapping[int, float]) -> Floats:
    parameters = np.empty(4)
    parameters[list(free)] = told
    for place, figure in held.items():
        parameters[place] = figure
    return parameters


def _power(log_dose: float) -> float:
    return math.exp(min(max(float(log_dose), -700.0), 700.0))


def lack_of_fit(dose: Floats, value: Floats, curve: LogLogistic) -> float | None:
    """Probability that the means lie as far from the curve by chance; None where it cannot be tested."""
    from scipy.special import fdtrc

    groups = [value[dose == d] for d in np.unique(dose)]
    pure = sum(float(((group - group.mean()) ** 2).sum()) for group in groups)
    df_pure = len(value) - len(groups)
    df_lack = curve.df - df_pure
    if df_pure < 1 or df_lack < 1 or pure <= 0:
        return None
    lack = max(curve.residual_se**2 * curve.df - pure, 0.0)
    return float(fdtrc(df_lack, df_pure, (lack / df_lack) / (pure / df_pure)))


def dose_curves(table: Table, treatments: Mapping[str, Treatment], weed: str, alpha: float) -> tuple[DoseCurve, ...]:
    """A curve for every series of rates: one active in one form, with one adjuvant, at three rates or more.

    `table` holds every plot, those of the check too: they are rate zero. A check that is zero in every plot is the
    lower limit by what it is: its plots are no measure of error and are not fitted.
    """
    series: dict[tuple[str, ...], list[Treatment]] = {}
    check = next((name for name in table.names if treatments[name].is_check), None)
    for name in table.names:
        told = treatments[name]
        if len(told.actives) == 1 and told.actives[0].rate is not None:
            alone = told.actives[0]
            kind = alone.rate.quantity.dimension if alone.rate is not None else ""
            shared = (told.stages.get(weed, ""), str(told.applications))
            key = (alone.active, told.adjuvant or "none", *shared, alone.form or "", kind)
            series.setdefault(key, []).append(told)
    return tuple(
        _curve_of(table, told, check, key[1], alpha)
        for key, told in series.items()
        if len({_rate(t) for t in told}) >= 3
    )


def _rate(treatment: Treatment) -> float:
    rate = treatment.actives[0].rate
    assert rate is not None, "a series holds treatments with a rate"
    return rate.quantity.base


def _curve_of(table: Table, told: Sequence[Treatment], check: str | None, adjuvant: str, alpha: float) -> DoseCurve:
    first = told[0].actives[0]
    assert first.rate is not None, "a series holds treatments with a rate"
    factor = first.rate.quantity.base / first.rate.value
    pairs = [(_rate(t) / factor, value) for t in told for value in table.of(t.name)]
    if check is not None:
        pairs += [(0.0, value) for value in table.of(check)]
    pairs.sort()
    dose = np.array([p[0] for p in pairs])
    value = np.array([p[1] for p in pairs])
    constant = check is not None and not table.of(check).any()
    base = DoseCurve(
        actives=(first.active,),
        adjuvant=None if adjuvant == "none" else adjuvant,
        unit=first.rate.unit,
        fitted=False,
        text="",
        doses=tuple(float(d) for d in np.unique(dose)),
        plots=tuple((float(d), float(v)) for d, v in pairs),
    )
    try:
        if constant:
            dose, value = dose[dose > 0], value[dose > 0]
        curve = fit_curve(dose, value, lower=0.0 if constant else None, within=CONTROL)
        if curve.parameters[0] > 0:
            raise NoFit("control does not rise with the rate")
    except NoFit as error:
        return base.model_copy(update={"text": f"No curve was fitted: {error}."})
    slope, lower, upper, log_ed50 = (float(x) for x in curve.parameters)
    effective = tuple(_effective(curve, share, float(dose.max()), first.rate.unit, alpha) for share in SHARES)
    used = dose[dose > 0]
    drawn = np.exp(np.linspace(math.log(used.min()) - 0.7, math.log(used.max()), _DRAWN))
    lack = lack_of_fit(dose, value, curve)
    text = " ".join(item.text for item in effective)
    if upper == CONTROL[1]:
        text += " The curve does not level off below 100 % by itself, so its upper limit is held there."
    if lack is not None and lack < alpha:
        text += f" The means lie farther from the curve than plots do from their means (lack of fit, p = {lack:.3f})."
    return base.model_copy(
        update={
            "fitted": True,
            "text": text,
            "slope": slope,
            "lower": lower,
            "upper": upper,
            "ed50": math.exp(log_ed50),
            "residual_se": curve.residual_se,
            "df": curve.df,
            "lack_of_fit_p": lack,
            "effective": effective,
            "curve": tuple(
                (float(d), float(v)) for d, v in zip(drawn, log_logistic(drawn, *curve.parameters), strict=True)
            ),
        }
    )


def _effective(curve: LogLogistic, share: float, highest: float, unit: str, alpha: float) -> Effective:
    dose, low, high = curve.effective(share, alpha)
    beyond = dose > highest
    level = curve.parameters[1] + (curve.parameters[2] - curve.parameters[1]) * share / 100
    interval = f"{100 * (1 - alpha):.3g} % interval {low:.3g} to {high:.3g}"
    text = f"ED{share:.0f} {dose:.3g} {unit} ({interval}), where control is {said_figure(float(level))} %."
    if beyond:
        text += " It lies beyond the highest rate tried: no figure to act on."
    return Effective(share_pct=share, dose=dose, low=low, high=high, beyond=beyond, text=text)
