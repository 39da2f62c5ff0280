"""Importing a file into the shelf: first a preview of every row, then all of it or nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Literal

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError
from app.engine.label_faults import faults_of
from app.engine.product import Product
from app.services.knowledge_service import knowledge_base
from app.services.shelf_csv import COLUMNS, CellFault, Row, cell_fault, read_csv
from app.store import pending, products
from app.store.changed import Changed
from app.store.names import name_key
from app.store.opening import Store

Status = Literal["new", "changed", "unchanged", "bad"]
_NAMED = 3


@dataclass(frozen=True)
class ImportRow:
    """A row of the file and what importing it would do.

    Attributes
    ----------
    id : str
        The product of the shelf that it speaks of; empty for a new one.
    version : int
        The version at which that product stands; 0 for a new one.
    changes : tuple of str
        The columns that would change.
    faults : tuple of CellFault
        Why a bad row cannot be used.
    """

    line: int
    name: str
    status: Status
    id: str = ""
    version: int = 0
    changes: tuple[str, ...] = ()
    faults: tuple[CellFault, ...] = ()
    product: Product | None = None


@dataclass(frozen=True)
class Preview:
    """What importing a file would do, and the version of each product of the shelf that it speaks of."""

    rows: tuple[ImportRow, ...]

    def of(self, status: Status) -> tuple[ImportRow, ...]:
        """The rows of a status."""
        return tuple(row for row in self.rows if row.status == status)

    @property
    def seen(self) -> dict[str, int]:
        """The versions that were looked at, by id; they are given back on confirmation."""
        return {row.id: row.version for row in self.rows if row.id}


@dataclass(frozen=True)
class Imported:
    """How many rows were put on the shelf, changed, found unchanged, and left out as bad."""

    new: int
    changed: int
    unchanged: int
    left_out: int


def import_preview(store: Store, text: str) -> Preview:
    """What importing a file would do; nothing is stored.

    Raises
    ------
    InputError
        When the file as a whole cannot be used.
    """
    rows = _checked(read_csv(text))
    with store.reading() as session:
        return _preview(rows, products.every(session))


def import_confirm(
    store: Store, text: str, seen: dict[str, int] | None = None, *, leave_out_bad: bool = False
) -> Imported:
    """Import a file: all of its rows or none.

    Parameters
    ----------
    text : str
        The file.
    seen : dict of str to int, optional
        `Preview.seen` of the preview that was looked at; what differs now was changed by somebody else.
    leave_out_bad : bool
        Whether bad rows are left out; otherwise one of them blocks the whole file.

    Raises
    ------
    InputError
        When the file cannot be used, or holds bad rows that are not to be left out.
    Changed
        When somebody else changed what the file speaks of after it was previewed.
    """
    rows = _checked(read_csv(text))
    with store.session() as session:
        preview = _preview(rows, products.every(session))
        bad = preview.of("bad")
        if bad and not leave_out_bad:
            raise InputError([FieldFault("csv", _blocked(bad))])
        if seen is not None:
            _same_as_seen(preview, seen)
        return _stored(session, preview)


def keep_pending(store: Store, text: str, preview: Preview) -> str:
    """Keep an uploaded file until it is confirmed; the key under which it is found."""
    with store.session() as session:
        return pending.keep(session, text, preview.seen, datetime.now(UTC))


def pending_file(store: Store, key: str) -> pending.Pending:
    """An uploaded file that waits for its confirmation.

    Raises
    ------
    InputError
        When it waited too long or was confirmed already.
    """
    with store.reading() as session:
        found = pending.found(session, key, datetime.now(UTC))
    if found is None:
        what = "the file waited longer than two hours, or was imported already; choose it again"
        raise InputError([FieldFault("csv", what)])
    return found


def forget_pending(store: Store, key: str) -> None:
    """Forget an uploaded file."""
    with store.session() as session:
        pending.forget(session, key)


def _checked(rows: Iterable[Row]) -> list[Row]:
    """The rows with what the knowledge base finds at fault."""
    base = knowledge_base()
    found = []
    for row in rows:
        faults = [cell_fault(fault) for fault in faults_of(base, row.product)] if row.product is not None else []
        found.append(replace(row, product=None, faults=tuple(faults)) if faults else row)
    return found


def _preview(rows: Iterable[Row], shelf: Iterable[products.Stored]) -> Preview:
    stored = tuple(shelf)
    by_id = {item.slug: item for item in stored}
    by_name = {name_key(item.product.name): item for item in stored}
    taken: dict[str, int] = {}
    found = []
    for row in rows:
        if row.product is None:
            found.append(ImportRow(row.line, row.name, "bad", faults=row.faults))
            continue
        named, known = by_name.get(name_key(row.product.name)), by_id.get(row.product.id or "")
        match = known or named
        if known is not None and named is not None and known is not named:
            what = f"is that of {known.product.name}, but the name is that of another product; correct one of the two"
            found.append(ImportRow(row.line, row.name, "bad", faults=(CellFault("id", what),)))
        elif match is not None and match.slug in taken:
            what = f"speaks of the same product as line {taken[match.slug]}; give each product once"
            found.append(ImportRow(row.line, row.name, "bad", faults=(CellFault("id", what),)))
        elif match is None:
            found.append(ImportRow(row.line, row.name, "new", product=row.product))
        else:
            taken[match.slug] = row.line
            found.append(_against(row.line, row.product, match))
    return Preview(tuple(found))


def _against(line: int, product: Product, match: products.Stored) -> ImportRow:
    changes = tuple(
        column.name
        for column in COLUMNS
        if column.field != "id" and getattr(product, column.field) != getattr(match.product, column.field)
    )
    status: Status = "changed" if changes else "unchanged"
    return ImportRow(line, product.name, status, match.slug, match.version, changes, product=product)


def _blocked(bad: tuple[ImportRow, ...]) -> str:
    first = bad[0].faults[0]
    where = f"line {bad[0].line}{f', {first.column}' if first.column else ''}: {first.message}"
    if len(bad) == 1:
        return f"one row cannot be used and blocks the file ({where}); correct it, or leave it out"
    return f"{len(bad)} rows cannot be used and block the file (first, {where}); correct them, or leave them out"


def _same_as_seen(preview: Preview, seen: dict[str, int]) -> None:
    other = [row for row in preview.rows if row.id and seen.get(row.id) != row.version]
    gone = [slug for slug in seen if slug not in preview.seen]
    if not other and not gone:
        return
    names = [row.name for row in other] + gone
    shown = ", ".join(names[:_NAMED]) + (f" and {len(names) - _NAMED} more" if len(names) > _NAMED else "")
    stored = other[0].product.model_dump(mode="json") if other and other[0].product is not None else None
    raise Changed("product", other[0].id if other else gone[0], shown, stored, other[0].version if other else None)


def _stored(session: Session, preview: Preview) -> Imported:
    now = datetime.now(UTC)
    for row in preview.of("changed"):
        assert row.product is not None, "a changed row has its product"
        products.update(session, row.id, row.product, row.version, now)
    fresh = [row.product for row in preview.of("new") if row.product is not None]
    if fresh:
        products.insert(session, fresh, now)
    return Imported(len(fresh), len(preview.of("changed")), len(preview.of("unchanged")), len(preview.of("bad")))
