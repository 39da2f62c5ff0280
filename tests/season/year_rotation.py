"""How a planned year leans on mechanisms, read off its visits alone."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import pairwise

from app.season.year import YearAsked
from app.season.year_output import YearPlan
from knowledge.base import KnowledgeBase
from tests.season.year_customers import actives_of


def groups_by_day(base: KnowledgeBase, asked: YearAsked, plan: YearPlan, area: str) -> list[tuple[date, set[str]]]:
    """Mechanisms of each day on which something was or will be applied to an area, in order."""
    held: dict[date, set[str]] = {}
    for past in asked.applied_this_year:
        if past.area in (None, area):
            held.setdefault(past.date, set()).add(base.actives[past.active].mechanism.group)
    for visit in plan.visits:
        for tank in visit.applications if visit.area == area else ():
            told = {base.actives[part["active"]].mechanism.group for part in actives_of(tank)}
            held.setdefault(tank.date, set()).update(told)
    return sorted(held.items())


def leanings(base: KnowledgeBase, asked: YearAsked, plan: YearPlan) -> Iterator[str]:
    """Each rule of rotation that a plan breaks on an area, what was applied before the plan left aside.

    A mechanism on more visits than may be, and one alone on two visits running against a weed where it may not; what
    stands within one course (a split, a spray and its repeat) counts as one.
    """
    course = base.parameter("year-course-days")
    planned = {tank.date for visit in plan.visits for tank in visit.applications}
    for area in asked.areas:
        days = groups_by_day(base, asked, plan, area.id)
        for group, use in base.mechanisms.items():
            on = [day for day, held in days if group in held]
            if use.shared and len(on) > use.most_visits and planned & set(on):
                yield f"{area.id}: group {group} on {len(on)} visits, {use.most_visits} at most"
        for (first, before), (then, after) in pairwise(days):
            alone = before & after if len(before) == len(after) == 1 else set()
            for group in alone if _against(plan, first) & _against(plan, then) else ():
                use = base.mechanisms[group]
                apart = (then - first).days > course
                if use.shared and not use.in_a_row and apart and {first, then} <= planned:
                    yield f"{area.id}: group {group} alone on {first} and again on {then}"


def _against(plan: YearPlan, day: date) -> set[str]:
    return {weed for visit in plan.visits if visit.date == day for weed in visit.against}
