"""A file of properties: one row an area; what is written is read back to equal properties."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from app.engine.errors import InputError
from app.season.property import Customer, Property
from app.services import property_cells as cells
from app.services.csv_columns import shown
from app.services.csv_text import guarded, parting, records, refused, unguarded
from app.services.label_text import Unreadable
from app.services.property_columns import (
    OF_AREA,
    OF_CUSTOMER,
    OF_PROPERTY,
    PROPERTIES,
    PROPERTY_HEADINGS,
    height_unit_in,
    unit_in,
)
from app.store.names import name_key

MAX_ROWS = 20_000
# What an area is called where the file names none.
ONE_AREA = "Lawn"
_MOST_FAULTS = 200


@dataclass(frozen=True)
class CellFault:
    """Why a row cannot be used; `column` is empty where the row as a whole is at fault."""

    line: int
    column: str
    name: str
    message: str


@dataclass
class ReadProperty:
    """A property of the file, gathered from its rows.

    Attributes
    ----------
    line : int
        Its first line.
    told : dict
        Its fields as far as the file has columns for them.
    customer : str or None
        The name of its customer; None where the file has no such column.
    of_customer : dict
        What the file tells of that customer besides.
    areas : list of dict
        Its areas, each with its name and the fields that the file has columns for.
    area_lines : list of int
        The line of each area.
    unnamed : bool
        Whether its one area has no name in the file.
    """

    line: int
    name: str
    told: dict[str, Any] = field(default_factory=dict)
    customer: str | None = None
    of_customer: dict[str, Any] = field(default_factory=dict)
    areas: list[dict[str, Any]] = field(default_factory=list)
    area_lines: list[int] = field(default_factory=list)
    unnamed: bool = False


@dataclass(frozen=True)
class ReadFile:
    """What a file of properties holds, and which heading was taken for which column."""

    properties: tuple[ReadProperty, ...]
    faults: tuple[CellFault, ...]
    columns: dict[str, str]
    ignored: tuple[str, ...]


def headings_of(text: str) -> tuple[str, ...]:
    """The headings of a file.

    Raises
    ------
    InputError
        When the file cannot be read at all.
    """
    _, header = next(records(text, parting(text, PROPERTIES.is_known)), (1, []))
    return tuple(shown(cell) for cell in header)


def read_properties(text: str, columns: Mapping[str, str] | None = None) -> ReadFile:
    """Every property of the file, with every cell that cannot be used.

    Parameters
    ----------
    columns : mapping, optional
        Headings by known name where they are not found by themselves.

    Raises
    ------
    InputError
        When the file as a whole cannot be used.
    """
    found = records(text, parting(text, lambda cell: PROPERTIES.is_known(cell, columns)))
    _, header = next(found, (1, []))
    at = PROPERTIES.at(header, columns)
    reader = _Reader(header, at)
    for number, (line, row) in enumerate(found):
        if number == MAX_ROWS:
            raise refused(f"the file holds more than {MAX_ROWS:,} rows; split it into several")
        reader.row(line, row)
    if not reader.found and not reader.faults:
        raise refused("the file holds headings but no property")
    ignored = tuple(shown(head) for index, head in enumerate(header) if head.strip() and index not in at.values())
    return ReadFile(
        tuple(reader.found.values()),
        tuple(reader.faults[:_MOST_FAULTS]),
        {name: shown(header[index]) for name, index in at.items()},
        ignored,
    )


class _Reader:
    """Gathers rows into properties; what it cannot read it notes by line and column."""

    def __init__(self, header: Sequence[str], at: Mapping[str, int]) -> None:
        self.header, self.at, self.width = header, at, len(header)
        self.found: dict[str, ReadProperty] = {}
        self.faults: list[CellFault] = []
        self.size_unit = unit_in(header[at["size"]]) if "size" in at else ""
        self.height_unit = height_unit_in(header[at["mowing_height"]]) if "mowing_height" in at else ""
        # The line and the text from which each told cell of a property or a customer comes.
        self.first: dict[tuple[str, str], tuple[int, str]] = {}

    def row(self, line: int, row: Sequence[str]) -> None:
        """One row of the file."""
        kept = list(row)
        while len(kept) > self.width and not kept[-1].strip():
            kept.pop()
        told = {name: self._cell(name, kept[index]) for name, index in self.at.items() if index < len(kept)}
        name = " ".join((told.get("property") or told.get("address") or "").split())
        if len(kept) > self.width:
            what = f"has {len(kept)} cells where the headings name {self.width}"
            self._blame(line, "", name, f"{what}; a cell with commas stands in quotation marks")
            return
        if not name:
            self._blame(line, "property", "", "is empty; name the property, or give its address")
            return
        place = self.found.setdefault(name_key(name), ReadProperty(line, name))
        self._of_property(line, place, told)
        self._of_customer(line, place, told)
        self._of_area(line, place, told)

    def _cell(self, name: str, cell: str) -> str:
        told = unguarded(cell)
        return told if name in ("property_notes", "area_notes", "customer_notes") else told.strip()

    def _blame(self, line: int, column: str, name: str, message: str) -> None:
        heading = shown(self.header[self.at[column]]) if column in self.at else column
        self.faults.append(CellFault(line, heading, name, message))

    def _of_property(self, line: int, place: ReadProperty, told: Mapping[str, str]) -> None:
        for column, key in OF_PROPERTY.items():
            if column in told:
                place.told.setdefault(key, cells.EMPTY[key])
                if self._is_first(line, place.name, f"property {name_key(place.name)}", column, told[column]):
                    place.told[key] = self._read(line, place.name, column, key, told[column])

    def _of_customer(self, line: int, place: ReadProperty, told: Mapping[str, str]) -> None:
        if "customer" in told:
            place.customer = place.customer or ""
            if self._is_first(line, place.name, f"property {name_key(place.name)}", "customer", told["customer"]):
                place.customer = told["customer"]
        for column, key in OF_CUSTOMER.items():
            if column in told and place.customer:
                owner = f"customer {name_key(place.customer)}"
                self._is_first(line, place.name, owner, column, told[column])
                place.of_customer[key] = self.first.get((owner, column), (0, ""))[1]

    def _is_first(self, line: int, name: str, owner: str, column: str, text: str) -> bool:
        """Whether a cell is the first to tell something of a property or customer; a later one must not contradict."""
        if not text.strip():
            return False
        before = self.first.setdefault((owner, column), (line, text))
        if before[1] != text:
            what = f"'{text[:60]}' contradicts '{before[1][:60]}' in line {before[0]}"
            self._blame(line, column, name, f"{what}; the rows of one {owner.split(maxsplit=1)[0]} must agree")
        return before[0] == line

    def _of_area(self, line: int, place: ReadProperty, told: Mapping[str, str]) -> None:
        area = {column: told[column] for column in OF_AREA if column in told}
        if not told.get("area") and not any(area.values()):
            return
        name = " ".join((told.get("area") or ONE_AREA).split())
        if any(name_key(name) == name_key(other["name"]) for other in place.areas):
            which = f"'{name}' of {place.name}" if told.get("area") else f"an area of {place.name} without a name"
            self._blame(line, "area", place.name, f"{which} stands in an earlier line already; name each area once")
            return
        read: dict[str, Any] = {"name": name}
        for column, key in OF_AREA.items():
            if column == "size" and column in area:
                unit = told.get("unit") or self.size_unit
                read[key] = self._read(line, place.name, column, key, area[column], unit)
            elif column in area:
                read[key] = self._read(line, place.name, column, key, area[column], self.height_unit)
        place.unnamed = not told.get("area")
        place.areas.append(read)
        place.area_lines.append(line)

    def _read(self, line: int, name: str, column: str, key: str, text: str, unit: str = "") -> Any:
        if not text.strip():
            return cells.EMPTY[key]
        try:
            if column == "size":
                return cells.size(text, unit)
            if column == "mowing_height":
                return cells.height(text, unit)
            reader = cells.READERS.get(column)
            return reader(text) if reader is not None else text
        except Unreadable as error:
            self._blame(line, column, name, str(error))
            return cells.EMPTY[key]


def write_properties(told: Iterable[tuple[Property, Customer | None]]) -> str:
    """The file with its headings; equal properties give equal text."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(PROPERTY_HEADINGS)
    for place, customer in told:
        row = {**cells.of_property(place), "customer": customer.name if customer is not None else ""}
        for column, key in OF_CUSTOMER.items():
            row[column] = getattr(customer, key) if customer is not None else ""
        for area in place.areas or (None,):
            told_of_area = cells.of_area(area) if area is not None else {}
            writer.writerow([guarded(told_of_area.get(column) or row.get(column, "")) for column in PROPERTY_HEADINGS])
    return text.getvalue()


def no_faults(read: ReadFile) -> None:
    """Refuse a file with a cell that cannot be used.

    Raises
    ------
    InputError
        Naming the first.
    """
    if read.faults:
        raise InputError([blocked(read.faults)])


def blocked(faults: Sequence[CellFault]) -> Any:
    """The fault of a file that holds some."""
    first = faults[0]
    where = f"line {first.line}{f', {first.column}' if first.column else ''}: {first.message}"
    if len(faults) == 1:
        return refused(f"one cell cannot be used and holds back the file ({where})").faults[0]
    return refused(f"{len(faults)} cells cannot be used and hold back the file (first, {where})").faults[0]
