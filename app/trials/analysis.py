"""The whole analysis of a trial: each weed and date, the course over the dates, and what weakens it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.engine.errors import FieldFault, InputError
from app.trials import cautions
from app.trials.course import course
from app.trials.curve import dose_curves
from app.trials.design import design_of
from app.trials.fit import Table, TooFew, fitted
from app.trials.joint import joints
from app.trials.output import Analysis, CheckRole, Course, LawnRating, MeanRow, MissingPlot, TrialReport
from app.trials.rated import NotRated, Rated, rated
from app.trials.scale import arcsine, chosen
from app.trials.separation import separation, spread, within_percent
from app.trials.trial import CHECK, Design, Plot, Trial
from app.trials.words import headline, said_figure
from knowledge.base import KnowledgeBase

LEAST_ALPHA, MOST_ALPHA = 0.0001, 0.5


@dataclass(frozen=True)
class Rating:
    """The plots of one weed at one date with the control of each; `cells` are treatments and replicates of the weed at
    any date."""

    weed: str
    days: int
    plots: tuple[Plot, ...]
    control: Rated
    design: Design
    design_text: str
    cells: frozenset[tuple[str, str]]

    @property
    def present(self) -> list[tuple[Plot, float]]:
        """Plots that have a figure, with it."""
        pairs = zip(self.plots, self.control.values, strict=True)
        return [(plot, value) for plot, value in pairs if value is not None]

    def table(self, leave_out: str | None = None) -> Table:
        """The plots as a table, without one treatment where it is named."""
        kept = [(plot, value) for plot, value in self.present if plot.treatment != leave_out]
        labels = tuple(plot.treatment for plot, _ in kept), tuple(plot.rep for plot, _ in kept)
        return Table(self.design, *labels, np.array([value for _, value in kept]))

    @property
    def constant_check(self) -> str | None:
        """The check, where it is rated zero in every plot."""
        checks = [(plot, value) for plot, value in self.present if plot.treatment.casefold() == CHECK]
        return checks[0][0].treatment if checks and all(value == 0 for _, value in checks) else None


def ratings(trial: Trial) -> tuple[Rating, ...]:
    """Every weed and date of a trial.

    Raises
    ------
    InputError
        Where control cannot be reckoned.
    """
    # The layout is one for the whole trial, so a plot lost late does not change the design.
    design, text = design_of([(plot.treatment, plot.rep) for plot in trial.plots], trial.design)
    grouped: dict[str, dict[int, list[Plot]]] = {}
    for plot in trial.plots:
        grouped.setdefault(plot.weed, {}).setdefault(plot.days_after, []).append(plot)
    found = []
    for weed, dates in grouped.items():
        cells = frozenset((plot.treatment, plot.rep) for plots in dates.values() for plot in plots)
        for days in sorted(dates):
            own = tuple(dates[days])
            try:
                found.append(Rating(weed, days, own, rated(own, design), design, text, cells))
            except NotRated as error:
                raise _fault(trial, weed, days, error) from error
    return tuple(found)


def _fault(trial: Trial, weed: str, days: int, error: ValueError) -> InputError:
    return InputError([FieldFault("plots", f"{trial.name}, {weed}, {days} days after application: {error}")])


def report(
    base: KnowledgeBase,
    trial: Trial,
    alpha: float = 0.05,
    *,
    weed: str | None = None,
    days_after: int | None = None,
) -> TrialReport:
    """Analyse a trial.

    Parameters
    ----------
    base : KnowledgeBase
        For the names of the weeds.
    alpha : float
        Error rate, between 0.0001 and 0.5.
    weed : str, optional
        Analyse this weed alone; its figures are those of the whole report.
    days_after : int, optional
        Analyse this rating date alone; a course over the dates is then left out.

    Raises
    ------
    InputError
        For an alpha out of range, a single treatment or replicate, plots that cannot be told apart
        from blocks, or control that cannot be reckoned.
    """
    if not LEAST_ALPHA <= alpha <= MOST_ALPHA:
        raise InputError([FieldFault("alpha", f"must lie between {LEAST_ALPHA} and {MOST_ALPHA}, for example 0.05")])
    # Design and layout are read off all plots, whatever is left out afterwards.
    found = tuple(
        rating for rating in ratings(trial) if weed in (None, rating.weed) and days_after in (None, rating.days)
    )
    warned = cautions.of_trial(trial.applied.year if trial.applied is not None else None)
    common = {
        "trial": trial.name,
        "kind": trial.kind,
        "place": trial.place,
        "applied": trial.applied.isoformat() if trial.applied is not None else None,
    }
    if trial.kind == "lawns":
        lawns = tuple(row for rating in found for row in _lawns(base, trial, rating))
        return TrialReport(**common, analyses=(), courses=(), lawns=lawns, warnings=())
    analyses = tuple(_analysis(base, trial, rating, alpha) for rating in found)
    by_weed: dict[str, list[Rating]] = {}
    for rating in found:
        by_weed.setdefault(rating.weed, []).append(rating)
    courses = [_course(base, trial, own, alpha) for own in by_weed.values()] if days_after is None else []
    return TrialReport(
        **common, analyses=analyses, courses=tuple(c for c in courses if c is not None), lawns=(), warnings=warned
    )


def weed_name(base: KnowledgeBase, weed: str) -> str:
    """The common name of a weed, or what the trial calls it."""
    return base.weed_names[weed].name if weed in base.weed_names else weed


def _course(base: KnowledgeBase, trial: Trial, own: Sequence[Rating], alpha: float) -> Course | None:
    weed = own[0].weed
    by_day = {
        rating.days: {
            (plot.treatment, plot.rep): value for plot, value in zip(rating.plots, rating.control.values, strict=True)
        }
        for rating in own
    }
    return course(trial.name, weed, weed_name(base, weed), own[0].design, by_day, alpha)


def _analysis(base: KnowledgeBase, trial: Trial, rating: Rating, alpha: float) -> Analysis:
    check = rating.constant_check
    raw = rating.table(leave_out=check)
    try:
        fit = fitted(raw)
        angular_table = raw.with_values(arcsine(raw.values))
        angular = fitted(angular_table)
    except TooFew as error:
        raise _fault(trial, rating.weed, rating.days, error) from error
    scales = chosen(fit, angular)
    plain = within_percent(separation(fit, raw, "percent", alpha))
    transformed = separation(angular, raw, "arcsine", alpha) if scales.chosen == "arcsine" else None
    missing = _missing(rating)
    treatments = trial.labelled()
    name = weed_name(base, rating.weed)
    outside = _outside(rating, check)
    stages = [t.stages[rating.weed] for t in trial.treatments if rating.weed in t.stages]
    told = [value for plot, value in rating.present if plot.treatment != check]
    warned = cautions.of_table(base, fit, rating.control, missing, scales, rating.days, told)
    shown = transformed if transformed is not None else plain
    return Analysis(
        trial=trial.name,
        weed=rating.weed,
        weed_name=name,
        days_after=rating.days,
        stages=tuple(dict.fromkeys(stages)),
        rated_by=rating.control.by,
        design=rating.design,
        design_text=rating.design_text,
        replicates=max(raw.counts),
        alpha=alpha,
        headline=headline(shown, name, rating.days, alpha),
        anova=plain.anova,
        grand_mean=plain.grand_mean,
        cv_pct=plain.cv_pct,
        lsd=plain.lsd,
        hsd=plain.hsd,
        protected=plain.protected,
        means=(*plain.means, *outside),
        comparisons=plain.comparisons,
        transformation=scales,
        transformed=transformed.model_copy(update={"means": (*transformed.means, *outside)}) if transformed else None,
        check=_check(rating, check),
        missing=missing,
        mixtures=joints(fit, treatments, rating.weed, alpha, base.parameter("trial-additive-points")),
        dose_curves=dose_curves(rating.table(), treatments, rating.weed, alpha),
        injury=_injury(rating),
        warnings=warned,
    )


def _outside(rating: Rating, check: str | None) -> tuple[MeanRow, ...]:
    """The check's line where it is no part of the analysis."""
    if check is None:
        return ()
    return (_plain_row(check, np.array([value for plot, value in rating.present if plot.treatment == check])),)


