"""The shelf as a file for spreadsheets: one row a product, every figure with its unit.

What is written is read back to an equal product.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.engine.product import Product
from app.services import label_text as words
from app.services.csv_text import guarded, parting, records, refused, unguarded
from app.services.validation import validated
from app.store.names import name_key

MAX_ROWS = 10_000
_MOST_FAULTS = 3


@dataclass(frozen=True)
class Column:
    """One column: its heading, the field of the product, how a cell is read and written, and what it holds."""

    name: str
    field: str
    read: Callable[[str], Any]
    write: Callable[[Any], str]
    about: str
    example: str = ""


@dataclass(frozen=True)
class CellFault:
    """Why a row cannot be used; `column` is empty where the row as a whole is at fault."""

    column: str
    message: str


@dataclass(frozen=True)
class Row:
    """One row of the file: its product, or why it has none."""

    line: int
    name: str
    product: Product | None
    faults: tuple[CellFault, ...] = ()


def _same(text: str) -> str:
    return text


def _or_none(write: Callable[[Any], str]) -> Callable[[Any], str]:
    return lambda value: "" if value is None else write(value)


def _measured(name: str, field: str, about: str, example: str) -> Column:
    return Column(name, field, words.measure, _or_none(words.measure_text), about, example)


def _timed(name: str, field: str, units: dict[str, int], unit: str, about: str, *, broken: bool = False) -> Column:
    def read(text: str) -> float:
        return words.counted(text, units) if broken else words.whole(text, units)

    return Column(
        name,
        field,
        read,
        _or_none(lambda value: f"{words.written(value)}{unit}"),
        about,
        f"{'6' if broken else '2'}{unit}",
    )


COLUMNS: tuple[Column, ...] = (
    Column("id", "id", _same, _or_none(_same), "What the shelf calls it; leave it empty for a new product."),
    Column("name", "name", _same, _same, "Its name on the label; no two products share one.", "Trial Broadleaf 4"),
    Column("kind", "kind", str.casefold, _same, "herbicide or adjuvant.", "herbicide"),
    Column("registration", "registration", _same, _same, "Registration number.", "0000-000"),
    Column("formulation", "formulation", str.upper, _same, "Two letters: SL, EC, WG and so on; G for a granule.", "SL"),
    Column("granule of", "granule_carrier", _same, _same, "What a granule is made of.", "clay"),
    Column("actives", "actives", words.actives, words.actives_text, "Each active, as which form, and its content; "
           "a semicolon between two.", "2-4-d as 2-4-d-dma 2.5 lb ae/gal; dicamba as dicamba-dma 0.25 lb ae/gal"),
    _measured("density", "density", "Weight of the liquid.", "9.4 lb/gal"),
    Column("adjuvant", "adjuvant", str.casefold, _or_none(_same), "For an adjuvant: which it is.", "nis"),
    _measured("adjuvant rate", "adjuvant_rate", "For an adjuvant: how much.", "0.25 % v/v"),
    _measured("single rate", "rate", "Only where one rate is used, not a table of rates.", "1.1 fl oz/1000 ft2"),
    Column("rates", "rates", words.rates, words.rates_text, "Turf, a colon, the purpose (postemergence, preemergence "
           "or spot), low to high; a semicolon between two lines; a note in quotation marks after its line.",
           "tall-fescue, kentucky-bluegrass: postemergence 1.1 to 1.5 fl oz/1000 ft2; all: spot 0.5 to 1 fl oz/gal"),
    Column("sites", "site_uses", words.ids, words.ids_text, "Sites allowed; empty where the label was not read for it, "
           "(none) for none at all.", "residential-lawn, golf-rough"),
    Column("turf", "turf", words.ids, words.ids_text, "Turf allowed, in the same way.", "tall-fescue, cool-season"),
    _measured("most in one application", "max_per_application", "Product per area.", "1.5 fl oz/1000 ft2"),
    _measured("most in a year", "max_per_year", "Product per area.", "3 fl oz/1000 ft2"),
    _timed("applications in a year", "max_applications_per_year", words.TIMES, "", "At most so many."),
    _timed("days between applications", "min_interval_days", words.DAY_UNITS, " days", "At least so many."),
    _measured("least spray volume", "carrier_floor", "Volume of spray per area.", "1 gal/1000 ft2"),
    Column("not above", "max_air_f", words.temperature, _or_none(lambda f: f"{words.written(f)} F"),
           "Warmest air, in F or C.", "85 F"),
    Column("adjuvants", "adjuvants", words.adjuvants, words.adjuvants_text, "Which the label has as allowed, required "
           "or forbidden; a semicolon between two.", "nis allowed; coc forbidden"),
    _timed("rainfast", "rainfast_hours", words.HOUR_UNITS, " hours", "Hours until rain does no harm.", broken=True),
    _timed("re-entry", "reentry_hours", words.HOUR_UNITS, " hours", "Hours until people may enter.", broken=True),
    Column("re-entry words", "reentry_text", _same, _same, "What else the label says of it.", "until dry"),
    _timed("days to seeding", "seeding_interval_days", words.DAY_UNITS, " days", "Days until seed may be sown."),
    Column("signal word", "signal_word", str.casefold, _or_none(_same), "none, caution, warning or danger.", "caution"),
    Column("packs", "packs", words.packs, words.packs_text, "Size = price; a semicolon between two; without "
           "a price it is not known.", "2.5 gal = 145.00; 1 qt = 19.50"),
    Column("currency", "currency", str.upper, _same, "Three letters; USD where it is empty.", "USD"),
    _measured("stock", "stock", "What is at hand.", "3.5 gal"),
    Column("expires", "expiry", _same, _or_none(lambda day: str(day.isoformat())), "Last day of use.", "2028-03-31"),
    Column("basis", "basis", str.casefold, _same, "house for what you read from a label, invented for made-up data.",
           "house"),
    Column("notes", "notes", _same, _same, "Anything else, over several lines if need be.", ""),
)  # fmt: skip
HEADINGS = tuple(column.name for column in COLUMNS)
_BY_NAME = {column.name: column for column in COLUMNS}
_OF_FIELD = {column.field: column.name for column in COLUMNS}
# An empty cell leaves these to the product's own default.
_OPTIONAL_HEADINGS = ("id",)


def column_of(path: str) -> str:
    """The column that a path inside a product was written in; empty where it is no field."""
    return _OF_FIELD.get(path.split(".", maxsplit=1)[0], "")


def write_csv(products: Iterable[Product]) -> str:
    """The file with its headings; equal products give equal text."""
    told = io.StringIO(newline="")
    writer = csv.writer(told, lineterminator="\r\n")
    writer.writerow(HEADINGS)
    for product in products:
        writer.writerow([guarded(column.write(getattr(product, column.field))) for column in COLUMNS])
    return told.getvalue()


def read_csv(text: str) -> list[Row]:
    """Every row of the file, good and bad.

    Raises
    ------
    InputError
        Where the file as a whole cannot be used: headings missing, unknown or twice, no row, too many rows.
    """
    found = records(text, parting(text, lambda cell: _heading(cell) in _BY_NAME))
    _, header = next(found, (1, []))
    columns = _columns(header)
    rows: list[Row] = []
    lines_of: dict[str, int] = {}
    for line, cells in found:
        if len(rows) == MAX_ROWS:
            raise refused(f"the file holds more than {MAX_ROWS:,} rows; split it into several")
        row = _row(line, cells, columns)
        key = name_key(row.name)
        if key and key in lines_of:
            fault = CellFault("name", f"'{row.name}' stands in line {lines_of[key]} already; give each product once")
            row = Row(line, row.name, None, (fault, *row.faults))
        lines_of.setdefault(key, line)
        rows.append(row)
    if not rows:
        raise refused("the file holds headings but no product")
    return rows


def _heading(cell: str) -> str:
    return " ".join(cell.split()).casefold()


def _columns(header: Sequence[str]) -> list[Column]:
    told = [_heading(cell) for cell in header]
    while told and not told[-1]:
        told.pop()
    known = [name for name in told if name in _BY_NAME]
    if not known:
        raise refused(f"the first line must hold the headings of the columns: {', '.join(HEADINGS)}")
    faults = []
    if unknown := [name or "(empty)" for name in told if name not in _BY_NAME]:
        faults.append(f"no column is called {', '.join(unknown)}")
    if twice := sorted({name for name in known if told.count(name) > 1}):
        faults.append(f"the column {', '.join(twice)} stands twice")
    if missing := [name for name in HEADINGS if name not in told and name not in _OPTIONAL_HEADINGS]:
        faults.append(f"the column {', '.join(missing)} is missing")
    if faults:
        raise refused(f"{'; '.join(faults)}; the columns are {', '.join(HEADINGS)}")
    return [_BY_NAME[name] for name in told]


def _row(line: int, cells: Sequence[str], columns: Sequence[Column]) -> Row:
    kept = list(cells)
    while len(kept) > len(columns) and not kept[-1].strip():
        kept.pop()
    name = next((cell for cell, column in zip(kept, columns, strict=False) if column.name == "name"), "")
    shown = " ".join(unguarded(name).split())[:120]
    if len(kept) != len(columns):
        counts = f"has {len(kept)} cells where the headings name {len(columns)}"
        what = f"{counts}; a cell with commas stands in quotation marks"
        return Row(line, shown, None, (CellFault("", what),))
    payload: dict[str, Any] = {}
    faults: list[CellFault] = []
    for cell, column in zip(kept, columns, strict=True):
        told = unguarded(cell)
        if told.strip():
            try:
                payload[column.field] = column.read(told if column.field == "notes" else told.strip())
            except words.Unreadable as error:
                faults.append(CellFault(column.name, str(error)))
    unread = {_BY_NAME[fault.column].field for fault in faults}
    if "rates" in unread:
        unread.add("rate")
    try:
        product = validated(Product, payload)
    except InputError as error:
        # A cell that could not be read is a fault already; that its field is then missing is none.
        faults += [cell_fault(fault) for fault in error.faults if fault.path.split(".")[0] not in unread]
        return Row(line, shown, None, tuple(faults[:_MOST_FAULTS]))
    return Row(line, product.name, None if faults else product, tuple(faults[:_MOST_FAULTS]))


def cell_fault(fault: FieldFault) -> CellFault:
    """A fault of the product in words of the file."""
    parts = fault.path.split(".")
    place = f"part {int(parts[1]) + 1}: " if len(parts) > 1 and parts[1].isdigit() else ""
    return CellFault(column_of(fault.path), f"{place}{fault.message}")
