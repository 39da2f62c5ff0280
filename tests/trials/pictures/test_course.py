"""Lines over the dates: told apart without color, labelled at their ends."""

from __future__ import annotations

import itertools

import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from app.trials.pictures import course
from app.trials.pictures.course_lines import DASHES, MARKERS
from app.trials.pictures.paper import MOST_DRAWN
from app.trials.pictures.spread import spread
from tests.trials.pictures import made
from tests.trials.pictures.seen import places, words


def lines(figure: Figure, group: str) -> list[Line2D]:
    """The lines of treatments, or the samples beside their labels."""
    found = [line for line in figure.findobj(Line2D) if isinstance(line, Line2D)]
    return [line for line in found if str(line.get_gid()).startswith(group)]


def style(line: Line2D) -> tuple[str, str, bool]:
    """What is left of a line in grey: its dash, its marker, whether the marker is filled."""
    return str(line._unscaled_dash_pattern), str(line.get_marker()), line.get_markerfacecolor() == line.get_color()


def test_forty_lines_differ_without_color() -> None:
    drawn = lines(course(made.course(40)).figure(), "line-")
    assert len({style(line) for line in drawn}) == len(drawn) == 40
    assert len({(index % len(DASHES), index % len(MARKERS)) for index in range(40)}) == 40


def test_the_sample_at_a_label_is_drawn_like_its_line() -> None:
    figure = course(made.course(8)).figure()
    assert [style(line) for line in lines(figure, "line-")] == [style(line) for line in lines(figure, "sample-")]


def test_labels_stand_in_the_order_of_the_ends() -> None:
    picture = course(made.course(8))
    found = dict(places(picture)[1])
    names = [made.name(index, False) for index in range(8)]
    heights = [found[name].y0 for name in names]
    assert heights == sorted(heights, reverse=True)


def test_points_lie_where_the_means_are() -> None:
    first, second = lines(course(made.course(4)).figure(), "line-")[:2]
    xs = [float(x) for x in first.get_xdata()]
    assert (xs[4] - xs[3]) / (xs[1] - xs[0]) == pytest.approx((56 - 42) / (14 - 7))
    ends = [made.course(4).points[made.name(index, False)][-1][1] for index in (0, 1)]
    starts = [made.course(4).points[made.name(index, False)][0][1] for index in (0, 1)]
    drawn = [[float(y) for y in line.get_ydata()] for line in (first, second)]
    scale = (drawn[1][0] - drawn[0][0]) / (starts[0] - starts[1])
    assert drawn[1][-1] - drawn[0][-1] == pytest.approx(scale * (ends[0] - ends[1]))


def test_the_picture_says_what_it_rests_on() -> None:
    picture = course(made.course(4), "Completely randomised: no blocks.")
    for part in (
        "White clover: control 7 to 56 days after application",
        "Trial Larkmere North Tee · 4 replicates · completely randomised",
        "days after application",
        "average 96 % a",
        "Averages that share a letter are not told apart",
    ):
        assert part in words(picture)
    assert "highest at the end Fernhill Clear 1 (95 % at 56 days)" in picture.alt
    assert "best on average Fernhill Clear 1 (96 %, letter a)" in picture.alt


def test_without_separation_there_are_no_averages() -> None:
    bare = course(made.course(4).model_copy(update={"separation": None}))
    assert "average" not in words(bare).casefold()
    assert "average" not in bare.alt


def test_more_than_can_be_read_are_left_out_and_counted() -> None:
    picture = course(made.course(MOST_DRAWN + 2))
    assert len(lines(picture.figure(), "line-")) == MOST_DRAWN
    assert "Left out of this picture: 2 treatments that ended lower." in words(picture)


def test_a_treatment_without_ratings_has_no_line() -> None:
    made_course = made.course(3)
    emptied = made_course.model_copy(update={"points": {**made_course.points, "not rated": ()}})
    assert len(lines(course(emptied).figure(), "line-")) == 3


def test_control_below_the_check_widens_the_scale() -> None:
    worse = made.course(2).model_copy(update={"points": {"worse": ((7, -35.0), (14, 10.0))}})
    assert "−40" in words(course(worse))


def test_spread_labels_keep_order_and_room() -> None:
    wanted, heights = [50.0, 50.0, 51.0, 99.0, 0.0], [20.0, 30.0, 20.0, 10.0, 10.0]
    found = spread(wanted, heights, 0, 100)
    order = sorted(range(5), key=lambda index: found[index])
    assert order == [4, 0, 1, 2, 3]
    for one, other in itertools.pairwise(order):
        assert found[other] - found[one] >= (heights[one] + heights[other]) / 2 - 1e-9
    assert min(at - tall / 2 for at, tall in zip(found, heights, strict=True)) >= 0
    assert max(at + tall / 2 for at, tall in zip(found, heights, strict=True)) <= 100
