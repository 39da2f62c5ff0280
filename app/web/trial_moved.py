"""What of the house's trials moves nothing, those of one reason together."""

from __future__ import annotations

from collections.abc import Iterable

from app.engine.house_output import FigureUnused
from knowledge.base import KnowledgeBase

ByReason = list[tuple[str, tuple[str, ...]]]


def unused_words(base: KnowledgeBase, unused: Iterable[FigureUnused], *, of_trial: bool = False) -> ByReason:
    """Each reason with the figures that it keeps from moving a record; `of_trial` where the page names the trial."""
    by_reason: dict[str, dict[str, None]] = {}
    for item in unused:
        told = f"{item.treatment} on {base.weeds[item.weed].name}, {item.days_after} days after"
        by_reason.setdefault(item.why, {}).setdefault(told if of_trial else f"{item.name}, {told}")
    return [(why, tuple(names)) for why, names in by_reason.items()]
