"""What a trial says to the advice."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from statsmodels.regression.linear_model import OLS

from app.engine.house import Observed
from app.trials.evidence import log_odds, observations, silent
from app.trials.trial import Trial
from knowledge.base import KnowledgeBase

RATE = {"value": 1.0, "unit": "lb ae/acre"}
CONTROL = {"2,4-D": (90, 85, 95, 88), "triclopyr": (40, 55, 50, 45), "nontreated": (0, 0, 0, 0)}


def _trial(control: dict[str, tuple[float | None, ...]] | None = None, **changes: Any) -> Trial:
    told = control if control is not None else dict(CONTROL)
    actives = {"2,4-D": "2-4-d", "triclopyr": "triclopyr"}
    treatments = [
        {
            "name": name,
            "actives": [{"active": actives[name], "rate": RATE}] if name in actives else [],
            "stages": {"dandelion": "vegetative"},
        }
        for name in told
    ]
    plots = [
        {"weed": "dandelion", "days_after": 28, "treatment": name, "rep": str(rep), "control_pct": value}
        for name, values in told.items()
        for rep, value in enumerate(values, start=1)
    ]
    return Trial.model_validate({"name": "made", "treatments": treatments, "plots": plots, **changes})


def _of(found: tuple[Observed, ...], treatment: str) -> Observed:
    return next(item for item in found if item.treatment == treatment)


def test_each_treatment_is_fitted_on_the_log_odds_without_the_constant_check(base: KnowledgeBase) -> None:
    found = observations(base, _trial())
    assert [item.treatment for item in found] == ["2,4-D", "triclopyr"]
    # Source: statsmodels' OLS on the same plots, blocks with effects that sum to zero.
    y = np.log(np.array([*CONTROL["2,4-D"], *CONTROL["triclopyr"]]) + 2.5)
    y -= np.log(102.5 - np.array([*CONTROL["2,4-D"], *CONTROL["triclopyr"]]))
    blocks = np.vstack([np.eye(3), -np.ones((1, 3))])
    design = np.hstack([np.kron(np.eye(2), np.ones((4, 1))), np.vstack([blocks, blocks])])
    fit = OLS(y, design).fit()
    assert [item.log_odds for item in found] == pytest.approx(list(fit.params[:2]), abs=1e-8)
    least = base.parameter("evidence-plot-sd") ** 2 / 4
    expected = [max(least, float(v)) for v in np.diag(fit.cov_params())[:2]]
    assert [item.variance for item in found] == pytest.approx(expected, abs=1e-8)
    assert _of(found, "2,4-D").control_pct == pytest.approx(89.5)
    assert {item.n for item in found} == {4}


def test_ratings_of_100_stay_finite_and_say_little_more_than_97(base: KnowledgeBase) -> None:
    found = observations(base, _trial({"2,4-D": (100, 100, 100, 100), "triclopyr": (40, 55, 50, 45)}))
    full = _of(found, "2,4-D")
    assert full.log_odds == pytest.approx(math.log(102.5 / 2.5))
    assert full.control_pct == 100
    assert full.variance >= base.parameter("evidence-plot-sd") ** 2 / 4
    assert log_odds(np.array([97.5]), 5)[0] < full.log_odds < log_odds(np.array([100.0]), 4)[0]


def test_lawns_have_their_own_spread(base: KnowledgeBase) -> None:
    lawns = _trial({"2,4-D": (90, 60, 95)}, kind="lawns")
    (found,) = observations(base, lawns)
    own = log_odds(np.array([90.0, 60.0, 95.0]), 5)
    assert (found.kind, found.n) == ("lawns", 3)
    assert found.variance == pytest.approx(own.var(ddof=1) / 3)
    (single,) = observations(base, _trial({"2,4-D": (90,)}, kind="lawns"))
    assert single.variance == pytest.approx(base.parameter("evidence-plot-sd") ** 2)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"actives": []}, "what it is made of is not told"),
        ({"actives": [{"active": "2-4-d"}]}, "its rate is not told"),
        ({"applications": 2}, "sprayed 2 times"),
        ({"stages": {}}, "the stage of the weed is not told"),
        (
            {"actives": [{"active": "2-4-d", "rate": RATE}, {"active": "triclopyr", "rate": RATE}]},
            "a mixture",
        ),
    ],
)
def test_what_is_not_told_says_nothing_and_why(base: KnowledgeBase, changes: dict[str, Any], why: str) -> None:
    told = _trial().model_dump(mode="json")
    told["treatments"][0] |= changes
    trial = Trial.model_validate(told)
    assert [item.treatment for item in observations(base, trial)] == ["triclopyr"]
    (quiet,) = silent(base, trial)
    assert quiet.treatment == "2,4-D"
    assert why in quiet.why


def test_a_weed_that_is_not_known_moves_nothing(base: KnowledgeBase) -> None:
    text = _trial().model_dump_json().replace('"dandelion"', '"creeping nothing"')
    trial = Trial.model_validate_json(text)
    assert observations(base, trial) == ()
    assert {item.why for item in silent(base, trial)} == {"the knowledge base does not hold this weed"}


def test_a_fitted_mean_never_lies_beyond_what_can_be_rated(base: KnowledgeBase) -> None:
    told: dict[str, tuple[float | None, ...]] = {"2,4-D": (None, None, 100, 100), "triclopyr": (100, 100, 0, 0)}
    found = observations(base, _trial(told))
    end = math.log(102.5 / 2.5)
    assert max(abs(item.log_odds) for item in found) <= end + 1e-12
    assert all(0 < item.variance <= 1e4 for item in found)
