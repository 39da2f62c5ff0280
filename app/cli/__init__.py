"""The command line: data to standard output, messages to standard error."""

from __future__ import annotations

import argparse
import gc
import os
import sys

from app.cli.advice import answer_command, identify_command, situation_commands
from app.cli.growth import growth_commands
from app.cli.knowledge import knowledge_command
from app.cli.mixing import mixing_commands
from app.cli.properties import properties_command
from app.cli.records import records_command
from app.cli.rounds import rounds_command
from app.cli.serving import serve_command
from app.cli.shared import ANSWERED, BAD_INPUT, FAULT, Parser, Version
from app.cli.shelf import shelf_command
from app.cli.side_by_side import side_by_side_command
from app.cli.store import backup_commands
from app.cli.trials import trial_commands
from app.cli.weather import weather_commands
from app.cli.year import year_command
from app.cli.year_jobs import year_jobs_command
from app.cli.years import years_command
from app.engine.errors import InputError, SwardwrightError, UnknownId

_EPILOG = """examples:
  swardwright answer "wild violet" --turf tall-fescue --month 5
  swardwright recommend demo_data/wild-violet-summer.json
  swardwright why-not demo_data/wild-violet-summer.json --active dicamba
  swardwright serve --demo

Each command has its own --help. Data go to standard output, messages to standard error;
the exit code is 0 answered, 2 bad input, 1 a fault of ours.
The product label is the law; state and local codes and licensed practice decide.
"""


def build_parser() -> argparse.ArgumentParser:
    """The parser with every command."""
    parser = Parser(
        prog="swardwright",
        description="Ranks and explains turf herbicide programs.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action=Version, nargs=0, help="print the version")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    serve_command(commands)
    situation_commands(commands)
    answer_command(commands)
    identify_command(commands)
    growth_commands(commands)
    side_by_side_command(commands)
    shelf_command(commands)
    mixing_commands(commands)
    trial_commands(commands)
    weather_commands(commands)
    records_command(commands)
    properties_command(commands)
    rounds_command(commands)
    year_command(commands)
    years_command(commands)
    year_jobs_command(commands)
    knowledge_command(commands)
    backup_commands(commands)
    return parser


def _run(arguments: argparse.Namespace) -> int:
    # One answer leaves little garbage, and looking for it costs a fifth of the time; a server runs for days, and
    # planning a branch for an hour.
    if arguments.command not in ("serve", "branch-year"):
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
