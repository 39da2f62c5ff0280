"""Control by treatment at one rating date, as bars with intervals and letters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.trials.output import Analysis, MeanRow
from app.trials.pictures.bars_across import across
from app.trials.pictures.bars_upright import upright
from app.trials.pictures.paper import MOST_DRAWN, opened, plain
from app.trials.pictures.picture import Picture
from app.trials.pictures.words import confidence, counted, days, design_in_short, letters, letters_differ, percent

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Above either, names have no room under upright bars.
_MOST_UPRIGHT, _LONGEST_UPRIGHT = 6, 24


@dataclass(frozen=True)
class Barred:
    """What a picture of bars shows: its words and its rows, highest first."""

    title: str
    under: tuple[str, ...]
    foot: tuple[str, ...]
    axis: str
    rows: tuple[MeanRow, ...]
    small_letters: bool
    check: str | None


def bars(analysis: Analysis) -> Picture:
    """Draw the means of one weed at one date.

    Parameters
    ----------
    analysis : Analysis
        Means are taken on the scale the claims rest on (`analysis.shown`), in percent control.

    Returns
    -------
    Picture
        Bars from 0 to 100 % control, highest first, with the confidence interval of each mean, the mean
        and its LSD letter (HSD letters in small where they differ). At most 40 treatments; how many
        are left out is said.
    """
    shown = analysis.shown
    ordered = sorted(shown.means, key=lambda row: (-row.mean, not row.in_analysis, row.treatment))
    rows = tuple(ordered[:MOST_DRAWN])
    within = tuple(row for row in rows if row.in_analysis)
    back = shown.scale == "arcsine"
    what = "back-transformed means" if back else "means"
    barred = Barred(
        title=f"{opened(plain(analysis.weed_name))}: control {days(analysis.days_after)}",
        under=(
            f"Trial {analysis.trial}",
            counted(analysis.replicates, "replicate"),
            design_in_short(analysis.design_text),
            "back-transformed means" if back else "",
        ),
        foot=(*_foot(analysis, rows), letters(within, shown, what), _left_out(ordered[MOST_DRAWN:])),
        axis=f"control of {plain(analysis.weed_name)} [%]" + (", back-transformed means" if back else ""),
        rows=rows,
        small_letters=letters_differ(within),
        check=analysis.check.treatment if analysis.check else None,
    )
    short = len(rows) <= _MOST_UPRIGHT and all(len(row.treatment) <= _LONGEST_UPRIGHT for row in rows)

    def draw() -> Figure:
        return upright(barred) if short else across(barred)

    return Picture(barred.title, _alt(analysis, ordered), draw)


def _foot(analysis: Analysis, rows: Sequence[MeanRow]) -> tuple[str, ...]:
    interval = f"Whiskers: {confidence(analysis.alpha)} of the mean"
    beyond = any(row.low is not None and row.high is not None and (row.low < 0 or row.high > 100) for row in rows)
    interval += "; a whisker with an arrow runs past the scale." if beyond else "."
    missing = len(analysis.missing)
    return (
        "" if all(row.low is None for row in rows) else interval,
        f"{counted(missing, 'plot')} missing: means are least-squares means." if missing else "",
        "" if all(row.in_analysis for row in rows) else "Hatched or empty: not analysed, so no interval and letter.",
    )


def _left_out(rows: Sequence[MeanRow]) -> str:
    if not rows:
        return ""
    what = counted(len(rows), "treatment")
    return f"Left out of this picture: {what} with lower means (of {MOST_DRAWN + len(rows)})."


def _alt(analysis: Analysis, ordered: Sequence[MeanRow]) -> str:
    def told(row: MeanRow) -> str:
        letter = f", letter {row.letter_lsd}" if row.letter_lsd else ""
        return f"{plain(row.treatment)} ({percent(row.mean)}{letter})"

    within = [row for row in ordered if row.in_analysis] or list(ordered)
    kind = "back-transformed mean" if analysis.shown.scale == "arcsine" else "mean"
    ends = f"highest {told(within[0])}"
    if len(within) > 1:
        ends += f", lowest {told(within[-1])}"
    where = f"{counted(len(within), 'treatment')} in trial {plain(analysis.trial)}, {plain(analysis.weed_name)}"
    return (
        f"Bars of {kind} control for {where}, {days(analysis.days_after)}, "
        f"{counted(analysis.replicates, 'replicate')}: {ends}."
    )
