"""Commands of properties and scouting notes: list, show, import, export."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from app.cli.shared import ANSWERED, add_command, print_answer, print_json, print_text, read_bytes
from app.cli.store import data_option, store_of
from app.engine.errors import FieldFault, InputError


def properties_command(commands: Any) -> None:
    """Adds `properties`."""
    command = add_command(
        commands,
        "properties",
        "list, show, import or export properties, and the weeds noted on them",
        "swardwright properties list --search 'mill lane' --technician 'Jo Alder'",
        "swardwright properties show 12-mill-lane",
        "swardwright properties import properties.csv",
        "swardwright properties import properties.csv --confirm --replace",
        "swardwright properties export properties.csv",
        "swardwright properties notes import notes.csv --confirm",
    )
    parts = command.add_subparsers(dest="part", required=True, metavar="PART")
    listing = _part(parts, "list", "print properties by name, fifty a page", run_list)
    listing.add_argument("--search", default="", metavar="WORDS", help="each in name, address, customer or technician")
    listing.add_argument("--technician", default="", metavar="NAME", help="only of this one")
    listing.add_argument("--page", default="", metavar="N", help="which page (default: 1)")
    show = _part(parts, "show", "print one property, its open notes and what is missing to plan it", run_show)
    show.add_argument("id", metavar="ID")
    _file_parts(parts, "properties", run_import, run_export)
    notes = add_command(parts, "notes", "list, import or export scouting notes")
    inner = notes.add_subparsers(dest="notes_part", required=True, metavar="PART")
    of_one = _part(inner, "list", "print the notes of a property, the latest first", run_notes)
    of_one.add_argument("id", metavar="ID")
    _file_parts(inner, "scouting notes", run_import_notes, run_export_notes)


def _part(parts: Any, name: str, about: str, run: Any, *, answers: bool = True) -> Any:
    command = add_command(parts, name, about)
    data_option(command)
    if answers:
        command.add_argument("--json", action="store_true", help="print one JSON document")
    command.set_defaults(run=run)
    return command


def _file_parts(parts: Any, what: str, bring_in: Any, write_out: Any) -> None:
    about = "say what a file would do; with --confirm do it, all or nothing"
    bring = _part(parts, "import", about, bring_in)
    bring.add_argument("file", metavar="FILE", help="CSV, UTF-8 (- for standard input)")
    bring.add_argument("--confirm", action="store_true", help="import it")
    bring.add_argument("--replace", action="store_true", help="replace what is kept already and differs")
    bring.add_argument(
        *("--columns", "-c"),
        action="extend",
        nargs="+",
        default=[],
        metavar="NAME=HEADING",
        help="headings that are not found by themselves, for example technician=Truck",
    )
    export = _part(parts, "export", f"write every one of the {what} as a file", write_out, answers=False)
    export.add_argument("file", metavar="FILE", nargs="?", default="-", help="where to (default: standard output)")


def run_list(arguments: argparse.Namespace) -> int:
    """Print a page of properties."""
    from app.property_text import listing_text
    from app.services.property_answers import listing

    told = {name: getattr(arguments, name) for name in ("search", "technician", "page")}
    with store_of(arguments) as store:
        found = listing(store, told)
    return print_answer(found, listing_text, arguments.json)


def run_show(arguments: argparse.Namespace) -> int:
    """Print one property."""
    from app.engine.output import as_json
    from app.property_text import property_text
    from app.services.property_answers import notes, one

    with store_of(arguments) as store:
        found, noted = one(store, arguments.id), notes(store, arguments.id)
    if arguments.json:
        return print_json({**as_json(found), **as_json(noted)})
    return print_text(property_text(found, noted))


def run_notes(arguments: argparse.Namespace) -> int:
    """Print the notes of a property."""
    from app.property_text import notes_text
    from app.services.property_answers import notes

    with store_of(arguments) as store:
        found = notes(store, arguments.id)
    return print_answer(found, notes_text, arguments.json)


def run_import(arguments: argparse.Namespace) -> int:
    """Say what a file of properties would do, or import it."""
    from app.services import property_import

    return _bring_in(arguments, property_import.preview, property_import.confirm, "properties")


def run_import_notes(arguments: argparse.Namespace) -> int:
    """Say what a file of notes would do, or import it."""
    from app.services import scouting_csv

    return _bring_in(arguments, scouting_csv.preview, scouting_csv.confirm, "notes")


def _bring_in(arguments: argparse.Namespace, preview: Any, confirm: Any, what: str) -> int:
    from app.property_text import import_text
    from app.services.csv_text import MAX_BYTES, decoded
    from app.services.property_import_answer import answered
    from app.store.changed import Changed

    columns = _columns(arguments.columns)
    text = decoded(read_bytes(arguments.file, MAX_BYTES))
    with store_of(arguments) as store:
        found = preview(store, text, columns)
        done = None
        if arguments.confirm:
            try:
                done = confirm(store, text, columns, found.seen, replace=arguments.replace)
            except Changed as error:
                raise InputError([FieldFault("csv", str(error))]) from error
    return print_answer(answered(found, done), lambda told: import_text(told, what), arguments.json)


def _columns(told: list[str]) -> dict[str, str]:
    columns: dict[str, str] = {}
    for item in told:
        name, sign, heading = item.partition("=")
        if not sign or not name:
            what = f"'{item}' is no column; write NAME=HEADING, technician=Truck"
            raise InputError([FieldFault("--columns", what)])
        if name in columns:
            raise InputError([FieldFault("--columns", f"'{name}' stands twice; give each column once")])
        columns[name] = heading
    return columns


def run_export(arguments: argparse.Namespace) -> int:
    """Write every property as a file."""
    from app.services.properties import export_csv

    with store_of(arguments) as store:
        text = export_csv(store)
    return _write(text, arguments.file, "properties")


def run_export_notes(arguments: argparse.Namespace) -> int:
    """Write every note as a file."""
    from app.services.scouting_csv import export_notes

    with store_of(arguments) as store:
        text = export_notes(store)
    return _write(text, arguments.file, "scouting notes")


def _write(text: str, file: str, what: str) -> int:
    data = text.encode("utf-8-sig")
    if file == "-":
        sys.stdout.buffer.write(data)
        return ANSWERED
    try:
        Path(file).write_bytes(data)
    except OSError as error:
        raise InputError([FieldFault("", f"{file} cannot be written: {error.strerror or error}")]) from error
    return print_text(f"Wrote the {what} to {file}.\n")
