"""Several trials of one question: each with its interval and weight, and the pooled figure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.trials.output import Synthesis
from app.trials.pictures.forest_narrow import drawn_narrow
from app.trials.pictures.forest_rows import drawn
from app.trials.pictures.forest_scale import Forest
from app.trials.pictures.paper import MOST_DRAWN, opened, plain
from app.trials.pictures.picture import Picture
from app.trials.pictures.words import amount, confidence, counted, figure
from app.trials.words import said_p

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def forest(synthesis: Synthesis) -> Picture:
    """Draw a synthesis, a row a trial.

    Parameters
    ----------
    synthesis : Synthesis
        Trials with their estimates [percentage points, or % control] and the pooled figure.

    Returns
    -------
    Picture
        Squares sized by weight, the pooled diamond, and where the next trial is expected as a thin line.
        At most 40 trials, those of most weight.
    """
    difference = synthesis.difference
    count = len(synthesis.effects)
    heaviest = sorted(range(count), key=lambda index: (-synthesis.effects[index].weight_pct, index))[:MOST_DRAWN]
    weed = plain(synthesis.weed_name)
    ages = sorted({effect.days_after for effect in synthesis.effects})
    age = f"{ages[0]}" if len(ages) == 1 else f"{ages[0]} to {ages[-1]}"
    level = confidence(synthesis.alpha)
    left = counted(count - MOST_DRAWN, "trial")
    shown = Forest(
        title=f"{opened(weed)}: {plain(synthesis.question)}",
        under=(counted(count, "trial"), "random-effects model", f"{age} days after application"),
        foot=(
            f"Squares: one trial each, its area its weight; lines: {level}.",
            f"Diamond: pooled over trials, its width the {level} (Hartung and Knapp).",
            "Thin line: where the next trial is expected." if synthesis.expect_low is not None else "",
            f"Left out of this picture, but pooled: {left} of least weight." if count > MOST_DRAWN else "",
        ),
        past="An arrow: the line runs past the scale.",
        axis=f"difference in control of {weed} [percentage points]" if difference else f"control of {weed} [%]",
        effects=tuple(synthesis.effects[index] for index in sorted(heaviest)),
        pooled=synthesis,
        heterogeneity=heterogeneity(synthesis),
        difference=difference,
    )

    def draw() -> Figure:
        return drawn(shown)

    def narrow() -> Figure:
        return drawn_narrow(shown)

    return Picture(shown.title, _alt(synthesis, weed), draw, narrow)


def heterogeneity(synthesis: Synthesis) -> str:
    """How far the trials differ beyond chance."""
    return (
        f"Spread between trials: Q = {amount(synthesis.q)} on {synthesis.q_df} df, {said_p(synthesis.q_p)}; "
        f"I² = {synthesis.i2_pct:.0f} %; τ² = {amount(synthesis.tau2)}"
    )


def _alt(synthesis: Synthesis, weed: str) -> str:
    unit = "percentage points" if synthesis.difference else "percent control"
    text = (
        f"{counted(len(synthesis.effects), 'trial')} of {weed}, {plain(synthesis.question)}: pooled "
        f"{figure(synthesis.estimate)} {unit}, {confidence(synthesis.alpha)} {figure(synthesis.low)} "
        f"to {figure(synthesis.high)}"
    )
    if synthesis.expect_low is not None and synthesis.expect_high is not None:
        text += f", next trial expected at {figure(synthesis.expect_low)} to {figure(synthesis.expect_high)}"
    return f"{text}; I² {synthesis.i2_pct:.0f} %."
