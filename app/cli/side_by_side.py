"""The command that compares products or mixtures."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from app.cli.advice import house_of
from app.cli.shared import add_command, print_answer, read_document
from app.cli.store import data_option, store_of

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
    data_option(compare)
    compare.add_argument("--json", action="store_true", help="print one JSON document")
    compare.set_defaults(run=run_side_by_side)


def run_side_by_side(arguments: argparse.Namespace) -> int:
    """Compare sides."""
    from app.services.side_by_side import side_by_side
    from app.side_text import side_by_side_text

    def shelf() -> Sequence[Product]:
        from app.services.shelf import shelf_products

        with store_of(arguments) as store:
            return shelf_products(store)

    return print_answer(
        side_by_side(read_document(arguments.file), shelf, house_of(arguments)), side_by_side_text, arguments.json
    )
