"""The version of the program, from its installed metadata."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version


def program_version() -> str:
    """Version of the installed package; `0+source` where it runs from a bare tree."""
    try:
        return version("swardwright")
    except PackageNotFoundError:
        return "0+source"
