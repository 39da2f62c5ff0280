"""Commands of rounds: list, show, make, plan, the load sheet, and what was done."""

from __future__ import annotations

import argparse
from typing import Any

from app.cli.shared import add_command, print_answer, read_bytes, read_document
from app.cli.store import data_option, store_of
from app.cli.weather import place_options, place_told


def rounds_command(commands: Any) -> None:
    """Adds `rounds`."""
    command = add_command(
        commands,
        "rounds",
        "list, make and plan rounds, print their load sheets, and turn stops into records",
        "swardwright rounds forecast forecast.csv --at 42.75,-77.65 --timezone America/New_York",
        "swardwright rounds make round.json --plan",
        "swardwright rounds list",
        "swardwright rounds show larkmere-wednesday",
        "swardwright rounds sheet larkmere-wednesday",
        "swardwright rounds done larkmere-wednesday 12-mill-lane front",
        "",
        'A round is a document: {"name": "...", "date": "2027-07-14", "technician": "...", "tanks": 2,',
        '"catalog": "shelf", "sprayer": null, "forecast": null, "stops": [{"property": "...", "area": "..."}]}.',
    )
    parts = command.add_subparsers(dest="part", required=True, metavar="PART")
    _part(parts, "list", "print every round, the latest day first", run_list)
    make = _part(parts, "make", "keep a new round", run_make)
    make.add_argument("file", metavar="ROUND.json", help="the round (- for standard input)")
    make.add_argument("--plan", action="store_true", help="plan it at once")
    told = _part(parts, "forecast", "keep an hourly forecast for rounds", run_forecast)
    told.add_argument("file", metavar="FORECAST.csv", help="a table of hours (- for standard input)")
    told.add_argument("--name", default="", metavar="NAME", help="what to call it (default: its days)")
    place_options(told)
    for name, about, run in (
        ("show", "print a round and its plan", run_show),
        ("plan", "plan a round, and keep the plan", run_plan),
        ("sheet", "print the load sheet of a planned round", run_sheet),
        ("done", "turn a stop that was sprayed into a record", run_done),
    ):
        part = _part(parts, name, about, run)
        part.add_argument("id", metavar="ID")
        if name == "done":
            part.add_argument("property", metavar="PROPERTY")
            part.add_argument("area", metavar="AREA")
            part.add_argument("--applicator", default="", metavar="NAME", help="who sprayed (default: the technician)")


def _part(parts: Any, name: str, about: str, run: Any) -> Any:
    command = add_command(parts, name, about)
    data_option(command)
    command.add_argument("--json", action="store_true", help="print one JSON document")
    command.set_defaults(run=run)
    return command


def run_list(arguments: argparse.Namespace) -> int:
    """Print every round."""
    from app.round_text import listing_text
    from app.services.round_answers import listing

    with store_of(arguments) as store:
        found = listing(store)
    return print_answer(found, listing_text, arguments.json)


def run_make(arguments: argparse.Namespace) -> int:
    """Keep a round, and plan it where that is asked."""
    from app.round_text import round_text
    from app.services.round_answers import add, plan

    document = read_document(arguments.file)
    with store_of(arguments) as store:
        kept = add(store, document)
        if arguments.plan:
            kept = plan(store, kept.id, {"version": kept.version})
    return print_answer(kept, round_text, arguments.json)


def run_forecast(arguments: argparse.Namespace) -> int:
    """Keep a forecast."""
    from app.round_text import forecast_text
    from app.services.csv_text import MAX_BYTES, decoded
    from app.services.round_answers import keep_forecast

    table = decoded(read_bytes(arguments.file, MAX_BYTES))
    weather = {"csv": table, "place": place_told(arguments), "units": arguments.units}
    with store_of(arguments) as store:
        kept = keep_forecast(store, {"name": arguments.name, "weather": weather})
    return print_answer(kept, forecast_text, arguments.json)


def run_show(arguments: argparse.Namespace) -> int:
    """Print one round."""
    from app.round_text import round_text
    from app.services.round_answers import one

    with store_of(arguments) as store:
        kept = one(store, arguments.id)
    return print_answer(kept, round_text, arguments.json)


def run_plan(arguments: argparse.Namespace) -> int:
    """Plan a round as it stands."""
    from app.round_text import round_text
    from app.services.round_answers import one, plan

    with store_of(arguments) as store:
        kept = plan(store, arguments.id, {"version": one(store, arguments.id).version})
    return print_answer(kept, round_text, arguments.json)


def run_sheet(arguments: argparse.Namespace) -> int:
    """Print a load sheet."""
    from app.round_text import sheet_text
    from app.services.round_answers import sheet

    with store_of(arguments) as store:
        found = sheet(store, arguments.id)
    return print_answer(found, sheet_text, arguments.json)


def run_done(arguments: argparse.Namespace) -> int:
    """Turn a stop into a record."""
    from app.round_text import done_text
    from app.services.round_answers import done

    told = {"property": arguments.property, "area": arguments.area, "applicator": arguments.applicator}
    with store_of(arguments) as store:
        made = done(store, arguments.id, told)
    return print_answer(made, done_text, arguments.json)
