"""Sides with all that the sentences on their differences are made of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from app.engine.output import Control
from app.engine.sides import ComparedSide, Difference, Overlap
from app.engine.understood import Understood
from knowledge.base import KnowledgeBase

Sides = tuple[ComparedSide, ...]


@dataclass(frozen=True)
class Weighed:
    """Everything that the sentences are made of.

    Attributes
    ----------
    elsewhere : tuple of tuple of Control
        For each side its control of the weeds that were not asked about, in one order.
    """

    base: KnowledgeBase
    understood: Understood
    sides: Sides
    overlaps: tuple[Overlap, ...]
    elsewhere: tuple[tuple[Control, ...], ...]

    @property
    def open(self) -> Sides:
        """The sides against which no stop stands."""
        return tuple(side for side in self.sides if not side.stops)

    @property
    def pairs(self) -> tuple[tuple[ComparedSide, ComparedSide], ...]:
        """The pairs that are told apart active by active.

        Two sides; of three or four, each of the others against the first that may be used.
        """
        if len(self.sides) == 2:
            return ((self.sides[0], self.sides[1]),)
        first = (*self.open, *self.sides)[0]
        return tuple((first, other) for other in self.sides if other is not first)


def difference(
    code: str, text: str, sides: Iterable[ComparedSide], weeds: Iterable[str] = (), sources: Iterable[str] = ()
) -> Difference:
    """One difference, each source once."""
    numbers = tuple(side.number for side in sides)
    cites = tuple(dict.fromkeys(sources))
    return Difference(code=code, text=text, weeds=tuple(weeds), sides=numbers, sources=cites)
