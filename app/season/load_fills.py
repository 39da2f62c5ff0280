"""How the fills of a tank run out over its stops, and how much is mixed for them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

_ROUNDING = 1e-9


@dataclass(frozen=True)
class Share:
    """What a stop takes of one fill: the number of the fill, from 1, and litres of spray."""

    fill: int
    litres: float


def mixed(needed: float, mark: float) -> float:
    """Spray that is mixed for what is needed, made up to the next mark of the tank [L].

    >>> mixed(10.1, 2.0), mixed(10.0, 2.0)
    (12.0, 10.0)
    """
    return math.ceil(needed / mark * (1 - _ROUNDING)) * mark


def fill_size(litres: float, holds: float, least: float, mark: float) -> float:
    """Spray of one fill: what the tank holds, or less where the last fill would be too small [L].

    Parameters
    ----------
    litres, holds : float
        Spray of the whole load, and what one fill can hold [L].
    least : float
        Share of the tank below which a last fill is too small.
    mark : float
        Mark of the tank to which a fill is made up [L].

    >>> fill_size(31.0, 30.0, 0.25, 0.5), fill_size(45.0, 30.0, 0.25, 0.5)
    (15.5, 30.0)
    """
    count = math.ceil(litres / holds * (1 - _ROUNDING))
    last = litres - (count - 1) * holds
    if count < 2 or last >= least * holds:
        return holds
    return min(mixed(litres / count, mark), holds)


def shares(takes: Sequence[float], fills: Sequence[float]) -> list[list[Share]]:
    """From which fills each stop is sprayed, one fill after the other.

    Parameters
    ----------
    takes : sequence of float
        Spray of each stop, in driving order [L].
    fills : sequence of float
        Spray of each fill, together no less than what the stops take [L].

    Returns
    -------
    list of list of Share
        For each stop its shares; what is smaller than a rounding of figures is left to the other fill.
    """
    found = []
    fill, left = 0, fills[0]
    enough = sum(fills) * _ROUNDING
    for take in takes:
        mine = []
        rest = take
        while rest > left + enough and fill + 1 < len(fills):
            if left > enough:
                mine.append(Share(fill + 1, left))
                rest -= left
            fill += 1
            left = fills[fill]
        mine.append(Share(fill + 1, rest))
        left = max(left - rest, 0.0)
        found.append(mine)
    return found
