"""By how much the warmth of a year runs before or behind the calendar, weed by weed."""

from __future__ import annotations

from datetime import date as Date

from app.engine.errors import InputError
from app.season.emergence import emergence
from app.season.forecast import Day
from app.season.year import YearAsked
from app.season.year_cohorts import emerges_first
from knowledge.base import KnowledgeBase
from knowledge.models import Weed

_MOST = 30


def shift_of(base: KnowledgeBase, asked: YearAsked, weed: Weed) -> tuple[int, bool]:
    """Days by which a weed comes later than its calendar, and whether temperatures told it.

    Where the temperatures of the year reach its first emergence by an air degree-day record, the difference to the
    calendar is taken, at most 30 days; else what is asked for.
    """
    usual = emerges_first(weed, asked.zone, asked.year)
    days = [Day(date=d.date, min_f=d.min_f, max_f=d.max_f) for d in asked.weather.daily]
    if usual is None or not days or not weed.emergence:
        return asked.spring_shift_days, False
    try:
        told = emergence(base, days, (weed.id,), asked.zone, days[-1].date)
    except InputError:
        # Temperatures that are too few for any record leave the calendar.
        return asked.spring_shift_days, False
    found = [
        event.earliest
        for one in told.weeds
        for event in one.events
        if event.event == "first"
        and event.kind == "air-degree-days"
        and event.earliest is not None
        and not event.at_start
    ]
    reached = [day for day in found if day.year == asked.year]
    if not reached:
        return asked.spring_shift_days, False
    middle = sorted(reached)[len(reached) // 2]
    return max(-_MOST, min(_MOST, (middle - usual).days)), True


def told_days(asked: YearAsked) -> tuple[Date, ...]:
    """The days of which temperatures are told."""
    return tuple(day.date for day in asked.weather.daily)
