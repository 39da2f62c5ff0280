"""The demo shelf, read as a user's file is read."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from app.engine.product import Product
from app.services.csv_text import decoded
from app.services.shelf_csv import read_csv

FILE = Path(__file__).resolve().parents[2] / "demo_data" / "shelf.csv"
# Places of the invented Larkmere County, by which products and trials are named.
PLACES = {
    "Brindlecote",
    "Cobmarsh",
    "Larkmere",
    "Linnetby",
    "Mistlewick",
    "Ouzelby",
    "Pellmere",
    "Quernford",
    "Siskinford",
    "Tarnbeck",
    "Wrenhollow",
}


@cache
def demo_shelf() -> tuple[Product, ...]:
    """Every product of the demo shelf, in the order of the file."""
    rows = read_csv(decoded(FILE.read_bytes()))
    faulty = {row.line: row.faults for row in rows if row.faults}
    assert not faulty, faulty
    return tuple(row.product for row in rows if row.product is not None)
