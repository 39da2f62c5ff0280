"""Hours and days as people say them."""

from __future__ import annotations

from datetime import date as Date
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def day_said(day: Date) -> str:
    """A day in words.

    >>> day_said(Date(2027, 7, 14))
    'Wednesday, July 14'
    """
    return f"{_DAYS[day.weekday()]}, {_MONTHS[day.month - 1]} {day.day}"


def time_said(at: datetime, zone: ZoneInfo) -> str:
    """An instant as a time of the local clock; of an hour that comes twice, with the name of its time.

    >>> time_said(datetime.fromisoformat("2027-07-14T11:00Z"), ZoneInfo("America/New_York"))
    '7 am'
    >>> time_said(datetime.fromisoformat("2027-11-07T05:00Z"), ZoneInfo("America/New_York"))
    '1 am EDT'
    """
    return _said(at, zone, half=True)


def span_said(start: datetime, end: datetime, zone: ZoneInfo) -> str:
    """A span of time in words; the half of the day is said once where both ends share it.

    >>> at = datetime.fromisoformat
    >>> span_said(at("2027-07-14T11:00Z"), at("2027-07-14T14:00Z"), ZoneInfo("America/New_York"))
    '7 to 10 am'
    >>> span_said(at("2027-07-14T14:00Z"), at("2027-07-14T18:00Z"), ZoneInfo("America/New_York"))
    '10 am to 2 pm'
    >>> span_said(at("2027-07-14T04:00Z"), at("2027-07-15T04:00Z"), ZoneInfo("America/New_York"))
    'all day'
    """
    first, last = start.astimezone(zone), end.astimezone(zone)
    midnight = last.hour == last.minute == 0
    if midnight and first.hour == first.minute == 0 and first.date() + timedelta(days=1) == last.date():
        return "all day"
    alike = (first.hour < 12) == (last.hour < 12) and first.date() == last.date()
    plain = first.hour not in (0, 12) and last.hour not in (0, 12)
    return f"{_said(start, zone, half=not (alike and plain))} to {_said(end, zone, half=True)}"


def listed(parts: list[str]) -> str:
    """Parts of a sentence in a row.

    >>> listed(["7 to 10 am", "7 to 8 pm"])
    '7 to 10 am and 7 to 8 pm'
    """
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def _said(at: datetime, zone: ZoneInfo, *, half: bool) -> str:
    local = at.astimezone(zone)
    twice = local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
    named = f" {local.tzname()}" if twice else ""
    if local.minute == 0 and local.hour in (0, 12):
        return f"{'noon' if local.hour else 'midnight'}{named}"
    minutes = f":{local.minute:02d}" if local.minute else ""
    part = (" am" if local.hour < 12 else " pm") if half or twice else ""
    return f"{local.hour % 12 or 12}{minutes}{part}{named}"
