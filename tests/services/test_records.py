"""Application records as use cases: gaps, history, void, stock, what is filled in, and what the year has had."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import update

from app.engine.errors import InputError
from app.engine.product import Product
from app.season.record import ApplicationRecord
from app.services import branch, properties, record_filling, record_year, records, shelf
from app.services.backup import archive_of, restore_backup
from app.store import products
from app.store.models import ApplicationRow
from app.store.opening import Store, open_in_memory, open_store
from knowledge.base import KnowledgeBase
from tests.services.kept import BRANCH, DAY, KEY, NOW, applied, branch_with, stock


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    branch_with(opened)
    yield opened
    opened.close()


def test_a_record_is_kept_with_its_gaps(store: Store) -> None:
    bare = ApplicationRecord.model_validate({"date": DAY, "products": [{"name": "Something in a can"}]})
    kept = records.keep(store, KEY, bare, NOW)
    assert kept.unfinished
    assert {"place", "started", "products.0.amount", "licence"} <= {gap.path for gap in kept.gaps}
    assert kept.stock == ("Something in a can is not on the shelf, so no stock was changed.",)


def test_what_stood_before_stays_in_the_history(store: Store) -> None:
    records.keep(store, KEY, applied(started="07:15"), NOW)
    records.change(store, KEY, applied(started="08:15"), 1, "Ada Holm", "Wrong hour", NOW)
    kept = records.change(store, KEY, applied(started="08:40"), 2, " Ben Rusk ", "", NOW + timedelta(hours=1))
    told = records.history(store, KEY)
    assert [(item.by, item.why, item.before.started, item.after.started) for item in told] == [
        ("Ben Rusk", "", "08:15", "08:40"),
        ("Ada Holm", "Wrong hour", "07:15", "08:15"),
    ]
    assert kept.version == 3
    assert records.change(store, KEY, applied(started="08:40"), 3, "", "", NOW).version == 3
    assert len(records.history(store, KEY)) == 2


def test_a_void_record_stays_with_its_reason_and_changes_no_more(store: Store) -> None:
    before = stock(store, "mistlewick-crabgrass")
    records.keep(store, KEY, applied(), NOW)
    assert stock(store, "mistlewick-crabgrass") != before
    with pytest.raises(InputError, match="say why"):
        records.void(store, KEY, 1, "Ada", "  ", NOW)
    kept = records.void(store, KEY, 1, "Ada", "Rained off", NOW)
    assert (kept.record.void, kept.gaps) == ("Rained off", ())
    assert stock(store, "mistlewick-crabgrass") == before
    with pytest.raises(InputError, match="stays as it is"):
        records.change(store, KEY, applied(), 2, "", "", NOW)
    with pytest.raises(InputError, match="void already"):
        records.void(store, KEY, 2, "", "Again", NOW)
    assert records.one(store, KEY).version == 2


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"turf": ["tall-fescu"]}, "turf.0"),
        ({"targets": [{"weed": "crabgras"}]}, "targets.0.weed"),
        ({"targets": [{"weed": "smooth-crabgrass", "stage": "flowering"}]}, "targets.0.stage"),
        (
            {"products": [{"name": "A", "actives": [{"active": "x", "rate": {"value": 1, "unit": "lb ai/acre"}}]}]},
            "products.0.actives.0.active",
        ),
        ({"void": "no"}, "void"),
    ],
)
def test_ids_that_are_not_known_are_named_and_nothing_is_kept(store: Store, changes: Any, field: str) -> None:
    with pytest.raises(InputError) as told:
        records.keep(store, KEY, applied(**changes), NOW)
    assert [fault.path for fault in told.value.faults] == [field]
    with store.reading() as session:
        assert not records.records.known(session, KEY)


@pytest.mark.parametrize("key", ["short", "Capital-Letters", "x" * 65, ""])
def test_a_key_that_is_none_is_refused(store: Store, key: str) -> None:
    with pytest.raises(InputError, match="8 to 64"):
        records.keep(store, key, applied(), NOW)


def test_two_that_send_the_same_at_once_keep_it_once(tmp_path: Any) -> None:
    store = open_store(tmp_path)
    branch_with(store)
    before = stock(store, "mistlewick-crabgrass")
    found: list[records.KeptRecord] = []
    threads = [
        threading.Thread(target=lambda: found.append(records.keep(store, KEY, applied(), NOW))) for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert sorted(item.new for item in found) == [False, False, False, True]
    assert before is not None
    left = stock(store, "mistlewick-crabgrass")
    assert left is not None
    assert before[0] - left[0] == pytest.approx(1.84 / 16)
    store.close()


def test_what_is_known_is_filled_in_and_told(store: Store) -> None:
    told = {"customer": "Somebody else", "applicator": "ben rusk", "property": "brindle-yard", "area": "back"}
    product = {"name": "mistlewick crabgrass", "rate": {"value": 1, "unit": "lb/acre"}}
    bare = ApplicationRecord.model_validate({"date": DAY, "products": [product], **told})
    found = record_filling.filled_in(store, bare)
    assert found.customer == "Somebody else"
    assert (found.place, found.area_name, found.zone) == ("3 Brindle Lane, Pellmere", "Back lawn", "cool-humid")
    assert found.treated is not None
    assert (found.treated.value, found.supervisor_licence) == (0.25, "C-4417")
    assert found.products[0].registration == "LKM-107"
    # 70 % quinclorac by weight in the demo's product (demo_data/shelf.csv): 1 lb of it per acre brings 0.7 lb.
    assert [(part.active, part.rate.value) for part in found.products[0].actives] == [("quinclorac", 0.7)]
    assert "customer" not in found.filled_in
    assert {"place", "supervisor", "products.0.registration", "products.0.actives"} <= set(found.filled_in)
    spots = record_filling.filled_in(store, bare.model_copy(update={"method": "spot"}))
    assert spots.treated is None


def test_what_is_not_known_stays_open(store: Store) -> None:
    bare = ApplicationRecord.model_validate({"date": DAY, "products": [{"name": "A"}], "property": "gone-with-it"})
    found = record_filling.filled_in(store, bare)
    assert found.filled_in == ()
    assert found.place == ""


def test_a_branch_that_asks_for_more_makes_old_records_unfinished(store: Store) -> None:
    from app.services.record_log import LogAsked, log

    whole = applied(
        started="07:15", customer="A", customer_address="B", place="C", applicator="D", licence="E"
    ).model_dump(mode="json", exclude_none=True)
    whole["products"][0]["registration"] = "LKM-107"
    records.keep(store, KEY, ApplicationRecord.model_validate(whole), NOW)
    assert log(store, LogAsked(unfinished=True)).total == 0
    branch.change_branch(store, {**BRANCH, "required": ["weather.wind_mph"]}, 1)
    found = log(store, LogAsked(unfinished=True))
    assert [item.key for item in found.records] == [KEY]
    assert found.records[0].version == 1
    branch.change_branch(store, BRANCH, 2)
    assert log(store, LogAsked(unfinished=True)).total == 0


def test_the_year_counts_what_was_applied_to_an_area(store: Store, base: KnowledgeBase) -> None:
    def keep(number: int, **changes: Any) -> None:
        records.keep(store, f"key-of-form-{number}", applied(**changes), NOW)

    keep(1, date="2026-12-31")
    keep(2, date="2027-04-12")
    keep(3, date="2027-05-20", area=None)
    keep(4, date="2027-06-02", area="back")
    keep(5, date="2027-06-03")
    keep(6, date="2027-06-02", products=[{"name": "Unknown can", "amount": {"value": 3, "unit": "fl oz"}}])
    keep(7, date="2027-05-01")
    records.void(store, "key-of-form-7", 1, "", "Rained off", NOW)
    found = record_year.year_so_far(store, "brindle-yard", "front", DAY, base)
    assert [(item.date, item.active, item.rate.value, item.rate.unit) for item in found.applications] == [
        (date(2027, 4, 12), "quinclorac", 0.7, "lb ai/acre"),
        (date(2027, 5, 20), "quinclorac", 0.7, "lb ai/acre"),
    ]
    assert found.applications[0].product == "Mistlewick Crabgrass"
    assert found.untold == ("2027-06-02, Unknown can: its actives are not told, and it is not on the shelf",)
    assert record_year.applied_this_year(store, "brindle-yard", "front", DAY, base) == found.applications
    assert record_year.applied_this_year(store, "somewhere-else", "front", DAY, base) == ()


def test_a_rate_comes_from_the_record_then_from_the_amount(store: Store, base: KnowledgeBase) -> None:
    told = {"active": "quinclorac", "rate": {"value": 0.5, "unit": "lb ai/acre"}}
    own = {"name": "Mistlewick Crabgrass", "rate": {"value": 1, "unit": "lb/acre"}, "actives": [told]}
    records.keep(store, "key-of-form-1", applied(products=[own]), NOW)
    # 1.8365 oz on 5000 ft2 is 16 oz on 43560 ft2: the same 1 lb per acre by the amount alone; computed by hand.
    amount = {"name": "Mistlewick Crabgrass", "amount": {"value": 16 * 5000 / 43560, "unit": "oz"}}
    records.keep(store, "key-of-form-2", applied(products=[amount]), NOW)
    # A share of the spray needs the carrier volume.
    spot = {"name": "Mistlewick Crabgrass", "rate": {"value": 1.2, "unit": "oz/gal"}}
    records.keep(store, "key-of-form-3", applied(products=[spot]), NOW)
    found = record_year.year_so_far(store, "brindle-yard", "front", DAY, base)
    assert [item.rate.value for item in found.applications] == [0.5, pytest.approx(0.7, rel=1e-5)]
    assert "neither its rate nor its amount" in found.untold[0]
    carrier = {"value": 1, "unit": "gal/1000 ft2"}
    records.keep(store, "key-of-form-4", applied(products=[spot], carrier=carrier, area="back"), NOW)
    (last,) = record_year.applied_this_year(store, "brindle-yard", "back", DAY, base)
    # 1.2 oz on 1000 ft2 is 52.272 oz, 3.267 lb of product on an acre, 70 % of it quinclorac.
    assert last.rate.value == pytest.approx(3.267 * 0.7, rel=1e-4)


def test_the_last_application_of_each_area_is_found(store: Store) -> None:
    for number, (day, area) in enumerate([("2027-04-12", "front"), ("2027-05-20", "front"), ("2027-05-01", None)]):
        records.keep(store, f"key-of-form-{number}", applied(date=day, area=area), NOW)
    records.keep(store, "key-of-form-9", applied(date="2027-06-02"), NOW)
    records.void(store, "key-of-form-9", 1, "", "Rained off", NOW)
    found = record_year.last_applications(store, ["brindle-yard", "nowhere"])
    assert {key: item.key for key, item in found.items()} == {
        ("brindle-yard", "front"): "key-of-form-1",
        ("brindle-yard", None): "key-of-form-2",
    }


def test_a_property_with_records_is_not_removed_and_a_backup_brings_them_back(store: Store) -> None:
    records.keep(store, KEY, applied(), NOW)
    records.change(store, KEY, applied(started="08:00"), 1, "Ada", "Hour", NOW)
    with pytest.raises(InputError, match="records are kept"):
        properties.remove(store, "brindle-yard", 1)
    other = open_in_memory()
    restore_backup(other, archive_of(store, NOW), NOW)
    assert records.one(other, KEY) == records.one(store, KEY)
    assert records.history(other, KEY) == records.history(store, KEY)
    restore_backup(other, archive_of(store, NOW), NOW)
    with store.session() as session:
        session.execute(update(ApplicationRow).values(document={"date": "2027-06-02"}))
    with pytest.raises(InputError, match="holds a record of an application that cannot be used"):
        restore_backup(other, archive_of(store, NOW), NOW)
    assert records.one(other, KEY).record.started == "08:00"
    other.close()


# Amounts [fl oz] to the hundredth, as they are measured at the finest.
def _amounts(most: int) -> st.SearchStrategy[float]:
    return st.integers(0, 100 * most).map(lambda hundredths: hundredths / 100)


_STEPS = st.lists(
    st.tuples(
        st.sampled_from(["keep", "change", "void"]),
        st.integers(0, 3),
        _amounts(40),
        st.booleans(),
    ),
    max_size=14,
)


@given(start=_amounts(60), steps=_STEPS)
@settings(max_examples=80, suppress_health_check=list(HealthCheck))
def test_any_sequence_leaves_the_stock_less_what_live_records_took(start: float, steps: list[Any]) -> None:
    """Against a model: each record takes what it uses while there is as much, else what there is, and is told."""
    opened = open_in_memory()
    told = {"name": "Amine", "formulation": "SL", "rate": {"value": 1, "unit": "fl oz/1000 ft2"}}
    content = {"active": "2-4-d", "content": {"value": 3.8, "unit": "lb ae/gal"}}
    product = {**told, "actives": [content], "stock": {"value": start, "unit": "fl oz"}}
    with opened.session() as session:
        products.insert(session, [Product.model_validate(product)], NOW)
    left, taken, live, version = start, dict[str, float](), dict[str, float](), dict[str, int]()
    for what, number, value, also in steps:
        key, name = f"key-of-form-{number}", "Amine" if also else "Another"
        record = ApplicationRecord.model_validate(
            {"date": DAY, "products": [{"name": name, "amount": {"value": value, "unit": "fl oz"}}]}
        )
        used = value if also else 0.0
        if what == "keep" and key not in version:
            kept = records.keep(opened, key, record, NOW)
        elif what == "change" and key in live:
            kept = records.change(opened, key, record, version[key], "", "", NOW)
        elif what == "void" and key in live:
            kept, used = records.void(opened, key, version[key], "", "No", NOW), 0.0
        else:
            continue
        version[key] = kept.version
        same = what == "change" and live.get(key) == used and used > 0
        if not same:
            left += taken.pop(key, 0.0)
            taken[key] = min(used, left)
            left -= taken[key]
        live[key] = used
        if what == "void":
            live.pop(key)
        short = key in live and used > taken[key] * (1 + 1e-9) + 1e-9
        assert any("set to zero" in said for said in kept.stock) == short
        held = shelf.shelf_products(opened)[0].stock
        assert held is not None
        assert held.value >= 0
        assert held.value == pytest.approx(left, abs=1e-6)
        assert held.value == pytest.approx(start - sum(taken.values()), abs=1e-6)
    opened.close()
