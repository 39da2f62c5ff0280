"""The drawing of a synthesis on a sheet for a phone: what is said of a trial stands above its lane."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.trials.pictures.forest_rows import NEXT, diamond_on, expected_words, interval_on, square_on
from app.trials.pictures.forest_scale import (
    Columns,
    Forest,
    across_of,
    axis_words,
    ends_of,
    figures_of,
    place_of,
    scale_on,
    ticks_of,
    trials_of,
)
from app.trials.pictures.paper import (
    INK,
    INK_2,
    LABEL,
    LEADING,
    LINE,
    NARROW,
    SMALL,
    margin_of,
    say,
    sheet,
    tall,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_LANE, _AXIS, _GAP = 62.0, 92.0, 14.0


def drawn_narrow(forest: Forest) -> Figure:
    """Trials under one another, then the pooled figure, then the scale."""
    room = NARROW - 2 * margin_of(NARROW)
    of = "points" if forest.difference else "%"
    words: list[tuple[tuple[str, ...], ...]] = [
        (
            wrapped(effect.trial, room),
            wrapped(f"{place_of(effect)}, weight {effect.weight_pct:.0f} %", room, SMALL),
            (f"{figures_of(effect)} {of}",),
        )
        for effect in forest.effects
    ]
    words.append((wrapped(trials_of(forest), room, bold=True), (), (f"{figures_of(forest.pooled)} {of}",)))
    if forest.expected:
        words.append(((NEXT,), (), (f"{expected_words(forest.expected)} {of}",)))
    heights = [tall(name) + tall(place, SMALL) + tall(figures) + _LANE + _GAP for name, place, figures in words]
    said = wrapped(forest.heterogeneity, room)
    axis = axis_words(forest, room)
    below = _AXIS + tall(axis[1:], SMALL) + tall(said) + 42
    ticks = ticks_of(forest)
    past = any(end < ticks[0] or end > ticks[-1] for end in ends_of(forest))
    page = sheet(forest.title, forest.under, (*forest.foot, forest.past if past else ""), sum(heights) + below, NARROW)
    height = sum(heights)
    axes = page.axes(page.margin, page.top, room, height)
    axes.set_xlim(0, room)
    axes.set_ylim(height, 0)
    columns = Columns(axes, across_of(ticks, room), 0.0, room, room, room)
    scale_on(columns, forest, height)
    heaviest = max(effect.weight_pct for effect in forest.effects)
    y = 0.0
    for index, (lines, tallness) in enumerate(zip(words, heights, strict=True)):
        pooled = index == len(forest.effects)
        if pooled:
            axes.plot([0, room], [y, y], color=LINE, lw=1.4, zorder=1)
        top = y + _GAP / 2
        for texts, size, ink in zip(lines, (LABEL, SMALL, LABEL), (INK, INK_2, INK), strict=True):
            for text in texts:
                say(axes, 0, top + size * LEADING / 2, text, size=size, ink=ink, bold=pooled)
                top += size * LEADING
        middle = top + _LANE / 2
        if index < len(forest.effects):
            effect = forest.effects[index]
            interval_on(columns, effect.low, effect.high, middle, 2.0)
            square_on(columns, effect, middle, heaviest)
        elif pooled:
            diamond_on(columns, forest, middle)
        elif forest.expected:
            interval_on(columns, *forest.expected, middle, 1.0)
        y += tallness
    for index, line in enumerate(said):
        say(axes, 0, height + _AXIS + tall(axis[1:], SMALL) + 16 + (index + 0.5) * LABEL * LEADING, line)
    return page.figure
