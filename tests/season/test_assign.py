"""The choice of tanks against trying every choice."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from app.season.assign import assign

BARRED = 40


def every_choice(loss: np.ndarray, cost: np.ndarray, at_most: int) -> tuple[int, float, int, float]:
    """The best of all choices by trying each: unserved, loss, tanks filled, cost."""
    found = [(int(np.isnan(loss).all(axis=1).sum()) + 0, 0.0, 0, 0.0)] if np.isnan(loss).all() else []
    for size in range(1, at_most + 1):
        for chosen in combinations(range(loss.shape[1]), size):
            unserved, lost, spent = 0, 0.0, 0.0
            for stop in range(len(loss)):
                pairs = [(loss[stop, t], cost[stop, t]) for t in chosen if np.isfinite(loss[stop, t])]
                best = min(pairs, default=None)
                unserved += best is None
                lost, spent = lost + (best[0] if best else 0), spent + (best[1] if best else 0)
            found.append((unserved, lost, size, round(spent, 6)))
    return min(found)


def rounds() -> st.SearchStrategy[tuple[np.ndarray, np.ndarray, int]]:
    """Small rounds: losses of which some are barred, costs, and how many tanks."""

    def of(shape: tuple[int, int]) -> st.SearchStrategy[tuple[np.ndarray, np.ndarray, int]]:
        losses = arrays(
            np.float64, shape, elements=st.integers(0, 60).map(lambda n: np.nan if n > BARRED else float(n))
        )
        costs = arrays(np.float64, shape, elements=st.integers(0, 8).map(lambda n: n / 2))
        return st.tuples(losses, costs, st.integers(1, 3))

    return st.tuples(st.integers(1, 6), st.integers(1, 7)).flatmap(of)


@settings(max_examples=50, derandomize=True)
@given(rounds())
def test_no_choice_is_better(told: tuple[np.ndarray, np.ndarray, int]) -> None:
    # Computed by trying every choice of tanks.
    loss, cost, at_most = told
    found = assign(loss, cost, at_most)
    unserved, lost, filled, spent = every_choice(loss, cost, at_most)
    assert found.proven
    assert (len(loss) - found.served, found.loss, len(found.tanks)) == (unserved, lost, filled)
    assert found.cost == pytest.approx(spent)
    assert found.bound == pytest.approx(lost)
    assert found.gap == pytest.approx(0, abs=1e-6)


@settings(max_examples=50, derandomize=True)
@given(rounds())
def test_no_stop_gets_a_tank_that_is_barred_there(told: tuple[np.ndarray, np.ndarray, int]) -> None:
    loss, cost, at_most = told
    found = assign(loss, cost, at_most)
    assert len(found.tanks) <= at_most
    for stop, tank in enumerate(found.of):
        if tank is None:
            assert not np.isfinite(loss[stop, list(found.tanks)]).any()
        else:
            assert np.isfinite(loss[stop, tank])
            assert tank in found.tanks


def test_more_tanks_never_give_up_more() -> None:
    rng = np.random.default_rng(4)
    loss = np.where(rng.random((12, 25)) < 0.3, np.nan, np.round(rng.random((12, 25)) * 50))
    cost = rng.random((12, 25))
    found = [assign(loss, cost, count) for count in range(1, 5)]
    assert all(a.served <= b.served for a, b in pairwise(found))
    assert all(a.loss >= b.loss for a, b in pairwise(found) if a.served == b.served)
    assert all(one.proven for one in found)


def test_what_no_best_choice_serves_is_left_out() -> None:
    # With one tank the third stop is served by none: its own tank would leave the two others.
    loss = np.asarray([[0.0, np.nan], [0.0, np.nan], [np.nan, 0.0]])
    found = assign(loss, np.ones_like(loss), 1)
    assert (found.of, found.served, found.proven) == ((0, 0, None), 2, True)


def test_serving_all_counts_more_than_what_is_given_up() -> None:
    # The first tank serves two stops without loss, the second all three at a loss of 40 points each.
    loss = np.asarray([[0.0, 40.0], [0.0, 40.0], [np.nan, 40.0]])
    cost = np.ones_like(loss)
    assert assign(loss, cost, 1).of == (1, 1, 1)
    assert assign(loss, cost, 2).of == (0, 0, 1)


def test_a_second_tank_is_filled_only_where_it_gives_something() -> None:
    loss = np.asarray([[0.0, 0.0, 5.0], [0.0, 9.0, 0.0]])
    cost = np.asarray([[9.0, 1.0, 1.0], [9.0, 1.0, 1.0]])
    # The first alone gives up nothing, so money is not saved by a second tank.
    assert assign(loss, cost, 2).tanks == (0,)


def test_of_equal_tanks_the_cheaper_is_filled() -> None:
    loss = np.asarray([[3.0, 3.0], [2.0, 2.0]])
    assert assign(loss, np.asarray([[2.0, 1.0], [2.0, 1.0]]), 1).tanks == (1,)


def test_where_nothing_may_be_sprayed_nothing_is_filled() -> None:
    found = assign(np.full((3, 4), np.nan), np.ones((3, 4)), 2)
    assert (found.tanks, found.of, found.served, found.proven) == ((), (None, None, None), 0, True)


@pytest.mark.parametrize(
    ("loss", "cost", "at_most"),
    [
        (np.zeros((2, 2)), np.zeros((2, 3)), 1),
        (np.zeros((2, 2)), np.zeros((2, 2)), 0),
        (np.full((2, 2), 0.5), np.zeros((2, 2)), 1),
        (np.full((2, 2), -1.0), np.zeros((2, 2)), 1),
        (np.zeros((2, 2)), np.full((2, 2), np.nan), 1),
    ],
)
def test_what_is_no_round_is_refused(loss: np.ndarray, cost: np.ndarray, at_most: int) -> None:
    with pytest.raises(ValueError, match="must be"):
        assign(loss, cost, at_most)
