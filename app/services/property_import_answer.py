"""What importing a file of properties or notes does, as it is answered."""

from __future__ import annotations

from typing import Any

from app.engine.output import Output
from app.services.property_csv import CellFault
from app.services.property_import import Imported, Preview, PropertyRow
from app.services.scouting_csv import NoteRow, NotesImported, NotesPreview


class CellTold(Output):
    """A cell that cannot be used."""

    line: int
    column: str
    property: str
    message: str


class RowTold(Output):
    """A property or note of the file, and what becomes of it."""

    line: int
    name: str
    status: str
    id: str
    changes: tuple[str, ...]


class ImportTold(Output):
    """What importing a file does or, where `stored`, has done; `left` is what stays as kept without `replace`."""

    stored: bool
    new: int
    changed: int
    unchanged: int
    replaced: int
    left: int
    rows: tuple[RowTold, ...]
    faults: tuple[CellTold, ...]
    columns: dict[str, str]
    ignored: tuple[str, ...]


def answered(found: Preview | NotesPreview, done: Imported | NotesImported | None) -> ImportTold:
    """A preview, and what was done where it was confirmed."""
    return ImportTold(
        stored=done is not None,
        new=len(found.of("new")),
        changed=len(found.of("changed")),
        unchanged=len(found.of("unchanged")),
        replaced=done.replaced if done is not None else 0,
        left=done.left if done is not None else 0,
        rows=tuple(_row(row) for row in found.rows),
        faults=tuple(_cell(fault) for fault in found.faults),
        columns=found.columns,
        ignored=found.ignored,
    )


def _row(row: PropertyRow | NoteRow) -> RowTold:
    told: dict[str, Any] = {"line": row.line, "status": row.status}
    if isinstance(row, PropertyRow):
        return RowTold(**told, name=row.property.name, id=row.slug, changes=row.changes)
    return RowTold(**told, name=f"{row.note.weed} on {row.place}", id=row.key, changes=())


def _cell(fault: CellFault) -> CellTold:
    return CellTold(line=fault.line, column=fault.column, property=fault.name, message=fault.message)
