"""What a record leaves empty, filled in from what is kept: the property, the branch and the shelf; and told so."""

from __future__ import annotations

from typing import Any

from app.engine.errors import FieldFault, InputError, UnknownId
from app.season.applied import brought
from app.season.property import Customer, Property
from app.season.record import ApplicationRecord, Branch
from app.season.record_rules import is_empty, value_at
from app.services import customers, properties
from app.services.knowledge_service import knowledge_base
from app.services.records import branch_of
from app.store import products
from app.store.names import name_key
from app.store.opening import Store


def filled_in(store: Store, record: ApplicationRecord) -> ApplicationRecord:
    """The record with what it leaves empty filled in, where that is known; `filled_in` names every such field.

    Customer, address, area, turf and size come from the property; the licence from the branch's list of
    technicians; the registration number and the actives, at the rate told, from the shelf. The size of an area is
    not that of the spots on it.
    """
    branch, told = branch_of(store), dict[str, Any]()
    kept = _property(store, record.property)
    if kept is not None:
        told |= _of_property(record, kept, _customer(store, kept))
    zone = (kept.zone if kept is not None else None) or branch.zone
    told |= {"zone": zone, **_of_branch(branch, record)}
    told = {path: value for path, value in told.items() if not is_empty(value) and is_empty(value_at(record, path))}
    found, paths = with_actives(store, record.model_copy(update=told), numbers=True)
    paths = [path for path in (*told, *paths) if path != "zone"]
    return found.model_copy(update={"filled_in": tuple(dict.fromkeys([*record.filled_in, *paths]))})


def known_property(store: Store, slug: str | None) -> None:
    """See that a property that a record names is kept.

    Raises
    ------
    InputError
        When there is none of that id, with the nearest.
    """
    if slug is not None:
        try:
            properties.one(store, slug)
        except UnknownId as error:
            raise InputError([FieldFault("property", f"{error}")]) from error


def _property(store: Store, slug: str | None) -> Property | None:
    try:
        return properties.one(store, slug).property if slug is not None else None
    except UnknownId:
        return None


def _customer(store: Store, kept: Property) -> Customer | None:
    try:
        return customers.customer(store, kept.customer).customer if kept.customer is not None else None
    except UnknownId:
        return None


def _of_property(record: ApplicationRecord, kept: Property, customer: Customer | None) -> dict[str, Any]:
    area = kept.area_of(record.area) if record.area is not None else None
    found: dict[str, Any] = {
        "property_name": kept.name,
        "place": kept.address,
        "customer": customer.name if customer is not None else "",
        "customer_address": customer.address if customer is not None else "",
    }
    if area is not None:
        found |= {"area_name": area.name, "turf": area.turf, "site_use": area.site_use}
        found |= {"treated": area.area} if record.method == "broadcast" else {}
    return found


def _of_branch(branch: Branch, record: ApplicationRecord) -> dict[str, Any]:
    person = next((item for item in branch.technicians if name_key(item.name) == name_key(record.applicator)), None)
    if person is None:
        return {}
    return {
        "licence": person.licence,
        "supervisor": person.supervisor,
        "supervisor_licence": person.supervisor_licence,
    }


def with_actives(
    store: Store, record: ApplicationRecord, *, numbers: bool = False
) -> tuple[ApplicationRecord, list[str]]:
    """The record with the actives of its products as the shelf has them, and their `numbers` where that is asked.

    Returns
    -------
    tuple
        The record, and the paths of what was filled in.
    """
    with store.reading() as session:
        held = products.named(session, [name_key(item.name) for item in record.products])
    shelf = {key: item.product for key, item in held.items()}
    found, paths = [], []
    for number, (item, parts) in enumerate(zip(record.products, brought(knowledge_base(), record, shelf), strict=True)):
        product, told = shelf.get(name_key(item.name)), dict[str, Any]()
        if numbers and product is not None and not item.registration and product.registration:
            told["registration"] = product.registration
        if not item.actives and parts.actives and not parts.untold:
            told["actives"] = parts.actives
        paths += [f"products.{number}.{name}" for name in told]
        found.append(item.model_copy(update=told))
    return record.model_copy(update={"products": tuple(found)}), paths
