"""Checks of what facts are scoped to: turf, stages, forms, groups and figures that exist."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from knowledge.base import KnowledgeBase
from knowledge.models import ALL_STAGES, AdjuvantRule, Figure
from knowledge.reader import Problem

_SEASONS = ("all", "cool-season", "warm-season")


def scope_problems(base: KnowledgeBase, kind: str, key: str, path: str, part: Any) -> Iterator[Problem]:
    """What is wrong with the scope or figure of one part of a fact.

    Parameters
    ----------
    kind, key : str
        Kind and id of the fact; actives stand in files of their own.
    path : str
        Path of the part inside it.
    """
    place = f"{kind}/{key}.yaml" if kind in ("actives", "weeds", "turf") else f"{kind}.yaml"
    where = path if kind in ("actives", "weeds", "turf") else f"{key}.{path}".rstrip(".")
    known = {*_SEASONS, *base.turf, *(turf.rate_class for turf in base.turf.values())}
    turf = getattr(part, "turf", None)
    if isinstance(turf, tuple):
        for name in turf:
            if name not in known:
                yield Problem(place, f"{where}.turf".lstrip("."), f"'{name}' is no turf, rate class or season")
    if isinstance(part, AdjuvantRule):
        for stage in part.stages:
            if stage not in ALL_STAGES:
                yield Problem(place, f"{where}.stages", f"'{stage}' is no stage")
    if isinstance(part, Figure) and not part.low <= part.likely <= part.high:
        yield Problem(place, where, "must rise from low over likely to high")


def link_problems(base: KnowledgeBase) -> Iterator[Problem]:
    """Mechanism groups named by weeds, and forms and sites named by turf, exist and stand once."""
    groups = {active.mechanism.group for active in base.actives.values()}
    for weed in base.weeds.values():
        for index, item in enumerate(weed.mixture_rho):
            if item.group not in groups:
                yield Problem(f"weeds/{weed.id}.yaml", f"mixture_rho.{index}.group", f"'{item.group}' is no mechanism")
    for turf in base.turf.values():
        place = f"turf/{turf.id}.yaml"
        told = Counter((record.active, site) for record in turf.tolerance for site in record.site_uses)
        for index, record in enumerate(turf.tolerance):
            active = base.actives.get(record.active)
            forms = {form.id for form in active.forms} if active is not None else set()
            for form in record.forms_barred:
                if form not in forms:
                    yield Problem(place, f"tolerance.{index}.forms_barred", f"'{form}' is no form of {record.active}")
            for site in record.site_uses:
                if told[record.active, site] > 1:
                    yield Problem(place, f"tolerance.{index}", f"{record.active} stands twice for {site}")
