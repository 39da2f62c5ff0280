"""The command line: data to standard output, messages to standard error."""

from __future__ import annotations

import argparse
import gc
import io
import json
import os
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, NoReturn

from app.engine.errors import FieldFault, InputError, SwardwrightError, UnknownId

ANSWERED, FAULT, BAD_INPUT = 0, 1, 2
DEFAULT_HOST, DEFAULT_PORT = "127.0.0.1", 8137

_EPILOG = """examples:
  swardwright answer "wild violet" --turf tall-fescue --month 5
  swardwright recommend demo_data/wild-violet-summer.json
  swardwright why-not demo_data/wild-violet-summer.json --active dicamba
  swardwright serve --demo

Each command has its own --help. Data go to standard output, messages to standard error;
the exit code is 0 answered, 2 bad input, 1 a fault of ours.
The product label is the law; state and local codes and licensed practice decide.
"""


class _Parser(argparse.ArgumentParser):
    """A parser that says what is wrong in one sentence."""

    def error(self, message: str) -> NoReturn:
        what = message.removeprefix("argument ")
        self.exit(BAD_INPUT, f"{self.prog}: {what}; '{self.prog} --help' says what is right\n")


class _Version(argparse.Action):
    """Prints the version; it is looked up only when asked for, which keeps every other start quick."""

    def __call__(self, parser: argparse.ArgumentParser, *_: Any) -> None:
        from app.version import program_version

        sys.stdout.write(f"swardwright {program_version()}\n")
        parser.exit()


def _whole(text: str) -> int:
    if not (text.isascii() and text.removeprefix("-").isdigit() and len(text) <= 9):
        raise argparse.ArgumentTypeError(f"'{text}' is no whole number")
    return int(text)


