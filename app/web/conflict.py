"""Two people changed one thing: the second is shown both, field by field, and chooses."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from app.store.changed import Changed


@dataclass(frozen=True)
class Differing:
    """A field that differs, in words: as this person typed it, and as it is stored now."""

    field: str
    mine: str
    theirs: str


@dataclass(frozen=True)
class Conflict:
    """What `_conflict.html` shows above the form that keeps what was typed.

    Attributes
    ----------
    said : str
        What happened, as a sentence.
    removed : bool
        Whether it is not there any more; keeping mine then puts it back.
    rows : tuple of Differing or None
        What differs, in the order of the form; None where nothing was typed, as when it was to be removed.
    theirs_at : str
        The address that shows what is stored now.
    """

    said: str
    removed: bool
    rows: tuple[Differing, ...] | None
    theirs_at: str


def conflict(changed: Changed, fields: Iterable[tuple[str, str, str]] | None, theirs_at: str) -> Conflict:
    """The conflict to show, from the words of each field: its label, mine, theirs; equal ones are left out."""
    rows = tuple(Differing(*field) for field in fields if field[1] != field[2]) if fields is not None else None
    return Conflict(str(changed), changed.stored is None, rows, theirs_at)
