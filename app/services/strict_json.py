"""Reading JSON strictly: no duplicate keys, no NaN, and a sentence where it is broken."""

from __future__ import annotations

import json
from typing import Any

from app.engine.errors import FieldFault, InputError

MAX_BYTES = 1024 * 1024


def _no_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise InputError([FieldFault(key, "stands twice; give each key once")])
        found[key] = value
    return found


def _no_constant(name: str) -> Any:
    raise InputError([FieldFault("", f"{name} is no JSON number")])


def read_json(data: bytes | str, most: int = MAX_BYTES) -> Any:
    """The document as plain data.

    Raises
    ------
    InputError
        When it is too large, not UTF-8, not JSON, nested too deep, or has a key twice.
    """
    if len(data) > most:
        raise InputError([FieldFault("", f"the input is larger than {most // 1024} KiB")])
    try:
        text = data.decode("utf-8-sig") if isinstance(data, bytes) else data
    except UnicodeDecodeError as error:
        raise InputError([FieldFault("", "the input must be UTF-8 text")]) from error
    try:
        return json.loads(text, object_pairs_hook=_no_twice, parse_constant=_no_constant)
    except json.JSONDecodeError as error:
        what = f"not JSON at line {error.lineno}, column {error.colno}: {error.msg}"
        raise InputError([FieldFault("", what)]) from error
    except RecursionError as error:
        raise InputError([FieldFault("", "the input is nested too deep")]) from error
    except ValueError as error:
        # A number of thousands of digits, which Python refuses to read.
        raise InputError([FieldFault("", "holds a number that is too long to read")]) from error
