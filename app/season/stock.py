"""What a record takes off the shelf, and what it gives back: litres of what is poured, grams of what is weighed."""

from __future__ import annotations

from dataclasses import dataclass

from app.engine.measures import Amount
from app.engine.product import Product
from knowledge.quantities import Quantity

# Room for the rounding of unit conversions.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Taken:
    """The stock that is left, what was taken off it [L or g], and what has to be told; empty where nothing has."""

    stock: Amount | None
    taken: Quantity | None
    said: str = ""


def as_stocked(product: Product, amount: Quantity) -> Quantity | None:
    """An amount as the product is measured: litres of a liquid, grams of a dry product.

    None where it cannot be told: a liquid by weight whose density is not known, a dry product by volume.
    """
    wanted = "volume" if product.liquid else "mass"
    if amount.dimension == wanted:
        return Quantity(amount.base, "L" if product.liquid else "g")
    if product.liquid and amount.dimension == "mass" and product.density is not None:
        return Quantity(amount.base / product.density.quantity.base, "L")
    return None


def take(product: Product, amount: Quantity | None) -> Taken:
    """Take an amount off the stock of a product; never more than there is.

    Parameters
    ----------
    product : Product
        As it stands on the shelf.
    amount : Quantity or None
        What was used of it; None where that was not told.

    Returns
    -------
    Taken
        Where the stock is not known, or the amount cannot be counted, nothing is taken and that is said.
    """
    name = product.name
    if amount is None:
        return Taken(product.stock, None, f"{name}: its amount is not told, so nothing was taken off the stock.")
    used = as_stocked(product, amount)
    if used is None:
        what = "its density is not on the shelf" if product.liquid else "it is dry"
        return Taken(product.stock, None, f"{name}: {amount} cannot be counted, since {what}; the stock stands.")
    if product.stock is None:
        return Taken(None, None, f"{name}: how much is in stock is not known, so nothing was taken off it.")
    held = as_stocked(product, product.stock.quantity)
    if held is None:
        return Taken(product.stock, None, f"{name}: its stock is kept by weight and its density is not known.")
    if used.base > held.base * (1 + _ROUNDING):
        none = Amount(value=0, unit=product.stock.unit)
        missing = in_unit_of(product, Quantity(used.base - held.base, used.unit), product.stock.unit)
        said = f"{name}: {missing} more were used than were in stock; the stock was set to zero, count it."
        return Taken(none, held, said)
    left = held.base - used.base
    # What is left by nothing but rounding is nothing.
    left = left if left > held.base * _ROUNDING else 0.0
    return Taken(_in_stock(product, left), Quantity(held.base - left, used.unit))


def give_back(product: Product, amount: Quantity) -> Taken:
    """Give back [L or g] what a record had taken; where the stock is not known it stays so, which is said."""
    if product.stock is None:
        said = f"{product.name}: {amount} would come back, but how much is in stock is not known."
        return Taken(None, None, said)
    held, back = as_stocked(product, product.stock.quantity), as_stocked(product, amount)
    if held is None or back is None:
        return Taken(product.stock, None, f"{product.name}: {amount} would come back, but cannot be counted; count it.")
    return Taken(_in_stock(product, held.base + back.base), back)


def in_unit_of(product: Product, amount: Quantity, unit: str) -> Quantity:
    """An amount [L or g] in a unit of the shelf, by the density where that is a weight of a liquid."""
    wanted = Quantity(1, unit)
    if wanted.dimension == amount.dimension:
        return amount.to(unit)
    assert product.density is not None, "a liquid was counted by its density"
    return Quantity(amount.base * product.density.quantity.base, "g").to(unit)


def _in_stock(product: Product, base: float) -> Amount:
    assert product.stock is not None, "the stock is known"
    shown = in_unit_of(product, Quantity(base, "L" if product.liquid else "g"), product.stock.unit)
    value = float(f"{shown.value:.12g}")
    return Amount(value=value, unit=product.stock.unit)
