"""When seedlings come up: each recorded event of a weed held against temperatures day by day.

Air is never taken for soil: an event that waits for the soil is unknown where no soil temperature is told. Nothing
is reckoned beyond the last day that is told.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date as Date
from datetime import timedelta
from typing import Literal

from app.engine.citations import cited, source_ids
from app.engine.errors import FieldFault, InputError
from app.engine.output import CitedSource, Output
from app.engine.understood import unknown_id
from app.engine.wording import capital
from app.season.degree_days import average
from app.season.emergence_words import EVENT_WORDS, waits_for, weed_sentence, when
from app.season.forecast import Day
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM, Emergence, Weed
from knowledge.models.weed import EmergencePoint

Status = Literal["past", "under-way", "ahead", "not-reached", "unknown"]
Kind = Literal["air-degree-days", "soil-degree-days", "soil-temperature"]
EventName = Literal["first", "main", "half", "most", "end", "treat-before"]
_ONE_DAY = timedelta(days=1)


class EmergenceEvent(Output):
    """One recorded event of a weed, held against the temperatures.

    Attributes
    ----------
    status : str
        `past`, `under-way` (begun, its upper figure still to come), `ahead`, `not-reached` by the last day that
        is told, or `unknown`.
    earliest, latest : date, optional
        When the lower and the upper figure are reached; null where they are not reached in what is told.
    at_start : bool
        Whether it was reached with the first days told already, so that it may have been earlier.
    low, high, so_far : float
        Degree-days [F] above `base_f` counted from the day `start`, or soil temperature [F]. `so_far` is what
        is counted up to the day `until`, the last that counts.
    missing : str, optional
        The field that would settle what is unknown.
    waits_for, when, text : str
        What it waits for, when that is, and both in a sentence; `figure` tells what the record rests on.
    """

    kind: Kind
    event: EventName
    status: Status
    earliest: Date | None
    latest: Date | None
    at_start: bool
    low: float
    high: float
    so_far: float | None
    until: Date | None
    base_f: float | None
    start: Date
    depth_in: float | None
    falling: bool
    missing: str | None
    waits_for: str
    when: str
    text: str
    figure: str
    basis: Literal["published", "memory", "common-practice", "house"]
    sources: tuple[str, ...]


class SeedlingTime(Output):
    """When the calendar of a zone usually sees the first stage, month and day."""

    start: str
    end: str


class WeedEmergence(Output):
    """The events of one weed, and all of it in a sentence."""

    weed: str
    name: str
    text: str
    events: tuple[EmergenceEvent, ...]
    calendar: tuple[SeedlingTime, ...]


class EmergenceForecast(Output):
    """Emergence of weeds by the temperatures from `first` to `last`, as seen on `today`."""

    first: Date
    last: Date
    today: Date
    zone: str | None
    weeds: tuple[WeedEmergence, ...]
    sources: dict[str, CitedSource]


@dataclass(frozen=True)
class _Counted:
    """What a record counts, day by day; an event comes with the first score that is not below its figure.

    `told` is what a person is told of each day: the sum, or the soil's temperature.
    """

    days: tuple[Date, ...]
    scores: tuple[float, ...]
    told: tuple[float, ...]
    lacking: str | None = None
    why: str = ""


def emergence(
    base: KnowledgeBase,
    daily: Sequence[Day],
    weeds: Sequence[str] = (),
    zone: str | None = None,
    today: Date | None = None,
    soil_depth_in: float | None = None,
) -> EmergenceForecast:
    """When the seedlings of weeds come up, by temperatures day by day.

    Parameters
    ----------
    daily : sequence of Day
        Lowest and highest air, and mean soil temperature where it was measured [F], in the order of time.
    weeds : sequence of str
        Ids; every weed with recorded events where none is named.
    zone : str, optional
        Adds when the calendar of this zone usually sees seedlings.
    today : date, optional
        Parts what is past from what is ahead; the last day told where it is absent.
    soil_depth_in : float, optional
        How deep the soil temperatures were taken [in].

    Raises
    ------
    InputError
        For an unknown weed or zone, days out of order, or none at all.
    """
    _check(base, daily, weeds, zone)
    seen = today if today is not None else daily[-1].date
    chosen = weeds or sorted(key for key, weed in base.weeds.items() if weed.emergence)
    running = round(base.parameter("emergence-soil-days"))
    found = tuple(_of_weed(base.weeds[key], daily, zone, seen, soil_depth_in, running) for key in chosen)
    used = [key for weed in found for event in weed.events for key in event.sources]
    return EmergenceForecast(
        first=daily[0].date, last=daily[-1].date, today=seen, zone=zone, weeds=found, sources=cited(base, used)
    )


def _check(base: KnowledgeBase, daily: Sequence[Day], weeds: Sequence[str], zone: str | None) -> None:
    faults = [unknown_id(f"weeds.{i}", "weed", key, base.weeds) for i, key in enumerate(weeds) if key not in base.weeds]
    faults += [
        FieldFault(f"weeds.{i}", f"'{key}' is named twice; name each weed once")
        for i, key in enumerate(weeds)
        if key in weeds[:i]
    ]
    if zone is not None and zone not in base.zones:
        faults.append(unknown_id("zone", "zone", zone, base.zones))
    if not daily:
        faults.append(FieldFault("daily", "must name at least one day with its temperatures"))
    for number, (earlier, later) in enumerate(itertools.pairwise(daily), start=1):
        if later.date <= earlier.date:
            what = "is told twice" if later.date == earlier.date else "comes before the day above it"
            faults.append(FieldFault(f"daily.{number}.date", f"{later.date} {what}"))
    if faults:
        raise InputError(faults)


def _of_weed(
    weed: Weed, daily: Sequence[Day], zone: str | None, today: Date, depth_in: float | None, running: int
) -> WeedEmergence:
    events = []
    for record in weed.emergence:
        start = _start(record, daily[-1].date)
        counted = _counted(record, daily, start, running)
        events += [
            _event(record, point, counted, (start, daily[-1].date, today), depth_in, running) for point in record.points
        ]
    first = next(stage for stage in STAGES_BY_LIFE_FORM[weed.life_form] if stage != "not-emerged")
    usual = tuple(SeedlingTime(start=w.start, end=w.end) for w in weed.calendar if zone in w.zones and w.stage == first)
    said = weed_sentence(weed.name, events, [(time.start, time.end) for time in usual], daily[-1].date)
    return WeedEmergence(weed=weed.id, name=weed.name, text=said, events=tuple(events), calendar=usual)


def _start(record: Emergence, last: Date) -> Date:
    """The day from which a record counts: its own day of the year, else the first of January."""
    month, day = (int(part) for part in (record.start or "01-01").split("-"))
    # No sum starts on a day that not every year has.
    start = Date(last.year, month, day)
    return start if start <= last else Date(last.year - 1, month, day)


def _counted(record: Emergence, daily: Sequence[Day], start: Date, running: int) -> _Counted:
    if record.kind == "soil-temperature":
        return _soil_held(record, daily, start, running)
    return _sums(record, daily, start)


def _sums(record: Emergence, daily: Sequence[Day], start: Date) -> _Counted:
    """Running sums of the simple average above the base, from the start as far as no day is missing."""
    assert record.base_f is not None
    soil = record.kind == "soil-degree-days"
    by_date = {day.date: day for day in daily}
    days, sums, at, total = [], [], start, 0.0
    while at <= daily[-1].date:
        warmth = _warmth(by_date.get(at), record.base_f, soil=soil)
        if warmth is None:
            break
        total += warmth
        days.append(at)
        sums.append(total)
        at += _ONE_DAY
    if at > daily[-1].date:
        return _Counted(tuple(days), tuple(sums), tuple(sums))
    field = "daily.soil_temp_f" if soil else "daily"
    if soil and all(day.soil_temp_f is None for day in daily):
        why = "no soil temperature is told, and air is not taken for soil"
    elif not days:
        what = "soil" if soil else "air"
        why = f"the sum runs from {start.day} {start:%B %Y}, and no {what} temperatures are told from then on"
    else:
        why = f"no {'soil' if soil else 'air'} temperatures are told for {at.day} {at:%B %Y}"
    return _Counted(tuple(days), tuple(sums), tuple(sums), field, why)


def _warmth(day: Day | None, base_f: float, *, soil: bool) -> float | None:
    if day is None:
        return None
    low, high = (day.soil_temp_f, day.soil_temp_f) if soil else (day.min_f, day.max_f)
    return average(low, high, base_f) if low is not None and high is not None else None


def _soil_held(record: Emergence, daily: Sequence[Day], start: Date, running: int) -> _Counted:
    """On each day the temperature that the soil kept to for so many days running."""
    told = [(day.date, day.soil_temp_f) for day in daily if day.date >= start and day.soil_temp_f is not None]
    days, scores, read = [], [], []
    for end in range(running, len(told) + 1):
        part = told[end - running : end]
        if part[-1][0] - part[0][0] != (running - 1) * _ONE_DAY:
            continue
        held = [value for _, value in part]
        days.append(part[-1][0])
        scores.append(-max(held) if record.falling else min(held))
        read.append(held[-1])
    if days:
        return _Counted(tuple(days), tuple(scores), tuple(read))
    why = f"soil temperatures of {running} days running are needed"
    if all(day.soil_temp_f is None for day in daily):
        why = "no soil temperature is told, and air is not taken for soil"
    return _Counted((), (), (), "daily.soil_temp_f", why)


def _event(
    record: Emergence,
    point: EmergencePoint,
    counted: _Counted,
    days: tuple[Date, Date, Date],
    depth_in: float | None,
    running: int,
) -> EmergenceEvent:
    """One event of a record; `days` are that from which it counts, the last that is told, and that of asking."""
    start, last, today = days
    wanted = (-point.high, -point.low) if record.falling else (point.low, point.high)
    if record.falling and counted.days and counted.scores[0] >= wanted[0]:
        counted = _begun_cool(counted, point.high, start)
    earliest, latest = (_first(counted, figure) for figure in wanted)
    status = _status(earliest, latest, today)
    lacking = latest is None and counted.lacking is not None
    if status == "not-reached" and lacking:
        status = "unknown"
    event = EmergenceEvent(
        kind=record.kind,
        event=point.event,
        status=status,
        earliest=earliest,
        latest=latest,
        at_start=record.kind == "soil-temperature" and earliest is not None and earliest == counted.days[0],
        low=point.low,
        high=point.high,
        so_far=round(counted.told[-1], 1) if counted.told else None,
        until=counted.days[-1] if counted.days else None,
        base_f=record.base_f,
        start=start,
        depth_in=record.depth_in,
        falling=record.falling,
        missing=counted.lacking if lacking else None,
        waits_for="",
        when="",
        text="",
        figure=record.text,
        basis=record.basis,
        sources=source_ids(record.sources),
    )
    waits = waits_for(event, running, last)
    at = when(event, counted.why if lacking else "", depth_in, last)
    text = f"{capital(EVENT_WORDS[event.event])} ({waits}): {at}."
    return event.model_copy(update={"waits_for": waits, "when": at, "text": text})


def _begun_cool(counted: _Counted, high_f: float, start: Date) -> _Counted:
    """Soil that was cool with the first readings: when it cooled, and whether it did this year, is not told."""
    why = (
        f"the soil stood at or below {high_f:g} F when the readings began on {counted.days[0].day} "
        f"{counted.days[0]:%B}, so its cooling since {start.day} {start:%B} was not seen"
    )
    return _Counted((), (), (), "daily.soil_temp_f", why)


def _first(counted: _Counted, figure: float) -> Date | None:
    """The first day on which a figure is reached; None where it is not, in what is told."""
    reached = (day for day, score in zip(counted.days, counted.scores, strict=True) if score >= figure)
    return next(reached, None)


def _status(earliest: Date | None, latest: Date | None, today: Date) -> Status:
    if earliest is None:
        return "not-reached"
    if latest is not None and latest <= today:
        return "past"
    return "under-way" if earliest <= today else "ahead"
