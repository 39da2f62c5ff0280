"""Likely injury of turf by one dose, from what is recorded of the pair."""

from __future__ import annotations

from app.engine.doses import Dose
from knowledge.base import KnowledgeBase, tolerance_for
from knowledge.models import Turf

_CLASS_INJURY = {
    "T": "injury-tolerant",
    "I": "injury-intermediate",
    "S": "injury-sensitive",
    "unknown": "injury-unknown",
}
MOST = 100.0


def injury_alone(base: KnowledgeBase, dose: Dose, turf: Turf, site_use: str) -> float:
    """Likely injury [percent] of a dose by itself on a turf.

    An injury recorded for the pair is used as it stands, otherwise the usual figure of its class.
    It is recorded at the usual rate and taken as rising with the rate.
    """
    record = tolerance_for(turf, dose.active.id, site_use)
    kind = record.tolerance if record is not None else "unknown"
    own = record.injury[1] if record is not None and record.injury is not None else None
    usual = own if own is not None else base.parameter(_CLASS_INJURY[kind])
    share = dose.rate.base / dose.usual.usual.base if dose.usual is not None else 1.0
    return min(usual * share, MOST)
