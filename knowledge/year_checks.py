"""Checks of what a year is planned with: zones and months, mechanisms, weeds that are likely."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from knowledge.base import KnowledgeBase, applies_to_turf
from knowledge.reader import Problem

_COLDEST_F, _HOTTEST_F = -20.0, 125.0


def year_problems(base: KnowledgeBase) -> Iterator[Problem]:
    """What is wrong with the facts of the year."""
    yield from _climate_problems(base)
    yield from _mechanism_problems(base)
    yield from _likely_problems(base)


def _climate_problems(base: KnowledgeBase) -> Iterator[Problem]:
    for zone in base.zones:
        if zone not in base.climate:
            yield Problem("climate.yaml", "", f"tells nothing of the zone '{zone}'")
    for key, item in base.climate.items():
        for month, (low, high) in enumerate(item.max_f, start=1):
            if not _COLDEST_F <= low <= high <= _HOTTEST_F:
                what = f"month {month} must rise from low to high between {_COLDEST_F:g} and {_HOTTEST_F:g} F"
                yield Problem("climate.yaml", f"{key}.max_f", what)


def _mechanism_problems(base: KnowledgeBase) -> Iterator[Problem]:
    groups = {active.mechanism.group for active in base.actives.values()}
    for group in sorted(groups - set(base.mechanisms), key=int):
        yield Problem("mechanisms.yaml", "", f"tells nothing of group {group}, to which an active belongs")
    for key, item in base.mechanisms.items():
        if key not in groups:
            yield Problem("mechanisms.yaml", key, "no active belongs to this group")
        for name in (*item.alternate_weeds, *(found.weed for found in item.documented)):
            if name not in base.weeds:
                yield Problem("mechanisms.yaml", key, f"'{name}' is no weed")
        if item.alternate_weeds and not item.alternate_years:
            yield Problem("mechanisms.yaml", f"{key}.alternate_weeds", "says nothing while alternate_years is false")
        if not item.shared and item.alternate_years:
            yield Problem("mechanisms.yaml", key, "actives without a shared mechanism rotate with each other")


def _likely_problems(base: KnowledgeBase) -> Iterator[Problem]:
    for key, item in base.likely.items():
        told: set[str] = set()
        for part in item.weeds:
            path = f"{key}.weeds.{part.weed}"
            weed = base.weeds.get(part.weed)
            if weed is None:
                yield Problem("likely.yaml", path, f"'{part.weed}' is no weed")
                continue
            if part.weed in told:
                yield Problem("likely.yaml", path, "stands twice; keep one")
            told.add(part.weed)
            for zone in item.zones:
                if not any(zone in window.zones for window in weed.calendar):
                    yield Problem("likely.yaml", path, f"its calendar tells nothing of the zone '{zone}'")
    for place, turf, site in itertools.product(base.zones, base.turf.values(), base.sites):
        fits = [
            ((site in item.site_uses, rank), key)
            for key, item in base.likely.items()
            if place in item.zones
            and (site in item.site_uses or not item.site_uses)
            and (rank := applies_to_turf(item.turf, turf)) >= 0
        ]
        best = [key for rank, key in fits if rank == max(fits)[0]]
        if len(best) != 1:
            said = f"{' and '.join(best)} tell alike" if best else "nothing is told"
            yield Problem("likely.yaml", "", f"{said} of {turf.id} in the zone '{place}' on {site}")