def _plain_row(name: str, values: np.ndarray) -> MeanRow:
    mean = float(values.mean())
    return MeanRow(
        treatment=name,
        n=len(values),
        mean=mean,
        raw_mean=mean,
        sd=spread(values),
        se=None,
        low=None,
        high=None,
        letter_lsd=None,
        letter_hsd=None,
        in_analysis=False,
    )


def _check(rating: Rating, constant: str | None) -> CheckRole | None:
    names = [plot.treatment for plot, _ in rating.present if plot.treatment.casefold() == CHECK]
    if not names:
        return None
    if constant is not None:
        why = "reckoned against itself" if rating.control.by != "control" else "rated 0 % in every plot"
        text = f"The check is {why}: constant, so its plots are no part of the error and it bears no letter."
        return CheckRole(treatment=names[0], in_error=False, text=text)
    return CheckRole(treatment=names[0], in_error=True, text="The check varies, so it is compared like a treatment.")


def _missing(rating: Rating) -> tuple[MissingPlot, ...]:
    """Plots without a figure; in blocks, cells of the layout that the file does not hold too."""
    found = [
        MissingPlot(treatment=plot.treatment, rep=plot.rep)
        for plot, value in zip(rating.plots, rating.control.values, strict=True)
        if value is None
    ]
    held = {(plot.treatment, plot.rep) for plot in rating.plots}
    names, cells = {t for t, _ in held}, set(rating.cells)
    if rating.design == "rcbd":
        reps = {r for _, r in cells}
        cells |= {(t, r) for t in names for r in reps}
    absent = sorted((t, r) for t, r in cells - held if t in names)
    return (*found, *(MissingPlot(treatment=t, rep=r) for t, r in absent))


def _injury(rating: Rating) -> tuple[MeanRow, ...]:
    by_treatment: dict[str, list[float]] = {}
    for plot in rating.plots:
        if plot.injury_pct is not None:
            by_treatment.setdefault(plot.treatment, []).append(plot.injury_pct)
    return tuple(_plain_row(name, np.array(values)) for name, values in by_treatment.items())


def _lawns(base: KnowledgeBase, trial: Trial, rating: Rating) -> list[LawnRating]:
    table = rating.table()
    name = weed_name(base, rating.weed)
    rows = []
    for treatment in table.names:
        values = table.of(treatment)
        lawns = f"{len(values)} treated lawns" if len(values) > 1 else "One treated lawn"
        text = (
            f"{lawns}: {said_figure(float(values.mean()))} % control of {name} seen {rating.days} days after "
            f"{treatment}. No check stood beside it: weaker evidence, since what the weed did by itself is not known."
        )
        rows.append(
            LawnRating(
                trial=trial.name,
                weed=rating.weed,
                weed_name=name,
                days_after=rating.days,
                treatment=treatment,
                n=len(values),
                mean=float(values.mean()),
                sd=spread(values),
                text=text,
            )
        )
    return rows
