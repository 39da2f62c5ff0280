"""What the analysis says of the demo trials, held against what their simulator states as true."""

from __future__ import annotations

from functools import cache

import pytest

from app.services.knowledge_service import knowledge_base
from app.services.trial_csv import read_trials
from app.trials.analysis import report
from app.trials.output import TrialReport
from demo_data.trial_simulator import FOLDER, TRIALS, Trial

by_trial = pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.file)


@cache
def analysed(file: str) -> TrialReport:
    """The report of a file that reads without a fault, a guess or an ignored column."""
    read = read_trials((FOLDER / file).read_text(encoding="utf-8"))
    assert not read.faults
    assert not read.guessed
    assert not read.ignored
    (trial,) = read.trials
    return report(knowledge_base(), trial)


@by_trial
def test_each_trial_is_analysed_as_it_was_laid_out(trial: Trial) -> None:
    answer = analysed(trial.file)
    assert answer.trial == trial.name
    assert [(a.weed, a.days_after) for a in answer.analyses] == [(w, d) for w in trial.stages for d in trial.dates]
    for analysis in answer.analyses:
        assert analysis.design == ("crd" if trial.randomised else "rcbd")
        assert analysis.rated_by == ("control" if trial.cover is None else "cover-and-before")
        if trial.replicates == 3:
            assert "few-replicates" in {warned.code for warned in analysis.warnings}


def test_the_lost_plot_is_named() -> None:
    missing = [
        (a.days_after, [(m.treatment, m.rep) for m in a.missing]) for a in analysed("yellow-nutsedge.csv").analyses
    ]
    assert missing == [(14, []), (28, []), (42, [("halosulfuron-methyl + NIS", "3")])]


@pytest.mark.parametrize(("number", "ed50"), [(0, 0.35), (1, 0.45)])
def test_the_dose_curve_finds_the_rate_that_the_simulator_states(number: int, ed50: float) -> None:
    # The curves of the simulator: invented; the interval is of 95 %.
    (curve,) = analysed("rate-series.csv").analyses[number].dose_curves
    assert curve.fitted
    half = next(effective for effective in curve.effective if effective.share_pct == 50)
    assert half.low is not None
    assert half.high is not None
    assert half.low < ed50 < half.high


def test_every_mixture_has_its_expectation() -> None:
    for analysis in analysed("dandelion-clover.csv").analyses:
        assert {joint.mixture for joint in analysis.mixtures} == {
            "2,4-D + quinclorac",
            "2,4-D + triclopyr",
            "2,4-D + triclopyr + quinclorac",
        }


def test_one_to_three_tillers_is_the_hard_stage_without_oil() -> None:
    # Quinclorac works on young crabgrass and again on many-tillered plants; oil lifts it most in between:
    # common practice, no source.
    for analysis in analysed("crabgrass-stage.csv").analyses:
        means = {row.treatment: row.mean for row in analysis.means}
        alone = {stage: means[f"quinclorac, {stage}"] for stage in ("1-3 leaves", "1-3 tillers", "multi-tiller")}
        lift = {stage: means[f"quinclorac, {stage}, MSO"] - mean for stage, mean in alone.items()}
        assert min(alone, key=alone.__getitem__) == "1-3 tillers"
        assert max(lift, key=lift.__getitem__) == "1-3 tillers"
