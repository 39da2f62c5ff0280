"""Compact letters: treatments that share a letter are not different."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from numpy.typing import NDArray

_LOWER = "abcdefghijklmnopqrstuvwxyz"
_ALPHABET = _LOWER + _LOWER.upper()


def letters(different: NDArray, order: Sequence[int]) -> tuple[str, ...]:  # type: ignore[type-arg]
    """Letters of every treatment.

    Parameters
    ----------
    different : ndarray of bool, shape (k, k)
        Which pairs differ; symmetric.
    order : sequence of int, length k
        Treatments from the best mean down: the first letter goes to the best.

    Returns
    -------
    tuple of str, length k
        Two treatments share a letter exactly where they are not different, and no letter could be
        given to one more treatment.

    Notes
    -----
    Insert and absorb (Piepho 2004, steps from memory): start with one letter for all; split it at
    every different pair; drop what is contained in another. What is left are the largest groups
    without a difference; then letters are dropped that join no pair which others do not join.
    """
    k = len(order)
    groups: list[frozenset[int]] = [frozenset(range(k))]
    for place, first in enumerate(order):
        for second in order[place + 1 :]:
            if not different[first, second]:
                continue
            split = [g - {x} for g in groups if first in g and second in g for x in (first, second)]
            kept = [g for g in groups if not (first in g and second in g)]
            # What did not hold the pair is maximal already; a part of the split may lie in it, or in another.
            for part in sorted(set(split), key=len, reverse=True):
                if not any(part <= other for other in kept):
                    kept.append(part)
            groups = kept
    rank = {treatment: place for place, treatment in enumerate(order)}
    ordered = sorted(_needed(groups, rank), key=lambda g: sorted(rank[t] for t in g))
    return tuple("".join(_letter(i) for i, g in enumerate(ordered) if t in g) for t in range(k))


def _needed(groups: list[frozenset[int]], rank: Mapping[int, int]) -> list[frozenset[int]]:
    """The groups without those whose every pair, and every member, stands in another too."""
    # By rank and not by number, so that the order in which plots are written makes no difference.
    kept = sorted(groups, key=lambda g: (len(g), sorted(rank[t] for t in g)))
    for group in tuple(kept):
        others = [g for g in kept if g is not group]
        members = sorted(group)
        pairs = [(a, b) for i, a in enumerate(members) for b in members[i:]]
        if all(any(a in g and b in g for g in others) for a, b in pairs):
            kept = others
    return kept


def _letter(index: int) -> str:
    turn, place = divmod(index, len(_ALPHABET))
    return _ALPHABET[place] + (str(turn + 1) if turn else "")
