"""Commands that plan the year of a branch in one go."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from app.cli.shared import add_command, print_answer, print_text, whole_number
from app.cli.store import data_option, store_of

if TYPE_CHECKING:
    from app.store.opening import Store


def year_jobs_command(commands: Any) -> None:
    """Adds `branch-year`."""
    command = add_command(
        commands,
        "branch-year",
        "plan the year of a whole branch in one go, and what it adds up to",
        "swardwright branch-year plan --season 2027 --visits 5 --catalog shelf",
        "swardwright branch-year plan --season 2027 --dates 2027-04-12,2027-06-01 --technician 'Jo Sallowby'",
        "swardwright branch-year list",
        "swardwright branch-year resume 5b1c0d2e7f9a3c44",
        "swardwright branch-year order 5b1c0d2e7f9a3c44 --csv",
        "swardwright branch-year use 5b1c0d2e7f9a3c44",
        "",
        "Equal lawns are planned once. What is planned stays, however the work ends: resume plans what is left.",
    )
    parts = command.add_subparsers(dest="part", required=True, metavar="PART")
    plan = _part(parts, "plan", "begin, and work until all is planned", run_plan)
    plan.add_argument("--season", type=whole_number, required=True, metavar="YEAR")
    plan.add_argument("--visits", type=whole_number, default=None, metavar="N", help="how many visits there may be")
    plan.add_argument("--dates", default=None, metavar="DAY,DAY", help="their dates instead")
    plan.add_argument("--from", dest="start", default=None, metavar="DAY", help="first day that may be planned")
    plan.add_argument("--technician", default="", metavar="NAME", help="only properties of this one")
    plan.add_argument("--search", default="", metavar="WORDS", help="only properties that this search finds")
    plan.add_argument("--catalog", default="actives", metavar="CATALOG", help="actives or shelf")
    plan.add_argument("--budget", type=float, default=None, metavar="MONEY", help="most for products per 1000 ft2")
    plan.add_argument("--products", type=whole_number, default=None, metavar="N", help="most products on a visit")
    plan.add_argument("--time-limit", type=float, default=None, metavar="S", help="most for one optimisation [s]")
    _processes(plan)
    _part(parts, "list", "print what was begun, the latest first", run_list)
    for name, about, run in (
        ("status", "print how far it is and what it adds up to", run_status),
        ("cancel", "have it stop after what is being planned", run_cancel),
        ("resume", "plan what waits or failed", run_resume),
        ("work", "work on what was begun elsewhere, without saying anything (the app starts this)", run_work),
        ("order", "print the season's order in whole packs by month", run_order),
        ("load", "print visits, area and minutes by week and technician", run_load),
        ("use", "take the plans over into the years of their properties", run_use),
        ("remove", "forget it", run_remove),
    ):
        part = _part(parts, name, about, run)
        part.add_argument("id", metavar="ID")
        if name in ("resume", "work"):
            _processes(part)
        if name in ("order", "load"):
            part.add_argument("--csv", action="store_true", help="as a table for spreadsheets")
        if name == "use":
            part.add_argument("--property", default=None, metavar="ID", help="only this one")


def _part(parts: Any, name: str, about: str, run: Any) -> Any:
    command = add_command(parts, name, about)
    data_option(command)
    command.add_argument("--json", action="store_true", help="print one JSON document")
    command.set_defaults(run=run)
    return command


def _processes(part: Any) -> None:
    part.add_argument(
        "--processes",
        type=whole_number,
        default=None,
        metavar="N",
        help="how many plan beside each other (default: SWARDWRIGHT_PROCESSES, or one for each core)",
    )


def run_plan(arguments: argparse.Namespace) -> int:
    """Begin a job and work on it."""
    import secrets

    from app.services import year_job
    from app.services.year_job_run import processes_of

    processes_of(arguments.processes)
    visits: dict[str, Any] = {"count": arguments.visits}
    if arguments.dates is not None:
        visits["dates"] = [day.strip() for day in arguments.dates.split(",")]
    limits = {"budget_per_1000_ft2": arguments.budget, "max_products_per_visit": arguments.products}
    asked = {
        "season": arguments.season,
        "technician": arguments.technician,
        "search": arguments.search,
        "visits": visits,
        "from": arguments.start,
        "catalog": arguments.catalog,
        "limits": {key: value for key, value in limits.items() if value is not None},
        **({"time_limit_s": arguments.time_limit} if arguments.time_limit is not None else {}),
    }
    with store_of(arguments) as store:
        job, _ = year_job.start(store, secrets.token_hex(8), asked)
        return _worked(store, job.key, arguments)


def run_resume(arguments: argparse.Namespace) -> int:
    """Go on with a job."""
    from app.services import year_job
    from app.services.year_job_run import processes_of

    processes_of(arguments.processes)
    with store_of(arguments) as store:
        year_job.make_ready(store, arguments.id)
        return _worked(store, arguments.id, arguments)


def run_work(arguments: argparse.Namespace) -> int:
    """Work on a job that was begun elsewhere."""
    with store_of(arguments) as store:
        _work(store, arguments, lambda _: None)
    return print_text("")


def _worked(store: Store, key: str, arguments: argparse.Namespace) -> int:
    from app.services.year_job_answers import one
    from app.year_job_text import job_text

    arguments.id = key
    line = _Line()
    sys.stderr.write(f"{key}: stop with Ctrl-C, go on with 'swardwright branch-year resume {key}'\n")
    try:
        _work(store, arguments, line.show)
    finally:
        line.end()
    return print_answer(one(store, key), job_text, arguments.json)


def _work(store: Store, arguments: argparse.Namespace, told: Callable[[dict[str, int]], None]) -> None:
    from app.services.year_job_lease import Holding
    from app.services.year_job_run import Ways, processes_of, run

    run(Holding(store, arguments.id), Ways(processes_of(arguments.processes), told=told))


class _Line:
    """A line on standard error that says how far it is; one line each time where that is no terminal."""

    def __init__(self) -> None:
        self.shown = ""

    def show(self, counts: dict[str, int]) -> None:
        failed = f", {counts['failed']} failed" if counts.get("failed") else ""
        text = f"{counts.get('planned', 0)} of {sum(counts.values())} situations planned{failed}"
        if text != self.shown:
            sys.stderr.write(f"\r{text}" if sys.stderr.isatty() else f"{text}\n")
            sys.stderr.flush()
            self.shown = text

    def end(self) -> None:
        if self.shown and sys.stderr.isatty():
            sys.stderr.write("\n")


def run_list(arguments: argparse.Namespace) -> int:
    """Print every job."""
    from app.services.year_job_answers import listing
    from app.year_job_text import listing_text

    with store_of(arguments) as store:
        found = listing(store)
    return print_answer(found, listing_text, arguments.json)


def run_status(arguments: argparse.Namespace) -> int:
    """Print how far a job is."""
    from app.services.year_job_answers import one, summary
    from app.year_job_text import job_text, summary_text

    with store_of(arguments) as store:
        found = one(store, arguments.id)
        if arguments.json:
            return print_answer(found, job_text, True)
        return print_text(job_text(found) + summary_text(summary(store, arguments.id)))


def run_cancel(arguments: argparse.Namespace) -> int:
    """Have a job stop."""
    from app.services.year_job_answers import cancel
    from app.year_job_text import job_text

    with store_of(arguments) as store:
        found = cancel(store, arguments.id)
    return print_answer(found, job_text, arguments.json)


def run_order(arguments: argparse.Namespace) -> int:
    """Print the season's order."""
    from app.services.year_job_answers import order
    from app.services.year_job_csv import order_csv
    from app.year_job_text import order_text

    with store_of(arguments) as store:
        found = order(store, arguments.id)
    return print_text(order_csv(found)) if arguments.csv else print_answer(found, order_text, arguments.json)


def run_load(arguments: argparse.Namespace) -> int:
    """Print the load by week."""
    from app.services.year_job_answers import load
    from app.services.year_job_csv import load_csv
    from app.year_job_text import load_text

    with store_of(arguments) as store:
        found = load(store, arguments.id)
    return print_text(load_csv(found)) if arguments.csv else print_answer(found, load_text, arguments.json)


def run_use(arguments: argparse.Namespace) -> int:
    """Take plans over."""
    from app.services.year_job_answers import use
    from app.year_job_text import used_text

    told = {"property": arguments.property} if arguments.property is not None else {}
    with store_of(arguments) as store:
        found = use(store, arguments.id, told)
    return print_answer(found, used_text, arguments.json)


def run_remove(arguments: argparse.Namespace) -> int:
    """Forget a job."""
    from app.services.year_job_answers import remove
    from app.year_job_text import removed_text

    with store_of(arguments) as store:
        found = remove(store, arguments.id)
    return print_answer(found, removed_text, arguments.json)
