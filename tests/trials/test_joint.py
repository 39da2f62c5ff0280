"""Which treatments are held against Colby's expectation, and in which words."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import pytest

from app.trials.fit import fitted
from app.trials.joint import colby, departure, joints
from app.trials.output import Joint
from app.trials.trial import Treatment
from tests.trials.made import table_of

# [percentage points]
WITHIN = 15
ROWS = {"A": [40, 44, 38, 42], "B": [50, 53, 47, 50], "A + B": [70, 72, 68, 70], "C": [90, 91, 88, 92]}


def treated(name: str, *actives: str, rate: float | None = None, **told: Any) -> Treatment:
    parts = [{"active": a} | ({"rate": {"value": rate, "unit": "lb ae/acre"}} if rate else {}) for a in actives]
    return Treatment.model_validate({"name": name, "actives": parts, **told})


def made(*told: Treatment) -> dict[str, Treatment]:
    return {name: Treatment(name=name) for name in ROWS} | {treatment.name: treatment for treatment in told}


def found(rows: dict[str, Any], *told: Treatment) -> tuple[Joint, ...]:
    return joints(fitted(table_of("rcbd", rows)), made(*told), "dandelion", 0.05, WITHIN)


def test_a_mixture_meets_its_parts() -> None:
    (joint,) = found(ROWS, treated("A", "dicamba"), treated("B", "mcpp"), treated("A + B", "mcpp", "dicamba"))
    assert set(joint.parts) == {"A", "B"}
    assert joint.expected == pytest.approx(41 + 50 - 41 * 50 / 100)
    assert joint.observed == pytest.approx(70)
    assert joint.low < joint.difference < joint.high
    assert joint.word == "additive"


@pytest.mark.parametrize(
    ("mixture", "word"),
    [([95, 96, 94, 97], "synergistic"), ([20, 25, 22, 21], "antagonistic"), ([70, 72, 68, 70], "additive")],
)
def test_words_follow_the_interval(mixture: list[float], word: str) -> None:
    (joint,) = found(
        {**ROWS, "A + B": mixture}, treated("A", "dicamba"), treated("B", "mcpp"), treated("A + B", "mcpp", "dicamba")
    )
    assert joint.word == word
    assert (joint.p < 0.05) == (word != "additive")


def test_an_interval_too_wide_is_not_called_additive() -> None:
    rows = {"A": [10, 70, 30, 60], "B": [80, 20, 50, 40], "A + B": [95, 30, 80, 60], "C": [90, 20, 60, 95]}
    (joint,) = found(rows, treated("A", "dicamba"), treated("B", "mcpp"), treated("A + B", "mcpp", "dicamba"))
    assert joint.word == "not told apart"


@pytest.mark.parametrize(
    "part",
    [
        treated("B", "mcpp", rate=0.5),
        treated("B", "mcpp", adjuvant="mso"),
        treated("B", "mcpp", stages={"dandelion": "flowering"}),
        Treatment.model_validate({"name": "B", "actives": [{"active": "mcpp", "form": "amine"}]}),
    ],
    ids=["rate", "adjuvant", "stage", "form"],
)
def test_a_part_that_differs_is_no_part(part: Treatment) -> None:
    assert found(ROWS, treated("A", "dicamba"), part, treated("A + B", "mcpp", "dicamba")) == ()


def test_no_adjuvant_and_none_told_are_alike() -> None:
    part = treated("B", "mcpp", adjuvant="none")
    assert len(found(ROWS, treated("A", "dicamba"), part, treated("A + B", "mcpp", "dicamba"))) == 1


def test_three_parts_multiply() -> None:
    rows = {**ROWS, "C": [20, 21, 19, 20], "all": [80, 79, 81, 80]}
    told = [
        treated("A", "dicamba"),
        treated("B", "mcpp"),
        treated("C", "24d"),
        treated("all", "24d", "mcpp", "dicamba"),
    ]
    (joint,) = joints(fitted(table_of("rcbd", rows)), made(*told), "dandelion", 0.05, WITHIN)
    assert joint.expected == pytest.approx(colby([41, 50, 20]))


def test_many_single_actives_beside_a_mixture_of_five_take_no_time() -> None:
    # The parts are looked up: trying every five of 190 treatments would never end.
    names = ["a1", "a2", "a3", "a4", "a5", *(f"other-{i}" for i in range(185))]
    rng = np.random.default_rng(3)
    rows = {name: rng.uniform(20, 90, 2).tolist() for name in [*names, "mix"]}
    told = {name: treated(name, name) for name in names} | {"mix": treated("mix", *names[:5])}
    fit = fitted(table_of("rcbd", rows))
    start = time.perf_counter()
    (joint,) = joints(fit, told, "dandelion", 0.05, WITHIN)
    assert time.perf_counter() - start < 10
    assert joint.parts == tuple(names[:5])


def test_the_standard_error_agrees_with_a_simulation() -> None:
    # Monte Carlo with a fixed seed: the delta method is exact but for terms of second order.
    rng = np.random.default_rng(7)
    means, covariance = np.array([60.0, 50.0, 82.0]), np.array([[9.0, 2, 1], [2, 6.0, 1], [1, 1, 4.0]])
    draws = rng.multivariate_normal(means, covariance, 200_000)
    differences = draws[:, 2] - 100 * (1 - (1 - draws[:, 0] / 100) * (1 - draws[:, 1] / 100))
    difference, se = departure(means[:2], float(means[2]), covariance)
    assert difference == pytest.approx(float(differences.mean()), abs=0.05)
    assert se == pytest.approx(float(differences.std()), rel=0.01)
