"""Which fields a record must hold, and which of them are still to be filled."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from app.season.record import ApplicationRecord, Branch
from knowledge.base import KnowledgeBase
from knowledge.models import RecordField

_OF_PRODUCTS = "products."
_EXTRA = "extra."


@dataclass(frozen=True, slots=True)
class Gap:
    """A field that is still to be filled: its path in the record, and what it is called."""

    path: str
    name: str


def known_fields(base: KnowledgeBase) -> dict[str, str]:
    """Every field that a branch may ask for, by its path, and what it is called."""
    return {item.field: item.name for item in base.records.values()}


def asked(base: KnowledgeBase, branch: Branch) -> tuple[RecordField, ...]:
    """Fields that every record of a branch must hold: the usual ones and those that the branch asks for.

    A path that no record has, as a branch of an older version may ask for, is passed over.
    """
    return tuple(item for item in base.records.values() if item.asked == "usual" or item.field in branch.required)


def asked_mark(base: KnowledgeBase, branch: Branch) -> str:
    """A short mark of what is asked: equal where the same is asked, so that what was reckoned by it still holds."""
    told = [f"{item.field}|{item.beside}|{item.unless}" for item in asked(base, branch)]
    whole = "\n".join([*sorted(told), *sorted(f"{_EXTRA}{label}" for label in branch.extra)])
    return hashlib.sha256(whole.encode()).hexdigest()[:16]


def gaps(base: KnowledgeBase, branch: Branch, record: ApplicationRecord) -> tuple[Gap, ...]:
    """What is still to be filled of a record, in the order of the facts, then the branch's own fields.

    Parameters
    ----------
    base : KnowledgeBase
        Its `records` say what the usual rules ask for.
    branch : Branch
        Its `required` and `extra` add to them.

    Returns
    -------
    tuple of Gap
        Nothing for a record that is whole; nothing is asked of a void one.
    """
    if not record.live:
        return ()
    found = [gap for item in asked(base, branch) for gap in _gaps_of(record, item)]
    found += [Gap(f"{_EXTRA}{label}", label) for label in branch.extra if not record.extra.get(label, "").strip()]
    return tuple(found)


def still_to_fill(found: tuple[Gap, ...]) -> str:
    """What is still to be filled, as a sentence; nothing where nothing is.

    >>> still_to_fill((Gap("weather.wind_mph", "wind"), Gap("place", "location")))
    'Still to be filled: wind, location.'
    """
    return f"Still to be filled: {', '.join(gap.name for gap in found)}." if found else ""


def value_at(record: ApplicationRecord, path: str) -> Any:
    """What stands at a path of a record, None where there is no such place; extra fields by their label."""
    if path.startswith(_EXTRA):
        return record.extra.get(path.removeprefix(_EXTRA))
    found: Any = record
    for part in path.split("."):
        if isinstance(found, tuple):
            found = found[int(part)] if part.isdecimal() and int(part) < len(found) else None
        else:
            found = getattr(found, part, None)
    return found


def is_empty(value: Any) -> bool:
    """Whether nothing was told; a calm of 0 mph is told."""
    return value is None or value in ("", ())


def _gaps_of(record: ApplicationRecord, item: RecordField) -> Iterator[Gap]:
    if item.beside and is_empty(value_at(record, item.beside)):
        return
    if item.unless and not is_empty(value_at(record, item.unless)):
        return
    if not item.field.startswith(_OF_PRODUCTS):
        if is_empty(value_at(record, item.field)):
            yield Gap(item.field, item.name)
        return
    field = item.field.removeprefix(_OF_PRODUCTS)
    for number, product in enumerate(record.products):
        if is_empty(getattr(product, field)):
            yield Gap(f"{_OF_PRODUCTS}{number}.{field}", f"{item.name} of {product.name}")
