"""What records take off the shelf and give back, in the transaction of the record."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from app.engine.measures import Amount
from app.engine.product import Product
from app.season.record import ApplicationRecord
from app.season.stock import give_back, take
from app.store import products
from app.store.names import name_key
from knowledge.quantities import Quantity

Kept = dict[str, Any]


def uses(record: ApplicationRecord) -> dict[str, tuple[str, Amount | None]]:
    """Name and amount of everything that a record used, by the key of its name; nothing of a void one."""
    if not record.live:
        return {}
    told = [(item.name, item.amount) for item in record.products]
    if record.adjuvant is not None and record.adjuvant.name:
        told.append((record.adjuvant.name, record.adjuvant.amount))
    return {name_key(name): (name, amount) for name, amount in told}


def moved(session: Session, before: Kept, record: ApplicationRecord, now: datetime) -> Kept:
    """Give back what a record had taken, take what it uses now, and say what has to be told.

    What a record uses as before is left alone: a product that came onto the shelf meanwhile was counted then.

    Parameters
    ----------
    before : dict
        What this gave for the record as it stood; empty for a new one.

    Returns
    -------
    dict
        `products`: by key of its name what was used and taken [L or g] of each, and what has to be told of it;
        `returned`: what has to be told of what came back.
    """
    had: dict[str, Kept] = before.get("products", {})
    wanted = uses(record)
    changed = [key for key in {**had, **wanted} if not _unchanged(had.get(key), wanted.get(key))]
    kept = {key: item for key, item in had.items() if key not in changed}
    shelf = products.named(session, changed, hold=True) if changed else {}
    returned: list[str] = []
    for key in sorted(changed):
        held = shelf.get(key)
        product = held.product if held is not None else None
        if key in had and had[key]["taken"] is not None:
            product, said = _back(product, had[key])
            returned += [said] if said else []
        if key in wanted:
            product, kept[key] = _out(product, *wanted[key])
        if held is not None and product is not None and product.stock != held.product.stock:
            products.update(session, held.slug, product, held.version, now)
    return {"products": kept, "returned": returned}


def said_of(kept: Kept) -> tuple[str, ...]:
    """What has to be told of what a record took, as sentences."""
    told = [item["said"] for item in kept.get("products", {}).values() if item["said"]]
    return (*told, *kept.get("returned", ()))


def _unchanged(had: Kept | None, wanted: tuple[str, Amount | None] | None) -> bool:
    return had is not None and wanted is not None and had["used"] == _plain(wanted[1])


def _back(product: Product | None, had: Kept) -> tuple[Product | None, str]:
    if product is None:
        return None, f"{had['name']} is no longer on the shelf, so nothing came back to it."
    found = give_back(product, Quantity(had["taken"]["value"], had["taken"]["unit"]))
    return product.model_copy(update={"stock": found.stock}), found.said


def _out(product: Product | None, name: str, amount: Amount | None) -> tuple[Product | None, Kept]:
    entry: Kept = {"name": name, "used": _plain(amount), "taken": None}
    if product is None:
        return None, {**entry, "said": f"{name} is not on the shelf, so no stock was changed."}
    found = take(product, amount.quantity if amount is not None else None)
    taken = {"value": found.taken.value, "unit": found.taken.unit} if found.taken is not None else None
    return product.model_copy(update={"stock": found.stock}), {**entry, "taken": taken, "said": found.said}


def _plain(amount: Amount | None) -> Kept | None:
    return amount.model_dump(mode="json") if amount is not None else None
