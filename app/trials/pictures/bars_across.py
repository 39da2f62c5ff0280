"""Bars that lie, a row a treatment: any number and length of names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.trials.output import MeanRow
from app.trials.pictures.paper import (
    BAR,
    INK,
    INK_2,
    LABEL,
    LINE,
    MARGIN,
    MOSS,
    OCHRE,
    PAPER,
    SMALL,
    WIDTH,
    say,
    sheet,
    stacked,
    tall,
    width_of,
    wrapped,
)
from app.trials.pictures.words import percent, shortened

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from app.trials.pictures.bars import Barred

_NAMES, _GAP, _AXIS = 500.0, 20.0, 84.0


def across(barred: Barred) -> Figure:
    """A picture of lying bars."""
    names = [wrapped(row.treatment, _NAMES) for row in barred.rows]
    folded = any(len(name) > 1 for name in names)
    column = max(width_of(line) for name in names for line in name)
    need = [max(tall(name) + 12, 34) for name in names]
    page = sheet(barred.title, barred.under, barred.foot, sum(need) + _AXIS)
    # Rows share what room is left, up to a point: two bars are not to fill a slide.
    stretch = min((page.height - _AXIS) / sum(need), 2.4)
    heights = [height * stretch for height in need]
    ends = max(_end_width(barred, row) for row in barred.rows)
    left = MARGIN + column + 20
    axes = page.axes(left, page.top, WIDTH - MARGIN - ends - _GAP - left, sum(heights))
    axes.set_xlim(0, 100)
    axes.set_ylim(sum(heights), 0)
    per_pixel = 100 / (WIDTH - MARGIN - ends - _GAP - left)
    _scale(axes, sum(heights), barred.axis)
    y = 0.0
    for row, name, height in zip(barred.rows, names, heights, strict=True):
        y += height / 2
        # Names of several lines read better from one left edge; single ones beside their bar.
        if folded:
            stacked(axes, -(20 + column) * per_pixel, y, name)
        else:
            stacked(axes, -20 * per_pixel, y, name, across="right")
        _row(axes, row, y, min(0.56 * height, 44.0))
        _end(axes, barred, row, y, per_pixel)
        y += height / 2
    return page.figure


def _scale(axes: Axes, bottom: float, title: str) -> None:
    for share in (20, 40, 60, 80, 100):
        axes.plot([share, share], [0, bottom], color=LINE, linewidth=0.8, zorder=0, clip_on=False)
    axes.plot([0, 0], [0, bottom], color=INK, linewidth=1.6, zorder=4, solid_capstyle="butt")
    for share in range(0, 101, 20):
        say(axes, share, bottom + 22, f"{share}", size=SMALL, ink=INK_2, across="center")
    say(axes, 50, bottom + 56, title, size=SMALL, ink=INK_2, across="center")


def _row(axes: Axes, row: MeanRow, y: float, thick: float) -> None:
    from matplotlib.patches import Rectangle

    mean = min(max(row.mean, 0.0), 100.0)
    inside = row.in_analysis
    axes.add_patch(
        Rectangle(
            (0, y - thick / 2),
            mean,
            thick,
            facecolor=BAR if inside else PAPER,
            edgecolor=MOSS if inside else INK_2,
            hatch=None if inside else "///",
            linewidth=1.2,
            zorder=2,
        )
    )
    if row.low is not None and row.high is not None:
        low, high = max(row.low, 0.0), min(max(row.high, 0.0), 100.0)
        axes.plot([low, high], [y, y], color=INK, linewidth=2, zorder=3, solid_capstyle="butt")
        for end, past, arrow in ((low, row.low < 0, "<"), (high, row.high > 100, ">")):
            size = 8 if past else 11
            axes.plot([end], [y], color=INK, marker=arrow if past else "|", markersize=size, zorder=5, clip_on=False)
    if inside:
        reach = thick / 2 + 4
        axes.plot([mean, mean], [y - reach, y + reach], color=OCHRE, linewidth=4, zorder=4, solid_capstyle="butt")
    elif row.mean <= 0:
        axes.plot([0, 0], [y - thick / 2, y + thick / 2], color=INK_2, linewidth=5, zorder=4, solid_capstyle="butt")


def words_of(barred: Barred, row: MeanRow) -> tuple[str, str, str]:
    """Mean, letter, and what is printed small."""
    if not row.in_analysis:
        return percent(row.mean), "", "check" if row.treatment == barred.check else "not analysed"
    small = f"HSD {shortened(row.letter_hsd)}" if barred.small_letters and row.letter_hsd else ""
    return percent(row.mean), shortened(row.letter_lsd or ""), small


def _end_width(barred: Barred, row: MeanRow) -> float:
    mean, letter, small = words_of(barred, row)
    wide = width_of(mean)
    wide += 12 + width_of(letter, LABEL, bold=True) if letter else 0
    return wide + (14 + width_of(small, SMALL) if small else 0)


def _end(axes: Axes, barred: Barred, row: MeanRow, y: float, per_pixel: float) -> None:
    """Mean and letters past the end of bar and whisker."""
    mean, letter, small = words_of(barred, row)
    reach = min(max(row.mean, row.high if row.high is not None else row.mean, 0.0), 100.0)
    x = reach + _GAP * per_pixel
    say(axes, x, y, mean)
    x += (width_of(mean) + 12) * per_pixel
    if letter:
        say(axes, x, y, letter, bold=True)
        x += (width_of(letter, LABEL, bold=True) + 14) * per_pixel
    if small:
        say(axes, x, y, small, size=SMALL, ink=INK_2)
