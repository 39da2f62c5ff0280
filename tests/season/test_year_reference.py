"""The second reckoning of a year against itself: a year by hand, and every choice against another solver."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.season.year_reference import Instance, best_of_all, broken, control, greedy, measure, random_instance
from tests.season.year_second import best_by_cbc


def by_hand() -> Instance:
    """Two units, three candidates of two mechanisms on two dates, nothing that binds."""
    gone = np.zeros((2, 2, 3))
    gone[0, 0, 0], gone[0, 0, 1], gone[0, 1, 2], gone[1, 1, 2] = np.log(4), np.log(2), np.log(2), np.log(10)
    return Instance(
        weight=np.asarray([60.0, 40.0]),
        gone=gone,
        mechanism=np.asarray([[True, True, False], [False, False, True]]),
        alike=np.asarray([[0.5, 0.5], [0.5, 0.5]]),
        pain=np.full(3, 0.3),
        date=np.asarray([0, 1, 1]),
        days=np.asarray([100, 150]),
        most_dates=None,
        least_gap=28,
        products=3,
        rate=np.eye(3),
        ceiling=np.full(3, 9.0),
        most_times=np.full(3, 9.0),
        interval=np.zeros(3),
        apart=frozenset(),
        most_visits=np.full(2, 9.0),
        not_in_a_row=frozenset(),
        money=np.ones(3),
        budget=99.0,
    )


def test_a_year_by_hand() -> None:
    # By hand: survivors 1/4 and 1/2 of one mechanism, half alike, leave sqrt(1/8 * 1/4); the other mechanism halves
    # them: 1 - 0.17678 / 2. The second unit keeps one in ten.
    told = by_hand()
    assert control(told, (0, 1, 2)) == pytest.approx([1 - (1 / 32) ** 0.5 / 2, 0.9])
    assert measure(told, (0, 1, 2)) == pytest.approx(60 * 0.911612 + 36 - 0.9, abs=1e-4)
    assert best_of_all(told) == (pytest.approx(measure(told, (0, 1, 2))), (0, 1, 2))


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"products": 1}, "products"),
        ({"most_dates": 1}, "dates"),
        ({"most_dates": 2, "least_gap": 60}, "gap"),
        ({"apart": frozenset({(1, 2)})}, "apart"),
        ({"rate": np.ones((1, 3)), "ceiling": np.asarray([2.5])}, "ceiling"),
        ({"rate": np.ones((1, 3)), "ceiling": np.full(1, 9.0), "most_times": np.ones(1)}, "times"),
        ({"rate": np.ones((1, 3)), "ceiling": np.full(1, 9.0), "interval": np.full(1, 51.0)}, "interval"),
        ({"most_visits": np.asarray([1.0, 9.0])}, "mechanism"),
        ({"budget": 2.5}, "budget"),
        ({"never": frozenset({2})}, "locks"),
    ],
)
def test_each_limit_binds_by_itself(changes: dict[str, object], name: str) -> None:
    told = replace(by_hand(), **changes)  # type: ignore[arg-type]
    assert name in set(broken(told, (0, 1, 2)))
    assert not set(broken(by_hand(), (0, 1, 2)))


def test_one_mechanism_alone_on_two_visits_running() -> None:
    told = replace(by_hand(), not_in_a_row=frozenset({0}))
    assert set(broken(told, (0, 1))) == {"in a row"}
    # Another mechanism beside it on one of the two is enough.
    assert not set(broken(told, (0, 1, 2)))


@pytest.mark.parametrize("seed", range(10))
def test_another_solver_finds_what_trying_everything_finds(seed: int) -> None:
    # Computed by trying every choice, and with CBC.
    told = random_instance(seed, 3, 4, 4, free_dates=bool(seed % 2))
    every, (reached, bound, chosen) = best_of_all(told), best_by_cbc(told, 1e-6)
    assert every is not None
    assert not set(broken(told, chosen))
    assert reached == pytest.approx(every[0], abs=2e-6)
    assert bound >= every[0] - 1e-6
    assert greedy(told)[0] <= every[0] + 1e-9
