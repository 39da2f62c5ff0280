"""What weakens the claims of a trial, said beside them."""

from __future__ import annotations

from collections.abc import Sequence

from app.trials.fit import Fit
from app.trials.output import MissingPlot, Transformation, Warned
from app.trials.rated import Rated
from app.trials.scale import UNEQUAL
from knowledge.base import KnowledgeBase


def of_table(
    base: KnowledgeBase,
    fit: Fit,
    rated: Rated,
    missing: Sequence[MissingPlot],
    scales: Transformation,
    days: int,
    plots: Sequence[float],
) -> tuple[Warned, ...]:
    """What weakens one weed and date, by the thresholds `trial-...` of the parameters."""
    found = []
    counts = fit.table.counts
    if min(counts) < base.parameter("trial-few-replicates"):
        few = f"{min(counts)} plots" if min(counts) > 1 else "one plot"
        what = f"Only {few} of {'some treatments' if min(counts) < max(counts) else 'each treatment'}"
        found.append(Warned(code="few-replicates", text=f"{what}: only large differences can be told apart."))
    if missing:
        places = ", ".join(f"{plot.treatment} ({plot.rep})" for plot in missing[:6])
        more = f" and {len(missing) - 6} more" if len(missing) > 6 else ""
        text = f"{len(missing)} plot{'s' if len(missing) > 1 else ''} without a rating: {places}{more}. "
        blocked = fit.table.design == "rcbd"
        so = "Means are adjusted for the blocks by least squares." if blocked else "Each pair has its own LSD."
        found.append(Warned(code="missing-plots", text=text + so))
    if len(set(counts)) > 1 and not missing:
        found.append(Warned(code="unequal-replication", text="Replication is unequal: each pair has its own LSD."))
    if scales.equal_spread_p is not None and scales.equal_spread_p < UNEQUAL and scales.chosen == "percent":
        text = "Plots of some treatments spread more than others, so one error for all misleads."
        found.append(Warned(code="unequal-spread", text=text))
    full = sum(value >= 100 for value in plots)
    if full >= base.parameter("trial-piled-share") * len(plots):
        text = f"{full} of {len(plots)} plots are rated 100 %: the best treatments cannot be told apart by this trial."
        found.append(Warned(code="piled-at-100", text=text))
    if fit.mse is None:
        text = "Every plot of a treatment was rated alike: there is no error to test with."
        found.append(Warned(code="no-error", text=text))
    if days <= base.parameter("trial-early-days"):
        text = f"Rated {days} days after application: a fast brown-down says little about control at 42 days."
        found.append(Warned(code="early-rating", text=text))
    return (*found, *_of_cover(rated, base.parameter("trial-sparse-cover")))


def _of_cover(rated: Rated, sparse: float) -> list[Warned]:
    found = []
    if rated.by != "control":
        # Rosenheim and Hoy 1989: control that is corrected by the check is a ratio, with a variance of its own.
        text = (
            "Control is reckoned from cover: the interval of a single mean leaves out how the check itself varied. "
            "Differences between treatments are held against the same checks."
        )
        found.append(Warned(code="check-uncertain", text=text))
    if rated.check_cover is not None and rated.check_cover < sparse:
        text = f"The checks bear little weed, {rated.check_cover:.0f} % of the ground: control against them is unsure."
        found.append(Warned(code="sparse-check", text=text))
    if rated.without_before:
        text = (
            f"{rated.without_before} plots lack their cover before the application, so it is not used: "
            "control is against the check of the same day alone."
        )
        found.append(Warned(code="cover-before-unused", text=text))
    if rated.below_zero:
        text = f"{rated.below_zero} treated plots bear more weed than the check; counted as no control."
        found.append(Warned(code="below-zero", text=text))
    if rated.without_check:
        text = f"{rated.without_check} plots are left out: no weed in the check of their block, or none there before."
        found.append(Warned(code="bare-check", text=text))
    return found


def of_trial(years: int | None) -> tuple[Warned, ...]:
    """What weakens every trial that stands alone."""
    year = "one year" if years is not None else "one season"
    text = f"One place, {year}: the next lawn may differ more than these plots do. Repeat before promising it."
    return (Warned(code="one-site", text=text),)
