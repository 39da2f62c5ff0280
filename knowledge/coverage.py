"""How much is known, and on what basis."""

from __future__ import annotations

from collections import Counter
from typing import Any

from knowledge.base import KnowledgeBase

BASES = ("published", "memory", "common-practice", "house")


def _by_basis(counter: Counter[str]) -> dict[str, int]:
    return {basis: counter.get(basis, 0) for basis in BASES}


def count_coverage(base: KnowledgeBase) -> dict[str, Any]:
    """Count entries and filled cells of the knowledge base.

    Returns
    -------
    dict
        Number of entries by kind; response cells (weed, active, stage) filled of those
        possible, by basis; tolerance cells (turf, active) filled, unknown and missing, by basis;
        and the actives without a response on any weed.
    """
    cells: dict[tuple[str, str, str], str] = {}
    rows: Counter[str] = Counter()
    possible = 0
    for weed in base.weeds.values():
        emerged = [stage for stage in weed.treatable_stages if stage != "not-emerged"]
        possible += len(weed.treatable_stages) * len(base.actives)
        for response in weed.responses:
            rows[response.basis] += 1
            for stage in response.stages or emerged:
                cells.setdefault((weed.id, response.active, stage), response.basis)
    tolerance: Counter[str] = Counter()
    told: set[tuple[str, str]] = set()
    unknown: set[tuple[str, str]] = set()
    for turf in base.turf.values():
        for record in turf.tolerance:
            cell = (turf.id, record.active)
            if record.tolerance == "unknown":
                unknown.add(cell)
                continue
            tolerance[record.basis] += 1
            told.add(cell)
    pairs = len(base.turf) * len(base.actives)
    return {
        "knowledge_version": base.version,
        "entries": {
            kind: len(getattr(base, kind))
            for kind in ("weeds", "actives", "turf", "mixtures", "interactions", "rules", "sources")
        },
        "responses": {
            "rows": sum(rows.values()),
            "rows_by_basis": _by_basis(rows),
            "cells_filled": len(cells),
            "cells_possible": possible,
            "cells_by_basis": _by_basis(Counter(cells.values())),
        },
        "tolerance": {
            "pairs_told": len(told),
            "pairs_unknown": len(unknown - told),
            "pairs_missing": pairs - len(told | unknown),
            "pairs_possible": pairs,
            "records_by_basis": _by_basis(tolerance),
        },
        "actives_without_response": sorted(
            set(base.actives) - {response.active for weed in base.weeds.values() for response in weed.responses}
        ),
    }
