"""Arranges what a trial moves: each record as it was, what the trials saw, and as it is now, on one rule."""

from __future__ import annotations

from dataclasses import dataclass

from app.engine.house_output import Banded, MovedRecord
from app.services.trial_moves import TrialMoves
from knowledge.base import KnowledgeBase


@dataclass(frozen=True)
class Lane:
    """A band with what it is of; `slug` leads to another trial, `weight` is its share in what counts now [%]."""

    name: str
    band: Banded
    weight: float | None = None
    slug: str = ""


@dataclass(frozen=True)
class Record:
    """A record that the trial moves, with its bands from before to now."""

    record: MovedRecord
    lanes: tuple[Lane, ...]


@dataclass(frozen=True)
class Shown:
    """What a trial moves; figures that move nothing, those of one reason together."""

    records: tuple[Record, ...]
    unused: tuple[tuple[str, tuple[str, ...]], ...]


def moved_shown(base: KnowledgeBase, found: TrialMoves, slug: str) -> Shown:
    """Records and their bands; `slug` is the trial on whose page they stand."""
    unused: dict[str, dict[str, None]] = {}
    for item in found.unused:
        name = base.weeds[item.weed].name
        unused.setdefault(item.why, {}).setdefault(f"{item.treatment} on {name}, {item.days_after} days after")
    return Shown(
        tuple(Record(record, _lanes(record, slug)) for record in found.records),
        tuple((why, tuple(names)) for why, names in unused.items()),
    )


def _lanes(record: MovedRecord, slug: str) -> tuple[Lane, ...]:
    before = [Lane("Knowledge base", record.prior, record.prior_weight_pct)] if record.prior is not None else []
    seen = [
        Lane("This trial", said.band, said.weight_pct)
        if said.trial == slug
        else Lane(said.name, said.band, said.weight_pct, said.trial)
        for said in record.trials
    ]
    return (*before, *seen, Lane("Now", record.posterior))
