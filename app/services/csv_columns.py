"""Which heading of a file means which column: the trade's own found by themselves, others told by hand."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.engine.errors import FieldFault, InputError
from app.engine.understood import nearest
from app.services.csv_text import refused


def plain_heading(heading: str) -> str:
    """Equal for headings that differ in case, spaces and punctuation alone."""
    return re.sub(r"[^a-z0-9]+", "", heading.casefold())


def shown(heading: str) -> str:
    """A heading with its white space made plain."""
    return " ".join(heading.split())


@dataclass(frozen=True)
class Headings:
    """The columns of one kind of file.

    Attributes
    ----------
    what : str
        What the file is of, as in `a file of plots`.
    known : mapping
        Known names with the headings of the trade that mean them, as `plain_heading` writes them.
    needed : tuple of str
        Columns without which the file cannot be read.
    either : mapping
        By needed column, those that may stand in its place.
    """

    what: str
    known: Mapping[str, tuple[str, ...]]
    needed: tuple[str, ...]
    either: Mapping[str, tuple[str, ...]]

    @property
    def _meant(self) -> dict[str, str]:
        return {plain_heading(text): name for name, others in self.known.items() for text in (name, *others)}

    def is_known(self, heading: str, told: Mapping[str, str] | None = None) -> bool:
        """Whether a heading is one that this reads, by itself or as told."""
        return plain_heading(heading) in self._meant or shown(heading) in {
            shown(text) for text in (told or {}).values() if text
        }

    def guessed(self, header: Sequence[str]) -> dict[str, str]:
        """Heading by known name as far as it can be guessed; of two that mean one, the first."""
        found: dict[str, str] = {}
        meant = self._meant
        for heading in (shown(cell) for cell in header):
            name = meant.get(plain_heading(heading))
            if name is not None:
                found.setdefault(name, heading)
        return found

    def at(self, header: Sequence[str], told: Mapping[str, str] | None = None) -> dict[str, int]:
        """Where each known column stands.

        Parameters
        ----------
        header : sequence of str
            The headings of the file.
        told : dict of str to str, optional
            Headings by known name as the user says, empty where a column is left out; the other columns are
            guessed from the headings left.

        Raises
        ------
        InputError
            Where a needed column cannot be found, or two headings mean one.
        """
        headings = [shown(cell) for cell in header]
        found = self._told(headings, told or {})
        left_out = {name for name, heading in (told or {}).items() if not shown(heading)}
        guessed: dict[str, list[int]] = {}
        meant = self._meant
        for index, heading in enumerate(headings):
            name = meant.get(plain_heading(heading))
            if name is not None and name not in found and name not in left_out and index not in found.values():
                guessed.setdefault(name, []).append(index)
        for name, places in guessed.items():
            if len(places) > 1:
                both = " and ".join(f"'{headings[index]}'" for index in places)
                raise refused(f"{both} both mean the column {name}; say which one it is, or rename the other")
            found[name] = places[0]
        missing = [
            name
            for name in self.needed
            if name not in found and not any(other in found for other in self.either.get(name, ()))
        ]
        if missing:
            heads = ", ".join(heading or "(empty)" for heading in headings[:30])[:300]
            need = f"the columns needed are {', '.join(self.needed)}"
            raise refused(f"no column is found for {', '.join(missing)}; {need}, and the first line has {heads}")
        return found

    def _told(self, headings: Sequence[str], told: Mapping[str, str]) -> dict[str, int]:
        found: dict[str, int] = {}
        faults = []
        for name, heading in told.items():
            path, wanted = f"columns.{name}", shown(heading)
            at = [index for index, head in enumerate(headings) if head == wanted]
            at = at or [
                index
                for index, head in enumerate(headings)
                if plain_heading(head) and plain_heading(head) == plain_heading(wanted)
            ]
            if name not in self.known:
                faults.append(FieldFault(path, f"'{name}' is no column of {self.what}; use one of {self.names}"))
            elif not wanted:
                continue
            elif not at:
                near = ", ".join(nearest(wanted, [head for head in headings if head]))
                faults.append(FieldFault(path, f"no heading of the file is '{wanted[:80]}'; nearest: {near}"))
            elif len(at) > 1:
                faults.append(
                    FieldFault(path, f"the heading '{wanted[:80]}' stands twice in the file; rename one of them")
                )
            elif at[0] in found.values():
                other = next(key for key, index in found.items() if index == at[0])
                what = f"the heading '{wanted[:80]}' is told for {other} already; give it once"
                faults.append(FieldFault(path, what))
            else:
                found[name] = at[0]
        if faults:
            raise InputError(faults)
        return found

    @property
    def names(self) -> str:
        """The known names, in words."""
        return ", ".join(self.known)
