"""The columns and the scale of the drawing of a synthesis."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.trials.output import Synthesis, TrialEffect
from app.trials.pictures.paper import INK, INK_2, LINE, MARGIN, SMALL, WIDTH, Sheet, say, width_of, wrapped
from app.trials.pictures.words import counted, figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_GAP = 32.0


@dataclass(frozen=True)
class Forest:
    """What a picture of a synthesis shows."""

    title: str
    under: tuple[str, ...]
    foot: tuple[str, ...]
    past: str
    axis: str
    effects: tuple[TrialEffect, ...]
    pooled: Synthesis
    heterogeneity: str
    difference: bool

    @property
    def each(self) -> tuple[TrialEffect | Synthesis, ...]:
        """Every trial shown, and the pooled figure."""
        return (*self.effects, self.pooled)

    @property
    def expected(self) -> tuple[float, float] | None:
        """Where the next trial is expected."""
        low, high = self.pooled.expect_low, self.pooled.expect_high
        return None if low is None or high is None else (low, high)


@dataclass(frozen=True)
class Columns:
    """Where the columns of the table stand, from the left end of the scale [pixels]."""

    axes: Axes
    across: Callable[[float], float]
    names: float
    width: float
    figures: float
    weights: float


def columns_of(
    forest: Forest, page: Sheet, names: Sequence[Sequence[str]], places: Sequence[Sequence[str]], height: float
) -> Columns:
    named = max(width_of(line) for lines in names for line in lines)
    named = max(named, *(width_of(line, SMALL) for lines in places for line in lines))
    named = max(named, width_of(trials_of(forest), bold=True)) + _GAP
    numbers = _GAP + max(width_of(figures_of(each), bold=True) for each in forest.each)
    weights = _GAP + max(width_of("100 %"), width_of("weight", SMALL))
    width = WIDTH - 2 * MARGIN - named - numbers - weights
    ticks = ticks_of(forest)
    axes = page.axes(MARGIN + named, page.top, width, height)
    axes.set_xlim(0, width)
    axes.set_ylim(height, 0)

    return Columns(axes, across_of(ticks, width), -named, width, width + numbers, width + numbers + weights)


def across_of(ticks: Sequence[float], width: float) -> Callable[[float], float]:
    """From a value to its place between the ends of the scale."""
    return lambda value: (value - ticks[0]) / (ticks[-1] - ticks[0]) * width


def axis_words(forest: Forest, room: float) -> tuple[str, ...]:
    """What the scale counts, in lines."""
    return wrapped(forest.axis, room, SMALL)


def ticks_of(forest: Forest) -> list[float]:
    """Round values over everything drawn, within what can be."""
    from matplotlib.ticker import MaxNLocator

    ends = [*ends_of(forest), *([0.0] if forest.difference else [])]
    least = -100.0 if forest.difference else 0.0
    low, high = max(min(ends), least), min(max(ends), 100.0)
    if high - low < 1:
        low, high = max(low - 5, least), min(high + 5, 100.0)
    return [float(tick) for tick in MaxNLocator(6, steps=[1, 2, 5, 10]).tick_values(low, high)]


def ends_of(forest: Forest) -> list[float]:
    ends = [end for each in forest.each for end in (each.low, each.high)]
    return [*ends, *(forest.expected or ())]


def scale_on(columns: Columns, forest: Forest, height: float) -> None:
    axes = columns.axes
    for tick in ticks_of(forest):
        x, zero = columns.across(tick), forest.difference and tick == 0
        axes.plot([x, x], [0, height], color=INK if zero else LINE, lw=1.8 if zero else 0.8, zorder=0, clip_on=False)
        say(axes, x, height + 22, f"{tick:g}".replace("-", "−"), size=SMALL, ink=INK_2, across="center")
    lines = axis_words(forest, columns.weights - columns.names)
    middle = max(columns.width / 2, columns.names + max(width_of(line, SMALL) for line in lines) / 2)
    for index, line in enumerate(lines):
        say(axes, middle, height + 58, line, size=SMALL, ink=INK_2, across="center", row=index)


def place_of(effect: TrialEffect) -> str:
    return f"{effect.place + ', ' if effect.place else ''}{counted(effect.days_after, 'day')} after"


def trials_of(forest: Forest) -> str:
    return f"Pooled, {counted(len(forest.pooled.effects), 'trial')}"


def figures_of(each: TrialEffect | Synthesis) -> str:
    return f"{figure(each.estimate)} ({figure(each.low)} to {figure(each.high)})"
