"""What a program costs and what has to be bought, from the packs and the stock of its products."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.engine.control import Floats
from app.engine.doses import Dose, ProductUse
from app.engine.output import Amount, Cost, PackToBuy, Supply
from app.engine.product import Pack, Product
from app.engine.understood import Understood
from knowledge.base import KnowledgeBase
from knowledge.quantities import FT2_PER_ACRE, HECTARE_PER_ACRE, Quantity

CURRENCY = "USD"
_SQUARE_METRES_PER_HECTARE = 10_000
_ACRES_PER_HECTARE = 1 / HECTARE_PER_ACRE
# Packs of each kind are tried exhaustively up to this many of them; beyond, the cheapest kind fills the bulk.
_TRIED = 12
# Room for the rounding of unit conversions.
_ROUNDING = 1e-9
# The kinds of pack tried: the cheapest by content, and the smallest for what is left.
_KINDS = 3


@dataclass(frozen=True)
class Tank:
    """What one application holds that is paid for: its doses, adjuvant and carrier volume where told."""

    doses: tuple[Dose, ...]
    adjuvant: str
    carrier: Quantity | None


def pack_amount(product: Product, pack: Pack) -> Quantity | None:
    """What a pack holds, measured as the product is dosed: litres of a liquid, grams of a dry product.

    None for a liquid sold by weight whose density was not told.
    """
    held = pack.size.quantity
    wanted = "volume" if product.liquid else "mass"
    if held.dimension == wanted:
        return held
    if product.density is None:
        return None
    return Quantity(held.base / product.density.quantity.base, "L")


def unit_price(product: Product) -> float | None:
    """Cheapest price per litre of a liquid or gram of a dry product, in the product's currency; None where unknown."""
    prices = []
    for pack in product.packs:
        amount = pack_amount(product, pack)
        if pack.price is not None and amount is not None:
            prices.append(pack.price / amount.base)
    return min(prices, default=None)


def used_per_hectare(product: Product, rate: Quantity) -> float | None:
    """Product used at a rate, in litres of a liquid or grams of a dry product per hectare.

    None for a liquid dosed by weight whose density was not told.
    """
    if rate.dimension == ("volume-rate" if product.liquid else "mass-rate"):
        return rate.base
    if product.liquid and rate.dimension == "mass-rate" and product.density is not None:
        return rate.base / product.density.quantity.base
    return None


def cost_per_hectare(use: ProductUse) -> float | None:
    """Cost of a product at its rate, per hectare; None where a price or a measure is unknown."""
    price, used = unit_price(use.product), used_per_hectare(use.product, use.rate)
    return price * used if price is not None and used is not None else None


def dose_costs(doses: Sequence[Dose]) -> Floats:
    """Each dose's share of what its product costs per hectare, as array (doses + 1,); NaN where unknown.

    The shares of the doses of one product add up to its cost, so that those of a tank add up too.
    """
    found = np.zeros(len(doses) + 1)
    for place, dose in enumerate(doses):
        whole = cost_per_hectare(dose.product) if dose.product is not None else None
        found[place] = whole / len(dose.product.product.actives) if whole is not None and dose.product else np.nan
    return found


def products_in(doses: Sequence[Dose]) -> tuple[ProductUse, ...]:
    """The products that deliver these doses, each once."""
    return tuple({dose.product.product.name: dose.product for dose in doses if dose.product is not None}.values())


def adjuvant_products(understood: Understood, adjuvant: str) -> tuple[Product, ...]:
    """Products of the catalog that are this adjuvant, the cheapest first."""
    held = [p for p in understood.products or () if p.kind == "adjuvant" and p.adjuvant == adjuvant]
    return tuple(sorted(held, key=lambda p: (price if (price := unit_price(p)) is not None else math.inf, p.name)))


def adjuvant_used(base: KnowledgeBase, product: Product, adjuvant: str, carrier: Quantity | None) -> float | None:
    """Adjuvant used per hectare in litres or grams; None where its rate or the carrier volume is unknown."""
    told = product.adjuvant_rate.quantity if product.adjuvant_rate is not None else base.adjuvants[adjuvant].rate
    if told is None:
        return None
    if told.dimension == "volume-share":
        return told.base * carrier.base if carrier is not None else None
    return used_per_hectare(product, told)


def cost_of(base: KnowledgeBase, understood: Understood, tanks: Sequence[Tank]) -> Cost:
    """Cost of a program's materials per 1000 ft2 and per acre, and what of it could not be reckoned."""
    whole, missing, currencies = 0.0, list[str](), set[str]()
    for tank in tanks:
        for use in products_in(tank.doses):
            cost = cost_per_hectare(use)
            currencies.add(use.product.currency)
            if cost is None:
                missing.append(use.product.name)
            whole += cost or 0.0
        if tank.adjuvant != "none":
            held = next(iter(adjuvant_products(understood, tank.adjuvant)), None)
            price = unit_price(held) if held is not None else None
            used = adjuvant_used(base, held, tank.adjuvant, tank.carrier) if held is not None else None
            if held is not None and price is not None and used is not None:
                currencies.add(held.currency)
                whole += price * used
            else:
                missing.append(base.adjuvants[tank.adjuvant].name)
    named = list(dict.fromkeys(missing))
    currency = next(iter(currencies)) if len(currencies) == 1 else CURRENCY
    products = {use.product.name for tank in tanks for use in products_in(tank.doses)}
    if not products or len(currencies) > 1 or products & set(named):
        why = "prices are in several currencies" if len(currencies) > 1 else f"no price of {', '.join(named)}"
        return Cost(per_1000_ft2=None, per_acre=None, currency=currency, text=f"{why}." if products else "")
    per_acre = whole / _ACRES_PER_HECTARE
    text = f"Without {', '.join(named)}, whose cost is not known here." if named else ""
    return Cost(
        per_1000_ft2=round(per_acre * 1000 / FT2_PER_ACRE, 2), per_acre=round(per_acre, 2), currency=currency, text=text
    )


