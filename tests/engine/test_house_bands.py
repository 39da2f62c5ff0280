"""What bands of records that trials have moved must hold to, whatever the trials say."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from app.engine.control import band_sd
from app.engine.house import Observed, between_sites, between_trials, percent, with_evidence
from app.engine.house_records import Move, moves_of
from knowledge.base import KnowledgeBase
from knowledge.models import Weed
from tests.engine.made import fact
from tests.engine.test_house import _one, _seen, _weed

BANDS = [[50, 70, 85], [60, 65, 70], [5, 50, 95], [88, 94, 98], [1, 5, 20]]
# The ends of the log-odds of ratings in steps of 5, and figures brought a little beyond them.
LOG_ODDS = st.floats(-4.5, 4.5)
TRIALS = st.lists(st.tuples(LOG_ODDS, st.floats(0.02, 9), st.sampled_from(["plots", "lawns"])), min_size=1, max_size=9)


def _all(told: list[tuple[float, float, str]]) -> list[Observed]:
    return [_seen(trial=f"t{i}", log_odds=y, variance=v, kind=kind) for i, (y, v, kind) in enumerate(told)]


@settings(deadline=None)
@given(st.sampled_from(BANDS), TRIALS)
def test_a_band_stays_inside_and_in_order(base: KnowledgeBase, band: list[int], told: list[tuple[Any, ...]]) -> None:
    for record in ({"band": band}, {"active": "triclopyr"}):
        low, likely, high = _one(_weed(base, record), *_all(told)).response.band
        assert 0 < low < likely < high < 100


@settings(deadline=None)
@given(st.sampled_from(BANDS), TRIALS, st.integers(0, 8), st.floats(0, 4))
def test_a_better_trial_never_lowers_what_is_likely(
    base: KnowledgeBase, band: list[int], told: list[tuple[float, float, str]], which: int, better: float
) -> None:
    made, which = _weed(base, {"band": band}), which % len(told)
    y, v, kind = told[which]
    risen = [*told[:which], (y + better, v, kind), *told[which + 1 :]]
    before, after = (_one(made, *_all(t)).response.band[1] for t in (told, risen))
    assert after >= before - 1e-9


@settings(deadline=None)
@given(st.sampled_from(BANDS), TRIALS, st.integers(2, 8))
def test_more_plots_never_weaken_a_trial(
    base: KnowledgeBase, band: list[int], told: list[tuple[float, float, str]], times: int
) -> None:
    made, (y, v, kind) = _weed(base, {"band": band}), told[0]
    more = [(y, v / times, kind), *told[1:]]
    before, after = (_one(made, *_all(t)).shrunk.weights[1] for t in (told, more))
    assert after > before


@settings(deadline=None)
@given(TRIALS, st.randoms(use_true_random=False))
def test_the_order_of_the_trials_changes_no_byte(
    base: KnowledgeBase, told: list[tuple[float, float, str]], shuffled: Any
) -> None:
    seen = _all(told)
    other = list(seen)
    shuffled.shuffle(other)
    for record in ({}, {"active": "triclopyr"}):
        made = _weed(base, record)
        one, two = (with_evidence(made, s).weeds["dandelion"].model_dump_json() for s in (seen, other))
        assert one == two


@pytest.mark.parametrize("log_odds", [3.714, 2.2, -3.714])
def test_trials_that_agree_draw_the_record_to_their_figure(base: KnowledgeBase, log_odds: float) -> None:
    made = _weed(base, {})
    moves = [_one(made, *_all([(log_odds, 0.03, "plots")] * count)) for count in (1, 2, 5, 30, 300)]
    off = [abs(move.shrunk.mean - log_odds) for move in moves]
    assert all(later < earlier for earlier, later in pairwise(off))
    assert off[-1] < 0.03 * off[0] + 0.02
    # However well a handful of them agree, another site may differ.
    assert _width(moves[2]) > 0.6 * _width(moves[1])


def _width(move: Move) -> float:
    low, _, high = move.response.band
    return band_sd(low / 100, high / 100)


@pytest.mark.parametrize("count", [1, 2, 4, 5, 6, 10, 30])
def test_a_new_site_falls_into_the_band_four_times_in_five(base: KnowledgeBase, count: int) -> None:
    # Source: the model itself, drawn with a fixed seed; 0.8 within what estimating the spread costs.
    made = _weed(base, {})
    prior = made.weeds["dandelion"].responses[0]
    half = band_sd(prior.band[0] / 100, prior.band[2] / 100) ** 2 / 2
    rng, draws, inside = np.random.default_rng(20270), 1000, 0
    for _ in range(draws):
        middle = rng.normal(math.log(0.7 / 0.3), math.sqrt(half))
        seen = np.clip(rng.normal(middle, math.sqrt(half + 0.05), count), -11, 11)
        low, _, high = _one(made, *_all([(float(y), 0.05, "plots") for y in seen])).response.band
        inside += low < percent(rng.normal(middle, math.sqrt(half))) < high
    assert 0.74 < inside / draws < 0.84


def test_differences_between_sites_are_the_recorded_ones_until_trials_tell() -> None:
    y, v = np.array([1.0, 2.0, 4.0]), np.array([0.1, 0.2, 0.1])
    assert between_sites(0.3, 5, y[:1], v[:1]) == 0.3
    # By hand: five trials' worth of the recorded variance and two degrees of freedom of the trials.
    assert between_sites(0.3, 5, y, v) == pytest.approx((5 * 0.3 + 2 * between_trials(y, v)) / 7)
    assert between_sites(0.3, 5, np.full(4, 2.0), np.full(4, 0.1)) == pytest.approx(0.3 * 5 / 8)


def test_a_rate_series_of_an_unrecorded_pair_rests_on_its_middle_rate(base: KnowledgeBase) -> None:
    made = _weed(base, {"active": "triclopyr"})
    slope = made.actives["2-4-d"].slope
    steep = slope.likely if slope is not None else made.parameter("slope-default")
    rates = (0.25, 0.5, 1.0, 2.0)
    series = [
        _seen(treatment=f"at {r}", rate={"value": r, "unit": "lb ae/acre"}, log_odds=1.5 + steep * math.log(r))
        for r in rates
    ]
    (move,), unused = moves_of(made, made.weeds["dandelion"], series)
    assert str(move.response.rate) == "1 lb ae/acre"
    # The series lies on the curve of the active, so that each rate says the same of the middle one.
    assert move.response.band[1] == pytest.approx(percent(1.5))
    assert [item.observed.treatment for item in unused] == ["at 0.25"]
    assert "lies too far from the trials' usual 1 lb" in unused[0].why


def test_dates_of_an_unrecorded_pair_are_brought_to_one(base: KnowledgeBase) -> None:
    made = _weed(base, {"active": "triclopyr"})
    early = _seen(days_after=14, log_odds=0.5)
    late = _seen(trial="two", days_after=21, log_odds=2.0)
    (move,), unused = moves_of(made, made.weeds["dandelion"], [early, late])
    assert not unused
    by_name = {trial.used[0].observed.trial: trial for trial in move.trials}
    day = move.response.days
    assert by_name["one" if day == 14 else "two"].log_odds == pytest.approx(0.5 if day == 14 else 2.0)
    assert by_name["two"].log_odds < 2.0 if day == 14 else by_name["one"].log_odds > 0.5


def test_the_season_of_an_unrecorded_pair_counts_once(base: KnowledgeBase) -> None:
    told = _weed(base, {"active": "triclopyr"}).weeds["dandelion"].model_dump(by_alias=True)
    good = fact(seasons=["early-autumn"], movement=[base.actives["2-4-d"].movement], shift=0.8, sd=0.2)
    weed = Weed.model_validate({**told, "season_shifts": [good]})
    made = replace(base, weeds={**base.weeds, "dandelion": weed}, shifts={})
    move = _one(made, _seen(season="early-autumn"))
    assert move.response.band[1] == pytest.approx(percent(2.2 - 0.8))


def test_a_trial_moves_the_record_of_its_own_adjuvant(base: KnowledgeBase) -> None:
    made = _weed(
        base,
        {"active": "quinclorac", "rate": "0.75 lb ai/acre"},
        {"active": "quinclorac", "rate": "0.75 lb ai/acre", "adjuvant": "mso", "band": [70, 85, 95]},
    )
    told = {"active": "quinclorac", "rate": {"value": 0.75, "unit": "lb ai/acre"}, "adjuvant": "mso"}
    move = _one(made, _seen(**told))
    assert (move.index, move.beside) == (1, False)
    learned = with_evidence(made, [_seen(**told)]).weeds["dandelion"].responses
    at_stage = [r for r in learned if "vegetative" in r.stages or not r.stages]
    assert sorted(r.adjuvant for r in at_stage) == ["mso", "none"]


@pytest.mark.parametrize(
    "told",
    [
        {"log_odds": math.nan},
        {"log_odds": math.inf},
        {"log_odds": 1e300},
        {"variance": 0},
        {"variance": 5e-324},
        {"variance": 1e300},
        {"variance": math.nan},
        {"control_pct": 101},
        {"n": 0},
        {"n": 10**30},
        {"year": 10**30},
        {"days_after": 0},
        {"days_after": 731},
        {"rate": {"value": math.inf, "unit": "lb ae/acre"}},
        {"adjuvant": "no-such-adjuvant"},
        {"stage": "x" * 41},
        {"kind": "guess"},
    ],
)
def test_figures_that_no_plots_give_are_refused(told: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        _seen(**told)


@settings(deadline=None)
@given(st.floats(-12, 12), st.floats(1e-6, 1e4), st.sampled_from(BANDS))
def test_the_wildest_figure_that_is_taken_gives_a_band(
    base: KnowledgeBase, log_odds: float, variance: float, band: list[int]
) -> None:
    for record in ({"band": band}, {"active": "triclopyr"}):
        low, likely, high = _one(_weed(base, record), _seen(log_odds=log_odds, variance=variance)).response.band
        assert 0 < low < likely < high < 100
