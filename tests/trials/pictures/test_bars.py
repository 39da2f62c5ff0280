"""Bars: their order, their letters, what is said of those not drawn."""

from __future__ import annotations

import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from app.trials.output import Analysis, MissingPlot
from app.trials.pictures import Picture, bars
from app.trials.pictures.paper import INK, MOST_DRAWN, PAPER
from tests.trials.pictures import made
from tests.trials.pictures.seen import places, texts, words


def rectangles(picture: Picture) -> list[Rectangle]:
    """The bars as drawn."""
    return [patch for axes in picture.figure().axes for patch in axes.patches if isinstance(patch, Rectangle)]


def whiskers(figure: Figure, lying: bool) -> list[tuple[float, float]]:
    """Ends of the intervals [%]."""
    found = []
    for line in figure.findobj(Line2D):
        assert isinstance(line, Line2D)
        data = line.get_xdata() if lying else line.get_ydata()
        if line.get_color() == INK and line.get_linewidth() == 2 and len(list(data)) == 2:
            found.append((float(next(iter(data))), float(list(data)[1])))
    return found


def test_alt_text_names_the_leader_its_mean_and_letter() -> None:
    assert bars(made.analysis(8)).alt == (
        "Bars of mean control for 8 treatments in trial Larkmere North Tee, white clover, 28 days after application, "
        "4 replicates: highest Fernhill Clear 1 (96 %, letter a), lowest Brook Gold 8 (6 %, letter hi)."
    )


@pytest.mark.parametrize(("count", "long", "lying"), [(5, False, False), (6, False, True), (2, True, True)])
def test_bars_lie_where_treatments_are_many_or_names_long(count: int, long: bool, lying: bool) -> None:
    # Six treatments and the check are seven bars.
    found = rectangles(bars(made.analysis(count, long=long)))
    lengths = [bar.get_width() if lying else bar.get_height() for bar in found]
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[0] == pytest.approx(96)
    assert lengths[-1] == 0
    assert len(found) == count + 1


def test_order_is_by_the_mean_whatever_the_order_of_the_rows() -> None:
    analysis = made.analysis(8)
    turned = analysis.model_copy(update={"means": tuple(reversed(analysis.means))})
    assert bars(turned).svg() == bars(analysis).svg()


@pytest.mark.parametrize(("count", "lying"), [(4, False), (8, True)])
def test_intervals_are_drawn_and_cut_at_the_scale(count: int, lying: bool) -> None:
    found = whiskers(bars(made.analysis(count)).figure(), lying)
    rows = [made.row(index, count) for index in range(count)]
    expected = [(max(row.low or 0, 0), min(row.high or 0, 100)) for row in rows]
    assert [end for ends in found for end in ends] == pytest.approx([end for ends in expected for end in ends])
    assert "a whisker with an arrow runs past the scale" in words(bars(made.analysis(count)))


def test_the_picture_says_what_it_rests_on() -> None:
    said = words(bars(made.analysis(5)))
    for part in (
        "White clover: control 28 days after application",
        "Trial Larkmere North Tee · 4 replicates · randomised complete blocks",
        "control of white clover [%]",
        "95 % confidence interval of the mean",
        "share a letter are not told apart",
        "LSD 9.1 points at alpha 0.05",
    ):
        assert part in said


def test_means_and_letters_stand_at_the_bars() -> None:
    picture = bars(made.analysis(8))
    found = dict(places(picture)[1])
    assert {"96 %", "a", "83 %", "bc", "6 %", "hi", "0 %", "check"} <= set(found)
    assert found["96 %"].y0 == pytest.approx(found["Fernhill Clear 1"].y0, abs=8)
    assert found["96 %"].x0 > found["83 %"].x0 > found["6 %"].x0


def test_letters_of_the_wider_test_are_small_and_only_where_they_differ() -> None:
    assert "HSD" not in words(bars(made.analysis(5)))
    picture = bars(made.analysis(5, hsd="ab"))
    small = [text for text in texts(picture.figure()) if text.get_text() == "HSD ab"]
    large = [text for text in texts(picture.figure()) if text.get_text() == "bc"]
    assert len(small) == 5
    assert small[0].get_fontsize() < large[0].get_fontsize()
    assert "HSD: letters by the test that guards all pairs at once." in words(picture)


def test_back_transformed_means_are_called_so() -> None:
    picture = bars(made.analysis(8, arcsine=True))
    said = words(picture)
    assert "control of white clover [%], back-transformed means" in said
    assert "degrees of the arcsine scale" in said
    assert "back-transformed mean control" in picture.alt
    assert "back-transformed" not in words(bars(made.analysis(8)))


@pytest.mark.parametrize("count", [4, 8])
def test_a_check_outside_the_analysis_is_hatched_and_without_letter(count: int) -> None:
    analysis = made.analysis(count)
    check = made.CHECK.model_copy(update={"mean": 12.0, "raw_mean": 12.0})
    picture = bars(analysis.model_copy(update={"means": (*analysis.means[:-1], check)}))
    hatched = [bar for bar in rectangles(picture) if bar.get_hatch()]
    assert len(hatched) == 1
    assert hatched[0].get_facecolor() != next(bar for bar in rectangles(picture) if not bar.get_hatch()).get_facecolor()
    assert f"#{''.join(f'{round(part * 255):02x}' for part in hatched[0].get_facecolor()[:3])}" == PAPER
    assert "check" in words(picture)


def test_more_than_can_be_read_are_left_out_and_counted() -> None:
    at, above = bars(made.analysis(MOST_DRAWN - 1)), bars(made.analysis(MOST_DRAWN + 5))
    assert "Left out" not in words(at)
    assert len(rectangles(above)) == MOST_DRAWN
    assert f"Left out of this picture: 6 treatments with lower means (of {MOST_DRAWN + 6})." in words(above)
    assert "6 %" in above.alt, "the lowest is told though it is not drawn"


def _changed(**fields: object) -> Analysis:
    return made.analysis(4).model_copy(update=fields)


def test_what_weakens_the_letters_is_said() -> None:
    missing = (MissingPlot(treatment="Sallow Mix 2", rep="3"),)
    assert "1 plot missing: means are least-squares means." in words(bars(_changed(missing=missing)))
    assert "no letter proves one" in words(bars(_changed(protected=False)))
    bare = tuple(row.model_copy(update={"letter_lsd": None, "letter_hsd": None}) for row in made.analysis(4).means)
    assert "No letters: means could not be separated." in words(bars(_changed(means=bare)))


def test_more_weed_than_in_the_check_is_told_and_has_no_bar() -> None:
    worse = made.row(3, 4).model_copy(update={"mean": -12.0, "low": -30.0, "high": -2.0})
    picture = bars(_changed(means=(*made.analysis(3).means, worse)))
    assert "−12 %" in words(picture)
    assert min(bar.get_height() for bar in rectangles(picture)) == 0


def test_long_runs_of_letters_leave_room_for_the_bars() -> None:
    rows = tuple(
        row.model_copy(update={"letter_lsd": made.LETTERS[:20], "letter_hsd": made.LETTERS[:24]})
        for row in made.analysis(40, long=True).means[:-1]
    )
    picture = bars(_changed(means=rows))
    assert "a–t" in words(picture)
    assert "HSD a–x" in words(picture)
    assert "A dash stands for the letters between." in words(picture)
    assert made.LETTERS[:20] in picture.alt
