"""Joining words into the sentences of an answer."""

from __future__ import annotations

from collections.abc import Iterable


def listed(items: Iterable[str]) -> str:
    """Items as a list in words.

    >>> listed(["a", "b", "c"]), listed(["a"])
    ('a, b and c', 'a')
    """
    told = list(items)
    return f"{', '.join(told[:-1])} and {told[-1]}" if len(told) > 1 else "".join(told)


def capital(text: str) -> str:
    """A sentence with a capital at its start, unless it starts with a name that has its own letters."""
    return text[:1].upper() + text[1:]
