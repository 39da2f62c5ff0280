"""The shelf as a file: lossless, safe in a spreadsheet, and every fault named with its line and column."""

from __future__ import annotations

import csv
import io
import time
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.engine.errors import InputError
from app.engine.product import Product
from app.services.csv_text import decoded
from app.services.shelf_csv import HEADINGS, MAX_ROWS, Row, read_csv, write_csv
from tests.services.products import products

CELLS = {
    "name": "Trial Broadleaf 4",
    "formulation": "SL",
    "actives": "2-4-d as 2-4-d-dma 2.5 lb ae/gal; dicamba as dicamba-dma 0.25 lb ae/gal",
    "rates": "tall-fescue, kentucky-bluegrass: postemergence 1.1 to 1.5 fl oz/1000 ft2; all: spot 0.5 to 1 fl oz/gal",
}


def sheet(*rows: dict[str, str], headings: tuple[str, ...] = HEADINGS, delimiter: str = ",") -> str:
    """A file of these cells."""
    told = io.StringIO(newline="")
    writer = csv.DictWriter(told, headings, restval="", delimiter=delimiter)
    writer.writeheader()
    writer.writerows(rows)
    return told.getvalue()


def only(**changes: str) -> Row:
    """The one row of a file of the plain product with these cells changed."""
    (row,) = read_csv(sheet({**CELLS, **{key.replace("_", " "): value for key, value in changes.items()}}))
    return row


def product(**changes: str) -> Product:
    """The product of that row, which must be good."""
    row = only(**changes)
    assert row.product is not None, row.faults
    return row.product


@settings(max_examples=80, deadline=None)
@given(st.lists(products(), min_size=1, max_size=3, unique_by=lambda item: item.name.casefold()))
def test_what_is_written_is_read_back_to_the_last_digit(told: list[Product]) -> None:
    text = write_csv(told)
    rows = read_csv(decoded(text.encode("utf-8-sig")))
    assert [row.faults for row in rows] == [()] * len(told)
    assert [row.product for row in rows] == told
    assert write_csv(row.product for row in rows if row.product is not None) == text


@settings(max_examples=40, deadline=None)
@given(products())
def test_no_cell_can_be_taken_for_a_formula(told: Product) -> None:
    for cells in csv.reader(io.StringIO(write_csv([told]), newline="")):
        for cell in cells:
            assert not cell.lstrip().startswith(("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")), cell


@pytest.mark.parametrize("name", ["=1+1", "'=1+1", "+x", "-x", "@x", "'Tis", "''", "\uff1d1"])
def test_names_that_look_like_formulas_survive(name: str) -> None:
    told = product().model_copy(update={"name": name})
    (row,) = read_csv(write_csv([told]))
    assert row.product == told


def test_a_readable_row_is_read_as_it_reads() -> None:
    told = product(
        packs="2.5 gal = 145.00; 1 qt",
        sites="residential-lawn, golf-rough",
        turf="(none)",
        not_above="29 C",
        adjuvants="nis required; coc forbidden",
        rainfast="6 hours",
        days_to_seeding="4 weeks",
        expires="2028-03-31",
        stock="3.5 gallons",
    )
    assert [part.form for part in told.actives] == ["2-4-d-dma", "dicamba-dma"]
    assert told.rates[0].turf == ("tall-fescue", "kentucky-bluegrass")
    assert (str(told.rates[0].low.quantity), told.rates[1].purpose) == ("1.1 fl oz/1000 ft2", "spot")
    assert [pack.price for pack in told.packs] == [145.0, None]
    assert told.turf == ()
    assert told.site_uses == ("residential-lawn", "golf-rough")
    # 29 degC is 84.2 degF (exact definition of the scales).
    assert told.max_air_f == pytest.approx(84.2)
    assert told.seeding_interval_days == 28
    assert told.stock is not None
    assert told.stock.unit == "gal"
    assert product().site_uses is None


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_files_of_other_locales_are_read(delimiter: str) -> None:
    (row,) = read_csv(sheet(CELLS, delimiter=delimiter))
    assert row.product == product()


