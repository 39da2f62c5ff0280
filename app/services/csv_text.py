"""Files for spreadsheets as text: their bytes decoded, their records read, their cells kept from being formulas.

UTF-8, RFC 4180. A cell that a spreadsheet would take for a formula is written after an apostrophe, which
reading takes away again.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator

from app.engine.errors import FieldFault, InputError

MAX_CELL = 100_000
MAX_BYTES = 8 * 1024 * 1024
DELIMITERS = (",", ";", "\t")
# A sign at which spreadsheets start to reckon, in its wide form too, or white space that hides one.
FORMULA = re.compile("'*(?:\\s*[=+\\-@\uff1d\uff0b\uff0d\uff20]|[\\t\\r\\n])")

csv.field_size_limit(MAX_CELL)


def decoded(data: bytes) -> str:
    """The text of a file.

    Raises
    ------
    InputError
        For a file too large, in another encoding than UTF-8, or that is no text at all.
    """
    if len(data) > MAX_BYTES:
        raise refused(f"the file is larger than {MAX_BYTES // 1024 // 1024} MiB; split it")
    if data[:4] in (b"PK\x03\x04", b"\xd0\xcf\x11\xe0"):
        raise refused("this is a workbook of a spreadsheet program; save it there as CSV, UTF-8, and choose that file")
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or _alternates(data[:1000]):
        raise refused("the file is written in UTF-16; save it as CSV, UTF-8")
    if b"\x00" in data:
        raise refused("this is no text file; choose a CSV file")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        what = f"line {line} is not UTF-8 (is it Latin-1 or Windows-1252?); save the file as CSV, UTF-8"
        raise refused(what) from error


def _alternates(data: bytes) -> bool:
    """Whether nearly every second byte is zero, as in UTF-16 without its mark."""
    half = max(len(data) // 2, 1)
    return max(data[0::2].count(0), data[1::2].count(0)) > 0.8 * half


def records(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Each record with the line at which it starts; empty ones are passed over.

    Raises
    ------
    InputError
        At a misplaced quotation mark, or one that is not closed.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    while True:
        line = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            long = f"holds a cell of more than {MAX_CELL:,} letters; is a quotation mark not closed?"
            marks = "holds a misplaced quotation mark; inside a cell in quotation marks it is written twice"
            raise refused(f"line {line} {long if 'limit' in str(error) else marks}") from error
        if any(cell.strip() for cell in cells):
            yield line, cells


def parting(text: str, known: Callable[[str], bool]) -> str:
    """The sign between cells: the one that parts the first line into most of the known headings."""
    first = re.split(r"[\r\n]", text.lstrip("\r\n"), maxsplit=1)[0][:MAX_CELL]

    def count(sign: str) -> int:
        return sum(known(cell) for cells in csv.reader([first], delimiter=sign) for cell in cells)

    return max(DELIMITERS, key=count)


def guarded(cell: str) -> str:
    """A cell as it is written, after an apostrophe where it would be taken for a formula."""
    return f"'{cell}" if FORMULA.match(cell) else cell


def unguarded(cell: str) -> str:
    """A cell as it was before it was guarded."""
    return cell[1:] if cell.startswith("'") and FORMULA.match(cell) else cell


def refused(what: str) -> InputError:
    """The file as a whole cannot be used."""
    return InputError([FieldFault("csv", what)])
