"""The visits of a planned year as a calendar that other programs read (RFC 5545)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from datetime import date as Date

from app.season.proposal_words import window_words
from app.season.year_calls import Call
from app.services.year_papers import YearPapers
from app.version import program_version

_PRODUCER = f"-//Swardwright//Swardwright {program_version()}//EN"
# A line holds at most so many octets, the break not counted (RFC 5545, 3.1).
_OCTETS = 75


def calendar(found: YearPapers, now: datetime) -> str:
    """The calendar: one event a visit, all day, its window in the description.

    A visit keeps its identifier when the year is planned anew, so that a program which took the calendar before moves
    it; `SEQUENCE` is the version of the plan. It holds nothing that a customer may not read.

    Parameters
    ----------
    now : datetime
        When it is written, with its time zone.
    """
    lines = [
        *("BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{_PRODUCER}", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"),
        f"NAME:{escaped(f'Visits {found.season}: {found.place.name}')}",
    ]
    for call in found.calls:
        lines += _event(found, call, now)
    return "".join(f"{part}\r\n" for line in (*lines, "END:VCALENDAR") for part in folded(line))


def _event(found: YearPapers, call: Call, now: datetime) -> Iterator[str]:
    place = found.place
    yield "BEGIN:VEVENT"
    yield f"UID:{found.season}-visit-{call.number}-{place.slug}@swardwright"
    yield f"DTSTAMP:{now.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    yield f"SEQUENCE:{found.number}"
    yield f"DTSTART;VALUE=DATE:{_day(call.date)}"
    # The day after: the end is not part of it.
    yield f"DTEND;VALUE=DATE:{_day(call.date + timedelta(days=1))}"
    yield f"SUMMARY:{escaped(f'Lawn visit {call.order} of {len(found.calls)}: {place.name}')}"
    if place.address:
        yield f"LOCATION:{escaped(place.address)}"
    yield f"DESCRIPTION:{escaped(_description(found, call))}"
    yield "STATUS:TENTATIVE"
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _description(found: YearPapers, call: Call) -> str:
    window, where = call.window, found.where(call)
    told = [f"Window: {window_words(window.start, window.end)}. {window.trigger}".strip()]
    told.append(f"Against {', '.join(found.weed_name(key) for key in call.weeds)}.")
    if where:
        told.append(f"On {where}.")
    if found.branch.phone:
        told.append(f"Questions: {' '.join(part for part in (found.branch.name, found.branch.phone) if part)}.")
    return "\n".join(told)


def _day(day: Date) -> str:
    return f"{day:%Y%m%d}"


def escaped(text: str) -> str:
    r"""A text as a value of a calendar (RFC 5545, 3.3.11).

    >>> escaped("Mill Lane 3; back, left") == r"Mill Lane 3\; back\, left"
    True
    """
    plain = re.sub(r"[\x00-\x08\x0b-\x1f\x7f]", "", text.replace("\r\n", "\n").replace("\t", " "))
    return re.sub(r"([\\;,])", r"\\\1", plain).replace("\n", "\\n")


def folded(line: str) -> Iterator[str]:
    """A line in pieces of at most 75 octets, no letter cut, each but the first after a space (RFC 5545, 3.1).

    >>> [len(part.encode()) for part in folded("x" * 150)]
    [75, 75, 2]
    """
    piece, size = "", 0
    for letter in line:
        octets = len(letter.encode())
        if size + octets > _OCTETS:
            yield piece
            piece, size = " ", 1
        piece, size = piece + letter, size + octets
    yield piece
