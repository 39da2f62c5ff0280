"""What the analysis of a trial answers: the shapes that every face shows."""

from __future__ import annotations

from typing import Literal

from app.engine.output import Output
from app.trials.trial import Design, Kind

Scale = Literal["percent", "arcsine"]
Word = Literal["synergistic", "antagonistic", "additive", "not told apart"]


class Warned(Output):
    """What weakens a claim, with a code."""

    code: str
    text: str


class AnovaRow(Output):
    """A line of the analysis of variance; the last two figures of error and total are null."""

    source: str
    df: int
    ss: float
    ms: float | None
    f: float | None
    p: float | None


class LeastDifference(Output):
    """The least difference that counts, on the scale of the means.

    `exact` is false where replication is unequal: then each pair has its own, and this is their mean.
    It is null where no error can be reckoned.
    """

    value: float | None
    alpha: float
    exact: bool


class MeanRow(Output):
    """A treatment's mean [% control].

    Attributes
    ----------
    mean : float
        Least-squares mean, equal to the plain mean where no plot is missing; back-transformed on the
        arcsine scale.
    raw_mean, sd : float
        Plain mean and standard deviation of the plots; `sd` is null for one plot.
    se : float, optional
        Standard error of `mean` by the pooled error, on the scale of the analysis
        (percent, or degrees); null for a check outside the analysis.
    low, high : float, optional
        Confidence interval of the mean [%] at 1 - alpha, cut at 0 and 100.
    letter_lsd, letter_hsd : str, optional
        Means that share a letter are not different.
    """

    treatment: str
    n: int
    mean: float
    raw_mean: float
    sd: float | None
    se: float | None
    low: float | None
    high: float | None
    letter_lsd: str | None
    letter_hsd: str | None
    in_analysis: bool


class Comparison(Output):
    """Two treatments, the one with the higher mean first.

    `difference`, its intervals (`low`, `high` of the t test; `hsd_low`, `hsd_high` of Tukey's) are in
    percentage points, or in degrees on the arcsine scale. `p` is of the t test, for this pair alone.
    """

    a: str
    b: str
    difference: float
    p: float
    low: float
    high: float
    different_lsd: bool
    hsd_low: float
    hsd_high: float
    different_hsd: bool
    text: str


class Separation(Output):
    """Analysis of variance and separation of means on one scale."""

    scale: Scale
    anova: tuple[AnovaRow, ...]
    grand_mean: float
    cv_pct: float | None
    lsd: LeastDifference
    hsd: LeastDifference
    protected: bool
    means: tuple[MeanRow, ...]
    comparisons: tuple[Comparison, ...]


class MissingPlot(Output):
    """A plot that has no rating at this date."""

    treatment: str
    rep: str


class CheckRole(Output):
    """The nontreated check: its mean, and whether its plots are part of the error."""

    treatment: str
    in_error: bool
    text: str


class Transformation(Output):
    """Which scale the claims rest on, by which rule, and what it found."""

    chosen: Scale
    rule: str
    reason: str
    equal_spread_p: float | None
    equal_spread_p_arcsine: float | None


class Joint(Output):
    """A mixture against what its parts do alone (Colby), on the percent scale.

    `difference` is observed minus expected [percentage points], with its confidence interval.
    """

    mixture: str
    parts: tuple[str, ...]
    observed: float
    expected: float
    difference: float
    low: float
    high: float
    p: float
    word: Word
    text: str


class Effective(Output):
    """A dose of a fitted curve with its confidence interval [unit of the rates]."""

    share_pct: float
    dose: float
    low: float | None
    high: float | None
    beyond: bool
    text: str


class DoseCurve(Output):
    """A four-parameter log-logistic curve of control against rate; null parameters where none was fitted.

    Control at rate x is ``lower + (upper - lower) / (1 + exp(slope * (log x - log ed50)))``; `slope` is
    negative where control rises. Confidence intervals are at 1 - alpha.
    """

    actives: tuple[str, ...]
    adjuvant: str | None
    unit: str
    fitted: bool
    text: str
    doses: tuple[float, ...]
    plots: tuple[tuple[float, float], ...]
    slope: float | None = None
    lower: float | None = None
    upper: float | None = None
    ed50: float | None = None
    residual_se: float | None = None
    df: int | None = None
    lack_of_fit_p: float | None = None
    effective: tuple[Effective, ...] = ()
    curve: tuple[tuple[float, float], ...] = ()


