"""Commands of weather: spray windows of a forecast, and degree-days."""

from __future__ import annotations

import argparse
from typing import Any

from app.cli.shared import add_command, print_answer, read_bytes
from app.engine.errors import FieldFault, InputError

_BASE = "threshold, in degF or with its unit (default: 50, for example 50F or 10C)"


def weather_commands(commands: Any) -> None:
    """Adds `windows` and `degree-days`."""
    spray = add_command(
        commands,
        "windows",
        "which hours of a forecast are open for spraying, and why the others are not",
        "swardwright windows demo_data/windows.json",
        "swardwright windows demo_data/forecast.csv --at 40.1,-83.2 --timezone America/New_York --units us",
        "swardwright windows table.csv --at 52.1,5.2 --timezone Europe/Amsterdam --active dicamba",
        "",
        "A table has a line of headings with units: time,temp_f,rh,wind_mph,gust_mph,rain_in,rain_chance,cloud; a time",
        "without its offset is of the place's clock. Hours that are missing are named and never filled in.",
    )
    spray.add_argument("file", metavar="WINDOWS.json|FORECAST.csv", help="a request or a table (- for standard input)")
    place_options(spray)
    spray.add_argument("--active", action="append", default=[], metavar="ID", help="an active of the tank (repeatable)")
    spray.add_argument("--turf", action="append", default=[], metavar="ID", help="a turf that is sprayed (repeatable)")
    spray.add_argument("--json", action="store_true", help="print one JSON document")
    spray.set_defaults(run=run_windows)
    days = add_command(
        commands,
        "degree-days",
        "degree-days of a table of daily extremes, with the running total",
        "swardwright degree-days demo_data/daily.csv",
        "swardwright degree-days demo_data/daily.csv --base 50 --upper 88 --method sine --from 2027-04-01 --json",
        "",
        "The table holds date,min_f,max_f (or min_c,max_c); a day that is missing is named and brings nothing.",
    )
    days.add_argument("file", metavar="DAILY.csv", help="CSV, UTF-8 (- for standard input)")
    days.add_argument("--base", metavar="T", help=_BASE)
    days.add_argument("--upper", metavar="T", help="temperature above which warmth counts no more")
    days.add_argument("--method", metavar="M", default="sine", help="average, modified or sine (default: sine)")
    days.add_argument("--from", dest="start", metavar="DATE", help="the first day that counts, YYYY-MM-DD")
    days.add_argument("--units", metavar="U", help="us or metric: what figures count in that have no unit")
    days.add_argument("--json", action="store_true", help="print one JSON document")
    days.set_defaults(run=run_degree_days)


def place_options(command: Any) -> None:
    """Adds where a table is told for, and in which units."""
    command.add_argument("--at", metavar="LAT,LON", help="where a table is told for, degrees north and east")
    command.add_argument("--timezone", metavar="ZONE", help="the time zone of the place, for example America/New_York")
    command.add_argument("--units", metavar="U", help="us or metric: what figures of a table count in without a unit")


def run_windows(arguments: argparse.Namespace) -> int:
    """Say which hours are open."""
    from app.services.csv_text import MAX_BYTES, decoded
    from app.services.strict_json import read_json
    from app.services.weather import windows
    from app.weather_text import windows_text

    text = decoded(read_bytes(arguments.file, MAX_BYTES))
    if text.lstrip().startswith("{"):
        payload = read_json(text, MAX_BYTES)
        given = [name for name in ("at", "timezone", "units", "active", "turf") if getattr(arguments, name)]
        if given:
            raise InputError([FieldFault(f"--{given[0]}", "belongs to a table; a request in JSON tells it itself")])
    else:
        payload = {"csv": text, "place": place_told(arguments), "units": arguments.units, "tank": _tank(arguments)}
    return print_answer(windows(payload), windows_text, arguments.json)


def place_told(arguments: argparse.Namespace) -> dict[str, Any]:
    """The place of a table, as it was told."""
    missing = [name for name in ("at", "timezone") if not getattr(arguments, name)]
    if missing:
        what = "is required for a table: " + {"at": "LAT,LON", "timezone": "for example America/New_York"}[missing[0]]
        raise InputError([FieldFault(f"--{missing[0]}", what)])
    try:
        latitude, longitude = (float(part) for part in arguments.at.split(","))
    except ValueError as error:
        what = f"'{arguments.at}' is no place; write degrees north and east, for example 40.1,-83.2"
        raise InputError([FieldFault("--at", what)]) from error
    return {"latitude": latitude, "longitude": longitude, "timezone": arguments.timezone}


def _tank(arguments: argparse.Namespace) -> dict[str, Any]:
    return {"turf": arguments.turf, "actives": [{"active": key} for key in arguments.active]}


def run_degree_days(arguments: argparse.Namespace) -> int:
    """Count degree-days."""
    from app.services.csv_text import MAX_BYTES, decoded
    from app.services.weather import degree_days, threshold
    from app.weather_text import degree_days_text

    payload: dict[str, Any] = {
        "csv": decoded(read_bytes(arguments.file, MAX_BYTES)),
        "units": arguments.units,
        "method": arguments.method,
        "from": arguments.start,
        "upper_f": threshold("--upper", arguments.upper) if arguments.upper is not None else None,
    }
    if arguments.base is not None:
        payload["base_f"] = threshold("--base", arguments.base)
    return print_answer(degree_days(payload), degree_days_text, arguments.json)
