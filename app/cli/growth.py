"""Commands of the growth of weeds: the stage on a date, and when seedlings come up."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING, Any

from app.cli.shared import add_command, print_answer, read_bytes
from app.engine.errors import FieldFault, InputError

if TYPE_CHECKING:
    from app.season.forecast import Day

_DAILY = "CSV of days: date,min_f,max_f and soil_f where it was measured, or min_c,max_c,soil_c; - reads it"


def growth_commands(commands: Any) -> None:
    """Adds `stage-on` and `emergence`."""
    stage = add_command(
        commands,
        "stage-on",
        "the stage to expect on a date of a weed that was scouted earlier",
        "swardwright stage-on smooth-crabgrass 1-3-leaf 2027-04-28 2027-05-12",
        "swardwright stage-on smooth-crabgrass 1-3-leaf 2027-04-28 2027-05-12 --daily demo_data/daily-spring.csv",
        "swardwright stage-on dandelion flowering 2027-05-01 2027-05-20 --zone transition --json",
        "",
        "With temperatures of every day between, annual grasses are aged by warmth; otherwise by the calendar of the",
        "zone. A note older than a growing season is refused.",
    )
    stage.add_argument("weed", metavar="WEED", help="by its id or name")
    stage.add_argument("stage", metavar="STAGE", help="the stage that was seen, for example 1-3-leaf")
    stage.add_argument("scouted", metavar="SCOUTED", help="the day it was seen, YYYY-MM-DD")
    stage.add_argument("on", metavar="ON", help="the day asked for, YYYY-MM-DD")
    stage.add_argument("--zone", metavar="ID", help="zone (default: cool-humid)")
    stage.add_argument("--daily", metavar="DAILY.csv", help=_DAILY)
    stage.set_defaults(run=run_stage_on)
    emergence = add_command(
        commands,
        "emergence",
        "when the seedlings of weeds come up, by temperatures day by day",
        "swardwright emergence demo_data/daily-spring.csv",
        "swardwright emergence demo_data/daily-spring.csv --weed 'smooth crabgrass' --zone cool-humid --json",
        "",
        "Nothing is reckoned beyond the last day, and air is never taken for soil.",
    )
    emergence.add_argument("daily", metavar="DAILY.csv", help=_DAILY)
    emergence.add_argument("--weed", action="append", default=[], metavar="W", help="by its id or name; repeat")
    emergence.add_argument("--zone", metavar="ID", help="adds when its calendar usually sees seedlings")
    emergence.add_argument("--today", metavar="DAY", help="parts past from ahead, YYYY-MM-DD (default: today)")
    emergence.add_argument("--soil-depth", metavar="INCHES", help="how deep the soil temperatures were taken")
    emergence.set_defaults(run=run_emergence)
    for command in (stage, emergence):
        command.add_argument("--json", action="store_true", help="print one JSON document")


def _weed(text: str) -> str:
    from app.services.knowledge_service import knowledge_base
    from app.services.search import find_weed

    return find_weed(knowledge_base(), text)[0].id


def _days(name: str) -> tuple[Day, ...]:
    from app.services.csv_text import MAX_BYTES, decoded
    from app.services.forecast_csv import read_days

    return read_days(decoded(read_bytes(name, MAX_BYTES))).days


def run_stage_on(arguments: argparse.Namespace) -> int:
    """The stage on a date."""
    from app.growth_text import aged_text
    from app.services.advice import DEFAULT_ZONE
    from app.services.growth import stage_on

    asked = {
        "weed": _weed(arguments.weed),
        "stage": arguments.stage,
        "scouted": arguments.scouted,
        "on": arguments.on,
        "zone": arguments.zone or DEFAULT_ZONE,
        "daily": _days(arguments.daily) if arguments.daily is not None else [],
    }
    return print_answer(stage_on(asked), aged_text, arguments.json)


def run_emergence(arguments: argparse.Namespace) -> int:
    """When seedlings come up."""
    from app.growth_text import emergence_text
    from app.services.growth import emergence

    asked: dict[str, Any] = {
        "daily": _days(arguments.daily),
        "weeds": [_weed(name) for name in arguments.weed],
        "zone": arguments.zone,
        "today": arguments.today or date.today().isoformat(),
    }
    if arguments.soil_depth is not None:
        try:
            asked["soil_depth_in"] = float(arguments.soil_depth)
        except ValueError as error:
            what = f"'{arguments.soil_depth}' is no depth; write inches, for example 2"
            raise InputError([FieldFault("--soil-depth", what)]) from error
    return print_answer(emergence(asked), emergence_text, arguments.json)
