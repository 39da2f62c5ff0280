"""Tables of weather, pasted or uploaded: hours of a forecast, and days for degree-days.

Every row that cannot be used is named by line and column, all at once, and nothing is taken by halves. Hours that
are missing stay missing and are named.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from app.engine.errors import FieldFault, InputError
from app.engine.measures import EARLIEST_YEAR
from app.season.forecast import HOUR, MOST_DAYS, MOST_HOURS, Day, Hour, zone_named
from app.services.csv_text import parting, records, refused
from app.services.forecast_cells import day, instant, is_blank, moment, reading, short
from app.services.forecast_columns import DAILY, HOURLY, Column, Kind, System, columns_of, is_known, plain
from app.services.label_text import Unreadable
from app.services.validation import validated

_FIELDS = {
    **{"temp": "temp_f", "rh": "rh_pct", "wind": "wind_mph", "gust": "gust_mph", "rain": "rain_in"},
    **{"rain_chance": "rain_chance_pct", "cloud": "cloud_pct", "soil_temp": "soil_temp_f"},
    **{"min": "min_f", "max": "max_f"},
}
_NAMES = {name: column for column, name in _FIELDS.items()}
_MOST_FAULTS = 50
_ANY = datetime(EARLIEST_YEAR, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class ReadHours:
    """The hours of a table, the headings that were not read, and what is to be said of them."""

    hours: tuple[Hour, ...]
    notices: tuple[str, ...]


@dataclass(frozen=True)
class ReadDays:
    """The days of a table, and what is to be said of them."""

    days: tuple[Day, ...]
    notices: tuple[str, ...]


@dataclass
class _Faults:
    """Faults of rows, each with its line and the heading of its column."""

    found: list[FieldFault] = field(default_factory=list)

    def add(self, line: int, column: str, message: str) -> None:
        where = f"line {line}{f', {column}' if column else ''}"
        self.found.append(FieldFault("csv", f"{where}: {message}"))

    def raise_any(self) -> None:
        if self.found:
            more = len(self.found) - _MOST_FAULTS
            shown = self.found[:_MOST_FAULTS]
            if more > 0:
                shown.append(FieldFault("csv", f"{more} more rows cannot be used"))
            raise InputError(shown)


def read_hours(text: str, timezone: str, system: System | None = None) -> ReadHours:
    """The hours of a table of weather.

    Parameters
    ----------
    text : str
        The table, its cells parted by comma, semicolon or tab, under a line of headings.
    timezone : str
        Zone of the times that have no offset; an hour that comes twice is told by the order of the rows.
    system : str, optional
        Units of figures that have none in heading or cell; without it such a figure is a fault.

    Raises
    ------
    InputError
        With every row that cannot be used.
    """
    zone = zone_named(timezone)
    header, rows, comma = _opened(text, HOURLY, MOST_HOURS)
    at = columns_of(header, HOURLY)
    if "temp" not in at:
        raise refused(f"no column of air temperature is found; {_headings(HOURLY)}")
    if "start" not in at and not {"date", "hour"} <= set(at):
        # A heading `date` alone may hold the time as well.
        if "date" not in at:
            raise refused(f"no column of time is found; {_headings(HOURLY)}")
        at["start"] = at.pop("date")
    faults, hours, before = _Faults(), list[Hour](), None
    for line, cells in rows:
        start = _start(cells, at, zone, before, line, faults)
        if start is not None:
            before = start
        values = _values(cells, at, system, comma, line, faults)
        if values is None:
            continue
        if "temp_f" not in values:
            faults.add(
                line, at["temp"].heading, "the air temperature is missing; leave the row out where it is not known"
            )
            continue
        # Where the time is a fault, the figures are looked at all the same.
        hour = _model(Hour, {"start": start or _ANY, **values}, line, at, faults)
        if hour is not None and start is not None:
            hours.append(hour)
    faults.raise_any()
    return ReadHours(tuple(hours), tuple(_unread(header, HOURLY)))


def read_days(text: str, system: System | None = None) -> ReadDays:
    """The days of a table of daily extremes; parameters and faults as for `read_hours`."""
    header, rows, comma = _opened(text, DAILY, MOST_DAYS)
    at = columns_of(header, DAILY)
    lacking = [name for name in ("date", "min", "max") if name not in at]
    if lacking:
        raise refused(f"no column for {' and '.join(lacking)} is found; {_headings(DAILY)}")
    faults, days = _Faults(), list[Day]()
    for line, cells in rows:
        values = _values(cells, at, system, comma, line, faults)
        try:
            on = day(_cell(cells, at["date"]))
        except Unreadable as error:
            faults.add(line, at["date"].heading, str(error))
            continue
        if days and on <= days[-1].date:
            what = "stands twice" if on == days[-1].date else f"comes after {days[-1].date}; put the days in order"
            faults.add(line, at["date"].heading, f"{on} {what}")
            continue
        if values is not None and (found := _model(Day, {"date": on, **values}, line, at, faults)) is not None:
            days.append(found)
    faults.raise_any()
    return ReadDays(tuple(days), tuple(_unread(header, DAILY)))


def _opened(
    text: str, known: dict[str, tuple[Kind, tuple[str, ...]]], most: int
) -> tuple[list[str], list[tuple[int, list[str]]], bool]:
    """Headings, rows with their lines, and whether figures may have a decimal comma."""
    told = text.removeprefix("\ufeff")
    if not told.strip():
        raise refused("is empty; paste a table with a line of headings")
    sign = parting(told, lambda cell: is_known(cell, known))
    found = records(told, sign)
    _, header = next(found)
    rows = list[tuple[int, list[str]]]()
    for row in found:
        if len(rows) == most:
            raise refused(f"the table holds more than {most:,} rows; leave out what lies too far ahead")
        rows.append(row)
    if not rows:
        raise refused("the table holds headings but no row")
    return header, rows, sign != ","


def _headings(known: dict[str, tuple[Kind, tuple[str, ...]]]) -> str:
    examples = {
        "start": "time",
        "temp": "temp_f",
        "wind": "wind_mph",
        "gust": "gust_mph",
        "min": "min_f",
        "max": "max_f",
    }
    names = [examples.get(name, name) for name in known if name not in ("hour",)]
    return f"headings that are read are for example {', '.join(names)}"


def _cell(cells: Sequence[str], column: Column) -> str:
    return cells[column.index] if column.index < len(cells) else ""


def _start(
    cells: Sequence[str],
    at: dict[str, Column],
    zone: ZoneInfo,
    before: datetime | None,
    line: int,
    faults: _Faults,
) -> datetime | None:
    """When the hour of a row begins, None where that is a fault."""
    column = at.get("start") or at["hour"]
    told = _cell(cells, column)
    if "start" not in at:
        told = f"{_cell(cells, at['date'])} {told}"
    elif "date" in at and not any(sign in told for sign in "-/.T"):
        # A column `time` beside a column `date` holds the time of the day alone.
        told = f"{_cell(cells, at['date'])} {told}"
    try:
        found = instant(moment(told), zone, before)
    except Unreadable as error:
        faults.add(line, column.heading, str(error))
        return None
    if before is not None and (found <= before or (found - before) % HOUR):
        wrong = "comes twice" if found == before else "comes before the row above" if found < before else ""
        said = (
            wrong or f"is {(found - before) / timedelta(minutes=1):.0f} minutes after the row above; keep whole hours"
        )
        faults.add(line, column.heading, f"{short(told)} {said}")
        return None
    return found


def _values(
    cells: Sequence[str], at: dict[str, Column], system: System | None, comma: bool, line: int, faults: _Faults
) -> dict[str, float] | None:
    """The figures of a row by field, None where one of them is a fault."""
    values, fine = dict[str, float](), True
    for name, column in at.items():
        cell = _cell(cells, column)
        if column.kind == "time" or is_blank(cell):
            continue
        try:
            values[_FIELDS[name]] = reading(cell, column.kind, column.unit, system, comma)
        except Unreadable as error:
            faults.add(line, column.heading, str(error))
            fine = False
    return values if fine else None


def _model(model: Any, values: dict[str, Any], line: int, at: dict[str, Column], faults: _Faults) -> Any:
    try:
        return validated(model, values)
    except InputError as error:
        for fault in error.faults:
            column = at.get(_NAMES.get(fault.path, ""), at.get("start") or at.get("date"))
            faults.add(line, column.heading if column is not None else "", fault.message)
    return None


def _unread(header: Sequence[str], known: dict[str, tuple[Kind, tuple[str, ...]]]) -> Iterator[str]:
    left = [" ".join(cell.split()) for cell in header if plain(cell) and not is_known(cell, known)]
    if left:
        yield f"Columns that are not read: {', '.join(left[:12])}{', ...' if len(left) > 12 else ''}."
