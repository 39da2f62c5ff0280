"""Commands of mixing: what goes into the tank, and the calibration of a sprayer."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from app.cli.shared import add_command, print_answer, read_document
from app.cli.store import data_option, store_of

if TYPE_CHECKING:
    from app.engine.product import Product


def mixing_commands(commands: Any) -> None:
    """Adds `mix` and `calibrate-sprayer`."""
    mix = add_command(
        commands,
        "mix",
        "amounts for a tank, a load, a backpack or a spreader, with the order of mixing",
        "swardwright mix demo_data/mix-two-tanks.json",
        "swardwright mix demo_data/mix-hand-can.json --json",
        "swardwright mix demo_data/mix-granule.json",
        "",
        'A product of the shelf is named by {"id": ..., "rate": ...}, a kept sprayer by "sprayer".',
    )
    mix.add_argument("plan", metavar="PLAN.json", help="area, carrier, tank, products, adjuvant; - is standard input")
    data_option(mix)
    mix.add_argument("--json", action="store_true", help="print one JSON document")
    mix.set_defaults(run=run_mix)
    calibrate = add_command(
        commands,
        "calibrate-sprayer",
        "the carrier volume of a boom or spray gun, from what was measured",
        "swardwright calibrate-sprayer demo_data/calibrate-boom.json",
        "",
        "method: boom (three of gpa, gpm, mph, width_in), course (1/128 acre), gun, nozzles or speed.",
    )
    calibrate.add_argument("file", metavar="FILE.json", help="what was measured; - is standard input")
    calibrate.add_argument("--json", action="store_true", help="print one JSON document")
    calibrate.set_defaults(run=run_calibrate_sprayer)


def run_mix(arguments: argparse.Namespace) -> int:
    """What goes into each tank."""
    from app.mix_text import mix_text
    from app.services.mixing import mix

    def product(slug: str) -> Product:
        from app.services.shelf import product_named

        with store_of(arguments) as store:
            return product_named(store, slug)[0]

    def sprayer(slug: str) -> dict[str, Any]:
        from app.services.sprayers import sprayer_named

        with store_of(arguments) as store:
            return sprayer_named(store, slug).document

    return print_answer(mix(read_document(arguments.plan), product, sprayer), mix_text, arguments.json)


def run_calibrate_sprayer(arguments: argparse.Namespace) -> int:
    """The carrier volume from what was measured."""
    from app.mix_text import calibration_text
    from app.services.mixing import calibrate

    return print_answer(calibrate(read_document(arguments.file)), calibration_text, arguments.json)
