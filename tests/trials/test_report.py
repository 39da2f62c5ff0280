"""The whole report of a trial: what is refused and in which words, and what is said beside the figures."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from app.engine.errors import InputError
from app.trials.analysis import LEAST_ALPHA, MOST_ALPHA, report
from app.trials.output import Analysis
from app.trials.trial import Trial
from knowledge.base import KnowledgeBase
from tests.trials.made import trial_of

Rows = dict[str, list[float | None]]
GOOD: Rows = {"A": [60, 70, 65, 72], "B": [80, 88, 91, 85], "nontreated": [0, 0, 0, 0]}


def one(base: KnowledgeBase, rows: Rows, **told: Any) -> Analysis:
    (analysis,) = report(base, trial_of(rows, **told)).analyses
    return analysis


def fault(base: KnowledgeBase, trial: Trial, alpha: float = 0.05) -> str:
    with pytest.raises(InputError) as told:
        report(base, trial, alpha)
    (found,) = told.value.faults
    assert found.path == ("plots" if LEAST_ALPHA <= alpha <= MOST_ALPHA else "alpha")
    return found.message


def cover_of(rows: dict[str, list[tuple[float | None, float | None]]], **told: Any) -> Trial:
    """A trial rated by cover: (before, after) of each plot."""
    plots = [
        {"weed": "dandelion", "days_after": 28, "treatment": name, "rep": str(rep)}
        | {"cover_before_pct": before, "cover_pct": after}
        for name, row in rows.items()
        for rep, (before, after) in enumerate(row, 1)
    ]
    base = {"name": "Made trial", "treatments": [{"name": name} for name in rows], "plots": plots}
    return Trial.model_validate({**base, **told})


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ({"A": [50.0], "B": [60.0]}, "two or more replicates"),
        ({"A": [50.0, 60.0, 70.0]}, "only one treatment"),
        ({"A": [50.0, 60.0, 70.0], "nontreated": [0.0, 0.0, 0.0]}, "only one treatment"),
        ({"A": [None, None], "B": [None, None]}, "no plot has a rating"),
        ({"A": [50.0, 60.0], "B": [70.0, None]}, "3 plots are too few"),
    ],
)
def test_what_cannot_be_analysed_is_told_with_trial_weed_and_date(base: KnowledgeBase, rows: Rows, words: str) -> None:
    message = fault(base, trial_of(rows, days=28, weed="white-clover", design="rcbd"))
    assert words in message
    assert message.startswith("Made trial, white-clover, 28 days after application: ")


def test_cover_needs_a_check(base: KnowledgeBase) -> None:
    message = fault(base, cover_of({"A": [(None, 5), (None, 6)], "B": [(None, 9), (None, 3)]}))
    assert message.startswith("Made trial, dandelion, 28 days after application: ")
    assert "check named nontreated" in message


def test_a_check_without_weed_gives_no_control(base: KnowledgeBase) -> None:
    bare = {"A": [(None, 5), (None, 6)], "B": [(None, 9), (None, 3)], "nontreated": [(None, 0), (None, 0)]}
    message = fault(base, cover_of(bare))
    assert message.startswith("Made trial, dandelion, 28 days after application: ")
    assert "the checks bear no weed" in message


@pytest.mark.parametrize("alpha", [0.0, 1.0, -0.05, 5.0, float("nan")])
def test_an_error_rate_out_of_range_is_refused(base: KnowledgeBase, alpha: float) -> None:
    assert "0.05" in fault(base, trial_of(GOOD), alpha)


def test_two_spellings_of_the_check_are_refused() -> None:
    with pytest.raises(ValidationError, match="two spellings"):
        trial_of({"A": [1, 2], "nontreated": [0, 0], "Nontreated": [0, 0]})


def test_all_plots_at_100_are_told_and_nothing_is_compared(base: KnowledgeBase) -> None:
    found = one(base, {"A": [100, 100, 100], "B": [100, 100, 100], "nontreated": [0, 0, 0]})
    assert found.comparisons == ()
    assert found.lsd.value is None
    assert {"no-error", "piled-at-100"} <= {warned.code for warned in found.warnings}
    assert "no difference can be tested" in found.headline


def test_a_check_of_zero_is_no_part_of_the_error(base: KnowledgeBase) -> None:
    found, without = one(base, GOOD), one(base, {name: GOOD[name] for name in ("A", "B")})
    assert found.anova == without.anova
    assert found.check is not None
    assert not found.check.in_error
    (outside,) = [row for row in found.means if not row.in_analysis]
    assert (outside.treatment, outside.mean, outside.letter_lsd, outside.se) == ("nontreated", 0, None, None)


def test_a_check_that_varies_is_compared(base: KnowledgeBase) -> None:
    found = one(base, {**GOOD, "nontreated": [0, 5, 0, 10]})
    assert found.check is not None
    assert found.check.in_error
    assert all(row.in_analysis for row in found.means)


@pytest.mark.parametrize("design", ["rcbd", "crd"])
def test_a_lost_plot_is_named_with_what_follows_from_it(base: KnowledgeBase, design: str) -> None:
    found = one(base, {**GOOD, "B": [80, None, 91, 85]}, design=design)
    assert [(plot.treatment, plot.rep) for plot in found.missing] == [("B", "2")]
    (text,) = [warned.text for warned in found.warnings if warned.code == "missing-plots"]
    assert ("adjusted for the blocks" in text) == (design == "rcbd")


def test_cover_is_held_against_the_check_of_the_block(base: KnowledgeBase) -> None:
    # Common practice, no source: 100 * (check - treated) / check; computed by hand.
    rows = {
        "A": [(None, 9.0), (None, 10.0), (None, 30.0)],
        "B": [(None, 30.0), (None, 60.0), (None, 20.0)],
        "nontreated": [(None, 60.0), (None, 50.0), (None, 40.0)],
    }
    (found,) = report(base, cover_of(rows)).analyses  # type: ignore[arg-type]
    means = {row.treatment: row.mean for row in found.means}
    assert means["A"] == pytest.approx((85 + 80 + 25) / 3)
    # The second plot of B bears more weed than its check: no control, and that is said.
    assert means["B"] == pytest.approx((50 + 0 + 50) / 3)
    assert found.rated_by == "cover"
    assert {"below-zero", "check-uncertain"} <= {warned.code for warned in found.warnings}


def test_without_blocks_cover_is_held_against_the_mean_of_the_checks(base: KnowledgeBase) -> None:
    rows = {
        "A": [(None, 10.0), (None, 20.0), (None, 15.0)],
        "B": [(None, 30.0), (None, 25.0), (None, 20.0)],
        "nontreated": [(None, 60.0), (None, 50.0), (None, 40.0)],
    }
    (found,) = report(base, cover_of(rows, design="crd")).analyses  # type: ignore[arg-type]
    means = {row.treatment: row.mean for row in found.means}
    assert means["A"] == pytest.approx(100 * (1 - 15 / 50))


def test_cover_before_is_used_where_every_plot_tells_it(base: KnowledgeBase) -> None:
    # Henderson and Tilton 1955, formula from memory: 89.5833 for 40 to 5 against 50 to 60 (computed).
    rows = {
        "A": [(40.0, 5.0), (40.0, 5.0), (40.0, 8.0)],
        "B": [(30.0, 20.0), (40.0, 25.0), (50.0, 20.0)],
        "nontreated": [(50.0, 60.0), (50.0, 60.0), (50.0, 60.0)],
    }
    (found,) = report(base, cover_of(rows)).analyses  # type: ignore[arg-type]
    assert found.rated_by == "cover-and-before"
    means = {row.treatment: row.mean for row in found.means}
    assert means["A"] == pytest.approx((2 * 89.58333333 + 100 * (1 - 8 / 40 * 50 / 60)) / 3)
    rows["B"][1] = (None, 25.0)  # type: ignore[assignment]
    (found,) = report(base, cover_of(rows)).analyses  # type: ignore[arg-type]
    assert found.rated_by == "cover"
    (text,) = [warned.text for warned in found.warnings if warned.code == "cover-before-unused"]
    assert text.startswith("1 plot")


def test_the_claim_of_the_headline_follows_the_tests(base: KnowledgeBase) -> None:
    clear = one(base, GOOD)
    assert clear.headline.startswith("B: 86 % control of dandelion 42 days after application, the highest mean")
    assert "better than the other" in clear.headline
    vague = one(base, {"A": [50, 90, 20, 70], "B": [85, 30, 75, 60], "nontreated": [0, 0, 0, 0]})
    assert not vague.protected
    assert "no treatment can be told from another" in vague.headline
    assert {row.letter_lsd for row in vague.means if row.in_analysis} == {"a"}


def test_figures_are_those_of_the_shown_scale(base: KnowledgeBase) -> None:
    rows: Rows = {
        "A": [2.0, 3.0, 1.0, 2.5, 3.5, 1.5],
        "B": [20.0, 70.0, 35.0, 85.0, 50.0, 60.0],
        "C": [97.0, 98.0, 99.0, 98.5, 97.5, 98.0],
    }
    found = one(base, rows, design="crd")
    assert found.transformation.chosen == "arcsine"
    assert found.transformed is not None
    assert found.shown is found.transformed
    assert all(0 <= row.mean <= 100 for row in found.shown.means)
    assert all(row.low is None or row.high is None or 0 <= row.low <= row.high <= 100 for row in found.shown.means)
    # Both scales stand beside each other: the percentages keep their own means.
    assert {row.treatment: row.mean for row in found.means}["A"] == pytest.approx(2.25)


def test_lawns_without_a_check_are_listed_and_not_compared(base: KnowledgeBase) -> None:
    found = report(base, trial_of({"A": [80, 90, 70]}, kind="lawns"))
    assert found.analyses == ()
    (row,) = found.lawns
    assert (row.n, row.mean) == (3, 80)
    assert "weaker evidence" in row.text


def test_intervals_of_means_end_at_0_and_100(base: KnowledgeBase) -> None:
    found = one(base, {"A": [97.0, 99.0, 100.0, 90.0], "B": [2.0, 0.0, 9.0, 1.0]})
    assert found.means[0].high == 100
    assert found.means[1].low == 0


def test_a_check_that_bears_little_weed_is_said(base: KnowledgeBase) -> None:
    def covered(check: float) -> set[str]:
        told = trial_of({"A": [None] * 4, "B": [None] * 4, "nontreated": [None] * 4}).model_dump(mode="json")
        covers = {"A": (1, 2, 1, 3), "B": (4, 3, 2, 4), "nontreated": (check,) * 4}
        for plot in told["plots"]:
            plot["cover_pct"] = covers[plot["treatment"]][int(plot["rep"]) - 1]
        (found,) = report(base, Trial.model_validate(told)).analyses
        return {warned.code for warned in found.warnings}

    assert "sparse-check" in covered(9)
    assert "sparse-check" not in covered(10)
