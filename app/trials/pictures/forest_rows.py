"""The drawing of a synthesis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from app.trials.output import TrialEffect
from app.trials.pictures.forest_scale import (
    Columns,
    Forest,
    columns_of,
    ends_of,
    figures_of,
    place_of,
    scale_on,
    ticks_of,
    trials_of,
)
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
    SMALL,
    WIDTH,
    say,
    sheet,
    tall,
    wrapped,
)
from app.trials.pictures.words import figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_NAMES, _AXIS, _POOLED, _SQUARE, _HEAD = 440.0, 92.0, 64.0, 34.0, 40.0
NEXT = "Next trial expected"


def drawn(forest: Forest) -> Figure:
    """Rows of trials, then the pooled figure, then the scale."""
    names = [wrapped(effect.trial, _NAMES) for effect in forest.effects]
    places = [wrapped(place_of(effect), _NAMES, SMALL) for effect in forest.effects]
    need = [tall(a) + tall(b, SMALL) + 16 for a, b in zip(names, places, strict=True)]
    said = wrapped(forest.heterogeneity, WIDTH - 2 * MARGIN)
    pooled = _POOLED * (2 if forest.expected else 1)
    below = _AXIS + tall(said) + 42
    ticks = ticks_of(forest)
    past = any(end < ticks[0] or end > ticks[-1] for end in ends_of(forest))
    foot = (*forest.foot, forest.past if past else "")
    fixed = _HEAD + pooled + below
    page = sheet(forest.title, forest.under, foot, sum(need) + fixed)
    stretch = min((page.height - fixed) / sum(need), 1.6)
    height = _HEAD + sum(need) * stretch + 10 + pooled
    columns = columns_of(forest, page, [*names, *([(NEXT,)] if forest.expected else [])], places, height)
    heaviest = max(effect.weight_pct for effect in forest.effects)
    scale_on(columns, forest, height)
    of = "points" if forest.difference else "%"
    say(columns.axes, columns.figures, _HEAD / 2, f"{of} (interval)", size=SMALL, ink=INK_2, across="right")
    say(columns.axes, columns.weights, _HEAD / 2, "weight", size=SMALL, ink=INK_2, across="right")
    y = _HEAD
    for effect, name, place, tallness in zip(forest.effects, names, places, need, strict=True):
        _trial(columns, effect, (name, place), y + tallness * stretch / 2, heaviest)
        y += tallness * stretch
    y += 10
    columns.axes.plot([columns.names, columns.weights], [y, y], color=LINE, lw=1.4, clip_on=False, zorder=1)
    _pooled(columns, forest, y + _POOLED / 2)
    for index, line in enumerate(said):
        say(columns.axes, columns.names, height + _AXIS + 16 + (index + 0.5) * LABEL * LEADING, line)
    return page.figure


def interval_on(columns: Columns, low: float, high: float, y: float, thick: float) -> None:
    """An interval; an arrow where it runs past the scale."""
    left, right = columns.across(low), columns.across(high)
    ends = max(left, 0.0), min(right, columns.width)
    columns.axes.plot(ends, [y, y], color=INK, linewidth=thick, zorder=2, clip_on=False, solid_capstyle="butt")
    for end, past, arrow in ((ends[0], left < -0.5, "<"), (ends[1], right > columns.width + 0.5, ">")):
        columns.axes.plot([end], [y], color=INK, marker=arrow if past else "|", ms=7 if past else 9, clip_on=False)


def _trial(columns: Columns, effect: TrialEffect, words: tuple[Sequence[str], ...], y: float, heaviest: float) -> None:
    axes = columns.axes
    top = y - (tall(words[0]) + tall(words[1], SMALL)) / 2
    for lines, size, ink in zip(words, (LABEL, SMALL), (INK, INK_2), strict=True):
        for line in lines:
            say(axes, columns.names, top + size * LEADING / 2, line, size=size, ink=ink)
            top += size * LEADING
    interval_on(columns, effect.low, effect.high, y, 2.0)
    square_on(columns, effect, y, heaviest)
    say(axes, columns.figures, y, figures_of(effect), across="right")
    say(axes, columns.weights, y, f"{effect.weight_pct:.0f} %", ink=INK_2, across="right")


def square_on(columns: Columns, effect: TrialEffect, y: float, heaviest: float) -> None:
    """The figure of a trial, its area its weight."""
    from matplotlib.patches import Rectangle

    side = max(_SQUARE * math.sqrt(effect.weight_pct / heaviest), 7.0)
    x = min(max(columns.across(effect.estimate), 0.0), columns.width)
    square = Rectangle((x - side / 2, y - side / 2), side, side, fc=BAR, ec=MOSS, lw=1.4, zorder=3, clip_on=False)
    columns.axes.add_patch(square)


def _pooled(columns: Columns, forest: Forest, y: float) -> None:
    axes = columns.axes
    diamond_on(columns, forest, y)
    say(axes, columns.names, y, trials_of(forest), bold=True)
    say(axes, columns.figures, y, figures_of(forest.pooled), bold=True, across="right")
    if forest.expected:
        say(axes, columns.names, y + _POOLED, NEXT)
        interval_on(columns, *forest.expected, y + _POOLED, 1.0)
        say(axes, columns.figures, y + _POOLED, expected_words(forest.expected), across="right")


def diamond_on(columns: Columns, forest: Forest, y: float) -> None:
    """The pooled figure, as wide as its interval."""
    from matplotlib.patches import Polygon

    axes, pooled = columns.axes, forest.pooled
    left, x, right = (
        min(max(columns.across(each), 0.0), columns.width) for each in (pooled.low, pooled.estimate, pooled.high)
    )
    corners = [(left, y), (x, y - 17), (right, y), (x, y + 17)]
    axes.add_patch(Polygon(corners, closed=True, fc=MOSS, ec=INK, lw=1.2, zorder=3, clip_on=False))
    axes.plot([x, x], [y - 24, y + 24], color=OCHRE, lw=3.5, zorder=4, clip_on=False, solid_capstyle="butt")


def expected_words(expected: tuple[float, float]) -> str:
    """Where the next trial is expected, in figures."""
    return f"{figure(expected[0])} to {figure(expected[1])}"
