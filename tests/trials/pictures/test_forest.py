"""Several trials: squares by weight, the pooled diamond, the spread between them."""

from __future__ import annotations

from pathlib import Path

import pytest
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle

import demo_data
from app.services.knowledge_service import knowledge_base
from app.services.trial_csv import trials_of
from app.trials.pictures import Picture, forest
from app.trials.pictures.paper import INK, MOST_DRAWN
from app.trials.synthesis import synthesis
from tests.trials.pictures import made
from tests.trials.pictures.seen import words


def squares(picture: Picture) -> list[Rectangle]:
    """The squares as drawn."""
    return [patch for axes in picture.figure().axes for patch in axes.patches if isinstance(patch, Rectangle)]


def uprights(picture: Picture) -> list[Line2D]:
    """Heavy upright lines: the zero of a difference."""
    found = [line for line in picture.figure().findobj(Line2D) if isinstance(line, Line2D)]
    return [line for line in found if line.get_linewidth() == 1.8 and line.get_color() == INK]


def test_area_of_a_square_is_its_weight() -> None:
    found = squares(forest(made.synthesis(9)))
    weights = [effect.weight_pct for effect in made.synthesis(9).effects]
    areas = [square.get_width() * square.get_height() for square in found]
    assert len(found) == 9
    assert [area / areas[0] for area in areas] == pytest.approx([weight / weights[0] for weight in weights])


def test_the_diamond_spans_the_interval_on_the_scale_of_the_squares() -> None:
    picture = forest(made.synthesis(9))
    diamond = next(p for axes in picture.figure().axes for p in axes.patches if isinstance(p, Polygon))
    corners = sorted({float(x) for x, _ in diamond.get_xy()})
    centers = [square.get_x() + square.get_width() / 2 for square in squares(picture)]
    effects = made.synthesis(9).effects
    scale = (centers[1] - centers[0]) / (effects[1].estimate - effects[0].estimate)
    assert corners[2] - corners[0] == pytest.approx(scale * (17.2 - 7.6))
    assert corners[1] == pytest.approx(centers[0] + scale * (12.4 - effects[0].estimate))


def test_the_picture_says_what_it_rests_on() -> None:
    picture = forest(made.synthesis(9))
    for part in (
        "White clover: Fernhill Clear against Sallow Mix",
        "9 trials · random-effects model · 28 to 42 days after application",
        "Brook Farm fairway, hole 4, 42 days after",
        "Spread between trials: Q = 14.2 on 8 df, p = 0.077; I² = 44 %; τ² = 18.3",
        "Pooled, 9 trials",
        "12 (8 to 17)",
        "Next trial expected",
        "−1 to 26",
        "95 % confidence interval",
        "difference in control of white clover [percentage points]",
    ):
        assert part in words(picture)
    assert (
        "pooled 12 percentage points, 95 % confidence interval 8 to 17, next trial expected at −1 to 26" in picture.alt
    )


def test_below_three_trials_no_next_one_is_expected() -> None:
    picture = forest(made.synthesis(2))
    assert "Next trial" not in words(picture)
    assert "next trial" not in picture.alt


def test_zero_is_marked_for_differences_alone() -> None:
    assert len(uprights(forest(made.synthesis(9)))) == 1
    control = forest(made.synthesis(9, difference=False))
    assert uprights(control) == []
    assert "control of white clover [%]" in words(control)
    assert "12 percent control" in control.alt


def test_more_than_can_be_read_are_left_out_and_counted() -> None:
    picture = forest(made.synthesis(MOST_DRAWN + 3))
    assert len(squares(picture)) == MOST_DRAWN
    assert "Left out of this picture, but pooled: 3 trials of least weight." in words(picture)
    assert "43 trials" in picture.alt


@pytest.mark.parametrize(("against", "zeros"), [("2,4-D", 1), (None, 0)])
def test_the_question_as_it_is_asked_tells_differences_from_control(against: str | None, zeros: int) -> None:
    text = (Path(demo_data.__file__).parent / "trials" / "ground-ivy.csv").read_text(encoding="utf-8")
    first = trials_of(text)[0]
    trials = [first, first.model_copy(update={"name": "the same again"})]
    found = synthesis(knowledge_base(), trials, "ground-ivy", "2,4-D + triclopyr", against)
    assert len(uprights(forest(found))) == zeros