def _command(commands: Any, name: str, about: str, *examples: str) -> Any:
    return commands.add_parser(
        name,
        help=about,
        description=f"{about[0].upper()}{about[1:]}.",
        epilog="\n".join(("examples:", *(f"  {line}" if line else "" for line in examples))) if examples else None,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def build_parser() -> argparse.ArgumentParser:
    """The parser with every command."""
    parser = _Parser(
        prog="swardwright",
        description="Ranks and explains turf herbicide programs.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="print the version")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _serve_command(commands)
    _situation_commands(commands)
    _answer_command(commands)
    _knowledge_command(commands)
    password = _command(
        commands,
        "password",
        "make the hash that listening beyond this machine requires",
        'export SWARDWRIGHT_PASSWORD_HASH="$(swardwright password)"',
        "swardwright serve --host 192.168.1.20",
        "",
        "It asks twice and prints the hash; written by hand, put it in single quotes.",
    )
    password.set_defaults(run=run_password)
    return parser


def _serve_command(commands: Any) -> None:
    serve = _command(
        commands,
        "serve",
        "start the web app on this machine",
        "swardwright serve --demo",
        "swardwright serve --port 9000 --open",
        "",
        "Another address than loopback needs a password: see 'swardwright password'.",
    )
    serve.add_argument("--demo", action="store_true", help="open with an example question filled in")
    serve.add_argument(
        "--host", default=DEFAULT_HOST, help="address to listen on (another than loopback needs a password)"
    )
    serve.add_argument("--port", type=_whole, default=DEFAULT_PORT, help=f"port to listen on (default {DEFAULT_PORT})")
    serve.add_argument("--data", type=Path, default=None, help="folder for your own data")
    serve.add_argument("--open", action="store_true", help="open a browser")
    serve.set_defaults(run=run_serve)


def _situation_commands(commands: Any) -> None:
    rank = _command(
        commands,
        "recommend",
        "rank programs for a situation",
        "swardwright recommend demo_data/wild-violet-summer.json",
        "swardwright recommend demo_data/crabgrass-tillered.json --json --top 10",
        "swardwright recommend - < demo_data/warm-season-nutsedge.json",
        "",
        "Required: date, zone, site_use, turf, targets. An absent fact is unknown.",
    )
    rank.add_argument("situation", metavar="SITUATION.json", help="a situation; - reads standard input")
    rank.add_argument("--top", type=_whole, default=None, metavar="N", help="show at most N programs (1 to 50)")
    rank.set_defaults(run=run_recommend)
    why = _command(
        commands,
        "why-not",
        "say what stands against an active or mixture",
        "swardwright why-not demo_data/wild-violet-summer.json --active dicamba",
        "swardwright why-not demo_data/wild-violet-summer.json --active triclopyr --active 2-4-d",
    )
    why.add_argument("situation", metavar="SITUATION.json", help="a situation; - reads standard input")
    why.add_argument("--active", action="append", required=True, metavar="ID", help="an active; repeat for a mixture")
    why.set_defaults(run=run_why_not)
    expected = _command(
        commands,
        "expect",
        "expected control and injury of a stated program",
        "swardwright expect demo_data/wild-violet-program.json",
    )
    expected.add_argument(
        "program", metavar="PROGRAM.json", help='{"situation", "program", "days_after"}; - reads standard input'
    )
    expected.set_defaults(run=run_expect)
    for command in (rank, why, expected):
        command.add_argument("--json", action="store_true", help="print one JSON document")


def _answer_command(commands: Any) -> None:
    quick = _command(
        commands,
        "answer",
        "the quick answer for a weed, by whatever name",
        'swardwright answer "wild violet" --turf tall-fescue --month 5',
        'swardwright answer "creeping charlie" --zone transition --json',
    )
    quick.add_argument("weed", help="what it is called, for example 'creeping charlie'")
    quick.add_argument("--turf", metavar="ID", help="turf (default: the usual one of the zone)")
    quick.add_argument("--month", type=_whole, metavar="1-12", help="month (default: this month)")
    quick.add_argument("--zone", metavar="ID", help="zone (default: cool-humid)")
    quick.add_argument("--stage", metavar="ID", help="growth stage (default: by the calendar)")
    quick.add_argument("--json", action="store_true", help="print one JSON document")
    quick.set_defaults(run=run_answer)


def _knowledge_command(commands: Any) -> None:
    knowledge = _command(
        commands,
        "knowledge",
        "check, count, calibrate or show the facts",
        "swardwright knowledge check",
        "swardwright knowledge coverage --json",
        "swardwright knowledge calibrate",
        "swardwright knowledge show weeds wild-violet",
    )
    parts = knowledge.add_subparsers(dest="part", required=True, metavar="PART")
    _command(parts, "check", "validate every fact").set_defaults(run=run_check)
    coverage = _command(parts, "coverage", "count what is filled, and on what basis")
    coverage.add_argument("--json", action="store_true", help="print one JSON document")
    coverage.set_defaults(run=run_coverage)
    calibrate = _command(
        parts,
        "calibrate",
        "hold the engine against the percent control that publications print",
        "swardwright knowledge calibrate --worst 20",
        "",
        "The error is the distance from the likely control to the printed range, in points.",
    )
    calibrate.add_argument("--worst", type=_whole, default=10, metavar="N", help="how many misses to name (default 10)")
    calibrate.add_argument("--json", action="store_true", help="print one JSON document")
    calibrate.set_defaults(run=run_calibrate)
    show = _command(
        parts, "show", "print one entry with its sources", "swardwright knowledge show actives triclopyr --json"
    )
    show.add_argument("kind", metavar="KIND", help="weeds, actives, turf, rules or sources")
    show.add_argument("id", metavar="ID")
    show.add_argument("--json", action="store_true", help="print one JSON document")
    show.set_defaults(run=run_show)


def read_document(name: str) -> Any:
    """The JSON document in a file, or on standard input where the name is ``-``.

    Raises
    ------
    InputError
        When it cannot be read or is not strict JSON.
    """
    from app.services.strict_json import MAX_BYTES, read_json

    if name == "-":
        return read_json(sys.stdin.buffer.read(MAX_BYTES + 1))
    try:
        with Path(name).open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise InputError([FieldFault("", f"{name} cannot be read: {error.strerror or error}")]) from error
    return read_json(data)


def _print(answer: Any, as_text: Callable[[Any], str], as_json: bool) -> int:
    if as_json:
        from app.engine.output import as_json as plain

        return _print_json(plain(answer))
    return _print_text(as_text(answer))


def _print_json(document: Any) -> int:
    # JSON is UTF-8 whatever the terminal speaks.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8")
    sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=2) + "\n")
    return ANSWERED


def _print_text(text: str) -> int:
    # A letter that the terminal cannot show is shown by its code.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")
    sys.stdout.write(text)
    return ANSWERED


def run_recommend(arguments: argparse.Namespace) -> int:
    """Rank programs for a situation."""
    from app.services.advice import recommend
    from app.text import recommendation_text

    payload = read_document(arguments.situation)
    if arguments.top is not None and isinstance(payload, dict):
        options = payload.get("options", {})
        # Options of another shape are left as they are, to be refused by name.
        if isinstance(options, dict):
            payload = {**payload, "options": {**options, "top": arguments.top}}
    return _print(recommend(payload), recommendation_text, arguments.json)


