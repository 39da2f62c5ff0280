"""Arranges the report of a trial as its page shows it; nothing is reckoned here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from app.services.trial_pictures import picture_in
from app.trials.evidence import Silent
from app.trials.output import Analysis, Comparison, Course, LawnRating, Scale, Separation, TrialReport
from app.trials.trial import Trial
from app.web.show import day_words
from knowledge.base import KnowledgeBase

ALPHAS = ("0.10", "0.05", "0.01")
KIND_WORDS = {"plots": "plots with a check", "lawns": "treated lawns"}
DESIGN_WORDS = {"rcbd": "Randomised complete blocks", "crd": "Completely randomised"}
# What the means stand on, and what a difference of them is counted in.
UNIT_OF_SCALE: dict[Scale, str] = {"percent": "points", "arcsine": "degrees"}


@dataclass(frozen=True)
class Dated:
    """One weed at one rating date.

    Attributes
    ----------
    key : str
        Start of the ids that it has in the page.
    query : str
        What names it in the address of a picture.
    alt, dose_alts : str, tuple of str
        The pictures in words, of the means and of each dose curve; tables hold every figure.
    of_leader, of_others : tuple of Comparison
        The sentences that speak of the treatment with the highest mean, and all others.
    """

    key: str
    query: str
    alt: str
    dose_alts: tuple[str, ...]
    analysis: Analysis
    of_leader: tuple[Comparison, ...]
    of_others: tuple[Comparison, ...]

    @property
    def unit(self) -> str:
        """What differences are counted in."""
        return UNIT_OF_SCALE[self.analysis.shown.scale]


@dataclass(frozen=True)
class OfWeed:
    """Everything that the trial says of a weed: the latest date, those before it, and the course over all."""

    weed: str
    name: str
    latest: Dated
    earlier: tuple[Dated, ...]
    course: Course | None
    course_alt: str
    course_query: str


def by_weed(report: TrialReport) -> list[OfWeed]:
    """The analyses of each weed, the latest date first."""
    found = []
    for n, weed in enumerate(dict.fromkeys(analysis.weed for analysis in report.analyses), start=1):
        told = sorted((a for a in report.analyses if a.weed == weed), key=lambda a: -a.days_after)
        dated = [_dated(report, analysis, f"w{n}-d{analysis.days_after}") for analysis in told]
        course = next((item for item in report.courses if item.weed == weed), None)
        name = told[0].weed_name
        alt = picture_in(report, "course", weed).alt if course is not None else ""
        found.append(OfWeed(weed, name, dated[0], tuple(dated[1:]), course, alt, _query(weed, told[0].alpha)))
    return found


def _dated(report: TrialReport, analysis: Analysis, key: str) -> Dated:
    comparisons = analysis.shown.comparisons
    held = [row for row in analysis.shown.means if row.in_analysis]
    leader = max(held, key=lambda row: row.mean).treatment if held else None
    first = tuple(item for item in comparisons if leader in (item.a, item.b))
    return Dated(
        key,
        _query(analysis.weed, analysis.alpha, analysis.days_after),
        picture_in(report, "means", analysis.weed, analysis.days_after).alt,
        tuple(
            picture_in(report, "dose", analysis.weed, analysis.days_after, curve).alt
            for curve in range(1, len(analysis.dose_curves) + 1)
        ),
        analysis,
        first,
        tuple(item for item in comparisons if item not in first),
    )


def _query(weed: str, alpha: float, days_after: int | None = None) -> str:
    told = {"weed": weed, "alpha": f"{alpha:.2f}"}
    return urlencode(told if days_after is None else {**told, "days_after": str(days_after)})


def course_days(course: Course) -> list[int]:
    """The rating dates of a course, rising."""
    return sorted({day for points in course.points.values() for day, _ in points})


def course_rows(course: Course) -> list[tuple[str, tuple[tuple[int, float], ...]]]:
    """The treatments of a course, the highest at its last date first."""
    return sorted(course.points.items(), key=lambda item: -item[1][-1][1])


def interval(low: float | None, high: float | None) -> str:
    """An interval of percentages; nothing where none can be reckoned.

    >>> interval(61.24, 88.9), interval(None, None)
    ('61 to 89', '')
    """
    return "" if low is None or high is None else f"{round(low)} to {round(high)}"


def chance(p: float | None) -> str:
    """A probability as it is printed.

    >>> chance(0.0432), chance(0.00001), chance(None)
    ('0.043', 'under 0.001', '')
    """
    if p is None:
        return ""
    return "under 0.001" if p < 0.001 else f"{p:.3f}"


def fixed(value: float | None, places: int = 1) -> str:
    """A figure with so many places; nothing where there is none."""
    # What rounds to zero has no sign.
    return "" if value is None else f"{round(value, places) + 0.0:.{places}f}"


def signed(value: float) -> str:
    """A difference in whole points with its sign.

    >>> signed(4.6), signed(-12.2), signed(-0.2)
    ('+5', '-12', '0')
    """
    return f"{value:+.0f}" if round(value) else "0"


def tight(text: str) -> str:
    """A sentence in which no percent sign is parted from its figure, nor a probability from its sign.

    >>> tight("80 % (p < 0.001)").split(" ")
    ['80\xa0%', '(p\xa0<\xa00.001)']
    """
    for sign in "<=":
        text = text.replace(f"(p {sign} ", f"(p\u00a0{sign}\u00a0")
    return text.replace(" %", "\u00a0%")


def lawns_by_weed(report: TrialReport) -> dict[str, list[LawnRating]]:
    """The ratings of treated lawns by the name of the weed, the latest first."""
    found: dict[str, list[LawnRating]] = {}
    for rating in sorted(report.lawns, key=lambda item: -item.days_after):
        found.setdefault(rating.weed_name, []).append(rating)
    return found


def where_words(trial: Trial, report: TrialReport, base: KnowledgeBase) -> str:
    """Where, when and how, as one line."""
    told = [trial.place] if trial.place else []
    if trial.turf is not None:
        told.append(base.turf[trial.turf].name if trial.turf in base.turf else trial.turf)
    when = f"Applied {day_words(trial.applied)}" if trial.applied is not None else "Day of application not told"
    if trial.kind == "lawns":
        how = "Treated lawns, rated without a check plot"
    else:
        first = report.analyses[0]
        how = f"{DESIGN_WORDS[first.design]}, {first.replicates} replicates"
    return ". ".join([*([", ".join(told)] if told else []), when, how]) + "."


def silent_words(found: Iterable[Silent], base: KnowledgeBase) -> list[tuple[str, tuple[str, ...]]]:
    """Treatments that move nothing, those of one reason together."""
    by_reason: dict[str, dict[str, None]] = {}
    for item in found:
        weed = base.weeds[item.weed].name if item.weed in base.weeds else item.weed
        by_reason.setdefault(item.why, {}).setdefault(f"{item.treatment} on {weed}")
    return [(why, tuple(names)) for why, names in by_reason.items()]


def on_percent(analysis: Analysis) -> Separation:
    """The analysis of the ratings as they are, where the claims rest on the transformed ones."""
    return analysis.model_copy(update={"transformed": None}).shown


# What the templates call.
WORDS: dict[str, Any] = {
    "course_days": course_days,
    "course_rows": course_rows,
    "interval": interval,
    "chance": chance,
    "fixed": fixed,
    "signed": signed,
    "tight": tight,
    "on_percent": on_percent,
}
