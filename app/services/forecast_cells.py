"""The cells of a table of weather, read into the units of the forecast; a fault says what would be right."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from datetime import date as Date
from zoneinfo import ZoneInfo

from app.services.forecast_columns import UNITS, USUAL, Kind, System
from app.services.label_text import Unreadable, number
from app.services.trial_cells import pointed

_BLANK = frozenset(("", ".", "-", "–", "—", "na", "n/a", "nan", "none", "null", "m", "--"))
_PARTS = re.compile(r"^\s*(?P<figure>[-+]?[0-9.,]+)\s*(?P<unit>[^0-9.,]*?)\s*$")
_TRACE = frozenset(("t", "trace"))
# Exact definitions: 1 mile is 1609.344 m, 1 inch 25.4 mm, 1 knot 1852 m an hour.
_MPH = {"mph": 1.0, "km/h": 1 / 1.609344, "m/s": 3.6 / 1.609344, "kn": 1.852 / 1.609344}
_INCHES = {"in": 1.0, "mm": 1 / 25.4, "cm": 1 / 2.54}
_US_DAY = re.compile(r"^(?P<month>\d{1,2})/(?P<day>\d{1,2})/(?P<year>\d{4})$")
_POINTED_DAY = re.compile(r"^(?P<day>\d{1,2})\.(?P<month>\d{1,2})\.(?P<year>\d{4})$")
_ISO_DAY = re.compile(r"^(?P<year>\d{4})-(?P<month>\d{1,2})-(?P<day>\d{1,2})$")
_CLOCK = re.compile(
    r"^(?P<hour>\d{1,2})(?::?(?P<minute>\d{2}))?(?::(?P<second>\d{2})(?:\.0+)?)?\s*(?P<half>[ap])?\.?(?:m\.?)?$", re.I
)
_TIMES = "write 2027-07-14T06:00-04:00, 2027-07-14 06:00 or 7/14/2027 6:00 AM"


def is_blank(cell: str) -> bool:
    """Whether a cell says nothing."""
    return cell.strip().casefold() in _BLANK


def reading(cell: str, kind: Kind, unit: str | None, system: System | None, comma: bool = False) -> float:
    """A figure in degF, mph, inches or percent; the unit in the cell leads, then its heading's, then the system's.

    `comma` says that a comma may be the decimal sign.

    Raises
    ------
    Unreadable
        Where it is no figure, or nothing tells its unit.
    """
    told = cell.strip()
    if kind == "depth" and told.casefold() in _TRACE:
        return 0.0
    found = _PARTS.match(pointed(told) if comma else told)
    if found is None:
        raise Unreadable(f"{short(cell)} is no figure; write it in figures, for example {_EXAMPLES[kind]}")
    spelled = re.sub(r"[\s.]+", "", found["unit"].casefold())
    named = UNITS[kind].get(spelled)
    if spelled and named is None:
        allowed = ", ".join(dict.fromkeys(UNITS[kind].values()))
        raise Unreadable(f"{short(cell)} has the unit '{found['unit'].strip()}'; use {allowed}")
    said = named or unit or ("%" if kind == "percent" else USUAL[system][kind] if system is not None else None)
    if said is None:
        allowed = " or ".join(dict.fromkeys(UNITS[kind].values()))
        raise Unreadable(f"{short(cell)} has no unit; write {allowed} in the heading, or say that the table is in US "
                         "or metric units")  # fmt: skip
    return converted(number(found["figure"]), said)


_EXAMPLES: dict[Kind, str] = {"temperature": "72 F", "speed": "6 mph", "depth": "0.1 in", "percent": "60", "time": "6"}


def converted(value: float, unit: str) -> float:
    """A figure of one of these units in degF, mph, inches or percent, to hundredths, inches to ten-thousandths."""
    if unit == "C":
        return round(value * 9 / 5 + 32, 2)
    if unit in _MPH:
        return round(value * _MPH[unit], 2)
    if unit in _INCHES:
        return round(value * _INCHES[unit], 4)
    return value


def day(cell: str) -> Date:
    """A day: ISO, month/day/year or day.month.year.

    Raises
    ------
    Unreadable
        Where it is none of them, or no day of the calendar.
    """
    told = cell.strip()
    found = _ISO_DAY.match(told) or _US_DAY.match(told) or _POINTED_DAY.match(told)
    if found is None:
        raise Unreadable(f"{short(cell)} is no day; write 2027-07-14, 7/14/2027 (month first) or 14.7.2027")
    try:
        return Date(int(found["year"]), int(found["month"]), int(found["day"]))
    except ValueError as error:
        first = "; of days between slashes the month comes first" if "/" in told else ""
        raise Unreadable(f"{short(cell)} is no day of the calendar{first}") from error


def moment(cell: str) -> datetime:
    """A time as it stands: aware where it has its offset, else of the local clock.

    Raises
    ------
    Unreadable
        Where it cannot be read.
    """
    told = " ".join(cell.split())
    try:
        found = datetime.fromisoformat(told.replace(" ", "T", 1) if re.match(r"\d{4}-\d\d-\d\d \d", told) else told)
    except ValueError:
        found = _by_hand(told)
    else:
        if len(told) <= 10:
            raise Unreadable(f"{short(cell)} tells no time of the day; {_TIMES}")
    return found


def _by_hand(told: str) -> datetime:
    first, _, rest = told.replace(",", " ").partition(" ")
    clock = _CLOCK.match(rest.strip())
    if clock is None:
        raise Unreadable(f"{short(told)} is no time; {_TIMES}")
    on = day(first)
    hour, minute = int(clock["hour"]), int(clock["minute"] or 0)
    half = (clock["half"] or "").casefold()
    if half:
        if not 1 <= hour <= 12:
            raise Unreadable(f"{short(told)} is no time of a clock of twelve hours")
        hour = hour % 12 + (12 if half == "p" else 0)
    if hour > 23 or minute > 59:
        raise Unreadable(f"{short(told)} is no time of the day; {_TIMES}")
    return datetime(on.year, on.month, on.day, hour, minute)


def instant(told: datetime, zone: ZoneInfo, before: datetime | None) -> datetime:
    """The instant of a time of the local clock; of an hour that comes twice, the first after the row above.

    Parameters
    ----------
    told : datetime
        A time, aware or of the local clock.
    zone : ZoneInfo
        The zone of the local clock.
    before : datetime, optional
        The instant of the row above.

    Raises
    ------
    Unreadable
        For a time that the clock jumps over in spring.
    """
    if told.tzinfo is not None:
        return told.astimezone(UTC)
    both = [told.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)]
    if both[0] != both[1] and all(at.astimezone(zone).replace(tzinfo=None) != told for at in both):
        raise Unreadable(f"{told.isoformat(sep=' ', timespec='minutes')} does not come: the clock is put forward there")
    return next((at for at in sorted(both) if before is None or at > before), min(both))


def short(cell: str) -> str:
    """A cell as it is quoted."""
    told = " ".join(cell.split())
    return f"'{told}'" if len(told) <= 40 else f"'{told[:37]}...'"
