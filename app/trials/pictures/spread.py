"""Labels moved apart, each as near to its place as the others leave room for."""

from __future__ import annotations

from collections.abc import Sequence


def spread(wanted: Sequence[float], heights: Sequence[float], low: float, high: float) -> tuple[float, ...]:
    """Centers of labels that do not overlap.

    Least squares in the order wanted: with the heights taken out, an isotonic regression.

    Parameters
    ----------
    wanted, heights : sequence of float
        Where each label would stand, and how tall it is.
    low, high : float
        Ends of the room; it must hold all heights together.

    Examples
    --------
    >>> spread([10, 10, 90], [20, 20, 20], 0, 100)
    (10.0, 30.0, 90.0)
    """
    import numpy as np
    from scipy.optimize import isotonic_regression

    if not wanted:
        return ()
    order = sorted(range(len(wanted)), key=lambda index: (wanted[index], index))
    tall = np.array([heights[index] for index in order], dtype=float)
    offsets = np.concatenate(([0.0], np.cumsum((tall[:-1] + tall[1:]) / 2)))
    free = isotonic_regression(np.array([wanted[index] for index in order], dtype=float) - offsets).x
    placed = np.clip(free, low + tall[0] / 2, high - tall[-1] / 2 - offsets[-1]) + offsets
    found = [0.0] * len(wanted)
    for index, center in zip(order, placed, strict=True):
        found[index] = float(center)
    return tuple(found)
