"""Commands around the facts."""

from __future__ import annotations

import argparse
from datetime import date
from typing import Any

from app.cli.shared import add_command, print_answer, print_json, print_text, whole_number
from app.engine.errors import FieldFault, InputError


def knowledge_command(commands: Any) -> None:
    knowledge = add_command(
        commands,
        "knowledge",
        "check, count, calibrate, tabulate or show the facts",
        "swardwright knowledge check",
        "swardwright knowledge coverage --json",
        "swardwright knowledge calibrate",
        "swardwright knowledge show weeds wild-violet",
    )
    parts = knowledge.add_subparsers(dest="part", required=True, metavar="PART")
    add_command(parts, "check", "validate every fact").set_defaults(run=run_check)
    coverage = add_command(parts, "coverage", "count what is filled, and on what basis")
    coverage.add_argument("--json", action="store_true", help="print one JSON document")
    coverage.set_defaults(run=run_coverage)
    calibrate = add_command(
        parts,
        "calibrate",
        "hold the engine against the percent control that publications print",
        "swardwright knowledge calibrate --worst 20",
        "",
        "The error is the distance from the likely control to the printed range, in points.",
    )
    calibrate.add_argument(
        "--worst", type=whole_number, default=10, metavar="N", help="how many misses to name (default 10)"
    )
    calibrate.add_argument("--json", action="store_true", help="print one JSON document")
    calibrate.set_defaults(run=run_calibrate)
    table = add_command(
        parts,
        "matrix",
        "every weed against every active on one turf",
        "swardwright knowledge matrix --turf tall-fescue --zone transition --month 9",
    )
    table.add_argument("--turf", required=True, metavar="ID", help="turf")
    table.add_argument("--zone", metavar="ID", help="zone (default: cool-humid)")
    table.add_argument("--month", type=whole_number, metavar="1-12", help="month (default: this month)")
    table.add_argument("--site-use", metavar="ID", help="use (default: residential-lawn)")
    table.add_argument("--before-emergence", action="store_true", help="before the weeds emerge, not as they stand")
    table.add_argument("--json", action="store_true", help="print one JSON document")
    table.set_defaults(run=run_matrix)
    show = add_command(
        parts, "show", "print one entry with its sources", "swardwright knowledge show actives triclopyr --json"
    )
    show.add_argument("kind", metavar="KIND", help="weeds, actives, turf, rules or sources")
    show.add_argument("id", metavar="ID")
    show.add_argument("--json", action="store_true", help="print one JSON document")
    show.set_defaults(run=run_show)


def run_check(_: argparse.Namespace) -> int:
    """Validate every fact from its text."""
    from knowledge.loader import load

    base = load()
    kinds = {
        "weeds": base.weeds,
        "actives": base.actives,
        "turf": base.turf,
        "rules": base.rules,
        "sources": base.sources,
    }
    counts = ", ".join(f"{len(entries)} {kind}" for kind, entries in kinds.items())
    return print_text(f"No problem found in {counts}. Knowledge version {base.version}.\n")


def run_coverage(arguments: argparse.Namespace) -> int:
    """Count what is filled."""
    from app.services.knowledge_service import coverage
    from app.text import coverage_text

    counts = coverage()
    return print_json(counts) if arguments.json else print_text(coverage_text(counts))


def run_calibrate(arguments: argparse.Namespace) -> int:
    """Hold the engine against printed results."""
    from app.services.calibration import as_document, calibrate
    from app.text import calibration_text

    if arguments.worst < 0:
        raise InputError([FieldFault("worst", f"{arguments.worst} is too few; use 0 or more")])
    found = calibrate(arguments.worst)
    return print_json(as_document(found)) if arguments.json else print_text(calibration_text(found))


def run_matrix(arguments: argparse.Namespace) -> int:
    """Every weed against every active on one turf."""
    from app.services.advice import DEFAULT_SITE_USE, DEFAULT_ZONE, day_in, matrix
    from app.text import matrix_text

    today = date.today()
    question = {
        "date": day_in(arguments.month if arguments.month is not None else today.month, today).isoformat(),
        "zone": arguments.zone or DEFAULT_ZONE,
        "site_use": arguments.site_use or DEFAULT_SITE_USE,
        "turf": arguments.turf,
        "purpose": "before-emergence" if arguments.before_emergence else "as-it-stands",
    }
    return print_answer(matrix(question), matrix_text, arguments.json)


def run_show(arguments: argparse.Namespace) -> int:
    """Print one entry."""
    from app.services.knowledge_service import show_entry

    entry = show_entry(arguments.kind, arguments.id)
    if arguments.json:
        return print_json(entry)
    import yaml

    return print_text(yaml.safe_dump(entry, allow_unicode=True, sort_keys=False, width=80))
