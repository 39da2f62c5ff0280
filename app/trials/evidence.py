"""What a trial says to the advice: each treatment's control on the log-odds, with its error."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.engine.house import MOST_VARIANCE, Observed
from app.trials.analysis import Rating, ratings
from app.trials.fit import Fit, Floats, Table, TooFew, fitted
from app.trials.trial import Treatment, Trial
from knowledge.base import KnowledgeBase


@dataclass(frozen=True)
class Silent:
    """A treatment that says nothing to the advice, and why."""

    treatment: str
    weed: str
    why: str


def observations(base: KnowledgeBase, trial: Trial) -> tuple[Observed, ...]:
    """What each treatment of one active did, at each date.

    Plots are put on the log-odds one by one, half a step of the rating scale kept from either end
    (`evidence-rating-step`), and fitted there like a rating; the variance is that of the mean by the
    pooled error, and never less than plots that agree by chance would give (`evidence-plot-sd`).

    Raises
    ------
    InputError
        Where control cannot be reckoned.
    """
    treatments = trial.labelled()
    found = []
    for rating in ratings(trial):
        if rating.weed not in base.weeds or rating.days < 1:
            continue
        means = _means(base, trial, rating)
        for name, (mean, variance, control, n) in means.items():
            if _why_silent(treatments[name], rating.weed) is None:
                found.append(_observed(trial, rating, treatments[name], mean, variance, control, n))
    return tuple(found)


def silent(base: KnowledgeBase, trial: Trial) -> tuple[Silent, ...]:
    """Treatments that say nothing to the advice, the check apart."""
    found = []
    for weed in trial.weeds:
        for treatment in trial.treatments:
            why = "the knowledge base does not hold this weed" if weed not in base.weeds else None
            why = why or _why_silent(treatment, weed)
            if why is not None and not treatment.is_check:
                found.append(Silent(treatment.name, weed, why))
    return tuple(found)


def _why_silent(treatment: Treatment, weed: str) -> str | None:
    if treatment.is_check:
        return "it is the check"
    if not treatment.actives:
        return "what it is made of is not told"
    if treatment.applications > 1:
        return f"sprayed {treatment.applications} times: it moves records of one application alone"
    if len(treatment.actives) > 1:
        return "a mixture: records are of one active; it is compared with its parts instead"
    if treatment.actives[0].rate is None:
        return "its rate is not told"
    if weed not in treatment.stages:
        return "the stage of the weed is not told"
    return None


def _observed(
    trial: Trial, rating: Rating, treatment: Treatment, mean: float, variance: float, control: float, n: int
) -> Observed:
    told = treatment.actives[0]
    assert told.rate is not None, "a treatment without a rate is silent"
    return Observed(
        name=trial.name,
        kind=trial.kind,
        place=trial.place,
        year=trial.applied.year if trial.applied is not None else None,
        treatment=treatment.name,
        weed=rating.weed,
        active=told.active,
        form=told.form,
        rate=told.rate,
        adjuvant=treatment.adjuvant or "none",
        stage=treatment.stages[rating.weed],
        season=trial.season,
        days_after=rating.days,
        n=n,
        control_pct=control,
        log_odds=mean,
        variance=variance,
    )


def _means(base: KnowledgeBase, trial: Trial, rating: Rating) -> dict[str, tuple[float, float, float, int]]:
    """Mean on the log-odds, its variance, mean control and number of plots, by treatment."""
    table = rating.table(leave_out=rating.constant_check)
    if not len(table.values):
        return {}
    on_log_odds = table.with_values(log_odds(table.values, base.parameter("evidence-rating-step")))
    least = base.parameter("evidence-plot-sd") ** 2
    # Where plots are missing, blocks can carry a fitted mean beyond what anybody could rate.
    end = float(log_odds(np.array([100.0]), base.parameter("evidence-rating-step"))[0])
    fit = _fit(on_log_odds) if trial.kind == "plots" else None
    found = {}
    for index, name in enumerate(table.names):
        own, n = on_log_odds.of(name), table.counts[index]
        if fit is not None:
            mean, variance = float(fit.means[index]), float(fit.covariance[index, index])
        else:
            mean, variance = float(own.mean()), float(own.var(ddof=1)) / n if n > 1 else 0.0
        mean, variance = min(max(mean, -end), end), min(max(variance, least / n), MOST_VARIANCE)
        found[name] = (mean, variance, float(table.of(name).mean()), n)
    return found


def _fit(table: Table) -> Fit | None:
    try:
        return fitted(table)
    except TooFew:
        return None


def log_odds(percent: Floats, step: float) -> Floats:
    """Log-odds of ratings read in steps; 0 and 100 lie half a step from the ends.

    >>> log_odds(np.array([0.0, 50.0, 100.0]), 5).round(3).tolist()
    [-3.714, 0.0, 3.714]
    """
    half = step / 2
    return np.log((percent + half) / (100 + half - percent))