def run_why_not(arguments: argparse.Namespace) -> int:
    """Say what stands against an active or mixture."""
    from app.services.advice import why_not
    from app.text import why_not_text

    payload = {"situation": read_document(arguments.situation), "actives": arguments.active}
    return _print(why_not(payload), why_not_text, arguments.json)


def run_expect(arguments: argparse.Namespace) -> int:
    """Expected control and injury of a stated program."""
    from app.services.advice import expect
    from app.text import expectation_text

    return _print(expect(read_document(arguments.program)), expectation_text, arguments.json)


def run_answer(arguments: argparse.Namespace) -> int:
    """The quick answer for a weed."""
    from app.services.advice import answer
    from app.text import quick_answer_text

    if not arguments.weed.isprintable():
        raise InputError([FieldFault("weed", "holds a sign that cannot be printed; write the name in plain letters")])
    found = answer(
        arguments.weed,
        turf=arguments.turf,
        month=arguments.month,
        zone=arguments.zone,
        stage=arguments.stage,
        site_use=None,
        today=date.today(),
    )
    return _print(found, quick_answer_text, arguments.json)


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
    return _print_text(f"No problem found in {counts}. Knowledge version {base.version}.\n")


def run_coverage(arguments: argparse.Namespace) -> int:
    """Count what is filled."""
    from app.services.knowledge_service import coverage
    from app.text import coverage_text

    counts = coverage()
    return _print_json(counts) if arguments.json else _print_text(coverage_text(counts))


def run_calibrate(arguments: argparse.Namespace) -> int:
    """Hold the engine against printed results."""
    from app.services.calibration import as_document, calibrate
    from app.text import calibration_text

    if arguments.worst < 0:
        raise InputError([FieldFault("worst", f"{arguments.worst} is too few; use 0 or more")])
    found = calibrate(arguments.worst)
    return _print_json(as_document(found)) if arguments.json else _print_text(calibration_text(found))


def run_show(arguments: argparse.Namespace) -> int:
    """Print one entry."""
    from app.services.knowledge_service import show_entry

    entry = show_entry(arguments.kind, arguments.id)
    if arguments.json:
        return _print_json(entry)
    import yaml

    return _print_text(yaml.safe_dump(entry, allow_unicode=True, sort_keys=False, width=80))


def run_serve(arguments: argparse.Namespace) -> int:
    """Start the web app."""
    from app.serving import serve

    return serve(arguments.host, arguments.port, data=arguments.data, demo=arguments.demo, open_browser=arguments.open)


def run_password(_: argparse.Namespace) -> int:
    """Ask for a password twice and print its hash."""
    from app.serving import make_password_hash

    return _print_text(make_password_hash() + "\n")


def _run(arguments: argparse.Namespace) -> int:
    # One answer leaves little garbage, and looking for it costs a fifth of the time; a server runs for days.
    if arguments.command != "serve":
        gc.disable()
    try:
        code: int = arguments.run(arguments)
        sys.stdout.flush()
        return code
    finally:
        gc.enable()


def main(argv: list[str] | None = None) -> int:
    """Run one command.

    Returns
    -------
    int
        0 answered, 2 bad input, 1 a fault of ours.
    """
    arguments = build_parser().parse_args(argv)
    try:
        return _run(arguments)
    except (InputError, UnknownId) as error:
        return _complain(f"swardwright: {error}", BAD_INPUT)
    except BrokenPipeError:
        # The reader closed early, as `head` does; nothing more can be said on that pipe.
        _drop_output()
        return ANSWERED
    except KeyboardInterrupt:
        return _complain("swardwright: interrupted", FAULT)
    except OSError as error:
        _drop_output()
        return _complain(f"swardwright: {error.strerror or error}", FAULT)
    except SwardwrightError as error:
        return _complain(f"swardwright: {error}", FAULT)
    except Exception as error:
        from knowledge.reader import KnowledgeError

        if not isinstance(error, KnowledgeError):
            raise
        faults = "\n".join(str(problem) for problem in error.problems)
        return _complain(f"swardwright: the facts hold {len(error.problems)} problems\n{faults}", FAULT)


def _drop_output() -> None:
    """Let what is still to be written go nowhere, so that the end of the process does not fail again."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _complain(message: str, code: int) -> int:
    print(message, file=sys.stderr)
    return code
