"""Control against rate: the axis, the curve, its doses, and what is said without one."""

from __future__ import annotations

import itertools
import math

import pytest
from matplotlib.lines import Line2D

from app.trials.pictures import Picture, dose
from app.trials.pictures.paper import OCHRE
from tests.trials.pictures import made
from tests.trials.pictures.seen import words

WHERE = ("white clover", "Larkmere North Tee", 28)


def lines(picture: Picture) -> list[Line2D]:
    """Every line drawn."""
    return [line for line in picture.figure().findobj(Line2D) if isinstance(line, Line2D)]


def circles(picture: Picture) -> list[tuple[float, float]]:
    """Where the plots are drawn [pixels]."""
    line = next(line for line in lines(picture) if line.get_marker() == "o")
    return [(float(x), float(y)) for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)]


def test_every_plot_is_drawn_on_a_logarithmic_axis_with_zero_at_the_left() -> None:
    found = circles(dose(made.dose(), *WHERE))
    assert len(found) == 24
    columns = sorted({x for x, _ in found})
    steps = [other - one for one, other in itertools.pairwise(columns[1:])]
    assert len(columns) == 6
    assert steps == pytest.approx([steps[0]] * 4), "each rate is twice the one before"
    assert columns[0] < columns[1]


def test_the_doses_stand_where_the_axis_has_them() -> None:
    picture = dose(made.dose(), *WHERE)
    columns = sorted({x for x, _ in circles(picture)})
    ticks = [line for line in lines(picture) if line.get_color() == OCHRE and line.get_linewidth() == 4]
    found = [float(next(iter(line.get_xdata()))) for line in ticks]
    # The axis by its second and last rate, read off the circles.
    scale = (columns[-1] - columns[1]) / (math.log(1.0) - math.log(0.0625))
    expected = [columns[-1] + scale * math.log(each.dose) for each in made.dose().effective]
    assert found == pytest.approx(expected)


def test_the_curve_passes_through_the_means() -> None:
    picture = dose(made.dose(), *WHERE)
    curve = next(line for line in lines(picture) if line.get_gid() == "curve")
    xs, ys = [float(x) for x in curve.get_xdata()], [float(y) for y in curve.get_ydata()]
    column = sorted({x for x, _ in circles(picture)})[3]
    nearest = min(range(len(xs)), key=lambda index: abs(xs[index] - column))
    inside = [y for x, y in circles(picture) if x == column]
    assert min(inside) < ys[nearest] < max(inside)


def test_the_picture_says_what_it_rests_on() -> None:
    names = {"quinclorac": "quinclorac (salt)", "methylated seed oil": "MSO"}
    picture = dose(made.dose(), *WHERE, design_text="Completely randomised: x.", alpha=0.1, names=names)
    for part in (
        "White clover: control by rate of quinclorac (salt)",
        "28 days after application · 24 plots at 6 rates · completely randomised · with MSO",
        "[lb ai/acre], logarithmic",
        "control of white clover [%]",
        "ED50",
        "0.2 lb ai/acre (0.17 to 0.235)",
        "90 % confidence interval",
    ):
        assert part in words(picture)
    assert "ED50 0.2 lb ai/acre (0.17 to 0.235); ED90 0.678 lb ai/acre (0.52 to 0.9)" in picture.alt


def test_a_dose_past_the_rates_has_an_arrow_and_says_so() -> None:
    within, past = dose(made.dose(), *WHERE), dose(made.dose(wide=True), *WHERE)
    assert [line for line in lines(within) if line.get_marker() == ">"] == []
    assert len([line for line in lines(past) if line.get_marker() == ">"]) == 1
    assert "2.1 lb ai/acre (0.52 to 9), beyond the rates of the trial" in words(past)
    assert "An arrow" in words(past)
    assert "An arrow" not in words(within)


def test_without_a_curve_the_reason_is_told() -> None:
    picture = dose(made.dose(fitted=False), *WHERE)
    assert len(circles(picture)) == 24
    assert all(line.get_gid() != "curve" for line in lines(picture))
    assert "control does not rise with the rate" in words(picture)
    assert "ED50" not in words(picture)
    assert picture.alt.endswith(
        "no curve was fitted: control does not rise with the rate between the lowest and the highest."
    )


def test_one_rate_alone_is_drawn() -> None:
    lone = made.dose(fitted=False).model_copy(update={"doses": (0.5,), "plots": ((0.5, 40.0), (0.5, 60.0))})
    assert len(circles(dose(lone, *WHERE))) == 2
