"""Names and the ids made from them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container

_LONGEST = 120


def name_key(name: str) -> str:
    """Equal for names that people take for the same: whatever the case, the spaces and the way letters are composed."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


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
