"""Pictures of a trial's report, found by what they show."""

from __future__ import annotations

from typing import Literal, get_args

from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.understood import nearest
from app.services.knowledge_service import knowledge_base
from app.trials.analysis import report as reported
from app.trials.output import Analysis, TrialReport
from app.trials.pictures import Picture, bars, course, dose
from app.trials.trial import Trial

Shown = Literal["means", "course", "dose"]


def picture_in(report: TrialReport, what: str, weed: str, days_after: int | None = None, curve: int = 1) -> Picture:
    """A picture of a report.

    Parameters
    ----------
    what : str
        `means` (bars of one weed at one date), `course` (control of one weed over the dates) or `dose`
        (control against rate).
    days_after : int, optional
        The rating date of means and doses; the last one where it is not told.
    curve : int
        Which of the dose curves at that date, the first being 1.

    Raises
    ------
    InputError
        Where `what` is no picture.
    UnknownId
        Where the report holds no such weed, date, course or curve.
    """
    if what not in get_args(Shown):
        raise InputError([FieldFault("what", f"'{what[:40]}' is no picture; use one of {', '.join(get_args(Shown))}")])
    weeds = {item.weed for item in report.analyses}
    if weed not in weeds:
        raise UnknownId("weed", weed, nearest(weed, weeds), _of(report))
    analyses = sorted((item for item in report.analyses if item.weed == weed), key=lambda item: item.days_after)
    if what == "course":
        return _course(report, weed, analyses[-1].design_text)
    days = [item.days_after for item in analyses]
    at = days[-1] if days_after is None else days_after
    if at not in days:
        raise UnknownId("rating date", str(at), tuple(str(day) for day in days), _of(report))
    analysis = analyses[days.index(at)]
    return bars(analysis) if what == "means" else _dose(report, analysis, curve)


def picture_of(
    trial: Trial, what: str, weed: str, days_after: int | None = None, curve: int = 1, alpha: float = 0.05
) -> Picture:
    """A picture of a trial, of which no more is analysed than the picture shows; see `picture_in`.

    Raises
    ------
    InputError
        For an alpha out of range, or what is no picture.
    UnknownId
        Where the trial holds no such weed, date, course or curve.
    """
    held = {plot.days_after for plot in trial.plots if plot.weed == weed}
    day = max(held, default=None) if days_after is None else days_after
    # Where the date is none of the trial, all of them are needed to say which there are.
    only = day if what != "course" and day in held else None
    told = reported(knowledge_base(), trial, alpha, weed=weed if held else None, days_after=only)
    return picture_in(told, what, weed, days_after, curve)


def _course(report: TrialReport, weed: str, design_text: str) -> Picture:
    found = next((item for item in report.courses if item.weed == weed), None)
    if found is None:
        raise UnknownId("course over several dates", weed, (), _of(report))
    return course(found, design_text)


def _dose(report: TrialReport, analysis: Analysis, curve: int) -> Picture:
    curves = analysis.dose_curves
    if not 1 <= curve <= len(curves):
        raise UnknownId("dose curve", str(curve), tuple(str(at + 1) for at in range(len(curves))), _of(report))
    return dose(
        curves[curve - 1],
        analysis.weed_name,
        analysis.trial,
        analysis.days_after,
        analysis.design_text,
        analysis.alpha,
        _names(),
    )


def _names() -> dict[str, str]:
    """Names of actives and adjuvants, by id."""
    base = knowledge_base()
    actives = {key: active.name for key, active in base.actives.items()}
    return actives | {key: adjuvant.name for key, adjuvant in base.adjuvants.items()}


def _of(report: TrialReport) -> str:
    return f"of the trial {report.trial}"
