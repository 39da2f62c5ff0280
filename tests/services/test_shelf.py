"""The shelf: what is put there is found again, and nobody overwrites another unseen."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from app.engine.errors import InputError, UnknownId
from app.services import shelf
from app.services.shelf_csv import read_csv
from app.store.changed import Changed
from app.store.opening import Store, open_in_memory

LABEL: dict[str, Any] = {
    "name": "Trial Broadleaf 4",
    "formulation": "SL",
    "actives": [{"active": "2-4-d", "form": "2-4-d-dma", "content": {"value": 4, "unit": "lb ae/gal"}}],
    "rates": [
        {
            "turf": ["tall-fescue"],
            "low": {"value": 16, "unit": "fl oz/acre"},
            "high": {"value": 32, "unit": "fl oz/acre"},
        }
    ],
    "turf": ["tall-fescue"],
    "packs": [{"size": {"value": 2.5, "unit": "gal"}, "price": 100.0}, {"size": {"value": 1, "unit": "qt"}}],
    "stock": {"value": 2, "unit": "gal"},
}


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    yield opened
    opened.close()


def test_a_product_is_kept_as_it_was_typed(store: Store) -> None:
    kept, version = shelf.add_product(store, LABEL)
    assert kept.id == "trial-broadleaf-4"
    assert shelf.product_named(store, "trial-broadleaf-4") == (kept, version)
    assert shelf.shelf_products(store) == (kept,)
    (row,) = read_csv(shelf.export_csv(store))
    assert row.product == kept


def test_the_second_of_two_changes_is_told(store: Store) -> None:
    kept, version = shelf.add_product(store, LABEL)
    assert kept.id is not None
    _, later = shelf.change_product(store, kept.id, {**LABEL, "notes": "first"}, version)
    with pytest.raises(Changed) as told:
        shelf.change_product(store, kept.id, {**LABEL, "notes": "second"}, version)
    assert told.value.version == later
    assert told.value.stored is not None
    assert told.value.stored["notes"] == "first"
    with pytest.raises(Changed):
        shelf.remove_product(store, kept.id, version)
    shelf.remove_product(store, kept.id, later)
    assert shelf.shelf_products(store) == ()
    with pytest.raises(Changed):
        shelf.change_product(store, kept.id, LABEL, later)


def test_stock_changes_alone(store: Store) -> None:
    kept, version = shelf.add_product(store, LABEL)
    assert kept.id is not None
    changed, later = shelf.change_stock(store, kept.id, {"value": 1.5, "unit": "gal"}, version)
    assert changed == kept.model_copy(update={"stock": changed.stock})
    assert shelf.change_stock(store, kept.id, None, later)[0].stock is None
    for payload, field in (({"value": -1, "unit": "gal"}, "stock.value"), ({"value": 1, "unit": "lb ae/gal"}, "stock")):
        with pytest.raises(InputError) as refused:
            shelf.change_stock(store, kept.id, payload, later + 1)
        assert refused.value.faults[0].path == field


def test_an_ounce_of_a_liquid_is_refused_in_stock_too(store: Store) -> None:
    kept, version = shelf.add_product(store, LABEL)
    with pytest.raises(InputError, match="which ounce"):
        shelf.change_stock(store, str(kept.id), {"value": 9, "unit": "oz"}, version)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"density": {"value": -1, "unit": "lb/gal"}}, "density.value"),
        ({"actives": [{"active": "2-4-d", "content": {"value": 101, "unit": "% w/w"}}]}, "actives.0.content"),
        (
            {"actives": [{"active": a, "content": {"value": 60, "unit": "% w/w"}} for a in ("2-4-d", "dicamba")]},
            "actives",
        ),
        ({"actives": [{"active": "nonesuch", "content": {"value": 1, "unit": "lb ae/gal"}}]}, "actives.0.active"),
        ({"packs": [{"size": {"value": 0, "unit": "gal"}}]}, "packs.0"),
        ({"expiry": "soon"}, "expiry"),
        ({"stock": {"value": 3, "unit": "oz"}}, "stock"),
        (
            {"rates": [{"low": {"value": 2, "unit": "pt/acre"}, "high": {"value": 1, "unit": "pt/acre"}}]},
            "rates.0",
        ),
    ],
)
def test_a_bad_label_names_its_field_and_stores_nothing(store: Store, changes: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as refused:
        shelf.add_product(store, {**LABEL, **changes})
    assert [fault.path for fault in refused.value.faults] == [field]
    assert shelf.shelf_products(store) == ()


def test_a_name_is_given_once(store: Store) -> None:
    shelf.add_product(store, LABEL)
    with pytest.raises(InputError, match="already"):
        shelf.add_product(store, {**LABEL, "name": "TRIAL broadleaf  4"})
    assert len(shelf.shelf_products(store)) == 1


def test_a_product_that_is_not_there_has_its_nearest(store: Store) -> None:
    shelf.add_product(store, LABEL)
    with pytest.raises(UnknownId) as told:
        shelf.product_named(store, "trial-broadleaf")
    assert told.value.near == ("trial-broadleaf-4",)


def test_a_label_is_read_with_its_amounts(store: Store) -> None:
    kept, _ = shelf.add_product(store, LABEL)
    reading = shelf.read_product(store, str(kept.id))
    # 16 and 32 fl oz of a product with 4 lb ae/gal (128 fl oz) hold 0.5 and 1 lb ae.
    (part,) = reading.amounts[0].actives
    assert (part.low.unit, part.low.value, part.high.value) == ("lb ae/acre", pytest.approx(0.5), pytest.approx(1.0))
    assert reading.contradictions == ()


def test_the_price_is_that_of_the_cheapest_pack(store: Store) -> None:
    kept, _ = shelf.add_product(store, LABEL)
    price = shelf.price_per_unit(kept)
    # 100.00 for 2.5 gal is 40.00 a gallon of 3.785411784 L.
    assert price == (pytest.approx(40 / 3.785411784), "L")
    assert shelf.price_per_unit(kept.model_copy(update={"packs": ()})) is None


def test_the_demo_fills_an_empty_shelf_only(store: Store) -> None:
    count = shelf.fill_demo(store)
    assert count == len(shelf.shelf_products(store)) > 20
    assert {item.basis for item in shelf.shelf_products(store)} == {"invented"}
    assert shelf.fill_demo(store) == 0
