"""Intervals hold what is true as often as they say: simulations with a fixed seed.

Of `RUNS` intervals of 95 % the number that holds the truth is binomial; the limits leave 0.1 % on each side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from scipy.stats import binom

from app.trials.curve import fit_curve, log_logistic
from app.trials.fit import Table, fitted
from app.trials.joint import colby, joints
from app.trials.separation import t_critical
from app.trials.trial import Design, Treatment

RUNS = 800
LEAST, MOST = (int(x) for x in binom.ppf([0.001, 0.999], RUNS, 0.95))
TRUTH = {"A": 30.0, "B": 55.0, "A + B": 68.5, "C": 90.0}
PLOTS = [(name, str(block)) for name in TRUTH for block in range(4)]


def drawn(rng: np.random.Generator, design: Design, lost: Sequence[tuple[str, str]]) -> Table:
    """A trial of four treatments in four blocks: blocks spread by 8 points and plots by 6."""
    kept = [cell for cell in PLOTS if cell not in lost]
    # Without blocks what differs between them is not drawn either.
    block = rng.normal(0, 8 if design == "rcbd" else 0, 4)
    values = np.array([TRUTH[name] + block[int(rep)] + rng.normal(0, 6) for name, rep in kept])
    return Table(design, tuple(name for name, _ in kept), tuple(rep for _, rep in kept), values)


@pytest.mark.parametrize("design", ["rcbd", "crd"])
@pytest.mark.parametrize("lost", [(), (("B", "2"),)], ids=["whole", "a-plot-lost"])
def test_the_interval_of_a_difference(design: Design, lost: tuple[tuple[str, str], ...]) -> None:
    rng = np.random.default_rng(20240611)
    held = 0
    for _ in range(RUNS):
        fit = fitted(drawn(rng, design, lost))
        a, b = fit.table.names.index("A"), fit.table.names.index("B")
        covariance = fit.covariance
        sed = math.sqrt(covariance[a, a] + covariance[b, b] - 2 * covariance[a, b])
        reach = t_critical(0.05, fit.df) * sed
        held += abs(fit.means[b] - fit.means[a] - (TRUTH["B"] - TRUTH["A"])) <= reach
    assert LEAST <= held <= MOST


def test_the_interval_of_the_departure_from_colby() -> None:
    # True is independent action: 30 % and 55 % alone make 68.5 % together.
    assert colby([TRUTH["A"], TRUTH["B"]]) == pytest.approx(TRUTH["A + B"])
    parts = {"A": ["dicamba"], "B": ["mcpp"], "A + B": ["dicamba", "mcpp"], "C": []}
    treatments = {
        name: Treatment.model_validate({"name": name, "actives": [{"active": active} for active in actives]})
        for name, actives in parts.items()
    }
    rng = np.random.default_rng(20240612)
    held = wrong = 0
    for _ in range(RUNS):
        (joint,) = joints(fitted(drawn(rng, "rcbd", ())), treatments, "dandelion", 0.05, additive_within=15)
        held += joint.low <= 0 <= joint.high
        wrong += joint.word in ("synergistic", "antagonistic")
    assert LEAST <= held <= MOST
    assert wrong == RUNS - held


@pytest.mark.parametrize("known", [True, False], ids=["lower-limit-known", "lower-limit-fitted"])
def test_the_interval_of_ed50_and_ed90(known: bool) -> None:
    # Five rates and an untreated one, four plots each, plots spread by 5 points; untreated plots are zero by what they
    # are, or bear an error like any other.
    runs = 300
    least, most = (int(x) for x in binom.ppf([0.001, 0.999], runs, 0.95))
    rates = np.repeat([0.0, 0.125, 0.25, 0.5, 1.0, 2.0], 4)
    truth = log_logistic(rates, -2.0, 0.0, 95.0, math.log(0.4))
    rng = np.random.default_rng(20240613)
    used = rates > 0 if known else np.full(len(rates), True)
    held = {50.0: 0, 90.0: 0}
    for _ in range(runs):
        value = truth + rng.normal(0, 5, len(rates))
        curve = fit_curve(rates[used], value[used], lower=0.0 if known else None)
        for share in held:
            _, low, high = curve.effective(share, 0.05)
            held[share] += low <= 0.4 * (share / (100 - share)) ** (1 / 2.0) <= high
    assert least <= held[50.0] <= most
    assert least <= held[90.0] <= most
