"""Stock and records: litres and grams, densities, and never more taken than there is."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.engine.product import Product
from app.season.stock import as_stocked, give_back, take
from knowledge.quantities import MASS_UNITS, VOLUME_UNITS, Quantity


def product(formulation: str = "SL", **more: Any) -> Product:
    content = {"value": 3.8, "unit": "lb ae/gal"} if formulation == "SL" else {"value": 75, "unit": "% w/w"}
    rate = {"value": 1, "unit": "fl oz/1000 ft2" if formulation == "SL" else "oz/1000 ft2"}
    told = {"name": "Larkmere Amine", "formulation": formulation, "rate": rate}
    return Product.model_validate({**told, "actives": [{"active": "2-4-d", "content": content}], **more})


def test_a_fluid_ounce_comes_off_a_gallon() -> None:
    # 128 fl oz in a US gallon: exact definition.
    found = take(product(stock={"value": 1, "unit": "gal"}), Quantity(32, "fl oz"))
    assert found.stock is not None
    assert (found.stock.value, found.stock.unit, found.said) == (pytest.approx(0.75), "gal", "")
    assert found.taken is not None
    assert found.taken.to("fl oz").value == pytest.approx(32)


def test_a_pound_of_a_liquid_comes_off_by_its_density() -> None:
    # 1.2 kg/L: a pound of 453.59237 g is 0.37799 L; computed by hand.
    held = product(stock={"value": 10, "unit": "L"}, density={"value": 1.2, "unit": "kg/L"})
    found = take(held, Quantity(1, "lb"))
    assert found.stock is not None
    assert found.stock.value == pytest.approx(10 - 0.45359237 / 1.2)


@pytest.mark.parametrize(
    ("held", "amount", "said"),
    [
        (product(stock={"value": 1, "unit": "gal"}), None, "its amount is not told"),
        (product(stock={"value": 1, "unit": "gal"}), Quantity(1, "lb"), "its density is not on the shelf"),
        (product("WG", stock={"value": 4, "unit": "lb"}), Quantity(1, "fl oz"), "since it is dry"),
        (product(), Quantity(1, "fl oz"), "how much is in stock is not known"),
        (product(stock={"value": 4, "unit": "lb"}), Quantity(1, "fl oz"), "its stock is kept by weight"),
    ],
)
def test_what_cannot_be_counted_is_said_and_nothing_is_taken(held: Product, amount: Quantity | None, said: str) -> None:
    found = take(held, amount)
    assert (found.stock, found.taken) == (held.stock, None)
    assert said in found.said


def test_more_than_there_is_sets_the_stock_to_zero_and_says_what_was_missing() -> None:
    found = take(product(stock={"value": 10, "unit": "fl oz"}), Quantity(12.5, "fl oz"))
    assert found.stock is not None
    assert found.stock.value == 0
    assert "2.5 fl oz more were used than were in stock" in found.said
    assert found.taken is not None
    assert found.taken.to("fl oz").value == pytest.approx(10)


def test_taking_all_there_is_by_thirds_leaves_nothing() -> None:
    held = product(stock={"value": 0.3, "unit": "gal"})
    for _ in range(3):
        found = take(held, Quantity(0.1, "gal"))
        held = held.model_copy(update={"stock": found.stock})
        assert found.said == ""
    assert held.stock is not None
    assert held.stock.value == 0


def test_what_comes_back_to_a_stock_that_is_not_known_is_said() -> None:
    assert "not known" in give_back(product(), Quantity(1, "L")).said
    assert give_back(product(), Quantity(1, "L")).stock is None


@given(
    dry=st.booleans(),
    stock=st.floats(0, 1e4),
    used=st.floats(0, 1e4),
    units=st.tuples(st.integers(0, 3), st.integers(0, 3)),
)
def test_what_is_taken_and_given_back_leaves_the_stock_as_it_was(
    dry: bool, stock: float, used: float, units: tuple[int, int]
) -> None:
    known = MASS_UNITS if dry else VOLUME_UNITS
    unit, other = (known[number % len(known)] for number in units)
    held = product("WG" if dry else "SL", stock={"value": stock, "unit": unit})
    found = take(held, Quantity(used, other))
    assert found.stock is not None
    assert found.taken is not None
    assert found.stock.value >= 0
    whole = as_stocked(held, Quantity(stock, unit))
    assert whole is not None
    assert found.taken.base <= max(whole.base, 0)
    # Told exactly where less was taken than was used.
    assert bool(found.said) == (Quantity(used, other).base > whole.base * (1 + 1e-9))
    back = give_back(held.model_copy(update={"stock": found.stock}), found.taken)
    assert back.stock is not None
    assert back.stock.value == pytest.approx(stock, rel=1e-9, abs=1e-9)
