"""Control against rate: the plots, the fitted curve, and the doses for half and for nearly all of it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from itertools import accumulate
from typing import TYPE_CHECKING

from app.trials.output import DoseCurve, Effective
from app.trials.pictures.dose_marks import axes_of, interval, marked_on, named, plots_on, scale_of
from app.trials.pictures.paper import (
    CLAY,
    LEADING,
    NARROW,
    SMALL,
    WIDTH,
    margin_of,
    opened,
    plain,
    say,
    sheet,
    tall,
    wrapped,
)
from app.trials.pictures.picture import Picture
from app.trials.pictures.words import confidence, counted, days, design_in_short, percent

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_LEFT, _LEAST, _AXIS, _BAND = 110.0, 420.0, 96.0, 62.0


def dose(
    curve: DoseCurve,
    weed_name: str,
    trial: str,
    days_after: int,
    design_text: str = "",
    alpha: float | None = None,
    names: Mapping[str, str] | None = None,
) -> Picture:
    """Draw control against rate on a logarithmic axis.

    Parameters
    ----------
    curve : DoseCurve
        Plots (rate, control [%]), and the curve where one was fitted.
    weed_name, trial, days_after
        What was rated, where and when.
    design_text : str
        The design in words, where it is known.
    alpha : float, optional
        Level of the intervals, where it is known.
    names : mapping of str to str, optional
        Names of the actives and the adjuvant by their ids; ids where none is given.

    Returns
    -------
    Picture
        The zero rate stands at the left behind a break. Without a curve the plots alone, and why.
    """
    weed_name, trial = plain(weed_name), plain(trial)
    named_as = names or {}
    what = " + ".join(plain(named_as.get(active, active)) for active in curve.actives)
    title = f"{opened(weed_name)}: control by rate of {what}"
    marked = curve.effective if curve.fitted else ()
    plots = len(curve.plots)
    under = (
        f"Trial {trial}",
        days(days_after),
        f"{counted(plots, 'plot')} at {counted(len(curve.doses), 'rate')}",
        design_in_short(design_text),
        f"with {named_as.get(curve.adjuvant, curve.adjuvant)}" if curve.adjuvant else "",
    )
    foot = (
        "Circles: one plot each, darker where several lie on one another.",
        "Line: four-parameter log-logistic curve.",
        f"ED50 and its like: the rate for that share [%] of the curve's rise, with its {confidence(alpha)}."
        if marked
        else "",
        "An arrow: the interval runs past the scale." if _past(curve, marked) else "",
    )

    def draw(sheet_width: float = WIDTH) -> Figure:
        left = margin_of(sheet_width) + _LEFT
        width = sheet_width - margin_of(sheet_width) - left
        reason = () if curve.fitted else wrapped(curve.text, width)
        rate = wrapped(f"rate of {what} [{curve.unit}], logarithmic", width, SMALL)
        bands = [wrapped(interval(each, curve.unit), width - 16, SMALL) for each in marked]
        start = _AXIS + tall(rate[1:], SMALL)
        tops = list(accumulate((_BAND + tall(band[1:], SMALL) for band in bands), initial=start))
        below = tops[-1] + (tall(reason) + 24 if reason else 0)
        page = sheet(title, under, foot if curve.fitted else foot[:1], _LEAST + below, sheet_width)
        height = page.height - below
        axes = page.axes(left, page.top, width, height)
        axes.set_xlim(0, width)
        axes.set_ylim(height, 0)
        scale = scale_of(curve, width, height)
        axes_of(axes, scale, curve, f"control of {weed_name} [%]", rate)
        plots_on(axes, scale, curve)
        for effective, band, top in zip(marked, bands, tops, strict=False):
            marked_on(axes, scale, curve, effective, band, height + top)
        for index, line in enumerate(reason):
            say(axes, 0, height + tops[-1] + 24 + index * 24 * LEADING, line, ink=CLAY)
        return page.figure

    return Picture(title, _alt(curve, weed_name, trial, days_after, what), draw, partial(draw, NARROW))


def _past(curve: DoseCurve, marked: tuple[Effective, ...]) -> bool:
    """Whether an interval ends outside the rates of the trial, so that it may end outside the scale."""
    above = [rate for rate in curve.doses if rate > 0]
    ends = [end for each in marked for end in (each.low, each.high) if end is not None]
    return bool(above) and any(not min(above) <= end <= max(above) for end in ends)


def _alt(curve: DoseCurve, weed_name: str, trial: str, days_after: int, what: str) -> str:
    head = (
        f"{counted(len(curve.plots), 'plot')} of control of {weed_name} against the rate of {what} in trial "
        f"{trial}, {days(days_after)}"
    )
    if not curve.fitted:
        return f"{head}; {curve.text[:1].lower()}{plain(curve.text[1:])}"
    best = max((value for _, value in curve.curve), default=curve.upper or 0.0)
    found = "; ".join(f"{named(each)} {interval(each, curve.unit)}" for each in curve.effective)
    return f"{head}, with a fitted curve that rises to {percent(best)}: {found}."
