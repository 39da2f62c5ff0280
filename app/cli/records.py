"""Commands around application records: list, show, export."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from app.cli.shared import ANSWERED, add_command, print_json, print_text, whole_number
from app.cli.store import data_option, store_of
from app.engine.errors import FieldFault, InputError


def records_command(commands: Any) -> None:
    """Adds `records`."""
    records = add_command(
        commands,
        "records",
        "list, show or export the records of what was applied",
        "swardwright records list --from 2027-05-01 --to 2027-05-31",
        "swardwright records list --unfinished",
        "swardwright records show 5f0c2b9e",
        "swardwright records export records.csv --from 2027-01-01",
        "",
        "State law decides what a record must hold and how long it is kept; nothing here is ever removed by itself.",
    )
    parts = records.add_subparsers(dest="part", required=True, metavar="PART")
    listing = _part(parts, "list", "print the log, the latest day first", run_list)
    _filters(listing)
    listing.add_argument("--page", type=whole_number, default=1, metavar="N", help="page of the log (default: 1)")
    listing.add_argument("--json", action="store_true", help="print one JSON document")
    show = _part(parts, "show", "print one record, what is still to be filled, its history and ratings", run_show)
    show.add_argument("key", metavar="KEY")
    show.add_argument("--json", action="store_true", help="print one JSON document")
    export = _part(parts, "export", "write the log as a file for spreadsheets, one row a product", run_export)
    export.add_argument("file", metavar="FILE", nargs="?", default="-", help="where to (default: standard output)")
    _filters(export)


def _part(parts: Any, name: str, about: str, run: Any) -> Any:
    command = add_command(parts, name, about)
    data_option(command)
    command.set_defaults(run=run)
    return command


def _filters(command: Any) -> None:
    command.add_argument("--from", dest="first", metavar="DAY", help="from this day on, YYYY-MM-DD")
    command.add_argument("--to", dest="last", metavar="DAY", help="up to this day, YYYY-MM-DD")
    command.add_argument("--property", metavar="ID", help="records of one property")
    command.add_argument("--technician", metavar="NAME", help="records of one applicator")
    command.add_argument("--round", metavar="ID", help="records of one round")
    command.add_argument("--unfinished", action="store_true", help="only those that are still to be filled")


def _asked(arguments: argparse.Namespace) -> dict[str, Any]:
    named = {name: getattr(arguments, name) for name in ("property", "technician", "round", "unfinished")}
    return {"from": arguments.first, "to": arguments.last, **named}


def run_list(arguments: argparse.Namespace) -> int:
    """Print the log."""
    from app.engine.output import as_json
    from app.record_text import listing_text
    from app.services.record_answers import listing

    with store_of(arguments) as store:
        found = listing(store, {**_asked(arguments), "page": arguments.page})
    return print_json(as_json(found)) if arguments.json else print_text(listing_text(found))


def run_show(arguments: argparse.Namespace) -> int:
    """Print one record."""
    from app.engine.output import as_json
    from app.record_text import record_text
    from app.services.record_answers import one

    with store_of(arguments) as store:
        found = one(store, arguments.key)
    return print_json(as_json(found)) if arguments.json else print_text(record_text(found))


def run_export(arguments: argparse.Namespace) -> int:
    """Write the log as a file."""
    from app.services.record_answers import log_asked
    from app.services.record_log import log_csv

    with store_of(arguments) as store:
        data = log_csv(store, log_asked(_asked(arguments))).encode("utf-8-sig")
    if arguments.file == "-":
        sys.stdout.buffer.write(data)
        return ANSWERED
    try:
        Path(arguments.file).write_bytes(data)
    except OSError as error:
        raise InputError([FieldFault("", f"{arguments.file} cannot be written: {error.strerror or error}")]) from error
    return print_text(f"Wrote the records to {arguments.file}.\n")
