"""The course of a weed's stages through the year in one zone, read from its calendar.

The windows of a calendar overlap because plants of one population are not alike: the first enter a stage when its
window opens, the last leave it when it closes. So plants pass from one stage to the next between the opening of
the next window and the closing of their own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date as Date

from knowledge.models import STAGES_BY_LIFE_FORM, Weed

_BEFORE_STALE = 400
_GAP_OF_ONE_COURSE = 30
_RIPE = ("seed-set", "mature")
_IN_BLOOM = ("flowering", "seed-set")
_ANNUAL = ("summer-annual", "winter-annual")


@dataclass(frozen=True)
class Window:
    """A stage with the first and the last day on which it is usually seen [ordinal days]."""

    stage: str
    start: int
    end: int

    def off(self, day: int) -> int:
        """How far a day lies outside [days]."""
        return max(self.start - day, day - self.end, 0)


@dataclass(frozen=True)
class Step:
    """The days on which the first and the last plants enter a stage [ordinal days]."""

    stage: str
    first: int
    last: int


@dataclass(frozen=True)
class Course:
    """How plants of one stage go on.

    `steps` starts with the entry of that stage itself; `over` is the day on which plants of a short life are
    usually dead [ordinal day], None where they live on.
    """

    window: Window
    steps: tuple[Step, ...]
    over: int | None


def windows_about(weed: Weed, zone: str, day: Date) -> list[Window]:
    """Every window of the years about a day, by the day on which it opens."""
    order = STAGES_BY_LIFE_FORM[weed.life_form]
    found = []
    for span in weed.calendar:
        if zone not in span.zones:
            continue
        for year in range(day.year - 1, day.year + 2):
            start = day_of(year, span.start).toordinal()
            end = day_of(year if span.end >= span.start else year + 1, span.end).toordinal()
            found.append(Window(span.stage, start, end))
    return sorted(found, key=lambda w: (w.start, order.index(w.stage)))


def courses(weed: Weed, zone: str, stage: str, scouted: Date, seedling_days: int) -> tuple[Course, ...]:
    """How plants that were seen at a stage go on: the usual course first, then others that are plausible.

    Parameters
    ----------
    seedling_days : int
        The most days that a seedling of a perennial or biennial takes to become an established plant.

    Returns
    -------
    tuple of Course
        Empty where the calendar of the zone does not know the stage.
    """
    day = scouted.toordinal()
    every = windows_about(weed, zone, scouted)
    own = [w for w in every if w.stage == stage]
    if not own:
        return ()
    window = min(own, key=lambda w: (w.off(day), w.start))
    if stage == "seedling" and weed.life_cycle not in _ANNUAL:
        young = _young(weed, every, window, day, seedling_days)
        # Some flower in the year in which they come up; a biennial does not.
        return young if weed.life_cycle == "perennial" else young[:1]
    usual = _course(weed, every, window)
    rosette = weed.life_cycle == "biennial" and stage == "vegetative"
    if rosette and any(step.stage in _IN_BLOOM for step in usual.steps[:2]):
        return (usual, _course(weed, every, window, blooms=False))
    return (usual,)


def _young(weed: Weed, every: list[Window], window: Window, day: int, seedling_days: int) -> tuple[Course, ...]:
    """Courses of a seedling that becomes an established plant by its age, and then goes on by the calendar."""
    grown = Window("vegetative", day, day + seedling_days - 1)
    entry = Step(window.stage, window.start, window.start)
    rising = Step(grown.stage, day, day + seedling_days)
    found = []
    for blooms in (False, True):
        later = _course(weed, every, grown, blooms=blooms)
        found.append(Course(window, (entry, rising, *later.steps[1:]), later.over))
    return tuple(found)


def _course(weed: Weed, every: list[Window], window: Window, *, blooms: bool = True) -> Course:
    order = STAGES_BY_LIFE_FORM[weed.life_form]
    winters = any(w.stage == "overwintering" for w in every)
    last, steps, skipped = window, [_entry(weed, every, window)], False
    passed = {window.stage}
    for w in every:
        if (w.start, order.index(w.stage)) <= (window.start, order.index(window.stage)):
            continue
        if w.start > window.start + _BEFORE_STALE or _ends(weed, last.stage):
            break
        if w.stage == last.stage:
            # The same stage once more, as in autumn: they never left it.
            last, skipped = replace(last, end=max(last.end, w.end)), False
            continue
        if not blooms and w.stage in _IN_BLOOM:
            skipped = True
            continue
        if not _follows(weed, last.stage, w.stage, passed, winters):
            continue
        bounds = (w.start, w.start if skipped else last.end + 1)
        steps.append(Step(w.stage, min(bounds), max(bounds)))
        blooms = blooms or w.stage == "overwintering"
        passed.add(w.stage)
        last, skipped = w, False
    return Course(window, tuple(steps), last.end if _ends(weed, last.stage) else None)


def _ends(weed: Weed, stage: str) -> bool:
    """Whether plants die after this stage."""
    return stage in _RIPE and weed.life_cycle != "perennial"


def _follows(weed: Weed, before: str, after: str, passed: set[str], winters: bool) -> bool:
    """Whether plants may pass from one stage to another."""
    if weed.life_form in ("grass", "sedge"):
        order = STAGES_BY_LIFE_FORM[weed.life_form]
        return weed.life_cycle == "perennial" or order.index(after) > order.index(before)
    if after == "seedling":
        return before == "not-emerged"
    if after == "not-emerged":
        # Tops that die back in winter are no stage of plants that keep a rosette.
        return weed.life_cycle == "perennial" and not winters
    return weed.life_cycle not in _ANNUAL or after not in passed


def _entry(weed: Weed, every: list[Window], window: Window) -> Step:
    """When plants enter the stage of a window, by the window before it."""
    winters = any(w.stage == "overwintering" for w in every)
    earlier = [
        w
        for w in every
        if w.start < window.start
        and w.stage != window.stage
        and window.start - _GAP_OF_ONE_COURSE <= w.end <= window.end
        and _follows(weed, w.stage, window.stage, set(), winters)
        and (weed.life_cycle in _ANNUAL or w.stage != "seedling")
    ]
    if not earlier:
        return Step(window.stage, window.start, window.start)
    bounds = (window.start, earlier[-1].end + 1)
    return Step(window.stage, min(bounds), max(bounds))


def day_of(year: int, month_day: str) -> Date:
    """A month and day of a year; the 29th of February is the 28th where there is none."""
    month, day = (int(part) for part in month_day.split("-"))
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    return Date(year, month, 28 if (month, day) == (2, 29) and not leap else day)
