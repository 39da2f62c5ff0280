"""Pooling trials that agree: tau squared is never below zero, and then random and fixed effects are one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trials.synthesis import pooled


def test_trials_that_agree_are_pooled_as_printed() -> None:
    # Published: Normand 1999, Statistics in Medicine 18:321-359, tables III and VII: 2.94, tau squared 0.
    y = np.array([2.8026, 0.0, 1.9711, 1.7961, 3.5334, 4.4031])
    v = np.array([17.7575, 37.5657, 8.1323, 10.8998, 8.0114, 6.132])
    found = pooled(y, v)
    assert (round(found.mean, 2), found.tau2, found.i2) == (2.94, 0.0, 0.0)
    # Published: its 95 % interval is 0.4 to 5.5, by the normal distribution.
    assert [round(found.mean + side * 1.959964 * found.se, 1) for side in (-1, 1)] == [0.4, 5.5]
    # Computed from the same rows.
    assert found.q == pytest.approx(0.8597, abs=5e-5)


def test_eight_parallel_experiments_are_pooled_as_printed() -> None:
    # Published: eight experiments of Gelman and co-authors, 2013: complete pooling 7.69 with standard error 4.07.
    y = np.array([28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0])
    se = np.array([15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0])
    found = pooled(y, se**2)
    assert (round(found.mean, 2), round(found.se, 2), found.tau2) == (7.69, 4.07, 0.0)


def test_trials_that_say_the_same_are_pooled() -> None:
    found = pooled(np.array([10.0, 10.0]), np.array([4.0, 4.0]))
    assert (found.mean, found.se, found.q, found.tau2) == (10.0, pytest.approx(2**0.5), 0.0, 0.0)


@given(st.lists(st.tuples(st.floats(-100, 100), st.floats(0.01, 400)), min_size=2, max_size=12))
def test_the_mean_lies_among_the_figures_and_no_weight_is_negative(rows: list[tuple[float, float]]) -> None:
    y, v = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    found = pooled(y, v)
    assert min(y) - 1e-6 <= found.mean <= max(y) + 1e-6
    assert found.se > 0
    assert all(found.weights > 0)
    assert found.weights.sum() == pytest.approx(1)
    assert found.tau2 >= 0
    assert 0 <= found.i2 <= 1
