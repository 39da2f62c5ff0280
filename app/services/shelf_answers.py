"""What the API takes and answers about the shelf."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Literal

from pydantic import Field

from app.engine.errors import FieldFault, InputError
from app.engine.measures import Input
from app.engine.output import Output
from app.engine.product import Product
from app.services import shelf
from app.services.csv_text import MAX_BYTES, decoded
from app.services.shelf_import import Preview, import_confirm, import_preview
from app.services.validation import validated, version_told
from app.store.opening import Store

_VERSION_MOST = 2**31 - 1


class ShelfChange(Input):
    """A changed label, and the version that it changes."""

    version: int = Field(ge=1, le=_VERSION_MOST)
    product: Product


class ShelfImportRequest(Input):
    """A file to import: without `confirm` it is only previewed.

    `seen` is that of the preview; where it is given, what somebody else changed since is told and kept.
    """

    csv: str = Field(max_length=MAX_BYTES)
    confirm: bool = False
    leave_out_bad: bool = False
    seen: dict[str, int] | None = None


class ContradictionTold(Output):
    """Where a label contradicts the knowledge base."""

    path: str
    text: str
    sources: tuple[str, ...]


class ShelfProduct(Output):
    """A product of the shelf and the version at which it stands."""

    id: str
    version: int
    changed_at: datetime
    product: Product
    contradictions: tuple[ContradictionTold, ...]


class ShelfEntry(Output):
    """A product in the list of the shelf."""

    id: str
    version: int
    changed_at: datetime
    product: Product


class ShelfListing(Output):
    """Everything on the shelf, by name."""

    products: tuple[ShelfEntry, ...]


class CellFaultTold(Output):
    """Why a row cannot be used."""

    column: str
    message: str


class ImportRowTold(Output):
    """A row of the file and what importing it does."""

    line: int
    name: str
    status: Literal["new", "changed", "unchanged", "bad"]
    id: str
    changes: tuple[str, ...]
    faults: tuple[CellFaultTold, ...]


class ShelfImportAnswer(Output):
    """What importing a file does or, where `stored`, has done."""

    stored: bool
    new: int
    changed: int
    unchanged: int
    bad: int
    rows: tuple[ImportRowTold, ...]
    seen: dict[str, int]


class Removed(Output):
    """The id of the product that was taken off the shelf."""

    removed: str


def listing(store: Store) -> ShelfListing:
    """Everything on the shelf."""
    found = shelf.stored_products(store)
    return ShelfListing(
        products=tuple(
            ShelfEntry(id=item.slug, version=item.version, changed_at=item.changed_at, product=item.product)
            for item in found
        )
    )


def one(store: Store, slug: str) -> ShelfProduct:
    """A product with its version, and where its label contradicts the knowledge base."""
    reading = shelf.read_product(store, slug)
    told = tuple(
        ContradictionTold(path=item.path, text=item.text, sources=tuple(citation.id for citation in item.sources))
        for item in reading.contradictions
    )
    return ShelfProduct(
        id=slug, version=reading.version, changed_at=reading.changed_at, product=reading.product, contradictions=told
    )


def add(store: Store, payload: Any) -> ShelfProduct:
    """Put a product on the shelf."""
    kept, _ = shelf.add_product(store, payload)
    return one(store, str(kept.id))


def change(store: Store, slug: str, payload: Any) -> ShelfProduct:
    """Change a product that stands at a version.

    Raises
    ------
    InputError
        With every field at fault.
    Changed
        When somebody else changed it meanwhile.
    UnknownId
        When there is none of that id.
    """
    request = validated(ShelfChange, payload)
    shelf.product_named(store, slug)
    try:
        shelf.change_product(store, slug, payload["product"], request.version)
    except InputError as error:
        raise InputError([FieldFault(f"product.{fault.path}", fault.message) for fault in error.faults]) from error
    return one(store, slug)


def remove(store: Store, slug: str, version: str | None) -> Removed:
    """Take a product that stands at a version off the shelf.

    Raises
    ------
    InputError
        When the version is missing or no number.
    Changed
        When somebody else changed it meanwhile.
    UnknownId
        When there is none of that id.
    """
    at = version_told(version, "product")
    shelf.product_named(store, slug)
    shelf.remove_product(store, slug, at)
    return Removed(removed=slug)


def bring_in(store: Store, payload: Any) -> ShelfImportAnswer:
    """Preview a file, or import it where that is confirmed.

    Raises
    ------
    InputError
        When the file cannot be used, or holds bad rows that are not to be left out.
    Changed
        When somebody else changed what the file speaks of after it was previewed.
    """
    request = validated(ShelfImportRequest, payload)
    text = decoded(request.csv.encode())
    preview = import_preview(store, text)
    if request.confirm:
        import_confirm(store, text, request.seen, leave_out_bad=request.leave_out_bad)
    return _told(preview, request.confirm)


def _told(preview: Preview, stored: bool) -> ShelfImportAnswer:
    rows = tuple(
        ImportRowTold(
            line=row.line,
            name=row.name,
            status=row.status,
            id=row.id,
            changes=row.changes,
            faults=tuple(CellFaultTold(column=fault.column, message=fault.message) for fault in row.faults),
        )
        for row in preview.rows
    )
    counts = {status: sum(row.status == status for row in rows) for status in ("new", "changed", "unchanged", "bad")}
    return ShelfImportAnswer(stored=stored, rows=rows, seen=preview.seen, **counts)
