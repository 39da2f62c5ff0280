"""What programs do on the weeds of a turf that were not asked about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from app.engine.describe import Spray
from app.engine.expect import judged
from app.engine.output import Control
from app.engine.situation import Target
from app.engine.tables import Timing
from app.engine.understood import Understood, month_day, understood_target
from knowledge.base import KnowledgeBase


def control_elsewhere(
    base: KnowledgeBase, understood: Understood, programs: Sequence[tuple[Sequence[Spray], Timing]]
) -> tuple[tuple[Control, ...], ...]:
    """Control by each program of the other weeds that are met on this turf, in this zone, on this day.

    Returns
    -------
    tuple
        For each program its control of every such weed, the weeds in one order, at the hardest stage
        that is plausible on the day.
    """
    situation = understood.situation
    asked = {target.weed.id for target in understood.targets}
    turf, day = {turf.id for turf in understood.turf}, month_day(situation.date)
    met = [
        weed
        for weed in base.weeds.values()
        if weed.id not in asked
        and not turf & set(weed.same_species_turf)
        and any(situation.zone in window.zones and window.holds(day) for window in weed.calendar)
    ]
    if not met:
        return tuple(() for _ in programs)
    targets = tuple(understood_target(i, Target(weed=weed.id), weed, situation) for i, weed in enumerate(met))
    elsewhere = replace(understood, targets=targets)
    return tuple(judged(base, elsewhere, sprays, timing)[0] for sprays, timing in programs)
