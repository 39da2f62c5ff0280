"""What changed between two questions of a year, in sentences; and the least change that loosens a constraint."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date as Date
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.season.year import Forbid, Lock, YearAsked, YearWeed
from app.season.year_output import YearPlan
from app.services.year_question import YearWish
from knowledge.base import KnowledgeBase

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_of(day: Date) -> str:
    """A day of the season, in words.

    >>> day_of(Date(2027, 5, 4))
    '4 May'
    """
    return f"{day.day} {_MONTHS[day.month - 1]}"


def visit_days(plan: YearPlan) -> tuple[Date, ...]:
    """The days of a plan's visits, in order."""
    return tuple(sorted({visit.date for visit in plan.visits}))


def number_days(plan: YearPlan) -> dict[int, Date]:
    """The day of each visit, by its number."""
    return {visit.number: visit.date for visit in plan.visits}


def changes(base: KnowledgeBase, before: YearAsked, plan: YearPlan, after: YearAsked) -> tuple[str, ...]:
    """What a question asks otherwise than the one before it, which a plan answered."""
    return (
        *_visits(plan, after),
        *_first_day(before, after),
        *_weeds(base, before.weeds, after.weeds),
        *_locks(base, before, plan, after),
        *_forbidden(base, before, plan, after),
        *_limits(before, after),
    )


def _visits(plan: YearPlan, after: YearAsked) -> Iterator[str]:
    old = visit_days(plan)
    if after.visits.dates is None:
        yield f"The days of {_count(after.visits.count or 0, 'visit')} are chosen by the plan."
        return
    new = after.visits.dates
    gone, come = [day for day in old if day not in new], [day for day in new if day not in old]
    for was, becomes in zip(gone, come, strict=False):
        yield f"The visit of {day_of(was)} moves to {day_of(becomes)}."
    for day in gone[len(come) :]:
        past = after.start is not None and day < after.start
        yield f"The visit of {day_of(day)} {'lies before the first day that is planned' if past else 'is left out'}."
    for day in come[len(gone) :]:
        yield f"A visit on {day_of(day)} is added."


def _first_day(before: YearAsked, after: YearAsked) -> Iterator[str]:
    if before.start != after.start:
        yield (
            f"Planned from {day_of(after.start)}." if after.start is not None else "Planned from the first of January."
        )


def _weeds(base: KnowledgeBase, before: Sequence[YearWeed], after: Sequence[YearWeed]) -> Iterator[str]:
    old, new = ({weed.weed: weed for weed in side} for side in (before, after))
    for key in (*old, *(key for key in new if key not in old)):
        name = base.weed_names[key].name if key in base.weed_names else key
        name = f"{name[:1].upper()}{name[1:]}"
        if key not in new:
            yield f"{name} is left out."
        elif key not in old:
            yield f"{name} is added, pressure {new[key].pressure}."
        else:
            if old[key].pressure != new[key].pressure:
                yield f"{name}: pressure {new[key].pressure} instead of {old[key].pressure}."
            if old[key].priority != new[key].priority:
                yield f"{name}: weight {new[key].priority:g} instead of {old[key].priority:g}."


def _locks(base: KnowledgeBase, before: YearAsked, plan: YearPlan, after: YearAsked) -> Iterator[str]:
    old = {_lock_key(lock, plan) for lock in before.locks}
    new = {_lock_key(lock, plan): lock for lock in after.locks}
    areas = {area.id: area.name or area.id for area in after.areas}
    for key, lock in new.items():
        if key not in old:
            where = f" on {areas.get(lock.area, lock.area)}" if lock.area is not None else ""
            held = f"holds {names(base, lock.actives)}" if lock.actives else "stays without a spray"
            yield f"{_which(lock, plan)}{where} {held}."
    for key in sorted(old - set(new), key=str):
        yield f"What was held on {key[0]} is free again."


def _lock_key(lock: Lock, plan: YearPlan) -> tuple[str, str, tuple[str, ...]]:
    day = lock.date or number_days(plan).get(lock.visit or 0)
    return (day_of(day) if day is not None else f"visit {lock.visit}", lock.area or "", tuple(sorted(lock.actives)))


def _which(item: Lock | Forbid, plan: YearPlan) -> str:
    day = item.date or number_days(plan).get(item.visit or 0)
    return f"The visit of {day_of(day)}" if day is not None else f"Visit {item.visit}"


def _forbidden(base: KnowledgeBase, before: YearAsked, plan: YearPlan, after: YearAsked) -> Iterator[str]:
    def key(item: Forbid) -> tuple[tuple[str, ...], str]:
        return tuple(sorted(item.actives)), _when(item, plan)

    old, new = {key(item) for item in before.forbid}, {key(item) for item in after.forbid}
    for actives, when in sorted(new - old):
        yield f"Not {names(base, actives)} {when}."
    for actives, when in sorted(old - new):
        yield f"{names(base, actives)} may be sprayed again {when}."


def _when(item: Forbid, plan: YearPlan) -> str:
    if item.visit is None and item.date is None:
        return "this year"
    which = _which(item, plan)
    return f"on {which[:1].lower()}{which[1:]}"


def _limits(before: YearAsked, after: YearAsked) -> Iterator[str]:
    old, new = before.limits, after.limits
    if old.budget_per_1000_ft2 != new.budget_per_1000_ft2:
        told = "without a bound" if new.budget_per_1000_ft2 is None else f"at most {new.budget_per_1000_ft2:g}"
        was = "" if old.budget_per_1000_ft2 is None else f" instead of {old.budget_per_1000_ft2:g}"
        yield f"Products of the year {told}{was} per 1000 ft2."
    if old.max_products_per_visit != new.max_products_per_visit:
        most = _count(new.max_products_per_visit, "product")
        yield f"At most {most} a visit instead of {old.max_products_per_visit}."
    if before.catalog != after.catalog:
        yield "Planned with the shelf." if after.catalog == "shelf" else "Planned with actives, without products."


def names(base: KnowledgeBase, actives: Iterable[str]) -> str:
    """Actives by their names."""
    return " + ".join(base.actives[key].name if key in base.actives else key for key in actives)


def _count(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def loosened(wish: YearWish, constraint: str, least: float | None) -> YearWish:
    """A wish with one constraint loosened, named by its field as a plan that found nothing names it.

    Raises
    ------
    InputError
        For a field that cannot be loosened here.
    """
    told = wish.model_dump(mode="json", by_alias=True)
    field, _, rest = constraint.partition(".")
    number = rest.split(".")[0]
    if field in ("locks", "forbid") and number.isdecimal() and int(number) < len(told[field]):
        del told[field][int(number)]
    elif field in ("locks", "forbid") and not rest:
        told[field] = []
    elif constraint == "limits.budget_per_1000_ft2":
        told["limits"]["budget_per_1000_ft2"] = least
    elif constraint == "limits.max_products_per_visit" and least is not None:
        told["limits"]["max_products_per_visit"] = round(least)
    elif constraint in ("visits.count", "visits") and least is not None:
        told["visits"] = {"count": round(least)}
    else:
        raise InputError([FieldFault(constraint, "cannot be loosened by a button; change it in the form")])
    return YearWish.model_validate(told)


def by_days(wish: YearWish, plan: YearPlan) -> dict[str, Any]:
    """A wish as plain data, with what names a visit by its number naming its day in a plan."""
    days = number_days(plan)
    told = wish.model_dump(mode="json", by_alias=True)
    for field in ("locks", "forbid"):
        for item in told[field]:
            if item["visit"] in days:
                item["date"], item["visit"] = days[item["visit"]].isoformat(), None
    return told
