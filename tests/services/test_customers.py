"""Use cases of customers. Invented people."""

from __future__ import annotations

import pytest

from app.engine.errors import InputError, UnknownId
from app.services import customers, properties
from app.store.changed import Changed
from app.store.opening import Store, open_in_memory
from tests.services.places import place


@pytest.fixture
def store() -> Store:
    return open_in_memory()


def test_a_customer_is_kept_changed_and_removed(store: Store) -> None:
    kept = customers.add_customer(store, {"name": "Ada Fenn", "phone": "555 0100"})
    changed = customers.change_customer(store, kept.slug, {"name": "Ada Birch"}, 1)
    assert (changed.slug, changed.customer.name, changed.customer.phone, changed.version) == (
        *("ada-fenn", "Ada Birch", ""),
        2,
    )
    with pytest.raises(Changed, match="Ada Birch was changed meanwhile"):
        customers.change_customer(store, kept.slug, {"name": "Mine"}, 1)
    customers.remove_customer(store, kept.slug, 2)
    with pytest.raises(UnknownId):
        customers.customer(store, kept.slug)


def test_nobody_is_removed_while_a_property_names_them(store: Store) -> None:
    for number in range(5):
        properties.add(store, place(name=f"{number} Oak"), customer="Ada Fenn")
    with pytest.raises(InputError) as caught:
        customers.remove_customer(store, "ada-fenn", 1)
    assert "0 Oak, 1 Oak, 2 Oak and 2 more belong to this customer" in caught.value.faults[0].message
    assert customers.customer(store, "ada-fenn").version == 1


def test_properties_are_found_by_the_new_name_of_their_customer(store: Store) -> None:
    properties.add(store, place(), customer="Ada Fenn")
    customers.change_customer(store, "ada-fenn", {"name": "Ada Birch"}, 1)
    assert properties.listing(store, "birch").found == 1
    assert properties.listing(store, "fenn").found == 0
    # Whoever has the form of the property open is not disturbed.
    assert properties.one(store, "12-mill-lane").version == 1


def test_customers_come_in_pages_with_what_they_have(store: Store) -> None:
    for number in range(51):
        customers.add_customer(store, {"name": f"Customer {number:02}"})
    properties.add(store, place(), customer="Customer 00")
    first, second = customers.customers(store), customers.customers(store, page=2)
    assert (len(first.items), len(second.items), first.found, first.pages) == (50, 1, 51, 2)
    assert first.counts == {"customer-00": 1}
    assert [item.slug for item in customers.customers(store, "07 cust").items] == ["customer-07"]


@pytest.mark.parametrize("told", [{}, {"name": ""}, {"name": "A", "age": 7}, {"name": "a\x07b"}, []])
def test_what_cannot_be_a_customer_is_refused(store: Store, told: object) -> None:
    with pytest.raises(InputError):
        customers.add_customer(store, told)
    assert customers.customers(store).items == ()
