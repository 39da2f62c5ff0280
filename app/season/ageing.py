"""From a scouted stage to a date: the stage to expect, and every stage that is plausible.

By the calendar: where a plant stands in its population (0 the first to enter each stage, 1 the last) and how far the
year runs before or behind the calendar are unknown; every pair of them that agrees with the note is carried to the
date. By warmth: how far the plant was through its stage and how much warmth its kind needs are carried in the same
way. What is told is the middle of what comes out, and its central 80 %.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from datetime import date as Date
from datetime import timedelta
from typing import Literal

import numpy as np
import numpy.typing as npt

from app.engine.citations import cited
from app.engine.errors import FieldFault, InputError
from app.engine.output import Caution, CitedSource, Output
from app.engine.understood import stages_by_calendar, unknown_id
from app.season.ageing_words import By, Found, cautions_of, sentence
from app.season.course import Course, courses
from app.season.daily import AirDay, degree_days
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM, Growth, Weed

Grid = npt.NDArray[np.float64]

# Points on which the unknowns are reckoned; more move nothing that is told.
_PLACES = np.linspace(0.0, 1.0, 21)
_FEW_PLACES = np.linspace(0.0, 1.0, 5)
_THROUGH = (np.arange(20) + 0.5) / 20
_SHIFTS, _FEW_SHIFTS = 15, 3
# The central 80 % of the plants, as every band of the knowledge base.
_LOW, _HIGH = 0.1, 0.9
_YOUNG = ("not-emerged", "seedling")


class Aged(Output):
    """The stage of a weed on a date, from a note of an earlier day.

    Attributes
    ----------
    stages : tuple of str
        Every plausible stage, in the order in which plants pass them; `earliest` and `latest` are its ends.
    by : str
        `degree-days`, `calendar`, or `note` where the note stands as it was written.
    degree_days : float, optional
        Warmth from the day of scouting to the date, without the date itself [F degree-days above `base_f`].
    """

    weed: str
    name: str
    zone: str
    scouted: Date
    scouted_stage: str
    on: Date
    days: int
    stage: str
    stages: tuple[str, ...]
    earliest: str
    latest: str
    by: By
    degree_days: float | None
    base_f: float | None
    text: str
    cautions: tuple[Caution, ...]
    basis: Literal["published", "memory", "common-practice", "house"]
    sources: dict[str, CitedSource]


def aged(
    base: KnowledgeBase,
    weed_id: str,
    stage: str,
    scouted: Date,
    on: Date,
    zone: str,
    daily: Sequence[AirDay] = (),
) -> Aged:
    """The stage to expect on a date of a weed that was scouted earlier.

    Parameters
    ----------
    stage : str
        The stage that was noted on the day `scouted`.
    daily : sequence of (date, float, float)
        Lowest and highest air temperature by day [F]. Where they cover each day from scouting to the day before
        the date, and the warmth between stages of this weed is recorded, growth is reckoned by them.

    Raises
    ------
    InputError
        For an unknown weed, stage or zone, a date before scouting, or a note older than a growing season.
    """
    weed = _checked(base, weed_id, stage, scouted, on, zone)
    found = _note(stage, (stage,)) if on == scouted else _found(base, weed, stage, scouted, on, zone, daily)
    cautions = cautions_of(base, found, scouted, on, by_warmth=bool(_chain(base, weed, stage)))
    sources = [c.id for record in found.records for c in record.sources]
    if found.by != "degree-days":
        sources += [c.id for c in base.parameters["growth-year-spread"].sources]
    return Aged(
        weed=weed.id,
        name=weed.name,
        zone=zone,
        scouted=scouted,
        scouted_stage=stage,
        on=on,
        days=(on - scouted).days,
        stage=found.stage,
        stages=found.stages,
        earliest=found.stages[0],
        latest=found.stages[-1],
        by=found.by,
        degree_days=None if found.warmth is None else round(found.warmth, 1),
        base_f=found.records[0].base_f if found.records else None,
        text=sentence(weed, stage, scouted, on, found),
        cautions=cautions,
        basis=found.records[0].basis if found.records else "common-practice",
        sources=cited(base, [*sources, *(key for caution in cautions for key in caution.sources)]),
    )


def _checked(base: KnowledgeBase, weed_id: str, stage: str, scouted: Date, on: Date, zone: str) -> Weed:
    if weed_id not in base.weeds:
        raise InputError([unknown_id("weed", "weed", weed_id, base.weeds)])
    weed = base.weeds[weed_id]
    faults = []
    stages = STAGES_BY_LIFE_FORM[weed.life_form]
    if stage not in stages:
        faults.append(FieldFault("stage", f"'{stage}' is no stage of {weed.name}; use {', '.join(stages)}"))
    if zone not in base.zones:
        faults.append(unknown_id("zone", "zone", zone, base.zones))
    stale = round(base.parameter("growth-note-stale"))
    if on < scouted:
        what = f"{on} lies before the day of scouting, {scouted}; name that day or a later one"
        faults.append(FieldFault("on", what))
    elif (on - scouted).days > stale:
        what = (
            f"the note is {(on - scouted).days} days older than {on}; one of more than {stale} days, a growing "
            "season, tells nothing of the stage: look again"
        )
        faults.append(FieldFault("scouted", what))
    if faults:
        raise InputError(faults)
    return weed


def _found(
    base: KnowledgeBase, weed: Weed, stage: str, scouted: Date, on: Date, zone: str, daily: Sequence[AirDay]
) -> Found:
    ways = courses(weed, zone, stage, scouted, round(base.parameter("growth-seedling-days")))
    chain = _chain(base, weed, stage)
    covered = _covered(daily, scouted, on) if chain else []
    if not covered:
        return _untempered(base, weed, stage, scouted, on, zone, ways)
    warmth = degree_days(covered, chain[0].base_f)
    until = covered[-1][0] + timedelta(days=1)
    warm = _by_warmth(base, stage, chain, warmth, ways, until)
    if until == on:
        return warm
    # What the days did that are told is done, whatever the calendar says of the rest.
    rest = _untempered(base, weed, stage, scouted, on, zone, ways)
    return _at_least(warm, rest, STAGES_BY_LIFE_FORM[weed.life_form], until)


def _untempered(
    base: KnowledgeBase, weed: Weed, stage: str, scouted: Date, on: Date, zone: str, ways: tuple[Course, ...]
) -> Found:
    """Aged without temperatures: by the calendar, or not at all."""
    off = ways[0].window.off(scouted.toordinal()) if ways else 0
    lasting = weed.life_cycle in ("perennial", "biennial")
    if not ways or (lasting and off > base.parameter("growth-note-off")):
        return _unaged(base, weed, stage, (on - scouted).days, zone, on, off, known=bool(ways))
    usual = _by_calendar(base, weed, ways[0], scouted, on)
    if usual is None:
        return _unaged(base, weed, stage, (on - scouted).days, zone, on, off, known=True)
    for other in ways[1:]:
        more = _by_calendar(base, weed, other, scouted, on)
        if more is not None:
            usual = _joined(usual, more, ways[0])
    return usual


def _note(stage: str, stages: tuple[str, ...], off: int = 0) -> Found:
    return Found(stage=stage, stages=stages, by="note", off=off)


def _unaged(
    base: KnowledgeBase, weed: Weed, stage: str, days: int, zone: str, on: Date, off: int, *, known: bool
) -> Found:
    """The note as it was written, with what else is plausible by then."""
    passed = days // round(base.parameter("growth-stage-least"))
    order = STAGES_BY_LIFE_FORM[weed.life_form]
    if known:
        young = () if stage in _YOUNG else _YOUNG
        seen = [s for s in stages_by_calendar(weed, zone, on) if s not in young] if passed else []
        # The likeliest of the calendar last.
        return _note(stage, (stage, *(other for other in reversed(seen) if other != stage)), off)
    place = order.index(stage)
    return _note(stage, order[place : place + passed + 1])


# By the calendar


def _by_calendar(base: KnowledgeBase, weed: Weed, course: Course, scouted: Date, on: Date) -> Found | None:
    """Every plant that agrees with the note, on the date; None where the calendar holds none."""
    day, spread = scouted.toordinal(), base.parameter("growth-year-spread")
    off = course.window.off(day)
    agreeing: Grid = np.empty((0, len(course.steps)))
    if off <= spread:
        agreeing = _agreeing(course, day, np.linspace(-spread, spread, _SHIFTS))
    if not len(agreeing):
        # Plants outside the calendar are as old in their stage as any: the whole window is moved over the day.
        moved = day - np.linspace(course.window.start, course.window.end, 2 * _SHIFTS + 1)
        agreeing = _agreeing(course, day, moved)
        if weed.life_cycle == "summer-annual" and day > course.window.end:
            # They meet warmer weather than the calendar's seedlings did.
            paces = np.linspace(base.parameter("growth-late-pace"), 1.0, _FEW_SHIFTS)
            agreeing = np.concatenate([day + (agreeing - day) * pace for pace in paces])
    if not len(agreeing):
        return None
    place = (agreeing <= on.toordinal()).sum(axis=1) - 1
    first, middle, last = _central(place)
    named = tuple(step.stage for step in course.steps)
    stages = tuple(dict.fromkeys(named[first : last + 1]))
    return Found(named[middle], stages, "calendar", over=course.over, off=off if off > spread else 0)


def _agreeing(course: Course, day: int, shifts: Grid) -> Grid:
    """Days on which each plant that is in the stage of the note on its day enters each stage, (plants, stages)."""
    enters = _entering(course, _PLACES, shifts)
    here = enters[:, 0] <= day
    if len(course.steps) > 1:
        here &= enters[:, 1] > day
    return enters[here]


def _entering(course: Course, places: Grid, shifts: Grid) -> Grid:
    first = np.array([step.first for step in course.steps], dtype=float)
    span = np.array([step.last for step in course.steps], dtype=float) - first
    enters = first + places[:, None] * span
    # Nobody enters a stage before the one that leads to it.
    enters = np.maximum.accumulate(enters, axis=1)
    shifted: Grid = (enters[:, None, :] + shifts[None, :, None]).reshape(-1, len(course.steps))
    return shifted


def _central(place: npt.NDArray[np.intp]) -> tuple[int, int, int]:
    """The lower end, the middle and the upper end of the central 80 %."""
    ordered = np.sort(place)
    last = len(ordered) - 1
    low, middle, high = int(_LOW * last), last // 2, int(np.ceil(_HIGH * last))
    return int(ordered[low]), int(ordered[middle]), int(ordered[high])


def _joined(usual: Found, more: Found, course: Course) -> Found:
    """The usual course, with the stages of another that is plausible beside it."""
    order = list(dict.fromkeys(step.stage for step in course.steps))
    stages = {*usual.stages, *more.stages}
    ranked = sorted(stages, key=lambda name: order.index(name) if name in order else len(order))
    return Found(usual.stage, tuple(ranked), usual.by, over=usual.over, off=usual.off)


# By warmth


def _chain(base: KnowledgeBase, weed: Weed, stage: str) -> tuple[Growth, ...]:
    """Records that lead on from a stage, as long as they count above one temperature."""
    own = {record.start: record for record in base.growth.values() if weed.id in record.weeds}
    found: list[Growth] = []
    while stage in own and (not found or own[stage].base_f == found[0].base_f):
        found.append(own[stage])
        stage = own[stage].end
    return tuple(found)


def _covered(daily: Sequence[AirDay], scouted: Date, on: Date) -> list[AirDay]:
    """The days from scouting on, at most to the day before the date, as far as none is missing."""
    by_date = {day[0]: day for day in daily}
    wanted = (scouted + timedelta(days=n) for n in range((on - scouted).days))
    return [by_date[day] for day in itertools.takewhile(by_date.__contains__, wanted)]


def _at_least(warm: Found, rest: Found, order: Sequence[str], until: Date) -> Found:
    """What the calendar gives, but nothing earlier than what the warmth gave by then."""
    ends = [max(order.index(warm.stages[end]), order.index(rest.stages[end])) for end in (0, -1)]
    middle = max(order.index(warm.stage), order.index(rest.stage))
    stages = tuple(order[ends[0] : ends[1] + 1])
    return replace(rest, stage=order[middle], stages=stages, warmth=warm.warmth, records=warm.records, until=until)


def _by_warmth(
    base: KnowledgeBase, stage: str, chain: tuple[Growth, ...], warmth: float, ways: tuple[Course, ...], on: Date
) -> Found:
    low = np.array([record.low for record in chain])
    lengths = low + _PLACES[:, None] * (np.array([record.high for record in chain]) - low)
    left = np.repeat(lengths[:, None, :], len(_THROUGH), axis=1)
    left[:, :, 0] *= 1 - _THROUGH
    passed = (left.cumsum(axis=2) <= warmth).sum(axis=2).ravel()
    named = [stage, *(record.end for record in chain)]
    later: Grid = np.empty((1, 0))
    steps = tuple(step for step in ways[0].steps if step.stage not in named) if ways else ()
    if steps:
        # Heading follows day length: those that have come so far head when the calendar says.
        spread = base.parameter("growth-year-spread")
        rest = Course(ways[0].window, steps, ways[0].over)
        later = _entering(rest, _FEW_PLACES, np.linspace(-spread, spread, _FEW_SHIFTS))
        named += [step.stage for step in steps]
    by_date = (later <= on.toordinal()).sum(axis=1)
    place = passed[:, None] + np.where(passed[:, None] == len(chain), by_date[None, :], 0)
    first, middle, last = _central(place.ravel())
    over = ways[0].over if ways else None
    return Found(named[middle], tuple(named[first : last + 1]), "degree-days", warmth, chain, over=over)
