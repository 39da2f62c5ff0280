"""Names and the ids made from them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container

_LONGEST = 120
_NUMBERED = re.compile(r"([0-9]+[a-z]?(?:[-/][0-9]+[a-z]?)?)?\s*(.*)", re.DOTALL)
_DIGITS, _LONGEST_KEY = 8, 400


def name_key(name: str) -> str:
    """Equal for names that people take for the same: whatever the case, the spaces and the way letters are composed."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def place_key(name: str) -> str:
    """By what places are put in order: the street before the number, and numbers by their size.

    >>> sorted(["100 Oak Street", "20 Oak Street", "9 Elm Street"], key=place_key)
    ['9 Elm Street', '20 Oak Street', '100 Oak Street']
    """
    number, street = _NUMBERED.fullmatch(name_key(name)).groups()  # type: ignore[union-attr]
    told = f"{street} {number or ''}".strip()
    return re.sub(r"[0-9]+", lambda digits: digits.group().zfill(_DIGITS), told)[:_LONGEST_KEY]


def is_slug(text: str) -> bool:
    """Whether a text can be an id; PostgreSQL does not even take all that an address can hold."""
    return re.fullmatch(r"[a-z0-9-]+", text) is not None


def slug_of(name: str, taken: Container[str]) -> str:
    """An id made from a name, with a number behind it where it is taken.

    >>> slug_of("Larkmere Triad 3-Way", {"larkmere-triad-3-way"})
    'larkmere-triad-3-way-2'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    # "new", "import" and such are pages or calls of their own.
    stem = "-".join(re.findall(r"[a-z0-9]+", plain))[:_LONGEST].strip("-") or "unnamed"
    if stem in _PAGES:
        stem = f"{stem}-1"
    number, slug = 1, stem
    while slug in taken:
        number += 1
        slug = f"{stem}-{number}"
    return slug


_PAGES = frozenset({"new", "import", "export", "remove", "template", "analyse", "synthesis", "rate", "ratings"})