def supplies(base: KnowledgeBase, understood: Understood, tanks: Sequence[Tank]) -> tuple[Supply, ...]:
    """What the program uses of each product on the area told, what is in stock, and what to buy."""
    area = understood.situation.area
    if area is None:
        return ()
    hectares = area.quantity.base / _SQUARE_METRES_PER_HECTARE
    used: dict[str, tuple[Product, float | None]] = {}
    for tank in tanks:
        needed = [(use.product, used_per_hectare(use.product, use.rate)) for use in products_in(tank.doses)]
        held = next(iter(adjuvant_products(understood, tank.adjuvant)), None)
        if held is not None:
            needed.append((held, adjuvant_used(base, held, tank.adjuvant, tank.carrier)))
        for product, per_hectare in needed:
            before = used.get(product.name, (product, 0.0))[1]
            amount = before + per_hectare * hectares if before is not None and per_hectare is not None else None
            used[product.name] = (product, amount)
    return tuple(_supply(product, amount) for product, amount in used.values() if amount is not None)


def _supply(product: Product, needed: float) -> Supply:
    unit = "L" if product.liquid else "g"
    stock = product.stock.quantity if product.stock is not None else None
    if stock is not None and stock.dimension != Quantity(0, unit).dimension:
        density = product.density.quantity.base if product.density is not None else None
        stock = Quantity(stock.base / density, "L") if density is not None else None
    short = max(needed - stock.base, 0.0) if stock is not None else None
    if short is not None and short <= needed * _ROUNDING:
        short = 0.0
    packs = packs_to_buy(product, short) if short else ()
    return Supply(
        product=product.name,
        needed=Amount(value=needed, unit=unit),
        in_stock=Amount(value=stock.base, unit=unit) if stock is not None else None,
        short=Amount(value=short, unit=unit) if short is not None else None,
        buy=packs,
        text=_supply_words(product, stock is not None, short, packs),
    )


def _supply_words(product: Product, stocked: bool, short: float | None, packs: Sequence[PackToBuy]) -> str:
    if not stocked:
        return f"{product.name}: how much is in stock was not told."
    if not short:
        return f"{product.name}: enough in stock."
    if not packs:
        return f"{product.name}: not enough in stock, and no pack with a price is told."
    bought = " and ".join(f"{p.count} of {p.size.value:g} {p.size.unit}" for p in packs)
    return f"{product.name}: not enough in stock; buy {bought}."


def packs_to_buy(product: Product, short: float) -> tuple[PackToBuy, ...]:
    """The cheapest packs that hold at least what is short [L or g], fewest packs where prices are equal."""
    kinds = [
        (amount.base, pack.price, pack)
        for pack in product.packs
        if pack.price is not None and (amount := pack_amount(product, pack)) is not None
    ]
    if not kinds:
        return ()
    kinds.sort(key=lambda kind: (kind[1] / kind[0], -kind[0]))
    smallest = min(kinds, key=lambda kind: kind[0])
    kinds = kinds[:_KINDS] if smallest in kinds[:_KINDS] else [*kinds[:_KINDS], smallest]
    # A large order is filled by the cheapest kind; only what is left of it is tried in every way.
    bulk = max(math.floor(short / kinds[0][0]) - _TRIED, 0)
    counts = _cheapest([(size, price) for size, price, _ in kinds], short - bulk * kinds[0][0])
    counts = (counts[0] + bulk, *counts[1:])
    return tuple(
        PackToBuy(count=count, size=Amount(value=pack.size.value, unit=pack.size.unit), price=round(count * price, 2))
        for count, (_, price, pack) in zip(counts, kinds, strict=True)
        if count
    )


def _cheapest(kinds: Sequence[tuple[float, float]], short: float) -> tuple[int, ...]:
    """Counts of each kind (size, price) that cover what is short at the least price."""
    size = kinds[0][0]
    most = max(math.ceil(short / size * (1 - _ROUNDING)), 0)
    if len(kinds) == 1:
        return (most,)
    best: tuple[float, int, tuple[int, ...]] | None = None
    for count in range(most + 1):
        rest = _cheapest(kinds[1:], max(short - count * size, 0.0))
        whole = (count, *rest)
        paid = sum(n * p for n, (_, p) in zip(whole, kinds, strict=True))
        if best is None or (paid, sum(whole)) < best[:2]:
            best = (paid, sum(whole), whole)
    assert best is not None, "zero of the first kind is always tried"
    return best[2]
