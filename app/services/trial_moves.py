"""Which records of the knowledge base a trial moves, beside the other trials that do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.engine.house import Observed
from app.engine.house_output import FigureUnused, MovedRecord
from app.services.house import evidence_of, moved_records
from app.store.opening import Store

# No trial that is kept can have this id: it is a page of its own.
_NEW = "import"


@dataclass(frozen=True)
class TrialMoves:
    """The records that a trial moves, and those of its figures that move none, each with why."""

    records: tuple[MovedRecord, ...]
    unused: tuple[FigureUnused, ...]


def moves_of_trial(store: Store, slug: str, evidence: Sequence[Observed]) -> TrialMoves:
    """What a trial moves, every other kept trial counting too.

    Parameters
    ----------
    slug : str
        Id of the trial where it is kept; what is kept of it gives way to `evidence`. Empty for a new one.
    evidence : sequence of Observed
        What the trial adds to the records.
    """
    slug = slug or _NEW
    own = [item.model_copy(update={"trial": slug}) for item in evidence]
    weeds = {item.weed for item in own}
    others = [item for item in evidence_of(store, weeds) if item.trial != slug]
    records, unused = moved_records([*own, *others])
    return TrialMoves(
        tuple(record for record in records if slug in {said.trial for said in record.trials}),
        tuple(item for item in unused if item.trial == slug),
    )


def records_by_trial(store: Store) -> dict[str, tuple[str, ...]]:
    """What each kept trial moves, by its id: active and weed, each pair once."""
    records, _ = moved_records(evidence_of(store))
    found: dict[str, dict[str, None]] = {}
    for record in records:
        for said in record.trials:
            found.setdefault(said.trial, {}).setdefault(f"{record.active_name} on {record.weed_name}")
    return {slug: tuple(names) for slug, names in found.items()}
