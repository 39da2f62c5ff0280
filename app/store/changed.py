"""Somebody else was quicker: what is stored now, so that the second is told and shown both."""

from __future__ import annotations

from typing import Any

from app.engine.errors import SwardwrightError


class Changed(SwardwrightError):
    """What was to be changed has been changed or removed meanwhile; nothing was written.

    Attributes
    ----------
    kind, key, name : str
        What it is (`product`, `sprayer`), its id, and its name as stored.
    stored : dict or None
        What is stored now, as a document; None where it was removed.
    version : int or None
        The version that a change must name now.
    """

    def __init__(self, kind: str, key: str, name: str, stored: dict[str, Any] | None, version: int | None) -> None:
        self.kind, self.key, self.name, self.stored, self.version = kind, key, name, stored, version
        what = "removed" if stored is None else "changed"
        super().__init__(f"{name} was {what} meanwhile by somebody else; nothing of yours was stored")
