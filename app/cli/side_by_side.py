"""The command that compares products or mixtures."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.cli.shared import add_command, print_answer, read_document

if TYPE_CHECKING:
    from app.engine.product import Product


def side_by_side_command(commands: Any) -> None:
    """Adds `side-by-side`."""
    compare = add_command(
        commands,
        "side-by-side",
        "what sets two to four products or mixtures apart here",
        "swardwright side-by-side demo_data/side-by-side-two.json",
        "swardwright side-by-side demo_data/side-by-side-four.json --json",
        "",
        "Each side names products (inline, or by their id on the shelf), actives with rates, or a mixture.",
    )
    compare.add_argument("file", metavar="FILE.json", help='{"situation", "sides", "days_after"}; - is standard input')
    compare.add_argument("--data", type=Path, default=None, metavar="DIR", help="folder of the shelf to look ids up in")
    compare.add_argument("--json", action="store_true", help="print one JSON document")
    compare.set_defaults(run=run_side_by_side)


def run_side_by_side(arguments: argparse.Namespace) -> int:
    """Compare sides."""
    from app.services.side_by_side import side_by_side
    from app.side_text import side_by_side_text

    def shelf() -> Sequence[Product]:
        from app.services.shelf import shelf_products
        from app.store.opening import open_store

        store = open_store(arguments.data)
        try:
            return shelf_products(store)
        finally:
            store.close()

    return print_answer(side_by_side(read_document(arguments.file), shelf), side_by_side_text, arguments.json)
