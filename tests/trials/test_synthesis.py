"""Several trials of one question: which are taken, how they are pooled, and what is said of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from scipy import stats

from app.engine.errors import InputError
from app.trials.output import Synthesis
from app.trials.synthesis import synthesis
from app.trials.trial import Trial
from knowledge.base import KnowledgeBase

RATE = {"value": 1.0, "unit": "lb ae/acre"}
ROWS = {"triclopyr": (80, 84, 78, 90), "2,4-D": (60, 66, 55, 71), "nontreated": (0, 0, 0, 0)}
ACTIVES = {"triclopyr": "triclopyr", "2,4-D": "2-4-d"}


def _trial(
    name: str, shift: float = 0.0, rows: dict[str, Sequence[float]] | None = None, days: int = 28, **told: Any
) -> Trial:
    used = (
        rows if rows is not None else {k: [v + shift if k != "nontreated" else v for v in r] for k, r in ROWS.items()}
    )
    plots = [
        {"weed": "dandelion", "days_after": days, "treatment": t, "rep": str(rep), "control_pct": value}
        for t, values in used.items()
        for rep, value in enumerate(values, 1)
    ]
    treatments = [
        {
            "name": t,
            "actives": [{"active": ACTIVES[t], "rate": RATE}] if t in ACTIVES else [],
            "stages": {"dandelion": "vegetative"},
        }
        for t in used
    ]
    return Trial.model_validate({"name": name, "place": name, "treatments": treatments, "plots": plots, **told})


def _codes(found: Synthesis) -> set[str]:
    return {warned.code for warned in found.warnings}


def test_differences_are_pooled_with_the_interval_of_hartung_and_knapp(base: KnowledgeBase) -> None:
    trials = [_trial("one"), _trial("two", -8, {"triclopyr": (85, 91, 88, 80), "2,4-D": (75, 70, 84, 72)}),
              _trial("three", 0, {"triclopyr": (70, 60, 66, 75), "2,4-D": (66, 61, 58, 70)})]  # fmt: skip
    found = synthesis(base, trials, "dandelion", "triclopyr", "2,4-D", 28)
    # Source: formulas of DerSimonian and Laird, and of Hartung and Knapp (from memory), by numpy and scipy.
    y = np.array([e.estimate for e in found.effects])
    v = np.array([e.se**2 for e in found.effects])
    w = 1 / v
    q = float((w * (y - (w * y).sum() / w.sum()) ** 2).sum())
    tau2 = max(0.0, (q - 2) / float(w.sum() - (w**2).sum() / w.sum()))
    r = 1 / (v + tau2)
    mean = float((r * y).sum() / r.sum())
    se = math.sqrt(max(float((r * (y - mean) ** 2).sum()) / 2, 1.0) / float(r.sum()))
    reach = float(stats.t.ppf(0.975, 2)) * se
    assert (found.estimate, found.tau2, found.q) == pytest.approx((mean, tau2, q))
    assert (found.low, found.high) == pytest.approx((mean - reach, mean + reach))
    beyond = float(stats.t.ppf(0.975, 1)) * math.sqrt(tau2 + se**2)
    assert (found.expect_low, found.expect_high) == pytest.approx((max(mean - beyond, -100), min(mean + beyond, 100)))
    assert sum(e.weight_pct for e in found.effects) == pytest.approx(100)
    assert "Over 3 trials" in found.text


def test_a_trial_whose_plots_agree_wholly_still_counts(base: KnowledgeBase) -> None:
    full = _trial("full", rows={"triclopyr": (100, 100, 100, 100), "2,4-D": (60, 60, 60, 60)})
    found = synthesis(base, [_trial("one"), full], "dandelion", "triclopyr")
    effect = next(e for e in found.effects if e.trial == "full")
    assert effect.estimate == 100
    # Ratings in steps of 5 hide a spread of 5 / sqrt(12) a plot.
    assert effect.se == pytest.approx(5 / math.sqrt(12 * 4))
    assert found.high <= 100


def test_a_treatment_counts_by_what_it_is_made_of(base: KnowledgeBase) -> None:
    renamed = _trial("two").model_dump(mode="json")
    for part in (*renamed["treatments"], *renamed["plots"]):
        key = "name" if "name" in part else "treatment"
        part[key] = part[key].replace("triclopyr", "the second strip")
    found = synthesis(base, [_trial("one"), Trial.model_validate(renamed)], "dandelion", "triclopyr")
    assert len(found.effects) == 2
    renamed["treatments"][0]["applications"] = 2
    with pytest.raises(InputError, match="1 of the 2 trials kept can tell control by triclopyr of dandelion"):
        synthesis(base, [_trial("one"), Trial.model_validate(renamed)], "dandelion", "triclopyr")


def test_the_date_nearest_to_the_one_asked_is_taken_within_bounds(base: KnowledgeBase) -> None:
    trials = [_trial("one"), _trial("late", days=56), _trial("later", days=57)]
    found = synthesis(base, trials, "dandelion", "triclopyr", days_after=28)
    assert [e.days_after for e in found.effects] == [28, 56]
    assert "different-dates" in _codes(found)


def test_lawns_and_other_weeds_do_not_count(base: KnowledgeBase) -> None:
    lawns = _trial("lawns", kind="lawns")
    with pytest.raises(InputError, match="two are needed"):
        synthesis(base, [_trial("one"), lawns], "dandelion", "triclopyr")
    with pytest.raises(InputError, match="two are needed"):
        synthesis(base, [_trial("one"), _trial("two")], "henbit", "triclopyr")


def test_against_the_check_is_control(base: KnowledgeBase) -> None:
    trials = [_trial("one"), _trial("two", 3)]
    told = synthesis(base, trials, "dandelion", "triclopyr", "nontreated")
    assert told == synthesis(base, trials, "dandelion", "triclopyr")
    assert told.question == "control by triclopyr"


def test_what_weakens_it_is_said(base: KnowledgeBase) -> None:
    far = _trial("two", rows={"triclopyr": (30, 34, 28, 31), "2,4-D": (60, 66, 55, 71)}).model_dump(mode="json")
    far["treatments"][0]["stages"] = {"dandelion": "flowering"}
    same_place = {"place": "Ouzelby", "applied": "2026-05-01"}
    trials = [_trial("one", **same_place), Trial.model_validate({**far, **same_place})]
    found = synthesis(base, trials, "dandelion", "triclopyr")
    assert _codes(found) == {"few-trials", "heterogeneous", "one-place", "one-year", "different-stages"}
    apart = [_trial(f"t{i}", i / 2, place=f"p{i}", applied=f"20{20 + i}-05-01") for i in range(5)]
    assert _codes(synthesis(base, apart, "dandelion", "triclopyr")) == set()


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"alpha": 0.7}, "alpha"),
        ({"days_after": 0}, "days_after"),
        ({"against": "Triclopyr"}, "against"),
        ({"against": "water"}, "treatment"),
    ],
)
def test_what_cannot_be_asked_is_refused(base: KnowledgeBase, told: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as refused:
        synthesis(base, [_trial("one"), _trial("two")], "dandelion", "triclopyr", **told)
    assert refused.value.faults[0].path == field
