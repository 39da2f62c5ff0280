"""The use case of comparing sides; products are looked up on the shelf by their ids."""

from __future__ import annotations

from typing import Any

from app.engine.errors import FieldFault, InputError
from app.engine.product import Product
from app.engine.side_by_side import side_by_side as engine_side_by_side
from app.engine.sides import SideBySide, SideBySideRequest, SideProduct
from app.engine.understood import unknown_id
from app.services.advice import House, Shelf, learned
from app.services.validation import validated


def side_by_side(payload: Any, shelf: Shelf, house: House | None = None) -> SideBySide:
    """Compare sides given as plain data; the shelf is looked at only where a side names a product on it.

    The house's trials count where the situation lets them (`options.house_evidence`).

    Raises
    ------
    InputError
        With one fault for each field that cannot be used.
    """
    request = validated(SideBySideRequest, payload)
    base = learned(request.situation, house)
    if not any(item.id is not None for side in request.sides for item in side.products):
        return engine_side_by_side(base, request)
    held = {product.id: product for product in shelf() if product.id is not None}
    adjuvants = tuple(product for product in held.values() if product.kind == "adjuvant")
    return engine_side_by_side(base, _looked_up(request, held), adjuvants)


def _looked_up(request: SideBySideRequest, held: dict[str, Product]) -> SideBySideRequest:
    """The request with each product of the shelf in the place of its id."""
    faults: list[FieldFault] = []
    sides = []
    for s, side in enumerate(request.sides):
        found = []
        for p, item in enumerate(side.products):
            path = f"sides.{s}.products.{p}"
            if item.id is not None and item.id not in held:
                if held:
                    faults.append(unknown_id(f"{path}.id", "product of the shelf", item.id, held))
                else:
                    faults.append(FieldFault(f"{path}.id", f"'{item.id}' is not there: the shelf is empty"))
            elif item.id is not None:
                found.append(_of_shelf(item, held[item.id], path, faults))
            else:
                found.append(item)
        sides.append(side.model_copy(update={"products": tuple(found)}))
    if faults:
        raise InputError(faults)
    return request.model_copy(update={"sides": tuple(sides)})


def _of_shelf(item: SideProduct, product: Product, path: str, faults: list[FieldFault]) -> SideProduct:
    told = item.model_dump(mode="json", exclude={"id", "product"})
    try:
        return validated(SideProduct, {**told, "product": product.model_dump(mode="json")})
    except InputError as error:
        faults += [FieldFault(f"{path}.{fault.path}".rstrip("."), fault.message) for fault in error.faults]
        return item
