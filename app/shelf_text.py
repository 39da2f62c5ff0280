"""The shelf as text for the command line."""

from __future__ import annotations

from app.engine.label_amounts import LineAmounts
from app.services.label_text import measure_text
from app.services.shelf import Reading
from app.services.shelf_answers import ShelfImportAnswer, ShelfListing
from app.services.shelf_csv import COLUMNS

_MOST_LISTED = 40


def listing_text(found: ShelfListing) -> str:
    """Every product on a line of its own."""
    if not found.products:
        return "The shelf is empty. Add a product on the page /shelf/new, or a file: swardwright shelf import FILE\n"
    wide = max(len(item.id) for item in found.products)
    lines = []
    for item in found.products:
        product = item.product
        holds = ", ".join(part.active for part in product.actives) or str(product.adjuvant)
        stock = "stock not known" if product.stock is None else measure_text(product.stock)
        expiry = f", use by {product.expiry.isoformat()}" if product.expiry is not None else ""
        lines.append(f"{item.id:<{wide}}  {product.name}: {holds}, {product.formulation}; {stock}{expiry}")
    return "\n".join(lines) + "\n"


def product_text(reading: Reading) -> str:
    """A label with what it brings, and what the facts hold against it."""
    product = reading.product
    lines = [product.name, f"  version: {reading.version}"]
    for column in COLUMNS:
        if column.name not in ("name", "rates") and (cell := column.write(getattr(product, column.field))):
            lines.append(f"  {column.name}: {cell}")
    lines += [f"  rate: {_line(item)}" for item in reading.amounts]
    lines += [f"  contradicts the facts ({item.path}): {item.text}." for item in reading.contradictions]
    return "\n".join(lines) + "\nThe product label is the law.\n"


def _line(item: LineAmounts) -> str:
    line = item.line
    brings = "; ".join(
        f"{part.active} {_span(part.low.value, part.high.value)} {part.low.unit}" for part in item.actives
    )
    note = f" ({line.note})" if line.note else ""
    figures = f"{measure_text(line.low)} to {measure_text(line.high)}"
    return f"{', '.join(line.turf)}: {line.purpose} {figures}{note}{f', brings {brings}' if brings else ''}"


def _span(low: float, high: float) -> str:
    return f"{low:.3g}" if low == high else f"{low:.3g} to {high:.3g}"


def import_text(found: ShelfImportAnswer) -> str:
    """What a file does, row by row where something is to be said."""
    lines = []
    for row in found.rows:
        name = row.name or "no name"
        if row.status == "bad":
            lines += [
                f"line {row.line}, {name}: {f'{fault.column}: ' if fault.column else ''}{fault.message}"
                for fault in row.faults
            ]
        elif row.status == "changed":
            lines.append(f"line {row.line}, {name}: changes {', '.join(row.changes)}")
        elif row.status == "new":
            lines.append(f"line {row.line}, {name}: new")
    if len(lines) > _MOST_LISTED:
        lines = [*lines[:_MOST_LISTED], f"and {len(lines) - _MOST_LISTED} more lines"]
    bad = f", {found.bad} that cannot be used{' and were left out' if found.stored else ''}" if found.bad else ""
    counts = f"{found.new} new, {found.changed} changed, {found.unchanged} unchanged{bad}"
    ending = "imported" if found.stored else "nothing is stored yet; add --confirm to import"
    return "\n".join((*lines, f"{counts}: {ending}.")) + "\n"
