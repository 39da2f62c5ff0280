"""Which labels of an axis have room."""

from __future__ import annotations

from collections.abc import Sequence


def thinned(places: Sequence[float], widths: Sequence[float], gap: float = 12.0) -> frozenset[int]:
    """Indices of the labels that fit: the ends first, then from the left whatever has room.

    Parameters
    ----------
    places, widths : sequence of float
        Centers of the labels, rising, and how wide each runs.

    Examples
    --------
    >>> sorted(thinned([0, 10, 50, 100], [20, 20, 20, 20]))
    [0, 2, 3]
    """
    kept: list[int] = []

    def clear(one: int, other: int) -> bool:
        return abs(places[one] - places[other]) >= (widths[one] + widths[other]) / 2 + gap

    for index in dict.fromkeys((0, len(places) - 1, *range(len(places)))):
        if 0 <= index < len(places) and all(clear(index, other) for other in kept):
            kept.append(index)
    return frozenset(kept)
