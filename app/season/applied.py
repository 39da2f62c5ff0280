"""From a record to what it brought of each active, as the rules of the year and the evidence count it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from app.engine.doses import counted_rate, delivered, form_named
from app.engine.errors import InputError
from app.engine.measures import Rate
from app.engine.product import Product
from app.season.record import ApplicationRecord, AppliedActive, AppliedProduct
from app.season.stock import as_stocked
from knowledge.base import KnowledgeBase
from knowledge.models import Active, Form
from knowledge.quantities import Quantity

_SQUARE_METRES_PER_HECTARE = 10_000


@dataclass(frozen=True, slots=True)
class Brought:
    """Actives of one product of a record, their rates [lb ae/acre or lb ai/acre], and what of them is not known."""

    product: str
    actives: tuple[AppliedActive, ...]
    untold: str = ""


def shelf_key(name: str) -> str:
    """Equal for names of products that people take for the same."""
    return " ".join(name.casefold().split())


def brought(base: KnowledgeBase, record: ApplicationRecord, shelf: Mapping[str, Product]) -> tuple[Brought, ...]:
    """What each product of a record brought of its actives.

    Parameters
    ----------
    shelf : dict of str to Product
        Products by `shelf_key` of their name, for what the record does not tell itself.

    Returns
    -------
    tuple of Brought
        From the actives that the record tells; else from the rate of the product, or its amount over the
        treated area, and the content on the shelf. What can be told neither way says so.
    """
    return tuple(_brought(base, record, item, shelf.get(shelf_key(item.name))) for item in record.products)


def _brought(base: KnowledgeBase, record: ApplicationRecord, item: AppliedProduct, product: Product | None) -> Brought:
    if item.actives:
        told = tuple(_counted(base, part) for part in item.actives)
        known = tuple(part for part in told if part is not None)
        if len(known) == len(told):
            return Brought(item.name, known)
        return Brought(item.name, known, f"{item.name}: the rate of an active is not told per area")
    if product is None:
        return Brought(item.name, (), f"{item.name}: its actives are not told, and it is not on the shelf")
    if product.kind == "adjuvant":
        return Brought(item.name, ())
    rate = rate_on_area(record, item, product)
    if rate is None:
        return Brought(item.name, (), f"{item.name}: neither its rate nor its amount and area are told")
    found, untold = list[AppliedActive](), ""
    for number, part in enumerate(product.actives):
        active = base.actives.get(part.active)
        form = form_named(active, part.form) if active is not None else None
        amount = None
        if active is not None and form is not None:
            try:
                amount = _delivered(product, number, rate, active, form)
            except InputError as error:
                untold = f"{item.name}: {error.faults[0].message}"
        if active is None or amount is None:
            untold = untold or f"{item.name}: its {part.active} cannot be counted"
            continue
        counted = amount.to(f"lb {active.rate_basis}/acre")
        per_acre = Rate(value=float(f"{counted.value:.6g}"), unit=counted.unit)
        found.append(AppliedActive(active=part.active, form=part.form, rate=per_acre))
    return Brought(item.name, tuple(found), untold)


def _delivered(product: Product, number: int, rate: Quantity, active: Active, form: Form) -> Quantity | None:
    if rate.dimension in ("ae-rate", "ai-rate"):
        # Of which active it is the rate can be told of a product of one alone.
        return counted_rate(rate, active, form) if len(product.actives) == 1 else None
    return delivered(product, number, rate, active, form)


def rate_on_area(record: ApplicationRecord, item: AppliedProduct, product: Product | None) -> Quantity | None:
    """The rate of a product per area: as told, from a share of the spray and the carrier volume, or from its amount."""
    if item.rate is not None:
        rate = item.rate.quantity
        if rate.dimension not in ("volume-share", "mass-share"):
            return rate
        if record.carrier is not None:
            unit = "L/ha" if rate.dimension == "volume-share" else "g/ha"
            return Quantity(rate.base * record.carrier.quantity.base, unit)
    if item.amount is None or item.amount.value <= 0 or record.treated is None:
        return None
    hectares = record.treated.quantity.base / _SQUARE_METRES_PER_HECTARE
    used = item.amount.quantity
    if product is not None:
        used = as_stocked(product, used) or used
    return Quantity(used.base / hectares, "L/ha" if used.dimension == "volume" else "g/ha")


def _counted(base: KnowledgeBase, part: AppliedActive) -> AppliedActive | None:
    """An active with its rate in its own counting; None for a rate of product."""
    active = base.actives.get(part.active)
    form = form_named(active, part.form) if active is not None else None
    if active is None or form is None:
        return part if part.rate.quantity.dimension in ("ae-rate", "ai-rate") else None
    rate = counted_rate(part.rate.quantity, active, form)
    if rate is None:
        return None
    return part.model_copy(update={"rate": Rate(value=rate.value, unit=rate.unit)})
