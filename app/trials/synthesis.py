"""Several trials of one question: random-effects synthesis, with how much the trials disagree."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.engine.errors import FieldFault, InputError
from app.trials.analysis import LEAST_ALPHA, MOST_ALPHA, Rating, ratings, weed_name
from app.trials.fit import Floats, TooFew, fitted
from app.trials.output import Synthesis, TrialEffect, Warned
from app.trials.separation import t_critical
from app.trials.trial import CHECK, Treatment, Trial
from app.trials.words import said_figure, said_p
from knowledge.base import KnowledgeBase

USUAL_DAYS = 28
DAYS_FACTOR = 2.0
ENOUGH_TRIALS = 5
_DISAGREE_PCT = 50.0


@dataclass(frozen=True)
class Pooled:
    """A random-effects mean.

    Attributes
    ----------
    se : float
        Of Hartung and Knapp, and never less than that of the plain random-effects mean.
    weights : ndarray, shape (k,)
        Share of each figure in the mean; they sum to 1.
    """

    mean: float
    se: float
    fixed: float
    q: float
    q_p: float
    i2: float
    tau2: float
    weights: Floats

    @property
    def df(self) -> int:
        """Degrees of freedom of Q and of the interval."""
        return len(self.weights) - 1


def pooled(estimates: Floats, variances: Floats) -> Pooled:
    """Pool figures by the model of DerSimonian and Laird (1986), by statsmodels.

    Parameters
    ----------
    estimates, variances : ndarray, shape (k,)
        Figures of two or more trials, and the variance of each by its own error, more than zero.
    """
    from statsmodels.stats.meta_analysis import combine_effects

    # The library lets tau squared fall below zero, where its weights mean nothing and may divide by zero.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        found = combine_effects(estimates, variances, method_re="chi2")
    q, df = max(0.0, float(found.q)), len(estimates) - 1
    varies = bool(found.tau2 > 0)
    plain, adjusted = (
        (found.sd_eff_w_re, found.sd_eff_w_re_hksj) if varies else (found.sd_eff_w_fe, found.sd_eff_w_fe_hksj)
    )
    return Pooled(
        mean=float(found.mean_effect_re if varies else found.mean_effect_fe),
        se=max(float(adjusted), float(plain)),
        fixed=float(found.mean_effect_fe),
        q=q,
        q_p=float(found.test_homogeneity().pvalue),
        i2=(q - df) / q if q > df else 0.0,
        tau2=float(found.tau2) if varies else 0.0,
        weights=np.asarray(found.weights_rel_re if varies else found.weights_rel_fe, dtype=np.float64),
    )


def synthesis(
    base: KnowledgeBase,
    trials: Sequence[Trial],
    weed: str,
    treatment: str,
    against: str | None = None,
    days_after: int | None = None,
    alpha: float = 0.05,
) -> Synthesis:
    """Pool what several trials say of a treatment, or of two against each other.

    Parameters
    ----------
    treatment, against : str
        Names of treatments; a treatment of another name counts where it is made of the same. Without
        `against`, or against the check, the control of the treatment is pooled.
    days_after : int, optional
        The date nearest to it is taken of each trial (28 where it is not told), up to twice or half as late.

    Raises
    ------
    InputError
        For fewer than two trials of the question, or what is out of range.
    """
    if not LEAST_ALPHA <= alpha <= MOST_ALPHA:
        raise InputError([FieldFault("alpha", f"must lie between {LEAST_ALPHA} and {MOST_ALPHA}, for example 0.05")])
    asked = days_after if days_after is not None else USUAL_DAYS
    if asked < 1:
        raise InputError([FieldFault("days_after", "must be 1 or more")])
    other = None if against is None or against.casefold() == CHECK else against
    if other is not None and other.casefold() == treatment.casefold():
        raise InputError([FieldFault("against", "must be another treatment")])
    replicated = [trial for trial in trials if trial.kind == "plots" and weed in trial.weeds]
    wanted = [_made_of(replicated, name) for name in (treatment, other) if name is not None]
    found = [_effect(base, trial, weed, wanted, asked, alpha) for trial in replicated]
    effects = [item for item in found if item is not None]
    named = f"{treatment} against {other}" if other is not None else f"control by {treatment}"
    if len(effects) < 2:
        which = f"{len(effects)} of the {len(trials)} trials kept" if trials else "no trial that is kept"
        what = (
            f"{which} can tell {named} of {weed_name(base, weed)} near {asked} days after application; two are needed"
        )
        raise InputError([FieldFault("treatment", what)])
    stages = _stages([trial for _, trial in effects], weed, wanted)
    return _pooled(base, weed, named, other is not None, effects, stages, alpha)


def _stages(trials: Sequence[Trial], weed: str, wanted: Sequence[Treatment]) -> tuple[str, ...]:
    """Stages of the weed that the treatments of the question met, each once."""
    met = [
        treatment.stages[weed]
        for trial in trials
        for treatment in trial.treatments
        if weed in treatment.stages and any(_is(treatment, item) for item in wanted)
    ]
    return tuple(dict.fromkeys(met))


def _made_of(trials: Sequence[Trial], name: str) -> Treatment:
    """The treatment of a name, from the first trial that tells what it is made of."""
    same = [t for trial in trials for t in trial.treatments if t.name.casefold() == name.casefold()]
    if not same:
        return Treatment(name=name)
    return next((t for t in same if t.actives), same[0])


def _is(treatment: Treatment, wanted: Treatment) -> bool:
    if treatment.actives and wanted.actives:
        return _content(treatment) == _content(wanted)
    return treatment.name.casefold() == wanted.name.casefold()


def _content(treatment: Treatment) -> tuple[object, ...]:
    actives = sorted(
        (part.active, part.form or "", f"{part.rate.quantity.base:.3g}" if part.rate is not None else "")
        for part in treatment.actives
    )
    return (tuple(actives), treatment.adjuvant or "none", treatment.applications)


def _effect(
    base: KnowledgeBase, trial: Trial, weed: str, wanted: Sequence[Treatment], days: int, alpha: float
) -> tuple[TrialEffect, Trial] | None:
    """What one trial says, None where it cannot tell."""
    treatments = trial.labelled()
    near = [r for r in ratings(trial) if r.weed == weed and days / DAYS_FACTOR <= r.days <= days * DAYS_FACTOR]
    for rating in sorted(near, key=lambda r: (abs(math.log(r.days / days)), -r.days)):
        names = [
            next((name for name in rating.table(rating.constant_check).names if _is(treatments[name], item)), None)
            for item in wanted
        ]
        if None not in names:
            return _of_rating(base, trial, rating, [name for name in names if name is not None], alpha)
    return None


def _of_rating(
    base: KnowledgeBase, trial: Trial, rating: Rating, names: Sequence[str], alpha: float
) -> tuple[TrialEffect, Trial] | None:
    try:
        fit = fitted(rating.table(leave_out=rating.constant_check))
    except TooFew:
        return None
    places = [fit.table.names.index(name) for name in names]
    contrast = np.array([1.0, -1.0])[: len(places)]
    estimate = float(contrast @ fit.means[places])
    # Plots that were rated alike still hide what the eye rounds away: a step of the scale, spread evenly.
    rounding = base.parameter("evidence-rating-step") ** 2 / 12 * sum(1 / fit.table.counts[place] for place in places)
    se = math.sqrt(max(float(contrast @ fit.covariance[np.ix_(places, places)] @ contrast), rounding))
    reach = t_critical(alpha, fit.df) * se
    place = ", ".join(part for part in (trial.place, str(trial.applied.year) if trial.applied else "") if part)
    effect = TrialEffect(
        trial=trial.name,
        place=place,
        days_after=rating.days,
        estimate=estimate,
        se=se,
        low=estimate - reach,
        high=estimate + reach,
        weight_pct=0.0,
    )
    return effect, trial


def _pooled(
    base: KnowledgeBase,
    weed: str,
    named: str,
    difference: bool,
    effects: Sequence[tuple[TrialEffect, Trial]],
    stages: Sequence[str],
    alpha: float,
) -> Synthesis:
    told = [effect for effect, _ in effects]
    found = pooled(np.array([e.estimate for e in told]), np.array([e.se**2 for e in told]))
    reach = t_critical(alpha, found.df) * found.se
    least, most = (-100.0, 100.0) if difference else (0.0, 100.0)
    low, high = max(found.mean - reach, least), min(found.mean + reach, most)
    expect: tuple[float | None, float | None] = (None, None)
    if found.df >= 2:
        beyond = t_critical(alpha, found.df - 1) * math.sqrt(found.tau2 + found.se**2)
        expect = (max(found.mean - beyond, least), min(found.mean + beyond, most))
    weighted = [
        effect.model_copy(update={"weight_pct": 100 * float(weight)})
        for effect, weight in zip(told, found.weights, strict=True)
    ]
    return Synthesis(
        question=named,
        weed=weed,
        weed_name=weed_name(base, weed),
        difference=difference,
        effects=tuple(weighted),
        alpha=alpha,
        estimate=found.mean,
        se=found.se,
        low=low,
        high=high,
        fixed=found.fixed,
        q=found.q,
        q_df=found.df,
        q_p=found.q_p,
        i2_pct=100 * found.i2,
        tau2=found.tau2,
        expect_low=expect[0],
        expect_high=expect[1],
        text=_said(base, weed, named, difference, found, (low, high), expect, alpha),
        warnings=_warned(effects, found, stages),
    )


def _said(
    base: KnowledgeBase,
    weed: str,
    named: str,
    difference: bool,
    found: Pooled,
    interval: tuple[float, float],
    expect: tuple[float | None, float | None],
    alpha: float,
) -> str:
    low, high = interval
    figures = f"{100 * (1 - alpha):.3g} % interval {said_figure(low)} to {said_figure(high)}"
    count, name = len(found.weights), weed_name(base, weed)
    if difference:
        first, second = named.split(" against ", 1)
        if low > 0 or high < 0:
            better, worse = (first, second) if found.mean > 0 else (second, first)
            lead = f"Over {count} trials {better} gave more control of {name} than {worse}"
        else:
            lead = f"Over {count} trials {first} and {second} cannot be told apart on {name}"
        text = f"{lead}: difference {said_figure(found.mean)} points ({figures})."
    else:
        text = f"Over {count} trials, {named} of {name}: {said_figure(found.mean)} % ({figures})."
    if expect[0] is not None and expect[1] is not None:
        text += f" The next trial is expected between {said_figure(expect[0])} and {said_figure(expect[1])}."
    return text


def _warned(effects: Sequence[tuple[TrialEffect, Trial]], found: Pooled, stages: Sequence[str]) -> tuple[Warned, ...]:
    warned = []
    count = len(effects)
    if count < ENOUGH_TRIALS:
        text = (
            f"{count} trials: how much trials differ (tau squared) is hardly known from so few; the interval is wide."
        )
        warned.append(Warned(code="few-trials", text=text))
    if 100 * found.i2 >= _DISAGREE_PCT:
        share = f"I squared {100 * found.i2:.0f} %, {said_p(found.q_p)}"
        text = (
            f"The trials disagree more than their plots explain ({share}): "
            "look for what differs between them before quoting one figure."
        )
        warned.append(Warned(code="heterogeneous", text=text))
    places = {trial.place for _, trial in effects}
    years = {trial.applied.year if trial.applied is not None else None for _, trial in effects}
    if len(places) == 1 and "" not in places:
        warned.append(Warned(code="one-place", text="All trials lie in one place."))
    if len(years) == 1 and None not in years:
        warned.append(Warned(code="one-year", text="All trials are of one year."))
    if len(stages) > 1:
        text = f"The weed was at different stages: {', '.join(stages)}. Stage alone can part trials."
        warned.append(Warned(code="different-stages", text=text))
    dates = {effect.days_after for effect, _ in effects}
    if len(dates) > 1:
        text = f"Rated at different dates: {', '.join(str(day) for day in sorted(dates))} days after application."
        warned.append(Warned(code="different-dates", text=text))
    return tuple(warned)
