"""Sides by plain data: products looked up on the shelf, every fault at its path."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from app.engine.errors import InputError
from app.engine.product import Product
from app.services.side_by_side import side_by_side
from tests.conftest import plain

DEMO = Path(__file__).resolve().parents[2] / "demo_data"


def _product(name: str, slug: str, **changes: Any) -> Product:
    told = {
        "id": slug,
        "name": name,
        "formulation": "SL",
        "actives": [{"active": "triclopyr", "form": "triclopyr-tea", "content": {"value": 3.0, "unit": "lb ae/gal"}}],
        "rates": [{"low": {"value": 1.0, "unit": "pt/acre"}, "high": {"value": 2.0, "unit": "pt/acre"}}],
        "packs": [{"size": {"value": 1, "unit": "gal"}, "price": 80}],
        "basis": "invented",
    }
    return Product.model_validate({**told, **changes})


WETTER = Product.model_validate(
    {
        "id": "larkmere-wetter",
        "name": "Larkmere Wetter",
        "kind": "adjuvant",
        "formulation": "SL",
        "adjuvant": "nis",
        "packs": [{"size": {"value": 1, "unit": "gal"}, "price": 20}],
    }
)
SHELF = (_product("Larkmere Woody", "larkmere-woody"), WETTER)
MIXTURE = {"mixture": "2-4-d-mecoprop-p-dicamba"}


def _asked(*sides: dict[str, Any], **changes: Any) -> dict[str, Any]:
    return {"situation": plain(**changes), "sides": list(sides)}


def _never() -> Sequence[Product]:
    raise AssertionError("the shelf is not needed here")


def test_a_product_of_the_shelf_is_taken_with_its_label() -> None:
    answer = side_by_side(_asked({"products": [{"id": "larkmere-woody", "at": "high"}]}, MIXTURE), lambda: SHELF)
    product = answer.sides[0].composition[0]
    assert (product.product, product.id) == ("Larkmere Woody", "larkmere-woody")
    # 2 pt is a quarter of a gallon.
    assert product.actives[0].rate.value == pytest.approx(0.75)
    assert answer.sides[0].cost.per_acre == 20.0


def test_an_adjuvant_of_the_shelf_is_paid_for() -> None:
    carrier = {"value": 40, "unit": "gal/acre"}
    side = {"products": [{"id": "larkmere-woody", "at": "high"}], "adjuvant": {"id": "nis"}}
    answer = side_by_side(_asked(side, MIXTURE, carrier=carrier), lambda: SHELF)
    # A quarter of one percent of 40 gal is a tenth of a gallon at 20.
    assert answer.sides[0].cost.per_acre == 22.0
    assert answer.sides[0].adjuvant.product == "Larkmere Wetter"  # type: ignore[union-attr]


def test_the_shelf_is_left_alone_where_no_side_names_it() -> None:
    assert side_by_side(_asked(MIXTURE, {"mixture": "2-4-d-triclopyr"}), _never).sides


@pytest.mark.parametrize(
    ("side", "path", "words"),
    [
        ({"products": [{"id": "larkmere-wody", "at": "low"}]}, "sides.1.products.0.id", "larkmere-woody"),
        (
            {"products": [{"id": "larkmere-woody", "rate": {"value": 2, "unit": "oz/acre"}}]},
            "sides.1.products.0.rate",
            "fl oz/acre",
        ),
        ({"products": [{"id": "larkmere-wetter", "at": "low"}]}, "sides.1.products.0.product.kind", "herbicides"),
        ({"products": [{"id": "larkmere-woody"}]}, "sides.1.products.0.rate", "is required"),
        ({"mixtur": "2-4-d-triclopyr"}, "sides.1.mixtur", "mixture"),
        ({}, "sides.1", "give one of them"),
    ],
)
def test_a_fault_is_said_at_its_path(side: dict[str, Any], path: str, words: str) -> None:
    with pytest.raises(InputError) as refused:
        side_by_side(_asked(MIXTURE, side), lambda: SHELF)
    told = {fault.path: fault.message for fault in refused.value.faults}
    assert path in told
    assert words in told[path]


def test_an_empty_shelf_is_said() -> None:
    with pytest.raises(InputError, match="the shelf is empty"):
        side_by_side(_asked(MIXTURE, {"products": [{"id": "anything", "at": "low"}]}), lambda: ())


@pytest.mark.parametrize("payload", [[], "x", None, {"situation": plain()}, {"sides": [MIXTURE, MIXTURE]}])
def test_what_is_no_comparison_is_refused(payload: Any) -> None:
    with pytest.raises(InputError):
        side_by_side(payload, _never)


@pytest.mark.parametrize("name", ["side-by-side-two.json", "side-by-side-four.json"])
def test_the_demo_data_are_compared(name: str) -> None:
    answer = side_by_side(json.loads((DEMO / name).read_text(encoding="utf-8")), _never)
    assert answer.verdict
    assert all(shown.likely is not None for side in answer.sides for shown in side.control)
