"""Cost and what to buy: by hand, by brute force, and unknown where a figure is missing. Invented products."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.engine.cost import (
    Tank,
    cost_of,
    cost_per_hectare,
    dose_costs,
    packs_to_buy,
    supplies,
    unit_price,
    used_per_hectare,
)
from app.engine.doses import ProductUse, product_doses
from app.engine.product import Product
from app.engine.situation import Situation
from app.engine.understood import Understood, understand
from knowledge.base import KnowledgeBase
from knowledge.quantities import LITRE_PER_GALLON, Quantity, parse_quantity

Make = Callable[..., Situation]
UNITS = pint.UnitRegistry()


def _amount(text: str) -> dict[str, Any]:
    found = parse_quantity(text)
    return {"value": found.value, "unit": found.unit}


def product(name: str = "Larkmere Plain", rate: str = "1 qt/acre", packs: tuple[str, ...] = (), **told: Any) -> Product:
    """A product of one active; packs are written ``2.5 gal = 120``, without a price where none is told."""
    part = {"active": "2-4-d", "form": "2-4-d-dma", "content": _amount("4 lb ae/gal")}
    split = [pack.split(" = ") for pack in packs]
    held = [{"size": _amount(p[0]), "price": float(p[1]) if len(p) > 1 else None} for p in split]
    made = {"name": name, "formulation": "SL", "actives": [part], "rate": _amount(rate), "packs": held, **told}
    return Product.model_validate(made)


def dry(name: str = "Larkmere Grain", rate: str = "3 lb/1000 ft2", packs: tuple[str, ...] = (), **told: Any) -> Product:
    """A granule of one active."""
    part = {"active": "prodiamine", "content": _amount("0.5 % w/w")}
    return product(name, rate, packs, formulation="G", actives=[part], **told)


def test_the_cheapest_pack_by_content_sets_the_price() -> None:
    told = product(packs=("1 gal = 60", "2.5 gal = 125", "30 gal"))
    assert unit_price(told) == pytest.approx(50 / LITRE_PER_GALLON)
    assert unit_price(product()) is None


def test_a_liquid_sold_by_weight_needs_its_density() -> None:
    assert unit_price(product(packs=("10 lb = 50",))) is None
    told = product(packs=("10 lb = 50",), density=_amount("10 lb/gal"))
    assert unit_price(told) == pytest.approx(50 / LITRE_PER_GALLON)


@pytest.mark.parametrize(
    ("rate", "per_acre"),
    [("1 qt/acre", 0.25), ("1.5 fl oz/1000 ft2", 1.5 * 43.56 / 128), ("2 L/ha", 2 / 2.4710538147 / 3.785411784)],
)
def test_cost_per_acre_by_hand(base: KnowledgeBase, situation: Make, rate: str, per_acre: float) -> None:
    # Gallons an acre by the exact units; 50 a gallon.
    told = product(rate=rate, packs=("1 gal = 50",))
    understood, tank = _sprayed(base, situation, told)
    cost = cost_of(base, understood, [tank])
    assert cost.per_acre == pytest.approx(50 * per_acre, abs=0.005)
    assert cost.per_1000_ft2 == pytest.approx(50 * per_acre / 43.56, abs=0.005)
    # The same by a general-purpose library of units (pint), whose own acre is of survey feet.
    acre = 43560 * UNITS.foot**2
    value, unit = rate.split(" ", 1)
    by_pint = {
        "qt/acre": UNITS.quart / acre,
        "fl oz/1000 ft2": UNITS.fluid_ounce / (1000 * UNITS.foot**2),
        "L/ha": UNITS.liter / UNITS.hectare,
    }[unit]
    gallons = (float(value) * by_pint * acre).to(UNITS.gallon).magnitude
    assert gallons == pytest.approx(per_acre, rel=1e-6)


def _sprayed(base: KnowledgeBase, situation: Make, *products: Product, **told: Any) -> tuple[Understood, Tank]:
    understood = understand(situation(catalog=[p.model_dump(exclude_none=True) for p in products], **told), base)
    doses = tuple(d for offer in product_doses(base, understood, products) for d in offer.doses)
    carrier = understood.situation.carrier
    return understood, Tank(doses, "none", carrier.quantity if carrier is not None else None)


def test_two_applications_cost_twice_and_granules_are_weighed(base: KnowledgeBase, situation: Make) -> None:
    told = dry(packs=("50 lb = 40",))
    understood, tank = _sprayed(base, situation, told)
    assert cost_of(base, understood, [tank]).per_1000_ft2 == pytest.approx(2.40)
    assert cost_of(base, understood, [tank, tank]).per_1000_ft2 == pytest.approx(4.80)


def test_what_has_no_price_is_named_and_never_free(base: KnowledgeBase, situation: Make) -> None:
    other = dry("Larkmere Other", packs=("50 lb = 40",))
    understood, tank = _sprayed(base, situation, product(), other)
    cost = cost_of(base, understood, [tank])
    assert cost.per_acre is None
    assert "Larkmere Plain" in cost.text


def test_two_currencies_are_not_added(base: KnowledgeBase, situation: Make) -> None:
    other = dry("Larkmere Other", packs=("50 lb = 40",), currency="CAD")
    understood, tank = _sprayed(base, situation, product(packs=("1 gal = 50",)), other)
    cost = cost_of(base, understood, [tank])
    assert cost.per_acre is None
    assert "currencies" in cost.text


def test_the_adjuvant_of_the_shelf_is_paid_for(base: KnowledgeBase, situation: Make) -> None:
    wet = Product.model_validate(
        {
            "name": "Larkmere Wet",
            "kind": "adjuvant",
            "formulation": "SL",
            "adjuvant": "nis",
            "adjuvant_rate": _amount("0.25 % v/v"),
            "packs": [{"size": _amount("1 gal"), "price": 32}],
        }
    )
    understood, tank = _sprayed(base, situation, product(packs=("1 gal = 50",)), wet, carrier=_amount("40 gal/acre"))
    with_it = cost_of(base, understood, [Tank(tank.doses, "nis", tank.carrier)])
    # 0.25 % of 40 gal is 0.1 gal at 32, beside a quart at 50 a gallon.
    assert with_it.per_acre == pytest.approx(12.5 + 3.2)
    dry_told = cost_of(base, understood, [Tank(tank.doses, "nis", None)])
    assert dry_told.per_acre == pytest.approx(12.5)
    assert "non-ionic surfactant" in dry_told.text


def test_shares_of_the_doses_add_up_to_the_product(base: KnowledgeBase, situation: Make) -> None:
    parts = [
        {"active": "2-4-d", "form": "2-4-d-dma", "content": _amount("2 lb ae/gal")},
        {"active": "dicamba", "form": "dicamba-dma", "content": _amount("0.2 lb ae/gal")},
    ]
    told = product(packs=("1 gal = 50",), actives=parts)
    _, tank = _sprayed(base, situation, told)
    costs = dose_costs(tank.doses)
    assert costs[:-1].sum() == pytest.approx(cost_per_hectare(ProductUse(told, told.rate.quantity)))  # type: ignore[union-attr]
    assert costs[-1] == 0
    assert np.isnan(dose_costs(_sprayed(base, situation, product())[1].doses)[:-1]).all()


@pytest.mark.parametrize(
    ("stock", "packs", "said", "bought"),
    [
        (None, ("1 gal = 50",), "was not told", []),
        ("1 gal", ("1 gal = 50",), "enough in stock.", []),
        ("0.5 gal", ("1 gal = 50", "1 qt = 20"), "buy 2 of 1 qt", [(2, 1, "qt")]),
        ("0.5 gal", ("1 gal = 30", "1 qt = 20"), "buy 1 of 1 gal", [(1, 1, "gal")]),
        ("0.5 gal", ("1 gal",), "no pack with a price", []),
    ],
)
def test_what_to_buy_for_the_area(
    base: KnowledgeBase,
    situation: Make,
    stock: str | None,
    packs: tuple[str, ...],
    said: str,
    bought: list[tuple[int, float, str]],
) -> None:
    told = product(packs=packs, stock=_amount(stock) if stock is not None else None)
    understood, tank = _sprayed(base, situation, told, area=_amount("4 acre"))
    (supply,) = supplies(base, understood, [tank])
    assert supply.needed.value == pytest.approx(LITRE_PER_GALLON)
    assert said in supply.text
    assert [(p.count, p.size.value, p.size.unit) for p in supply.buy] == bought


def test_without_an_area_nothing_is_to_buy(base: KnowledgeBase, situation: Make) -> None:
    understood, tank = _sprayed(base, situation, product())
    assert supplies(base, understood, [tank]) == ()


@given(
    st.lists(st.tuples(st.integers(1, 9), st.integers(1, 40)), min_size=1, max_size=3, unique_by=lambda kind: kind[0]),
    st.integers(1, 24),
)
def test_the_cheapest_packs_are_those_of_brute_force(kinds: list[tuple[int, int]], short: int) -> None:
    told = product(packs=tuple(f"{size} L = {price}" for size, price in kinds))
    found = packs_to_buy(told, float(short))
    held = sum(pack.count * Quantity(pack.size.value, pack.size.unit).base for pack in found)
    assert held >= short - 1e-9
    counts = itertools.product(*(range(short // size + 2) for size, _ in kinds))
    least = min(
        sum(n * price for n, (_, price) in zip(count, kinds, strict=True))
        for count in counts
        if sum(n * size for n, (size, _) in zip(count, kinds, strict=True)) >= short
    )
    assert sum(pack.price for pack in found) == pytest.approx(least)


def test_a_large_order_is_quick_and_enough() -> None:
    told = product(packs=("30 gal = 1000", "2.5 gal = 110", "1 qt = 20", "1 pt = 12", "8 fl oz = 9"))
    found = packs_to_buy(told, 1_000_000.0)
    held = sum(pack.count * Quantity(pack.size.value, pack.size.unit).base for pack in found)
    assert 1_000_000 <= held <= 1_000_000 + Quantity(30, "gal").base


def test_what_is_used_is_measured_as_it_is_sold() -> None:
    assert used_per_hectare(product(), Quantity(2, "L/ha")) == 2
    assert used_per_hectare(product(), Quantity(2, "kg/ha")) is None
    assert used_per_hectare(product(density=_amount("1.25 kg/L")), Quantity(2, "kg/ha")) == pytest.approx(1.6)
    assert used_per_hectare(dry(), Quantity(2, "kg/ha")) == 2000
