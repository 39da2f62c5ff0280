"""Broken input, said in one sentence that names the field and what would be right."""

from __future__ import annotations

from dataclasses import dataclass


class SwardwrightError(Exception):
    """Base of every error this project raises on purpose."""


@dataclass(frozen=True, slots=True)
class FieldFault:
    """One field that cannot be used: its path in the input and why."""

    path: str
    message: str


class InputError(SwardwrightError):
    """The input cannot be used; nothing was computed.

    Attributes
    ----------
    faults : tuple of FieldFault
        Every fault found, in the order of the input.
    """

    def __init__(self, faults: list[FieldFault]) -> None:
        self.faults = tuple(faults)
        first = self.faults[0]
        more = f" ({len(self.faults) - 1} more)" if len(self.faults) > 1 else ""
        super().__init__(f"{first.path}: {first.message}{more}" if first.path else f"{first.message}{more}")


class UnknownId(SwardwrightError):
    """A page or entry was asked for that the knowledge base, or what is kept, does not hold."""

    def __init__(self, kind: str, key: str, near: tuple[str, ...], where: str = "of the knowledge base") -> None:
        self.kind, self.key, self.near = kind, key, near
        hint = f"; nearest: {', '.join(near)}" if near else ""
        super().__init__(f"'{key}' is no {kind} {where}{hint}")