@pytest.mark.parametrize(
    ("changes", "column", "words"),
    [
        ({"density": "-9 lb/gal"}, "density", "out of range"),
        ({"actives": "2-4-d 101 % w/w"}, "actives", "cannot exceed 100"),
        ({"actives": "2-4-d 60 % w/w; dicamba 50 % w/w"}, "actives", "add up to 110"),
        ({"rates": "all: 1 oz/1000 ft2"}, "rates", "write 'fl oz/1000 ft2'"),
        ({"rates": "all: 2 to 1 fl oz/1000 ft2"}, "rates", "must not exceed high"),
        ({"rates": "all: 1"}, "rates", "has no unit"),
        ({"rates": 'all: 1 fl oz/acre "open'}, "rates", "not closed"),
        ({"packs": "0 gal = 3"}, "packs", "more than zero"),
        ({"packs": "1 gal = 1,250"}, "packs", "may mean two things"),
        ({"expires": "31/03/2028"}, "expires", "YYYY-MM-DD"),
        ({"expires": "2028-02-31"}, "expires", "no day of the calendar"),
        ({"not above": "85"}, "not above", "F or C"),
        ({"name": ""}, "name", "is required"),
        ({"formulation": "ZZ"}, "formulation", "not one of"),
        ({"applications in a year": "2.5"}, "applications in a year", "integer"),
        ({"actives": "2,4-D"}, "actives", "cannot be read"),
        ({"adjuvants": "nis"}, "adjuvants", "nis required"),
    ],
)
def test_a_bad_row_names_its_line_its_column_and_why(changes: dict[str, str], column: str, words: str) -> None:
    row = read_csv(sheet(CELLS | {"name": "Good"}, {**CELLS, **changes}))[1]
    assert row.product is None
    assert row.line == 3
    assert [fault.column for fault in row.faults] == [column]
    assert words in row.faults[0].message


def test_the_line_is_the_one_at_which_a_row_starts() -> None:
    rows = read_csv(sheet({**CELLS, "notes": "one\ntwo\nthree"}, {**CELLS, "name": "Other", "density": "x"}))
    assert [row.line for row in rows] == [2, 5]


def test_a_name_given_twice_is_refused_with_both_lines() -> None:
    rows = read_csv(sheet(CELLS, {**CELLS, "name": "trial  BROADLEAF 4"}))
    assert rows[0].product is not None
    assert rows[1].product is None
    assert "line 2" in rows[1].faults[0].message


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (sheet(CELLS).encode("utf-16"), "UTF-16"),
        (sheet(CELLS).encode("utf-16-le"), "UTF-16"),
        (sheet({**CELLS, "notes": "Grün"}).encode("latin-1"), "line 2 is not UTF-8"),
        (b"PK\x03\x04 and so on", "workbook"),
        (bytes(range(256)), "no text file"),
        (b"", "headings"),
        (b"name;colour\nx;y\n", "missing"),
        (sheet(CELLS, headings=(*HEADINGS, "colour")).encode(), "no column is called colour"),
        (sheet(CELLS).replace("notes", "stock", 1).encode(), "stands twice"),
        (sheet({}, headings=HEADINGS[:-1]).encode(), "notes is missing"),
        (sheet().encode(), "no product"),
        (sheet(CELLS).encode() + b'"x"y,\n', "line 3 holds a misplaced quotation mark"),
        (sheet({**CELLS, "notes": "x" * 200_000}).encode(), "cell of more than 100,000 letters"),
        (b"x" * (9 * 1024 * 1024), "larger than 8 MiB"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_in_one_sentence(data: bytes, words: str) -> None:
    with pytest.raises(InputError) as refused:
        read_csv(decoded(data))
    assert words in str(refused.value)
    assert refused.value.faults[0].path == "csv"


def test_rows_cut_short_or_too_long_are_told() -> None:
    text = sheet(CELLS) + "x,y\r\n"
    assert "2 cells where the headings name" in read_csv(text)[1].faults[0].message


def test_fifty_thousand_rows_are_refused_quickly() -> None:
    text = ",".join(HEADINGS) + "\r\n" + f"{',' * (len(HEADINGS) - 1)}x\r\n" * 50_000
    start = time.process_time()
    with pytest.raises(InputError, match=f"more than {MAX_ROWS:,} rows"):
        read_csv(text)
    # Said before any row is judged; the bound is wide, for slow machines.
    assert time.process_time() - start < 8


def test_equal_files_give_equal_products_whatever_the_order_of_columns() -> None:
    turned: tuple[str, ...] = tuple(reversed(HEADINGS))
    found: list[Any] = [read_csv(sheet(CELLS, headings=headings))[0].product for headings in (HEADINGS, turned)]
    assert found[0] == found[1]
