"""Spray windows and degree-days as text for people, at eighty columns."""

from __future__ import annotations

from collections.abc import Iterator

from app.season.degree_days import DegreeDays
from app.season.windows_output import Reason, WindowDay, Windows
from app.text import ending_lines, wrapped

# One sign an hour, told apart without colour.
_SIGNS = {"open": "O", "closed": ".", "unknown": "?"}
_MARKS = {"stop": "[stop]", "caution": "[caution]", "unknown": "[unknown]"}


def windows_text(answer: Windows) -> str:
    """Spray windows: day by day the strip, when it is open, why not, and the heat that follows."""
    return "\n".join(_windows(answer)).rstrip() + "\n"


def _windows(answer: Windows) -> Iterator[str]:
    yield wrapped(answer.headline)
    yield wrapped(f"{answer.place}: for {answer.limits.name or 'any spray'}; times of {answer.timezone}.")
    for day in answer.days:
        yield ""
        yield from _day(day)
    yield ""
    yield from ending_lines(answer.notices, answer.sources, answer.knowledge_version)


def _day(day: WindowDay) -> Iterator[str]:
    yield wrapped(f"{day.day}: {day.words}. {day.sun_words}")
    strip = "".join(_SIGNS[hour.state] for hour in day.hours)
    yield f"  |{strip}|  hour by hour: O open, . closed, ? unknown"
    for span in (*day.careful, *day.shut):
        yield wrapped(f"{span.words}: {'open with care' if span.state == 'open' else span.state}", "  ")
        for reason in span.reasons:
            yield _reason(reason)
    if day.mostly:
        yield wrapped(f"Most closed: {day.mostly}", "  ")
    if day.heat.cautions:
        yield "  The heat that follows"
        for reason in day.heat.cautions:
            yield _reason(reason)
    for notice in day.notices:
        yield wrapped(notice, "  - ")


def _reason(reason: Reason) -> str:
    settled = f" (settled by {reason.settled_by})" if reason.settled_by else ""
    sources = f" [{', '.join(reason.sources)}]" if reason.sources else ""
    return wrapped(f"{_MARKS[reason.severity]} {reason.text}{settled}{sources}", "     ", "       ")


def degree_days_text(answer: DegreeDays) -> str:
    """Degree-days as a table with the running total."""
    upper = f", upper cut-off {answer.upper_f:g} F" if answer.upper_f is not None else ""
    lines = [wrapped(f"{answer.text} Method: {answer.method}{upper}."), ""]
    if answer.days:
        lines.append(f"{'date':<12}{'min F':>8}{'max F':>8}{'degree-days F':>16}{'total':>10}")
    for day in answer.days:
        told = [f"{value:.1f}" if value is not None else "-" for value in (day.min_f, day.max_f)]
        found = f"{day.degree_days:.1f}" if day.degree_days is not None else "not told"
        lines.append(f"{day.date.isoformat():<12}{told[0]:>8}{told[1]:>8}{found:>16}{day.total:>10.1f}")
    lines += [wrapped(notice, "- ", "  ") for notice in answer.notices]
    return "\n".join(lines) + "\n"
