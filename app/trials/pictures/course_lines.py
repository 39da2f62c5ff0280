"""The drawing of lines over the rating dates."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.trials.pictures.paper import (
    CLAY,
    INK,
    INK_2,
    LABEL,
    LEADING,
    LINE,
    MOSS,
    OCHRE,
    PAPER,
    SMALL,
    Sheet,
    say,
    tall,
    width_of,
)
from app.trials.pictures.spread import spread
from app.trials.pictures.ticks import thinned

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Five dashes and nine markers have no common divisor: forty lines each have a pair of their own.
DASHES = ((0, ()), (0, (6, 2)), (0, (1, 1.6)), (0, (7, 2, 1, 2)), (0, (3, 3)))
MARKERS = ("o", "s", "^", "D", "v", "X", "P", "<", "p")
_INKS = (INK, MOSS, CLAY, OCHRE)
NAMES, _SAMPLE, AXIS, _LEFT = 440.0, 64.0, 92.0, 84.0
# On a narrow sheet names stand in a slim column, and the picture grows downward instead.
NARROW_NAMES = 230.0


@dataclass(frozen=True)
class Line:
    """A treatment's line and its label."""

    treatment: str
    points: tuple[tuple[int, float], ...]
    name: tuple[str, ...]
    average: tuple[str, ...]

    @property
    def tall(self) -> float:
        return tall(self.name) + tall(self.average, SMALL) + 12


def lines_on(page: Sheet, lines: tuple[Line, ...], title: str) -> None:
    """Draw lines on a sheet, their labels at the right."""
    column = max(width_of(text) for line in lines for text in line.name)
    column = max([column, *(width_of(text, SMALL) for line in lines for text in line.average)]) + _SAMPLE + 56
    left = page.margin + _LEFT
    height, width = page.height - AXIS, page.width - page.margin - column - left
    _draw(page.axes(left, page.top, width, height), lines, height, width, title)


def _draw(axes: Axes, lines: tuple[Line, ...], height: float, width: float, title: str) -> None:
    dates = sorted({day for line in lines for day, _ in line.points})
    first, last = dates[0], max(dates[-1], dates[0] + 1)
    least = min(0.0, *(value for line in lines for _, value in line.points))
    floor = 20 * (least // 20)

    def across(day: float) -> float:
        return 12 + (day - first) / (last - first) * (width - 24)

    def up(value: float) -> float:
        return height - (value - floor) / (100 - floor) * (height - 12)

    axes.set_xlim(0, width)
    axes.set_ylim(height, 0)
    step = 20 if floor > -200 else 100
    for share in range(int(floor), 101, step):
        zero = share == 0
        axes.plot([0, width], [up(share)] * 2, color=INK if zero else LINE, linewidth=1.6 if zero else 0.8, zorder=0)
        say(axes, -14, up(share), f"{share}".replace("-", "−"), size=SMALL, ink=INK_2, across="right")
    wide = [width_of(f"{day}", SMALL) for day in dates]
    shown = thinned([across(day) for day in dates], wide)
    for index, day in enumerate(dates):
        axes.plot([across(day)] * 2, [height, height + 8], color=INK, linewidth=1.4, clip_on=False)
        if index in shown:
            say(axes, across(day), height + 26, f"{day}", size=SMALL, ink=INK_2, across="center")
    say(axes, width / 2, height + 62, "days after application", size=SMALL, ink=INK_2, across="center")
    say(axes, -72, height / 2, title, size=SMALL, ink=INK_2, across="center", upward=True)
    ends = [up(line.points[-1][1]) for line in lines]
    centers = spread(ends, [line.tall for line in lines], 0, height)
    for index, line in enumerate(lines):
        _line(axes, index, line, [(across(day), up(value)) for day, value in line.points], (width, centers[index]))


def _line(axes: Axes, index: int, line: Line, places: list[tuple[float, float]], label: tuple[float, float]) -> None:
    """One line with its label; a thin leader joins the two where the label had to move."""
    ink, dash, marker = _INKS[index % len(_INKS)], DASHES[index % len(DASHES)], MARKERS[index % len(MARKERS)]
    edge, y = label
    start, end = edge + 36, edge + 36 + _SAMPLE
    x, height = places[-1]
    axes.plot([x, edge + 6, start - 4], [height, height, y], color=INK_2, linewidth=0.7, clip_on=False)
    for group, xs, ys in (
        ("line", [x for x, _ in places], [y for _, y in places]),
        ("sample", [start, (start + end) / 2, end], [y, y, y]),
    ):
        axes.plot(
            xs,
            ys,
            color=ink,
            linestyle=dash,
            linewidth=2.6,
            marker=marker,
            markevery=None if group == "line" else [1],
            markersize=9,
            markerfacecolor=PAPER if index % 2 else ink,
            markeredgecolor=ink,
            markeredgewidth=1.6,
            clip_on=False,
            gid=f"{group}-{index}",
            zorder=3,
        )
    top = y - line.tall / 2 + 6
    for text in line.name:
        say(axes, end + 14, top + LABEL * LEADING / 2, text)
        top += LABEL * LEADING
    for text in line.average:
        say(axes, end + 14, top + SMALL * LEADING / 2, text, size=SMALL, ink=INK_2)
        top += SMALL * LEADING
