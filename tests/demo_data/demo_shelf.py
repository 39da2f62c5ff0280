"""The demo shelf as products."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

from app.engine.product import Product

SHELF = Path(__file__).resolve().parents[2] / "demo_data" / "shelf.json"


@cache
def demo_shelf() -> tuple[Product, ...]:
    """Every product of the demo shelf, in the order of the file."""
    return tuple(Product.model_validate(told) for told in json.loads(SHELF.read_text(encoding="utf-8")))
