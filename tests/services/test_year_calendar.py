"""The calendar of a year, read by an independent parser (icalendar), and its lines by RFC 5545 as published."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.services.year_calendar import calendar, escaped, folded
from tests.season.planned_year import resting, visit
from tests.services.year_place import PLACE, year_papers

NOW = datetime(2027, 3, 1, 14, 30, tzinfo=UTC)


def events(text: str) -> list[Any]:
    return icalendar.Calendar.from_ical(text).walk("VEVENT")


def test_every_visit_is_one_event_all_day_with_its_window_in_words() -> None:
    found = year_papers(6)
    read = icalendar.Calendar.from_ical(calendar(found, NOW))
    assert (read["VERSION"], read["METHOD"]) == ("2.0", "PUBLISH")
    shown = read.walk("VEVENT")
    assert [event["DTSTART"].dt for event in shown] == [call.date for call in found.calls]
    for event, call in zip(shown, found.calls, strict=True):
        assert event["DTEND"].dt == call.date + timedelta(days=1)
        assert event["DTSTART"].params["VALUE"] == "DATE"
        assert event["DTSTAMP"].dt == NOW
        assert event["LOCATION"] == PLACE.address
        assert f"visit {call.order} of 6" in event["SUMMARY"]
        assert not event.errors
    assert "Window: April 2 to 16." in shown[0]["DESCRIPTION"]
    assert "before the first crabgrass comes up, and no longer" in shown[0]["DESCRIPTION"]
    assert "Against smooth crabgrass, prostrate knotweed, spotted spurge." in shown[0]["DESCRIPTION"]


def test_a_customer_may_read_it() -> None:
    told = calendar(year_papers(8), NOW).replace("\r\n ", "")
    for secret in ("prodiamine", "Pellmere", "triclopyr", "margin", "45.00"):
        assert secret not in told


def test_the_same_visit_keeps_its_identifier_when_the_year_is_planned_anew() -> None:
    first = events(calendar(year_papers(6), NOW))
    moved = year_papers([visit(1, date=date(2027, 4, 12)), visit(2), visit(3), visit(4)])
    later = events(calendar(moved, datetime(2027, 3, 9, tzinfo=UTC)))
    assert [event["UID"] for event in later] == [event["UID"] for event in first[:4]]
    assert later[0]["DTSTART"].dt == date(2027, 4, 12)
    assert len({event["UID"] for event in first}) == 6
    assert {event["SEQUENCE"] for event in first} == {2}


def test_a_day_on_which_nothing_is_applied_is_no_event() -> None:
    found = events(calendar(year_papers([visit(1), resting(2), visit(5)]), NOW))
    assert [str(event["SUMMARY"])[:17] for event in found] == ["Lawn visit 1 of 2", "Lawn visit 2 of 2"]


def test_a_year_without_visits_is_a_calendar_without_events() -> None:
    assert events(calendar(year_papers([]), NOW)) == []


def test_signs_that_mean_something_in_a_calendar_come_back_as_they_were() -> None:
    name = 'Fenn; Marsh, "Söhne" \\ Co: BEGIN:VEVENT'
    odd = PLACE.__class__(slug="odd", name=name, address="Line, one; two\\n")
    text = calendar(year_papers(4, place=odd), NOW)
    shown = events(text)
    assert len(shown) == 4
    assert name in shown[0]["SUMMARY"]
    assert shown[0]["LOCATION"] == "Line, one; two\\n"


def test_lines_end_and_break_as_the_standard_says() -> None:
    # Published: RFC 5545 section 3.1: CRLF, at most 75 octets a line, a break is CRLF and one white space.
    long = PLACE.__class__(slug="long", name="Größenwahn " * 10, address="é" * 200)
    text = calendar(year_papers(8, place=long), NOW)
    assert text.endswith("END:VCALENDAR\r\n")
    assert "\n" not in text.replace("\r\n", "")
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))


@settings(deadline=None, derandomize=True)
@given(st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=300))
def test_any_text_survives_folding_and_escaping(text: str) -> None:
    line = f"DESCRIPTION:{escaped(text)}"
    parts = list(folded(line))
    assert "".join((parts[0], *(part[1:] for part in parts[1:]))) == line
    assert all(len(part.encode()) <= 75 for part in parts)
    assert all(part.startswith(" ") for part in parts[1:])
    whole = "".join(f"{part}\r\n" for part in ("BEGIN:VEVENT", *parts, "END:VEVENT"))
    assert str(icalendar.Event.from_ical(whole)["DESCRIPTION"]) == text


@pytest.mark.parametrize("sign", ["\x00", "\x1b", "\x7f"])
def test_signs_that_no_calendar_may_hold_are_left_out(sign: str) -> None:
    assert escaped(f"a{sign}b") == "ab"
