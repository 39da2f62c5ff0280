"""What a season orders: checked against every way of buying packs, and against sums made by hand."""

from __future__ import annotations

import math
from datetime import date
from itertools import product as every_way
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.engine.product import Product
from app.season.year_order import product_order

_ACTIVE = {"active": "dicamba", "content": {"value": 480, "unit": "g ae/L"}}
_RATE = {"value": 1, "unit": "L/ha"}
PLAIN: dict[str, Any] = {"name": "Made Amine", "formulation": "SL", "actives": [_ACTIVE], "rate": _RATE}


def _made(**told: Any) -> Product:
    return Product.model_validate({**PLAIN, **told})


def _pack(litres: float, price: float | None) -> dict[str, Any]:
    return {"size": {"value": litres, "unit": "L"}, "price": price}


@st.composite
def seasons(draw: st.DrawFn) -> tuple[Product, dict[date, float]]:
    """A product with one to three packs, perhaps a stock, and what is used of it on some days [L]."""
    sizes = draw(st.lists(st.sampled_from((0.5, 1.0, 2.5, 5.0)), min_size=1, max_size=3, unique=True))
    packs = [_pack(size, draw(st.integers(5, 90))) for size in sizes]
    stock = draw(st.sampled_from((None, 0.0, 1.5, 4.0)))
    expiry = draw(st.sampled_from((None, "2027-05-15", "2028-03-01")))
    told = {"packs": packs, "expiry": expiry, "stock": {"value": stock, "unit": "L"} if stock is not None else None}
    months = draw(st.lists(st.integers(3, 10), min_size=1, max_size=4))
    needs = {date(2027, month, draw(st.integers(1, 28))): draw(st.integers(1, 40)) / 10 for month in months}
    return _made(**told), needs


@settings(max_examples=150)
@given(seasons())
def test_the_season_is_bought_at_the_least_price_that_any_packs_have(season: tuple[Product, dict[date, float]]) -> None:
    product, needs = season
    found = product_order(product, needs)
    short = _short_by_hand(product, needs)
    sizes = [pack.size.quantity.base for pack in product.packs]
    prices = [pack.price or 0.0 for pack in product.packs]
    # Every count of every pack that could make sense.
    ranges = [range(math.ceil(sum(short.values()) / size - 1e-9) + 1) for size in sizes]
    least = min(
        sum(count * price for count, price in zip(counts, prices, strict=True))
        for counts in every_way(*ranges)
        if sum(count * size for count, size in zip(counts, sizes, strict=True)) >= sum(short.values()) - 1e-9
    )
    assert found.price == pytest.approx(least)
    assert found.price == pytest.approx(sum(month.price or 0 for month in found.months))


def _short_by_hand(product: Product, needs: dict[date, float]) -> dict[int, float]:
    """What each month is short of, day after day."""
    left = product.stock.quantity.base if product.stock is not None else 0.0
    short: dict[int, float] = {}
    for day in sorted(needs):
        usable = left if product.expiry is None or day <= product.expiry else 0.0
        taken = min(usable, needs[day])
        left = usable - taken
        short[day.month] = short.get(day.month, 0.0) + needs[day] - taken
    return short


@settings(max_examples=150)
@given(seasons())
def test_each_month_gets_the_packs_it_cannot_do_without_and_no_other(
    season: tuple[Product, dict[date, float]],
) -> None:
    product, needs = season
    found = product_order(product, needs)
    wanted = _short_by_hand(product, needs)
    size = {(pack.size.value, pack.size.unit): pack.size.quantity.base for pack in product.packs}
    held = needed = 0.0
    for month in found.months:
        needed += wanted[month.month]
        assert month.short.value == pytest.approx(wanted[month.month], abs=1e-9)
        bought = [size[item.size.value, item.size.unit] for item in month.buy for _ in range(item.count)]
        held += sum(bought)
        assert held >= needed - 1e-5
        assert all(held - pack < needed - 1e-9 for pack in bought), "a pack that could wait"
    assert found.spare is not None
    assert found.spare.value == pytest.approx(held - needed, abs=1e-6)


def test_stock_goes_to_the_earliest_months_and_what_expires_first_is_told() -> None:
    product = _made(packs=[_pack(5, 50)], stock={"value": 6, "unit": "L"}, expiry="2027-06-30")
    found = product_order(product, {date(2027, 4, 10): 2.0, date(2027, 6, 20): 1.0, date(2027, 9, 5): 4.0})
    assert [(m.month, m.from_stock.value, m.short.value) for m in found.months] == [(4, 2, 0), (6, 1, 0), (9, 0, 4)]
    assert [sum(item.count for item in m.buy) for m in found.months] == [0, 0, 1]
    assert found.warnings == (
        "3 L of its stock expires on 2027-06-30, before it is needed on 2027-09-05; it is not counted from then on.",
    )


def test_the_last_day_of_use_still_counts() -> None:
    product = _made(packs=[_pack(5, 50)], stock={"value": 6, "unit": "L"}, expiry="2027-06-30")
    assert product_order(product, {date(2027, 6, 30): 2.0}).price == 0
    assert product_order(product, {date(2027, 7, 1): 2.0}).price == 50


def test_what_no_priced_pack_holds_is_told_and_has_no_price() -> None:
    found = product_order(_made(packs=[_pack(5, None)], stock={"value": 1, "unit": "L"}), {date(2027, 4, 1): 3.0})
    assert found.price is None
    assert found.spare is None
    assert found.months[0].buy == ()
    assert found.warnings == ("No pack with a price is told, so 2 L is not put into packs.",)


def test_a_stock_that_is_not_told_is_ordered_whole_and_said() -> None:
    found = product_order(_made(packs=[_pack(5, 50)]), {date(2027, 4, 1): 3.0})
    assert (found.price, found.in_stock) == (50, None)
    assert "not told" in found.warnings[0]
