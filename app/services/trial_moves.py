"""Which records of the knowledge base a trial moves, from where to where, beside the other trials that do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.engine.house import Observed
from app.engine.house_records import Move, Unused, moves_of
from app.services.knowledge_service import knowledge_base
from app.services.trials import evidence_of
from app.store.opening import Store


@dataclass(frozen=True)
class Moved:
    """A record that a trial moves, with the weed that it is of."""

    weed: str
    move: Move


@dataclass(frozen=True)
class TrialMoves:
    """The records that a trial moves, and those of its figures that move none, each with why."""

    moved: tuple[Moved, ...]
    unused: tuple[Unused, ...]


def moves_of_trial(store: Store, slug: str, evidence: Sequence[Observed]) -> TrialMoves:
    """What a trial moves, every other kept trial counting too.

    Parameters
    ----------
    slug : str
        Id of the trial where it is kept; what is kept of it gives way to `evidence`. Empty for a new one.
    evidence : sequence of Observed
        What the trial adds to the records.
    """
    base = knowledge_base()
    own = [item.model_copy(update={"trial": slug}) for item in evidence]
    every = [*(item for item in evidence_of(store) if item.trial != slug), *own]
    moved: list[Moved] = []
    unused: list[Unused] = []
    for weed in dict.fromkeys(item.weed for item in own):
        if weed not in base.weeds:
            continue
        moves, left = moves_of(base, base.weeds[weed], [item for item in every if item.weed == weed])
        moved += [Moved(weed, move) for move in moves if slug in _trials_of(move)]
        unused += [item for item in left if item.observed.trial == slug]
    return TrialMoves(tuple(moved), tuple(unused))


def _trials_of(move: Move) -> set[str]:
    return {used.observed.trial for trial in move.trials for used in trial.used}
