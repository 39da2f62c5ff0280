"""Rounding to marks: nearest within the ceiling, else down; how it is said."""

from __future__ import annotations

import pytest

from app.mixing.pouring import pour, said
from knowledge.base import KnowledgeBase
from knowledge.quantities import Quantity


@pytest.mark.parametrize(
    ("exact", "most", "poured"),
    [
        ("36.73 fl oz", "60 fl oz", 36.5),
        ("36.76 fl oz", "60 fl oz", 37.0),
        ("36.76 fl oz", "36.9 fl oz", 36.5),
        ("36.76 fl oz", None, 36.5),
        ("36.5 fl oz", "36.5 fl oz", 36.5),
        ("2.56 fl oz", "10 fl oz", 2.5),
        ("0.73 fl oz", "10 fl oz", 0.7),
        ("0.73 fl oz", "0.65 fl oz", 0.6),
        ("0.04 fl oz", "10 fl oz", 0.0),
        ("19.53 oz", "30 oz", 19.5),
        ("0.234 oz", "1 oz", 0.23),
    ],
)
def test_marks(base: KnowledgeBase, exact: str, most: str | None, poured: float) -> None:
    value, unit = exact.split(" ", 1)
    ceiling = Quantity(float(most.split()[0]), unit) if most is not None else None
    found = pour(base, Quantity(float(value), unit), ceiling, "us")
    assert found.pour == Quantity(poured, unit)
    assert found.error == pytest.approx(100 * (poured / float(value) - 1))


@pytest.mark.parametrize(
    ("measured", "words"),
    [
        ((32, "fl oz"), "1 qt"),
        ((128, "fl oz"), "1 gal"),
        ((298.5, "fl oz"), "2 gal 1 qt 10.5 fl oz"),
        ((0, "fl oz"), "0 fl oz"),
        ((16, "oz"), "1 lb"),
        ((0.23, "oz"), "0.23 oz"),
        ((1480, "mL"), "1 L 480 mL"),
        ((2000, "g"), "2 kg"),
    ],
)
def test_words(measured: tuple[float, str], words: str) -> None:
    assert said(Quantity(*measured)) == words
