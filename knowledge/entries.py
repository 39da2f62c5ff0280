"""Entries that are validated when they are first looked up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TypeVar

from pydantic import BaseModel

Model = TypeVar("Model", bound=BaseModel)


class LazyEntries(Mapping[str, Model]):
    """Entries by id, kept as the JSON text of a snapshot and validated once, at the first look-up.

    The snapshot's text has passed every check before it was written, so what a question does not
    touch need not be read again. Equal to any mapping of the same entries.
    """

    def __init__(self, model: type[Model], texts: Mapping[str, str]) -> None:
        self._model, self._texts = model, texts
        self._made: dict[str, Model] = {}

    def __getitem__(self, key: str) -> Model:
        if key not in self._made:
            self._made[key] = self._model.model_validate_json(self._texts[key])
        return self._made[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._texts)

    def __len__(self) -> int:
        return len(self._texts)

    def __contains__(self, key: object) -> bool:
        return key in self._texts
