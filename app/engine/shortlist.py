"""From thousands of ranked programs to a short, diverse list; near-duplicates fold."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from app.engine.scoring import PARTS
from app.engine.screening import Screened

# Beyond this many different sets of actives the list is long decided.
_LOOK_AT = 4000


@dataclass
class Kept:
    """A program that is shown, with the places of the near-duplicates folded under it."""

    place: int
    actives: frozenset[str]
    folded: list[int] = field(default_factory=list)


def shortlist(screened: Screened, top: int) -> list[Kept]:
    """The best programs, each different enough from those above it.

    A program folds under a better one when both are made of the same actives, or when the
    actives of the one are among those of the other and control differs little on every target.
    """
    near = screened.base.parameter("fold-points")
    likely = screened.band.likely
    kept: list[Kept] = []
    by_set: dict[frozenset[str], Kept] = {}
    for place in map(int, screened.order[:_LOOK_AT]):
        actives = screened.actives_of(place)
        home = by_set.get(actives)
        if home is None:
            home = next((k for k in kept if _near(actives, k.actives, likely[place], likely[k.place], near)), None)
        if home is not None:
            by_set.setdefault(actives, home)
            home.folded.append(place)
            continue
        if len(kept) == top:
            break
        home = Kept(place, actives)
        kept.append(home)
        by_set[actives] = home
    return kept


def _near(
    lower: frozenset[str],
    upper: frozenset[str],
    lower_control: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    upper_control: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    near: float,
) -> bool:
    gap = lower_control - upper_control
    if upper < lower:
        return bool(np.all(gap < near))
    return lower < upper and bool(np.all(np.abs(gap) < near))


def dominated_by(screened: Screened, kept: list[Kept], index: int) -> int | None:
    """The first kept program that is at least as good on every part and better on one, or None."""
    unweighted = screened.scores.unweighted
    ours = np.asarray([unweighted[part][kept[index].place] for part in PARTS])
    for other in kept:
        theirs = np.asarray([unweighted[part][other.place] for part in PARTS])
        if other is not kept[index] and np.all(theirs >= ours - 1e-12) and np.any(theirs > ours + 1e-9):
            return other.place
    return None
