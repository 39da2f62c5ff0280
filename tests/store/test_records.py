"""Application records on both engines: kept once, whole or not at all, with the stock in the same transaction."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import UTC, date, datetime
from typing import Any

import pytest

from app.engine.errors import InputError, UnknownId
from app.engine.product import Product
from app.season.record import ApplicationRecord
from app.services import records
from app.store import products
from app.store import records as stored
from app.store.changed import Changed
from app.store.opening import Store, open_store

NOW = datetime(2027, 6, 2, 8, tzinfo=UTC)
KEY = "key-of-the-form-1"


def amine(stock: float | None = 64) -> Product:
    return Product.model_validate(
        {
            "name": "Larkmere Amine",
            "formulation": "SL",
            "actives": [{"active": "2-4-d", "content": {"value": 3.8, "unit": "lb ae/gal"}}],
            "rate": {"value": 1, "unit": "fl oz/1000 ft2"},
            "stock": {"value": stock, "unit": "fl oz"} if stock is not None else None,
        }
    )


def applied(value: float = 4, **more: Any) -> ApplicationRecord:
    product = {"name": "larkmere  amine", "amount": {"value": value, "unit": "fl oz"}}
    return ApplicationRecord.model_validate({"date": date(2027, 6, 2), "products": [product], **more})


def stock_in(store: Store) -> tuple[float | None, int]:
    with store.reading() as session:
        (held,) = products.every(session)
    return held.product.stock.value if held.product.stock is not None else None, held.version


@pytest.fixture
def shelved(store: Store) -> Store:
    with store.session() as session:
        products.insert(session, [amine()], NOW)
    return store


def test_the_same_key_twice_keeps_once_and_takes_once(shelved: Store) -> None:
    first, second = records.keep(shelved, KEY, applied(), NOW), records.keep(shelved, KEY, applied(), NOW)
    assert (first.new, second.new, second.differs) == (True, False, False)
    assert stock_in(shelved) == (60, 2)
    other = records.keep(shelved, KEY, applied(9), NOW)
    assert (other.new, other.differs) == (False, True)
    assert records.one(shelved, KEY).record.products[0].amount == applied().products[0].amount
    assert stock_in(shelved) == (60, 2)


def test_a_stop_of_a_round_has_one_record_until_it_is_void(shelved: Store) -> None:
    stop = {"round": "monday", "property": "brindle-yard", "area": "front"}
    records.keep(shelved, KEY, applied(**stop), NOW)
    with pytest.raises(InputError, match="kept already"):
        records.keep(shelved, "key-of-the-form-2", applied(**stop), NOW)
    assert stock_in(shelved) == (60, 2)
    records.void(shelved, KEY, 1, "Ada Holm", "Rained off", NOW)
    assert records.keep(shelved, "key-of-the-form-2", applied(**stop), NOW).new
    assert stock_in(shelved)[0] == 60


def test_the_second_of_two_is_told_and_nothing_of_theirs_is_stored(shelved: Store) -> None:
    records.keep(shelved, KEY, applied(), NOW)
    records.change(shelved, KEY, applied(10), 1, "Ada", "Counted again", NOW)
    with pytest.raises(Changed) as told:
        records.change(shelved, KEY, applied(30), 1, "Ben", "", NOW)
    assert told.value.version == 2
    assert told.value.stored is not None
    assert told.value.stored["products"][0]["amount"]["value"] == 10
    assert stock_in(shelved)[0] == 54
    assert [item.by for item in records.history(shelved, KEY)] == ["Ada"]


def test_a_record_that_is_not_there_is_told(store: Store) -> None:
    for key in ("nothing-of-it", "x", "ÄÖ\x00"):
        with pytest.raises(UnknownId):
            records.one(store, key)


def test_what_is_asked_is_found_by_day_person_and_round(shelved: Store) -> None:
    for number, (day, person, round_) in enumerate(
        [("2027-05-01", "Ada Holm", "monday"), ("2027-06-01", "ADA  holm", None), ("2027-06-02", "Ben Rusk", "monday")]
    ):
        told = {"date": day, "applicator": person, "round": round_, "property": f"p-{number}", "area": "a"}
        records.keep(shelved, f"key-of-form-{number}", applied(**told), NOW)
    asked = {
        stored.Wanted(): [2, 1, 0],
        stored.Wanted(first=date(2027, 6, 1)): [2, 1],
        stored.Wanted(last=date(2027, 6, 1)): [1, 0],
        stored.Wanted(technician="ada holm"): [1, 0],
        stored.Wanted(round="monday"): [2, 0],
        stored.Wanted(property="p-1"): [1],
    }
    with shelved.reading() as session:
        for wanted, numbers in asked.items():
            assert [item.key for item in stored.found(session, wanted)] == [f"key-of-form-{n}" for n in numbers]
            assert stored.count(session, wanted) == len(numbers)
        assert [item.key for item in stored.found(session, stored.Wanted(), limit=1, offset=1)] == ["key-of-form-1"]


@pytest.mark.parametrize("what", ["keep", "change"])
def test_a_process_killed_at_any_statement_leaves_all_or_nothing(address: str, tmp_path: Any, what: str) -> None:
    store = open_store(tmp_path / "data", address)
    with store.session() as session:
        products.insert(session, [amine()], NOW)
    if what == "change":
        records.keep(store, "killed-in-the-middle", applied(), NOW)
    before = {"keep": (0, 0, 64.0, 1), "change": (1, 0, 60.0, 2)}[what]
    after = {"keep": (1, 0, 60.0, 2), "change": (1, 1, 54.0, 3)}[what]
    store.close()
    done = subprocess.run(
        [sys.executable, "-m", "tests.store.killed", address, what], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    told = [json.loads(line) for line in done.stdout.splitlines()]
    left = [(item["records"], item["changes"], item["stock"], item["product_version"]) for item in told]
    assert [item["ended"] for item in told] == ["killed"] * (len(told) - 1) + ["0"]
    # Record, history and stock are several statements: a test that kills fewer times tests nothing.
    assert len(told) > 6
    assert left == [before] * (len(left) - 1) + [after]