class Analysis(Output):
    """One weed of one trial at one rating date; figures on the percent scale, and the arcsine beside where used."""

    trial: str
    weed: str
    weed_name: str
    days_after: int
    stages: tuple[str, ...]
    rated_by: Literal["control", "cover", "cover-and-before"]
    design: Design
    design_text: str
    replicates: int
    alpha: float
    headline: str
    anova: tuple[AnovaRow, ...]
    grand_mean: float
    cv_pct: float | None
    lsd: LeastDifference
    hsd: LeastDifference
    protected: bool
    means: tuple[MeanRow, ...]
    comparisons: tuple[Comparison, ...]
    transformation: Transformation
    transformed: Separation | None
    check: CheckRole | None
    missing: tuple[MissingPlot, ...]
    mixtures: tuple[Joint, ...]
    dose_curves: tuple[DoseCurve, ...]
    injury: tuple[MeanRow, ...]
    warnings: tuple[Warned, ...]

    @property
    def shown(self) -> Separation:
        """The scale that the claims rest on."""
        if self.transformed is not None and self.transformation.chosen == "arcsine":
            return self.transformed
        return Separation(
            scale="percent",
            anova=self.anova,
            grand_mean=self.grand_mean,
            cv_pct=self.cv_pct,
            lsd=self.lsd,
            hsd=self.hsd,
            protected=self.protected,
            means=self.means,
            comparisons=self.comparisons,
        )


class Course(Output):
    """Control of one weed over the rating dates.

    `means` are the area under the control curve over its span: the average control [%] from the first
    to the last date, by plot, analysed like a rating. `points` are (days after, mean) by treatment.
    """

    trial: str
    weed: str
    weed_name: str
    first_day: int
    last_day: int
    points: dict[str, tuple[tuple[int, float], ...]]
    separation: Separation | None
    text: str


class LawnRating(Output):
    """Treated lawns rated without a check at one date."""

    trial: str
    weed: str
    weed_name: str
    days_after: int
    treatment: str
    n: int
    mean: float
    sd: float | None
    text: str


class TrialReport(Output):
    """Everything a trial says: an analysis for each weed and date, and the course over the dates."""

    trial: str
    kind: Kind
    place: str
    applied: str | None
    analyses: tuple[Analysis, ...]
    courses: tuple[Course, ...]
    lawns: tuple[LawnRating, ...]
    warnings: tuple[Warned, ...]


class TrialAnswer(Output):
    """What the file of plots says: every trial, weed and date in it."""

    analyses: tuple[Analysis, ...]
    courses: tuple[Course, ...]
    lawns: tuple[LawnRating, ...]
    warnings: tuple[Warned, ...]
    notices: tuple[str, ...]


class TrialEffect(Output):
    """What one trial adds to a synthesis [percentage points], with its weight in the pooled figure [%]."""

    trial: str
    place: str
    days_after: int
    estimate: float
    se: float
    low: float
    high: float
    weight_pct: float


class Synthesis(Output):
    """Several trials of one question by a random-effects model.

    Attributes
    ----------
    difference : bool
        Whether two treatments are compared [percentage points]; else it is the control by one [%].
    estimate, low, high : float
        Pooled difference [percentage points], or pooled control [%], with its confidence interval
        (Hartung and Knapp), cut where no figure can lie.
    q, q_df, q_p, i2_pct, tau2 : float
        Heterogeneity; `tau2` by DerSimonian and Laird.
    expect_low, expect_high : float, optional
        Where the next trial is expected; null below three trials.
    """

    question: str
    weed: str
    weed_name: str
    difference: bool
    effects: tuple[TrialEffect, ...]
    alpha: float
    estimate: float
    se: float
    low: float
    high: float
    fixed: float
    q: float
    q_df: int
    q_p: float
    i2_pct: float
    tau2: float
    expect_low: float | None
    expect_high: float | None
    text: str
    warnings: tuple[Warned, ...]
