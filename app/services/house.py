"""Use cases of the house's evidence: for the ranking, and for the pages of a weed or an active."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from app.engine.house import Observed
from app.engine.house_output import FigureUnused, MovedRecord
from app.engine.house_shown import records_shown
from app.services.knowledge_service import knowledge_base
from app.store import trials as kept
from app.store.opening import Store


def evidence_of(store: Store, weeds: Collection[str] | None = None) -> tuple[Observed, ...]:
    """What every kept trial saw of some weeds, or of any; the others' figures cost no more than being read."""
    with store.reading() as session:
        rows = kept.evidence(session, weeds)
    return tuple(
        Observed.model_validate({**row, "trial": slug})
        for slug, _, told in rows
        for row in told
        if weeds is None or row["weed"] in weeds
    )


def moved_records(
    observed: Sequence[Observed], *, weed: str | None = None, active: str | None = None
) -> tuple[tuple[MovedRecord, ...], tuple[FigureUnused, ...]]:
    """Records that the house's trials move, and figures that move none: of a weed, of an active, or of both.

    Every trial of a record is shown, whichever was asked after, since they move it together.
    """
    base = knowledge_base()
    weeds = [weed] if weed is not None else list(dict.fromkeys(item.weed for item in observed))
    records: list[MovedRecord] = []
    unused: list[FigureUnused] = []
    for key in weeds:
        if key not in base.weeds:
            continue
        here = [item for item in observed if item.weed == key and active in (None, item.active)]
        moved, left = records_shown(base, base.weeds[key], here)
        records += moved
        unused += left
    return tuple(records), tuple(unused)
