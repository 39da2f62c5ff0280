"""The command that plans a year."""

from __future__ import annotations

import argparse
from typing import Any

from app.cli.advice import house_of, shelf_of
from app.cli.shared import add_command, print_answer, read_document
from app.cli.store import data_option


def year_command(commands: Any) -> None:
    """Adds `year`."""
    command = add_command(
        commands,
        "year",
        "the best yearly program for one property",
        "swardwright year demo_data/year-cool.json",
        "swardwright year demo_data/year-dates.json --json",
        "swardwright year demo_data/year-warm.json --scenarios",
        "",
        "Required: year, zone, site_use, areas, weeds, visits (a count, or dates). To plan the rest of a year",
        'anew, tell the day as "from", and what was done before it in "applied_this_year".',
    )
    command.add_argument("property", metavar="PROPERTY.json", help="a property and its year; - reads standard input")
    command.add_argument(
        "--scenarios",
        action="store_true",
        help="also plan a late spring, a drought, and each visit that may fall out",
    )
    data_option(command)
    command.add_argument("--json", action="store_true", help="print one JSON document")
    command.set_defaults(run=run_year)


def run_year(arguments: argparse.Namespace) -> int:
    """Plan a year."""
    from app.services.year import plan, plan_with_scenarios
    from app.year_text import scenarios_text, year_text

    payload, shelf, house = read_document(arguments.property), shelf_of(arguments), house_of(arguments)
    if arguments.scenarios:
        return print_answer(plan_with_scenarios(payload, shelf, house), scenarios_text, arguments.json)
    return print_answer(plan(payload, shelf, house), year_text, arguments.json)
