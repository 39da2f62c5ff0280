"""What a season uses of a product, and which packs are bought for it in which month."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date as Date

from app.engine.cost import pack_amount, packs_to_buy
from app.engine.output import Amount, Output, PackToBuy
from app.engine.product import Pack, Product
from app.season.stock import as_stocked
from knowledge.quantities import Quantity

# Room for the rounding of unit conversions.
_ROUNDING = 1e-9
# Packs were chosen to a tighter bound than they are shared out by, so that none is missing at the end.
_ENOUGH = 1e-6


class MonthOrder(Output):
    """What a month uses of a product, what of it the stock bears, and what is bought for it.

    `price` is null where something is short that no pack with a price holds.
    """

    month: int
    needed: Amount
    from_stock: Amount
    short: Amount
    buy: tuple[PackToBuy, ...]
    price: float | None


class ProductOrder(Output):
    """What the season uses of a product, in litres of a liquid or grams of a dry product, and what is bought.

    Attributes
    ----------
    in_stock : Amount or None
        None where it is not told, or cannot be counted.
    spare : Amount or None
        What is left of the packs at the end; None where not all could be bought.
    warnings : tuple of str
        What expires too early, and what is not known.
    """

    product: str
    id: str | None
    needed: Amount
    in_stock: Amount | None
    months: tuple[MonthOrder, ...]
    price: float | None
    currency: str
    spare: Amount | None
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class _Month:
    needed: float
    from_stock: float

    @property
    def short(self) -> float:
        return max(self.needed - self.from_stock, 0.0)


def product_order(product: Product, needs: Mapping[Date, float]) -> ProductOrder:
    """The packs to buy for a season, month by month.

    The stock goes to the earliest days, as long as it has not expired. What the season is short of is covered by the
    cheapest packs for the whole of it; each month gets those of them that it cannot do without.

    Parameters
    ----------
    needs : mapping
        What is used on each day [L of a liquid, g of a dry product].
    """
    unit = "L" if product.liquid else "g"
    stock, warnings = _stock(product)
    months, expired = _months(needs, stock or 0.0, product.expiry)
    if expired is not None and product.expiry is not None:
        amount, day = expired
        warnings.append(
            f"{_said(amount, unit)} of its stock expires on {product.expiry}, before it is needed on {day}; "
            "it is not counted from then on."
        )
    short = sum(month.short for month in months.values())
    bought = packs_to_buy(product, short) if short > 0 else ()
    unpriced = short > 0 and not bought
    if unpriced:
        warnings.append(f"No pack with a price is told, so {_said(short, unit)} is not put into packs.")
    shares = [()] * len(months) if unpriced else _by_month([month.short for month in months.values()], product, bought)
    held = sum(item.count * _content(product, item) for item in bought)
    return ProductOrder(
        product=product.name,
        id=product.id,
        needed=Amount(value=sum(needs.values()), unit=unit),
        in_stock=Amount(value=stock, unit=unit) if stock is not None else None,
        months=tuple(
            MonthOrder(
                month=number,
                needed=Amount(value=month.needed, unit=unit),
                from_stock=Amount(value=month.from_stock, unit=unit),
                short=Amount(value=month.short, unit=unit),
                buy=share,
                price=None if unpriced and month.short > 0 else round(sum(item.price for item in share), 2),
            )
            for (number, month), share in zip(months.items(), shares, strict=True)
        ),
        price=None if unpriced else round(sum(item.price for item in bought), 2),
        currency=product.currency,
        spare=None if unpriced else Amount(value=max(held - short, 0.0), unit=unit),
        warnings=tuple(warnings),
    )


def _stock(product: Product) -> tuple[float | None, list[str]]:
    if product.stock is None:
        return None, ["How much is in stock is not told, so all of it is ordered."]
    held = as_stocked(product, product.stock.quantity)
    if held is None:
        return None, ["Its stock is kept by weight and its density is not told, so all of it is ordered."]
    return held.base, []


def _months(
    needs: Mapping[Date, float], stock: float, expiry: Date | None
) -> tuple[dict[int, _Month], tuple[float, Date] | None]:
    """What each month needs and takes from the stock; and what of the stock expires before the first day it is for."""
    needed: dict[int, float] = defaultdict(float)
    taken: dict[int, float] = defaultdict(float)
    expired: tuple[float, Date] | None = None
    for day in sorted(needs):
        needed[day.month] += needs[day]
        if expiry is not None and day > expiry:
            if stock > 0 and expired is None:
                expired = (stock, day)
            stock = 0.0
        used = min(stock, needs[day])
        taken[day.month] += used
        # What is left by nothing but rounding is nothing.
        stock = stock - used if stock - used > needs[day] * _ROUNDING else 0.0
    found = {}
    for month in sorted(needed):
        covered = needed[month] - taken[month] <= needed[month] * _ROUNDING
        found[month] = _Month(needed[month], needed[month] if covered else taken[month])
    return found, expired


def _by_month(short: Sequence[float], product: Product, bought: Sequence[PackToBuy]) -> list[tuple[PackToBuy, ...]]:
    """The packs of the season shared out: each month gets none that it could do without."""
    left = Counter({number: item.count for number, item in enumerate(bought)})
    content = [_content(product, item) for item in bought]
    shares, held, wanted = [], 0.0, 0.0
    for amount in short:
        wanted += amount
        share: Counter[int] = Counter()
        while held < wanted * (1 - _ENOUGH):
            there = [number for number in left if left[number]]
            enough = [number for number in there if held + content[number] >= wanted * (1 - _ENOUGH)]
            chosen = (
                min(enough, key=lambda number: (content[number], number))
                if enough
                else max(there, key=lambda number: (content[number], -number))
            )
            left[chosen] -= 1
            share[chosen] += 1
            held += content[chosen]
        shares.append(tuple(_some(bought[number], share[number]) for number in sorted(share)))
    return shares


def _some(item: PackToBuy, count: int) -> PackToBuy:
    return PackToBuy(count=count, size=item.size, price=round(item.price / item.count * count, 2))


def _content(product: Product, item: PackToBuy) -> float:
    """What one pack holds [L or g]."""
    amount = pack_amount(product, Pack.model_validate({"size": item.size.model_dump()}))
    assert amount is not None, "it was counted when it was chosen"
    return amount.base


def _said(amount: float, unit: str) -> str:
    return str(Quantity(float(f"{amount:.3g}"), unit))
