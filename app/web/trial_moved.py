"""Arranges what a trial moves: each record as it was, what the trials saw, and as it is now, on one rule."""

from __future__ import annotations

import math
from dataclasses import dataclass

from app.engine.control import Z90
from app.engine.house import percent
from app.engine.house_records import Move, OfTrial
from app.services.trial_moves import TrialMoves
from knowledge.base import KnowledgeBase
from knowledge.models import Response


@dataclass(frozen=True)
class Lane:
    """A band with what it is of; `slug` leads to the trial, `weight` is its share in what stands now [%]."""

    name: str
    low: float
    likely: float
    high: float
    weight: float | None = None
    slug: str = ""


@dataclass(frozen=True)
class Record:
    """A record that the trial moves: what it is of, how it moves in words, its bands from before to now."""

    weed: str
    weed_name: str
    stage: str
    response: Response
    said: str
    lanes: tuple[Lane, ...]


@dataclass(frozen=True)
class Shown:
    """What a trial moves; figures that move nothing, those of one reason together."""

    records: tuple[Record, ...]
    unused: tuple[tuple[str, tuple[str, ...]], ...]


def moved_shown(base: KnowledgeBase, found: TrialMoves, slug: str) -> Shown:
    """Records and their bands, in the order in which the trial moves them."""
    records = tuple(_record(base, item.weed, item.move, slug) for item in found.moved)
    unused: dict[str, list[str]] = {}
    for item in found.unused:
        told = item.observed
        name = base.weeds[told.weed].name
        unused.setdefault(item.why, []).append(f"{told.treatment} on {name}, {told.days_after} days after")
    return Shown(records, tuple((why, tuple(dict.fromkeys(names))) for why, names in unused.items()))


def _record(base: KnowledgeBase, weed: str, move: Move, slug: str) -> Record:
    now = move.response
    lanes = [_trial_lane(item, share, slug) for item, share in zip(move.trials, move.shrunk.weights[1:], strict=True)]
    if move.prior is not None:
        lanes.insert(0, Lane("Knowledge base", *move.prior.band, weight=100 * move.shrunk.weights[0]))
    lanes.append(Lane("Now", *now.band))
    return Record(weed, base.weeds[weed].name, move.stage, now, _said(move), tuple(lanes))


def _trial_lane(item: OfTrial, share: float, slug: str) -> Lane:
    """What a trial saw, under the conditions of the record: its central 80 % by the error of its plots."""
    reach = Z90 * math.sqrt(item.variance)
    bounds = (percent(item.log_odds - reach), percent(item.log_odds), percent(item.log_odds + reach))
    seen = item.used[0].observed
    return Lane("This trial" if seen.trial == slug else seen.name, *bounds, weight=100 * share, slug=seen.trial)


def _said(move: Move) -> str:
    now = round(move.response.band[1])
    if move.prior is None:
        return f"Nothing was recorded; likely {now} % by the trials alone."
    before = round(move.prior.band[1])
    if now == before:
        return f"Likely control stays at {now} %."
    return f"Likely control {'rises' if now > before else 'falls'} from {before} to {now} %."
