"""Commands around the shelf: list, show, import, export."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.cli.shared import ANSWERED, add_command, print_json, print_text, read_bytes
from app.cli.store import data_option, store_of
from app.engine.errors import FieldFault, InputError

if TYPE_CHECKING:
    pass


def shelf_command(commands: Any) -> None:
    shelf = add_command(
        commands,
        "shelf",
        "list, show, import or export your own products",
        "swardwright shelf list",
        "swardwright shelf show larkmere-amine",
        "swardwright shelf import products.csv",
        "swardwright shelf import products.csv --confirm",
        "swardwright shelf export shelf.csv",
    )
    parts = shelf.add_subparsers(dest="part", required=True, metavar="PART")
    listing = _part(parts, "list", "print every product of the shelf", run_list)
    listing.add_argument("--json", action="store_true", help="print one JSON document")
    show = _part(parts, "show", "print one product, its amounts and what contradicts the facts", run_show)
    show.add_argument("id", metavar="ID")
    show.add_argument("--json", action="store_true", help="print one JSON document")
    bring = _part(parts, "import", "say what a file would do; with --confirm do it, all or nothing", run_import)
    bring.add_argument("file", metavar="FILE", help="CSV, UTF-8 (- for standard input)")
    bring.add_argument("--confirm", action="store_true", help="import it")
    bring.add_argument("--leave-out-bad", action="store_true", help="leave out rows that cannot be used")
    bring.add_argument("--json", action="store_true", help="print one JSON document")
    export = _part(parts, "export", "write the shelf as a file for spreadsheets", run_export)
    export.add_argument("file", metavar="FILE", nargs="?", default="-", help="where to (default: standard output)")


def _part(parts: Any, name: str, about: str, run: Any) -> Any:
    command = add_command(parts, name, about)
    data_option(command)
    command.set_defaults(run=run)
    return command


def run_list(arguments: argparse.Namespace) -> int:
    """Print every product."""
    from app.engine.output import as_json
    from app.services.shelf_answers import listing
    from app.shelf_text import listing_text

    with store_of(arguments) as store:
        found = listing(store)
    return print_json(as_json(found)) if arguments.json else print_text(listing_text(found))


def run_show(arguments: argparse.Namespace) -> int:
    """Print one product."""
    from app.engine.output import as_json
    from app.services.shelf import read_product
    from app.services.shelf_answers import one
    from app.shelf_text import product_text

    with store_of(arguments) as store:
        if arguments.json:
            return print_json(as_json(one(store, arguments.id)))
        return print_text(product_text(read_product(store, arguments.id)))


def run_import(arguments: argparse.Namespace) -> int:
    """Say what a file would do, or import it."""
    from app.engine.output import as_json
    from app.services.csv_text import MAX_BYTES, decoded
    from app.services.shelf_answers import bring_in
    from app.shelf_text import import_text
    from app.store.changed import Changed

    asked = {
        "csv": decoded(read_bytes(arguments.file, MAX_BYTES)),
        "confirm": arguments.confirm,
        "leave_out_bad": arguments.leave_out_bad,
    }
    with store_of(arguments) as store:
        try:
            found = bring_in(store, asked)
        except Changed as error:
            raise InputError([FieldFault("csv", str(error))]) from error
    return print_json(as_json(found)) if arguments.json else print_text(import_text(found))


def run_export(arguments: argparse.Namespace) -> int:
    """Write the shelf as a file."""
    from app.services.shelf import export_csv

    with store_of(arguments) as store:
        data = export_csv(store).encode("utf-8-sig")
    if arguments.file == "-":
        sys.stdout.buffer.write(data)
        return ANSWERED
    try:
        Path(arguments.file).write_bytes(data)
    except OSError as error:
        raise InputError([FieldFault("", f"{arguments.file} cannot be written: {error.strerror or error}")]) from error
    return print_text(f"Wrote the shelf to {arguments.file}.\n")
