"""What each visit of a planned year is for, as a customer is told it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.engine.understood import NOT_EMERGED, season_on, stages_by_calendar
from app.season.year_calls import Call, actives_of
from app.season.year_output import YearVisit
from knowledge.base import KnowledgeBase
from knowledge.models import Weed
from knowledge.models.common import Season
from knowledge.models.proposal import Purpose

_SPRING: tuple[Season, ...] = ("early-spring", "late-spring")
_AUTUMN: tuple[Season, ...] = ("early-autumn", "late-autumn")
# Stages at which the sentences on young plants no longer hold.
_GROWN = frozenset({"multi-tiller", "heading", "mature", "flowering", "seed-set"})
_SOIL: tuple[Purpose, ...] = ("preemergence-grass", "preemergence-second", "winter-preemergence")


@dataclass(frozen=True)
class For:
    """A purpose of a visit, and the ids of the weeds that it is meant for."""

    purpose: Purpose
    weeds: tuple[str, ...]

    @property
    def soil(self) -> bool:
        """Whether the soil is treated for it."""
        return self.purpose in _SOIL


def purposes(base: KnowledgeBase, zone: str, calls: Sequence[Call]) -> tuple[tuple[For, ...], ...]:
    """What each visit is for, in turn.

    A weed that has not come up by the calendar of the zone is met in the soil where something of the visit works
    there, every other one on its leaves.
    """
    found, in_soil = [], set[str]()
    for call in calls:
        weeds: dict[Purpose, dict[str, None]] = {}
        for part in call.parts:
            for key in part.against:
                weeds.setdefault(_purpose(base, zone, part, base.weeds[key], in_soil), {})[key] = None
        # A visit renews the barrier for all of its weeds, or for none.
        if "preemergence-second" in weeds:
            weeds["preemergence-second"] |= weeds.pop("preemergence-grass", {})
        told = tuple(For(purpose, tuple(keys)) for purpose, keys in weeds.items())
        in_soil |= {key for one in told if one.soil for key in one.weeds}
        found.append(told)
    return tuple(found)


def in_brief(told: Sequence[For]) -> tuple[For, ...]:
    """The purposes of a visit as two at most: what treats the soil, and all else."""
    soil = [one for one in told if one.soil]
    others = [one for one in told if not one.soil]
    found = []
    for group in (soil, others):
        if len(group) == 1:
            found.append(group[0])
        elif group:
            weeds = tuple(dict.fromkeys(key for one in group for key in one.weeds))
            found.append(For(group[0].purpose if group is soil else "weeds", weeds))
    return tuple(found)


def treats_soil(base: KnowledgeBase, part: YearVisit) -> bool:
    """Whether something of a visit works in the soil."""
    return any(base.actives[key].movement == "barrier" for key in actives_of(part) if key in base.actives)


def treats_leaves(base: KnowledgeBase, part: YearVisit) -> bool:
    """Whether something of a visit works through the leaf."""
    return any(base.actives[key].movement != "barrier" for key in actives_of(part) if key in base.actives)


def _purpose(base: KnowledgeBase, zone: str, part: YearVisit, weed: Weed, in_soil: set[str]) -> Purpose:
    stages = stages_by_calendar(weed, zone, part.date)
    if treats_soil(base, part) and (not treats_leaves(base, part) or NOT_EMERGED in stages):
        if weed.life_cycle == "winter-annual":
            return "winter-preemergence"
        return "preemergence-second" if weed.id in in_soil else "preemergence-grass"
    grown, season = stages[0] in _GROWN, season_on(part.date, zone, base)
    if weed.life_form == "sedge":
        return "sedge"
    if weed.life_cycle == "winter-annual":
        return "weeds" if grown else "winter-postemergence"
    if weed.life_form == "grass":
        if weed.life_cycle == "perennial":
            return "perennial-grass"
        return "weeds" if grown else "postemergence-grass"
    return _broadleaf(weed, season)


def _broadleaf(weed: Weed, season: Season) -> Purpose:
    if weed.life_form == "moss":
        return "weeds"
    if weed.life_cycle == "summer-annual":
        return "weeds" if season in _AUTUMN else "broadleaf-summer"
    if season in _SPRING:
        return "broadleaf-spring"
    return "broadleaf-autumn" if season in _AUTUMN else "weeds"
