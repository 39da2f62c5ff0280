"""Commands of the years of kept properties: list, show, plan."""

from __future__ import annotations

import argparse
from typing import Any

from app.cli.shared import add_command, print_answer, read_document, whole_number
from app.cli.store import data_option, store_of


def years_command(commands: Any) -> None:
    """Adds `years`."""
    command = add_command(
        commands,
        "years",
        "list, show and plan the years of kept properties",
        "swardwright years list 2027 --search 'mill lane'",
        "swardwright years show 12-mill-lane 2027",
        "swardwright years plan 12-mill-lane 2027 --visits 5",
        "swardwright years plan 12-mill-lane 2027 wish.json",
        "",
        'A wish is a document: {"from": null, "visits": {"count": 5}, "weeds": [...], "catalog": "shelf",',
        '"limits": {...}, "locks": [...], "forbid": [...]}; what is not told comes from the property.',
    )
    parts = command.add_subparsers(dest="part", required=True, metavar="PART")
    listing = _part(parts, "list", "print properties with their plans of a season, fifty a page", run_list)
    listing.add_argument("season", metavar="SEASON", type=whole_number)
    listing.add_argument("--search", default="", metavar="WORDS", help="each in name, address, customer or technician")
    listing.add_argument("--page", default=1, metavar="N", type=whole_number, help="which page (default: 1)")
    for name, about, run in (
        ("show", "print the chosen plan of a property's year, and its versions", run_show),
        ("plan", "plan a property's year, and keep and choose the plan", run_plan),
    ):
        part = _part(parts, name, about, run)
        part.add_argument("property", metavar="PROPERTY")
        part.add_argument("season", metavar="SEASON", type=whole_number)
        if name == "plan":
            part.add_argument("file", metavar="WISH.json", nargs="?", help="what is wished (- for standard input)")
            part.add_argument("--visits", metavar="N", type=whole_number, help="how many visits there may be")


def _part(parts: Any, name: str, about: str, run: Any) -> Any:
    command = add_command(parts, name, about)
    data_option(command)
    command.add_argument("--json", action="store_true", help="print one JSON document")
    command.set_defaults(run=run)
    return command


def run_list(arguments: argparse.Namespace) -> int:
    """Print properties with their plans."""
    from app.services.year_answers import listing
    from app.years_text import listing_text

    with store_of(arguments) as store:
        found = listing(store, arguments.season, arguments.search, arguments.page)
    return print_answer(found, listing_text, arguments.json)


def run_show(arguments: argparse.Namespace) -> int:
    """Print one year."""
    from app.services.year_answers import one
    from app.years_text import kept_text

    with store_of(arguments) as store:
        found = one(store, arguments.property, arguments.season)
    return print_answer(found, kept_text, arguments.json)


def run_plan(arguments: argparse.Namespace) -> int:
    """Plan one year as it is wished."""
    from app.services.year_answers import one, plan
    from app.years_text import kept_text

    told = read_document(arguments.file) if arguments.file is not None else {}
    if arguments.visits is not None and isinstance(told, dict):
        told = {**told, "visits": {"count": arguments.visits}}
    with store_of(arguments) as store:
        seen = one(store, arguments.property, arguments.season).version
        wish = {"version": seen, **told} if isinstance(told, dict) else told
        kept = plan(store, arguments.property, arguments.season, wish)
    return print_answer(kept, kept_text, arguments.json)
