"""Letters against brute force, for any relation of pairs."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from app.trials.letters import letters

Bools = NDArray[np.bool_]


@st.composite
def relations(draw: st.DrawFn) -> Bools:
    """Any symmetric relation of two to eight treatments."""
    k = draw(st.integers(2, 8))
    apart = np.zeros((k, k), dtype=bool)
    for i, j in combinations(range(k), 2):
        apart[i, j] = apart[j, i] = draw(st.booleans())
    return apart


def apart_of(k: int, pairs: list[tuple[int, int]]) -> Bools:
    apart = np.zeros((k, k), dtype=bool)
    for i, j in pairs:
        apart[i, j] = apart[j, i] = True
    return apart


def groups_of(found: tuple[str, ...]) -> list[frozenset[int]]:
    """Treatments by letter, in the order of the letters."""
    used = sorted({letter for text in found for letter in text})
    return [frozenset(i for i, text in enumerate(found) if letter in text) for letter in used]


def largest_groups(apart: Bools) -> set[frozenset[int]]:
    """Every group without a difference that takes no further treatment, by trying all subsets."""
    k = len(apart)
    alike = [
        frozenset(group)
        for size in range(1, k + 1)
        for group in combinations(range(k), size)
        if not any(apart[i, j] for i, j in combinations(group, 2))
    ]
    return {group for group in alike if not any(group < other for other in alike)}


@settings(max_examples=200, deadline=None)
@given(relations(), st.data())
def test_two_share_a_letter_exactly_where_they_do_not_differ(apart: Bools, data: st.DataObject) -> None:
    k = len(apart)
    order = data.draw(st.permutations(range(k)))
    found = letters(apart, order)
    for i, j in combinations(range(k), 2):
        assert bool(set(found[i]) & set(found[j])) != bool(apart[i, j])
    groups = groups_of(found)
    assert all(found)
    # No letter could be given to one more treatment, and none could be spared.
    assert set(groups) <= largest_groups(apart)
    for spared in groups:
        rest = [group for group in groups if group is not spared]
        joined = {pair for group in rest for pair in combinations(sorted(group), 2)}
        lone = set().union(*rest) if rest else set()
        assert not (set(combinations(sorted(spared), 2)) <= joined and spared <= lone)


@settings(max_examples=100, deadline=None)
@given(relations(), st.data())
def test_the_order_in_which_treatments_are_written_makes_no_difference(apart: Bools, data: st.DataObject) -> None:
    k = len(apart)
    order = data.draw(st.permutations(range(k)))
    moved = data.draw(st.permutations(range(k)))
    # Treatment i is written at place moved[i] instead.
    again = np.zeros_like(apart)
    for i in range(k):
        for j in range(k):
            again[moved[i], moved[j]] = apart[i, j]
    found, found_again = letters(apart, order), letters(again, [moved[i] for i in order])
    assert found == tuple(found_again[moved[i]] for i in range(k))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 60), min_size=2, max_size=9), st.integers(1, 30))
def test_with_one_difference_for_all_letters_run_down_the_means(means: list[int], least: int) -> None:
    values = np.array(means)
    apart = np.abs(values[:, None] - values[None, :]) > least
    order = sorted(range(len(means)), key=lambda i: -means[i])
    found = letters(apart, order)
    # The best bears the first letter, and no letter jumps over a mean between two that bear it.
    assert "a" in found[order[0]]
    for group in groups_of(found):
        places = [place for place, i in enumerate(order) if i in group]
        assert places == list(range(places[0], places[-1] + 1))
    assert [min(text) for text in (found[i] for i in order)] == sorted(min(found[i]) for i in order)


def test_the_published_example_of_five_treatments() -> None:
    # Published: Gramm J et al. (2007) Computational Statistics and Data Analysis 52:725-736, pairs that differ; the
    # letters are computed, and three groups are the fewest.
    pairs = [(1, 5), (2, 3), (2, 5), (3, 5)]
    apart = apart_of(5, [(i - 1, j - 1) for i, j in pairs])
    found = letters(apart, range(5))
    assert found == ("ab", "a", "b", "abc", "c")
    assert {frozenset({0, 1, 3}), frozenset({0, 2, 3}), frozenset({3, 4})} == set(groups_of(found))


def test_treatments_that_all_differ_have_one_letter_each() -> None:
    apart = ~np.eye(60, dtype=bool)
    found = letters(apart, range(60))
    assert len(set(found)) == 60
    assert found[:2] == ("a", "b")
    assert found[25:27] == ("z", "A")


@pytest.mark.parametrize("k", [2, 9])
def test_treatments_that_do_not_differ_share_one_letter(k: int) -> None:
    assert letters(np.zeros((k, k), dtype=bool), range(k)) == ("a",) * k
