"""The drawing of control against rate."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.trials.output import DoseCurve, Effective
from app.trials.pictures.paper import INK, INK_2, LINE, MOSS, OCHRE, SMALL, say, width_of
from app.trials.pictures.ticks import thinned
from app.trials.pictures.words import amount

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_ZERO, _FIRST, _RIGHT = 36.0, 150.0, 60.0


@dataclass(frozen=True)
class Scale:
    """Where doses and control lie on the drawing [pixels]."""

    across: Callable[[float], float]
    up: Callable[[float], float]
    width: float
    height: float
    floor: float


def scale_of(curve: DoseCurve, width: float, height: float) -> Scale:
    above = sorted({rate for rate, _ in curve.plots if rate > 0} | {rate for rate in curve.doses if rate > 0}) or [1.0]
    low, high = math.log(above[0]), math.log(above[-1])
    room = max(0.06 * (high - low), 0.12)
    low, high = low - room, high + room
    floor = 20 * (min(0.0, min((value for _, value in curve.plots), default=0.0)) // 20)

    def across(rate: float) -> float:
        return _FIRST + (math.log(rate) - low) / (high - low) * (width - _RIGHT - _FIRST) if rate > 0 else _ZERO

    def up(value: float) -> float:
        return height - (value - floor) / (100 - floor) * (height - 12)

    return Scale(across, up, width, height, floor)


def axes_of(axes: Axes, scale: Scale, curve: DoseCurve, control: str, rate: Sequence[str]) -> None:
    step = 20 if scale.floor > -200 else 100
    for share in range(int(scale.floor), 101, step):
        axes.plot([0, scale.width], [scale.up(share)] * 2, color=LINE, linewidth=0.8, zorder=0)
        say(axes, -14, scale.up(share), f"{share}".replace("-", "−"), size=SMALL, ink=INK_2, across="right")
    gap = (_ZERO + _FIRST) / 2
    bottom = scale.height
    for start, end in ((0.0, gap - 7), (gap + 7, scale.width)):
        axes.plot([start, end], [bottom, bottom], color=INK, lw=1.6, clip_on=False, solid_capstyle="butt")
    for x in (gap - 7, gap + 7):
        axes.plot([x - 5, x + 5], [bottom + 11, bottom - 11], color=INK, linewidth=1.6, clip_on=False)
    doses = sorted(set(curve.doses))
    words = [amount(each) for each in doses]
    shown = thinned([scale.across(each) for each in doses], [width_of(word, SMALL) for word in words])
    for index, (each, word) in enumerate(zip(doses, words, strict=True)):
        axes.plot([scale.across(each)] * 2, [bottom, bottom + 8], color=INK, linewidth=1.4, clip_on=False)
        if index in shown:
            say(axes, scale.across(each), bottom + 26, word, size=SMALL, ink=INK_2, across="center")
    for index, line in enumerate(rate):
        say(axes, scale.width / 2, bottom + 62, line, size=SMALL, ink=INK_2, across="center", row=index)
    say(axes, -84, bottom / 2, control, size=SMALL, ink=INK_2, across="center", upward=True)


def plots_on(axes: Axes, scale: Scale, curve: DoseCurve) -> None:
    xs = [scale.across(rate) for rate, _ in curve.plots]
    ys = [scale.up(value) for _, value in curve.plots]
    axes.plot(xs, ys, ls="none", marker="o", ms=11, mfc=(*_rgb(MOSS), 0.3), mec=INK, mew=1.4, zorder=3, clip_on=False)
    drawn = [(rate, value) for rate, value in curve.curve if rate > 0] if curve.fitted else []
    inside = [(scale.across(rate), scale.up(value)) for rate, value in drawn]
    if not inside:
        return
    inside = [(x, y) for x, y in inside if _FIRST - 36 <= x <= scale.width]
    axes.plot([x for x, _ in inside], [y for _, y in inside], color=INK, linewidth=2.8, zorder=2, gid="curve")


def _rgb(ink: str) -> tuple[float, float, float]:
    from matplotlib.colors import to_rgb

    red, green, blue = to_rgb(ink)
    return red, green, blue


def named(effective: Effective) -> str:
    return f"ED{amount(effective.share_pct)}"


def interval(effective: Effective, unit: str) -> str:
    text = f"{amount(effective.dose)} {unit}"
    if effective.low is not None and effective.high is not None:
        text += f" ({amount(effective.low)} to {amount(effective.high)})"
    return text + (", beyond the rates of the trial" if effective.beyond else "")


def marked_on(axes: Axes, scale: Scale, curve: DoseCurve, effective: Effective, text: Sequence[str], y: float) -> None:
    """A band under the axis, and a dashed line up to the curve."""
    left, right = _FIRST - 20, scale.width
    say(axes, -14, y, named(effective), bold=True, across="right")
    x = scale.across(effective.dose) if effective.dose > 0 else left
    low = scale.across(effective.low) if effective.low else x if effective.low is None else left - 1
    high = scale.across(effective.high) if effective.high is not None else x
    if high >= left and low <= right:
        ends = max(low, left), min(high, right)
        axes.plot(ends, [y, y], color=INK, linewidth=2.4, clip_on=False, zorder=3, solid_capstyle="butt")
        for end, past, arrow in ((ends[0], low < left, "<"), (ends[1], high > right, ">")):
            axes.plot([end], [y], color=INK, marker=arrow if past else "|", ms=7 if past else 12, clip_on=False)
    if left <= x <= right:
        axes.plot([x, x], [y - 14, y + 14], color=OCHRE, lw=4, clip_on=False, zorder=4, solid_capstyle="butt")
        height = _height_at(curve, effective)
        top = scale.up(height) if height is not None else scale.height
        axes.plot([x, x], [top, y - 14], color=OCHRE, lw=1.6, ls=(0, (5, 3)), clip_on=False, zorder=1)
    middle = min(max((max(low, left) + min(high, right)) / 2, 0.0), scale.width)
    half = max(width_of(line, SMALL) for line in text) / 2 + 8
    center = min(max(middle, half), scale.width - half)
    for index, line in enumerate(text):
        say(axes, center, y + 30, line, size=SMALL, ink=INK_2, across="center", row=index)


def _height_at(curve: DoseCurve, effective: Effective) -> float | None:
    if curve.lower is None or curve.upper is None or curve.ed50 is None or curve.slope is None:
        return None
    grown = curve.slope * (math.log(effective.dose) - math.log(curve.ed50))
    return curve.lower + (curve.upper - curve.lower) / (1 + math.exp(min(grown, 700.0)))
