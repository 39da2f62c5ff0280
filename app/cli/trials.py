"""Commands of trials: analysing a file of plots, and the trials that are kept."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.cli.shared import add_command, print_answer, read_bytes, read_document
from app.cli.store import data_option, store_of
from app.engine.errors import FieldFault, InputError

if TYPE_CHECKING:
    from app.trials.output import TrialAnswer

_ALPHA = "error rate of the comparisons, between 0.0001 and 0.5 (default: 0.05)"


def trial_commands(commands: Any) -> None:
    """Adds `trial` and `trials`."""
    trial = add_command(
        commands,
        "trial",
        "means, analysis of variance and separation letters of a file of plots",
        "swardwright trial demo_data/trials/wild-violet.csv",
        "swardwright trial demo_data/trials/rate-series.csv --json --alpha 0.1",
        "swardwright trial plots.csv --columns days_after=DAT rep=Block --pictures pictures",
        "",
        "One row a plot, weed and rating date: trial,weed,days_after,treatment,rep,control_pct, and more columns",
        "where they are known; the treatment named nontreated is the check. Nothing is stored.",
    )
    trial.add_argument("file", metavar="PLOTS.csv", help="CSV, UTF-8 (- for standard input)")
    trial.add_argument("--alpha", metavar="A", help=_ALPHA)
    _reading_options(trial)
    trial.add_argument("--pictures", type=Path, metavar="DIR", help="write every picture to this folder, SVG and PNG")
    trial.add_argument("--json", action="store_true", help="print one JSON document")
    trial.set_defaults(run=run_trial)
    _kept_commands(commands)


def _kept_commands(commands: Any) -> None:
    trials = add_command(
        commands,
        "trials",
        "import, list, show, pool or remove the trials that are kept",
        "swardwright trials import demo_data/trials/wild-violet.csv",
        "swardwright trials import demo_data/trials/wild-violet.csv --confirm",
        "swardwright trials list",
        "swardwright trials report larkmere-wild-violet-2026",
        "swardwright trials synthesis --weed 'wild violet' --treatment triclopyr --against 2,4-D",
    )
    parts = trials.add_subparsers(dest="part", required=True, metavar="PART")
    bring = _part(
        parts, "import", "say what a file of plots would do; with --confirm do it, all or nothing", run_import
    )
    bring.add_argument("file", metavar="FILE", help="CSV, UTF-8 (- for standard input)")
    bring.add_argument("--confirm", action="store_true", help="import it")
    bring.add_argument("--replace", action="store_true", help="replace trials of a name that is kept already")
    _reading_options(bring)
    _part(parts, "list", "print every trial that is kept", run_list)
    show = _part(parts, "show", "print what a trial holds and what it adds to the records", run_show)
    show.add_argument("id", metavar="ID")
    report = _part(parts, "report", "print the analysis of a trial", run_report)
    report.add_argument("id", metavar="ID")
    report.add_argument("--alpha", metavar="A", help=_ALPHA)
    pool = _part(parts, "synthesis", "pool what the kept trials say of one question", run_synthesis)
    pool.add_argument("--weed", required=True, metavar="WEED", help="by its id or name")
    pool.add_argument("--treatment", required=True, metavar="NAME", help="a treatment, as the trials name it")
    pool.add_argument("--against", metavar="NAME", help="another treatment; without it the control itself is pooled")
    pool.add_argument("--days-after", metavar="DAYS", help="the date nearest to it is taken (default: 28)")
    pool.add_argument("--alpha", metavar="A", help=_ALPHA)
    remove = _part(parts, "remove", "remove a trial, so that it moves no advice any more", run_remove)
    remove.add_argument("id", metavar="ID")
    rate = _part(parts, "rate", "keep a follow-up rating of a treated lawn", run_rate)
    rate.add_argument("file", metavar="RATING.json", help="lawn, weed, days_after, treatment, control_pct; - reads it")


def _part(parts: Any, name: str, about: str, run: Any) -> Any:
    command = add_command(parts, name, about)
    data_option(command)
    command.add_argument("--json", action="store_true", help="print one JSON document")
    command.set_defaults(run=run)
    return command


def _reading_options(command: Any) -> None:
    command.add_argument("--design", metavar="D", help="rcbd (blocks) or crd (completely randomised), told not guessed")
    command.add_argument(
        *("--columns", "-c"),
        action="extend",
        nargs="+",
        default=[],
        metavar="NAME=HEADING",
        help="headings that are not found by themselves, for example days_after=DAT",
    )


def _asked(arguments: argparse.Namespace) -> dict[str, Any]:
    """The file and how it is to be read, as the services take them."""
    from app.services.csv_text import MAX_BYTES, decoded

    columns: dict[str, str] = {}
    for told in arguments.columns:
        name, sign, heading = told.partition("=")
        if not sign or not name:
            raise InputError([FieldFault("--columns", f"'{told}' is no column; write NAME=HEADING, days_after=DAT")])
        if name in columns:
            raise InputError([FieldFault("--columns", f"'{name}' stands twice; give each column once")])
        columns[name] = heading
    text = decoded(read_bytes(arguments.file, MAX_BYTES))
    return {"csv": text, "columns": columns, "design": arguments.design}


def run_trial(arguments: argparse.Namespace) -> int:
    """Analyse a file of plots."""
    from app.services.trial_answers import alpha_of, analyse
    from app.trial_text import answer_text

    answer = analyse({**_asked(arguments), "alpha": alpha_of(arguments.alpha)})
    if arguments.pictures is not None:
        _draw(answer, arguments.pictures)
    return print_answer(answer, answer_text, arguments.json)


def _draw(answer: TrialAnswer, folder: Path) -> None:
    from app.services.trial_picture_files import pictures_of

    found = pictures_of(answer)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        replaced = sum((folder / f"{name}.svg").exists() for name in found)
        for name, picture in found.items():
            (folder / f"{name}.svg").write_bytes(picture.svg())
            (folder / f"{name}.png").write_bytes(picture.png())
    except OSError as error:
        what = f"{folder} cannot be written: {(error.strerror or str(error)).lower()}"
        raise InputError([FieldFault("--pictures", what)]) from error
    counted = f"{len(found)} picture{'' if len(found) == 1 else 's'}"
    instead = f"; {replaced} of these names stood there and gave way" if replaced else ""
    print(f"Wrote {counted} to {folder}, each as SVG and PNG{instead}.", file=sys.stderr)


def run_import(arguments: argparse.Namespace) -> int:
    """Say what a file of plots would do, or import it."""
    from app.services.trial_answers import bring_in
    from app.store.changed import Changed
    from app.trial_list_text import import_text

    asked = {**_asked(arguments), "confirm": arguments.confirm, "replace": arguments.replace}
    with store_of(arguments) as store:
        try:
            found = bring_in(store, asked)
        except Changed as error:
            raise InputError([FieldFault("csv", str(error))]) from error
    return print_answer(found, import_text, arguments.json)


def run_list(arguments: argparse.Namespace) -> int:
    """Print every trial."""
    from app.services.trial_answers import listing
    from app.trial_list_text import listing_text

    with store_of(arguments) as store:
        found = listing(store)
    return print_answer(found, listing_text, arguments.json)


def run_show(arguments: argparse.Namespace) -> int:
    """Print one trial."""
    from app.services.trial_answers import one
    from app.trial_list_text import trial_text

    with store_of(arguments) as store:
        found = one(store, arguments.id)
    return print_answer(found, trial_text, arguments.json)


def run_report(arguments: argparse.Namespace) -> int:
    """Print the analysis of a trial."""
    from app.services.trial_answers import report
    from app.trial_text import report_text

    with store_of(arguments) as store:
        found = report(store, arguments.id, arguments.alpha)
    return print_answer(found, report_text, arguments.json)


def run_synthesis(arguments: argparse.Namespace) -> int:
    """Pool several trials."""
    from app.services.trial_answers import pooled
    from app.trial_text import synthesis_text

    told = {name: getattr(arguments, name) for name in ("weed", "treatment", "against", "days_after", "alpha")}
    with store_of(arguments) as store:
        found = pooled(store, {name: text for name, text in told.items() if text is not None})
    return print_answer(found, synthesis_text, arguments.json)


def run_remove(arguments: argparse.Namespace) -> int:
    """Remove a trial."""
    from app.services.trial_answers import one, remove
    from app.store.changed import Changed

    with store_of(arguments) as store:
        found = one(store, arguments.id)
        try:
            removed = remove(store, arguments.id, str(found.version))
        except Changed as error:
            raise InputError([FieldFault("id", str(error))]) from error
    return print_answer(removed, lambda _: f"Removed {found.trial.name}.\n", arguments.json)


def run_rate(arguments: argparse.Namespace) -> int:
    """Keep a follow-up rating."""
    from app.services.trial_answers import rate
    from app.store.changed import Changed
    from app.trial_list_text import trial_text

    payload = read_document(arguments.file)
    with store_of(arguments) as store:
        try:
            found = rate(store, payload)
        except Changed as error:
            raise InputError([FieldFault("trial", str(error))]) from error
    return print_answer(found, trial_text, arguments.json)
