"""Bars that stand: a few treatments with short names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.trials.output import MeanRow
from app.trials.pictures.bars_across import words_of
from app.trials.pictures.paper import (
    BAR,
    INK,
    INK_2,
    LABEL,
    LEADING,
    LINE,
    MARGIN,
    MOSS,
    OCHRE,
    PAPER,
    SMALL,
    WIDTH,
    say,
    sheet,
    tall,
    width_of,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from app.trials.pictures.bars import Barred

_LEFT, _LEAST, _HEAD = MARGIN + 110, 420.0, 84.0


def upright(barred: Barred) -> Figure:
    """A picture of standing bars."""
    wide = min((WIDTH - MARGIN - _LEFT) / len(barred.rows), 380.0)
    names = [wrapped(row.treatment, wide - 24) for row in barred.rows]
    below = max(tall(name) for name in names) + 20
    page = sheet(barred.title, barred.under, barred.foot, _HEAD + _LEAST + below)
    height = page.height - _HEAD - below
    axes = page.axes(_LEFT, page.top + _HEAD, wide * len(names), height)
    axes.set_xlim(0, wide * len(names))
    axes.set_ylim(0, 100)
    per_pixel = 100 / height
    for share in range(0, 101, 20):
        ink, thick = (INK, 1.6) if share == 0 else (LINE, 0.8)
        axes.plot([0, wide * len(names)], [share, share], color=ink, linewidth=thick, zorder=4 if share == 0 else 0)
        say(axes, -14, share, f"{share}", size=SMALL, ink=INK_2, across="right")
    say(axes, -84, 50, barred.axis, size=SMALL, ink=INK_2, across="center", upward=True)
    for index, (row, name) in enumerate(zip(barred.rows, names, strict=True)):
        x = (index + 0.5) * wide
        _bar(axes, row, x, min(0.5 * wide, 150.0))
        _over(axes, barred, row, x, per_pixel)
        for line, text in enumerate(name):
            say(axes, x, -14 * per_pixel, text, across="center", row=0.5 + line)
    return page.figure


def _bar(axes: Axes, row: MeanRow, x: float, thick: float) -> None:
    from matplotlib.patches import Rectangle

    mean = min(max(row.mean, 0.0), 100.0)
    inside = row.in_analysis
    axes.add_patch(
        Rectangle(
            (x - thick / 2, 0),
            thick,
            mean,
            facecolor=BAR if inside else PAPER,
            edgecolor=MOSS if inside else INK_2,
            hatch=None if inside else "///",
            linewidth=1.2,
            zorder=2,
        )
    )
    if row.low is not None and row.high is not None:
        low, high = max(row.low, 0.0), min(max(row.high, 0.0), 100.0)
        axes.plot([x, x], [low, high], color=INK, linewidth=2, zorder=3, solid_capstyle="butt")
        for end, past, arrow in ((low, row.low < 0, "v"), (high, row.high > 100, "^")):
            size = 8 if past else 14
            axes.plot([x], [end], color=INK, marker=arrow if past else "_", markersize=size, zorder=5, clip_on=False)
    if inside:
        reach = thick / 2 + 5
        axes.plot([x - reach, x + reach], [mean, mean], color=OCHRE, linewidth=4, zorder=4, solid_capstyle="butt")


def _over(axes: Axes, barred: Barred, row: MeanRow, x: float, per_pixel: float) -> None:
    """Mean and letters above bar and whisker."""
    mean, letter, small = words_of(barred, row)
    reach = min(max(row.mean, row.high if row.high is not None else row.mean, 0.0), 100.0)
    y = reach + 26 * per_pixel
    if small:
        say(axes, x, y, small, size=SMALL, ink=INK_2, across="center")
        y += SMALL * LEADING * per_pixel * 1.15
    wide = width_of(mean) + (12 + width_of(letter, LABEL, bold=True) if letter else 0)
    say(axes, x - wide / 2, y, mean)
    if letter:
        say(axes, x + wide / 2, y, letter, bold=True, across="right")
