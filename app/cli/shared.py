"""What every command uses: the parser, reading a document, printing an answer."""

from __future__ import annotations

import argparse
import io
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

from app.engine.errors import FieldFault, InputError

ANSWERED, FAULT, BAD_INPUT = 0, 1, 2


class Parser(argparse.ArgumentParser):
    """A parser that says what is wrong in one sentence."""

    def error(self, message: str) -> NoReturn:
        what = message.removeprefix("argument ")
        self.exit(BAD_INPUT, f"{self.prog}: {what}; '{self.prog} --help' says what is right\n")


class Version(argparse.Action):
    """Prints the version; it is looked up only when asked for, which keeps every other start quick."""

    def __call__(self, parser: argparse.ArgumentParser, *_: Any) -> None:
        from app.version import program_version

        sys.stdout.write(f"swardwright {program_version()}\n")
        parser.exit()


def whole_number(text: str) -> int:
    if not (text.isascii() and text.removeprefix("-").isdigit() and len(text) <= 9):
        raise argparse.ArgumentTypeError(f"'{text}' is no whole number")
    return int(text)


def add_command(commands: Any, name: str, about: str, *examples: str) -> Any:
    return commands.add_parser(
        name,
        help=about,
        description=f"{about[0].upper()}{about[1:]}.",
        epilog="\n".join(("examples:", *(f"  {line}" if line else "" for line in examples))) if examples else None,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def read_document(name: str) -> Any:
    """The JSON document in a file, or on standard input where the name is ``-``.

    Raises
    ------
    InputError
        When it cannot be read or is not strict JSON.
    """
    from app.services.strict_json import MAX_BYTES, read_json

    return read_json(read_bytes(name, MAX_BYTES))


def read_bytes(name: str, most: int) -> bytes:
    """What a file holds, or standard input where the name is ``-``; one byte more than the most tells of too much.

    Raises
    ------
    InputError
        When it cannot be read.
    """
    if name == "-":
        return sys.stdin.buffer.read(most + 1)
    try:
        with Path(name).open("rb") as file:
            return file.read(most + 1)
    except OSError as error:
        raise InputError([FieldFault("", f"{name} cannot be read: {error.strerror or error}")]) from error


def print_answer(answer: Any, as_text: Callable[[Any], str], as_json: bool) -> int:
    if as_json:
        from app.engine.output import as_json as plain

        return print_json(plain(answer))
    return print_text(as_text(answer))


def print_json(document: Any) -> int:
    # JSON is UTF-8 whatever the terminal speaks.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8")
    sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=2) + "\n")
    return ANSWERED


def print_text(text: str) -> int:
    # A letter that the terminal cannot show is shown by its code.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")
    sys.stdout.write(text)
    return ANSWERED
