"""Emergence in sentences, every temperature both ways."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date as Date
from typing import TYPE_CHECKING

from app.engine.wording import capital
from app.season.daily import day_words, in_c, in_c_days, tidy

if TYPE_CHECKING:
    from app.season.emergence import EmergenceEvent

EVENT_WORDS = {
    "treat-before": "preemergence active down",
    "first": "first seedlings",
    "main": "main flush",
    "half": "half of the seedlings",
    "most": "most of the seedlings",
    "end": "end of emergence",
}
_LACKING = {
    "daily.soil_temp_f": "soil temperatures from the start of its season",
    "daily": "air temperatures from the start of its sum",
}
_CM_PER_INCH = 2.54


def waits_for(event: EmergenceEvent, running: int, last: Date) -> str:
    """What an event waits for.

    Parameters
    ----------
    running : int
        Days for which soil must keep to a temperature.
    """
    place = f"soil at {_deep(event.depth_in)}" if event.depth_in is not None else "soil"
    if event.kind == "soil-temperature":
        way = " and falling" if event.falling else ""
        return f"{place} of {_span(event)}{way}, {running} days running"
    assert event.base_f is not None
    of = "air" if event.kind == "air-degree-days" else place
    both = f"{_both(event)} above {tidy(in_c(event.base_f))} C"
    figures = _plain(event.low, event.high)
    return f"{figures} degree-days of {of} above {event.base_f:g} F from {day_words(event.start, last)}; {both}"


def when(event: EmergenceEvent, why: str, depth_in: float | None, last: Date) -> str:
    """When that was or will be, or why it is unknown.

    Parameters
    ----------
    why : str
        What is lacking, empty where nothing is.
    depth_in : float, optional
        How deep the soil temperatures were taken [in].
    """
    if event.status == "unknown":
        return f"unknown, {why}{_so_far(event)}"
    return f"{_when(event, last)}{f'; {why}' if why else ''}{_depth(event, depth_in)}"


def _when(event: EmergenceEvent, last: Date) -> str:
    if event.earliest is None:
        assert event.until is not None
        far = _so_far(event)
        return f"not reached by {day_words(event.until, last)}{far}"
    early = " or earlier, since the soil was as warm when the readings began"
    begun = f"{day_words(event.earliest, last)}{early if event.at_start else ''}"
    if event.status == "past" and event.latest is not None:
        same = event.latest == event.earliest
        return f"reached on {begun}" if same else f"reached between {begun} and {day_words(event.latest, last)}"
    if event.latest is not None:
        ahead = day_words(event.latest, last)
        if event.status == "under-way":
            return f"begun on {begun}, the upper figure ahead on {ahead}"
        return f"ahead, on {begun}" if event.latest == event.earliest else f"ahead, from {begun} to {ahead}"
    assert event.until is not None
    lead = "begun on" if event.status == "under-way" else "ahead, from"
    far = _so_far(event)
    return f"{lead} {begun}, the upper figure not reached by {day_words(event.until, last)}{far}"


def _so_far(event: EmergenceEvent) -> str:
    """How far it has come, empty where that is not told."""
    if event.so_far is None:
        return ""
    if event.kind == "soil-temperature":
        return f"; the soil last read {event.so_far:.0f} F ({in_c(event.so_far):.0f} C)"
    return f"; so far {event.so_far:.0f} of {_plain(event.low, event.high)} degree-days"


def _plain(low: float, high: float) -> str:
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def _both(event: EmergenceEvent) -> str:
    low, high = in_c_days(event.low), in_c_days(event.high)
    return f"{low:.0f}" if event.low == event.high else f"{low:.0f} to {high:.0f}"


def _span(event: EmergenceEvent) -> str:
    low, high = in_c(event.low), in_c(event.high)
    metric = f"{low:.0f}" if event.low == event.high else f"{low:.0f} to {high:.0f}"
    return f"{_plain(event.low, event.high)} F ({metric} C)"


def _deep(depth_in: float) -> str:
    return f"{depth_in:g} inch{'' if depth_in == 1 else 'es'} ({depth_in * _CM_PER_INCH:.1f} cm)"


def _depth(event: EmergenceEvent, told_in: float | None) -> str:
    """What parts the readings from the figure: how deep they were taken."""
    if event.kind == "air-degree-days" or event.depth_in is None:
        return ""
    if told_in is None:
        return "; the depth of your soil readings is not told"
    return "" if told_in == event.depth_in else f"; your soil readings are from {_deep(told_in)}"


def weed_sentence(name: str, events: Sequence[EmergenceEvent], usual: Sequence[tuple[str, str]], last: Date) -> str:
    """All that is known of a weed's emergence, in one sentence or two.

    Where several records speak of one event, the span is from the earliest to the latest of them.
    """
    parts = [said for key in EVENT_WORDS if (said := _together(key, [e for e in events if e.event == key], last))]
    if not events:
        parts = ["no figure of its emergence is recorded"]
    elif not parts:
        lacking = dict.fromkeys(_LACKING[e.missing] for e in events if e.missing is not None)
        parts = [f"unknown from what is told; {' and '.join(lacking)} would settle it"]
    text = f"{capital(name)}: {'; '.join(parts)}."
    if usual:
        spans = " and ".join(" to ".join(_month_day(day) for day in span) for span in usual)
        text += f" By the calendar of the zone seedlings are usually seen {spans}."
    return text


def _together(key: str, events: Sequence[EmergenceEvent], last: Date) -> str:
    known = [event for event in events if event.status != "unknown"]
    if not known:
        return ""
    reached = [event for event in known if event.earliest is not None]
    lead = EVENT_WORDS[key] if key != "treat-before" else "preemergence active to be down"
    if not reached:
        return f"{lead} not reached by {day_words(max(e.until for e in known if e.until is not None), last)}"
    first = min(event.earliest for event in reached if event.earliest is not None)
    ends = [event.latest for event in reached]
    before = "by" if key == "treat-before" else "from"
    start = f"{lead} {before} {day_words(first, last)}"
    if key == "treat-before" or None in ends or len(reached) < len(known):
        return start if key == "treat-before" else f"{start} on"
    final = max(end for end in ends if end is not None)
    return f"{lead} on {day_words(first, last)}" if final == first else f"{start} to {day_words(final, last)}"


def _month_day(day: str) -> str:
    # A leap year, so that the 29th of February has its place.
    return day_words(Date(2024, int(day[:2]), int(day[3:])), Date(2024, 1, 1))
