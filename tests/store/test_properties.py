"""Properties, customers, notes and the branch in the store, on both engines. Invented places."""

from __future__ import annotations

import json
import time
from datetime import date
from typing import Any

import pytest
from sqlalchemy import event

from app.engine.errors import InputError
from app.services.backup import counted, restore_backup
from app.store import properties
from app.store.changed import Changed
from app.store.models import ApplicationRow
from app.store.named import Stored
from app.store.names import place_key
from app.store.opening import Store, open_in_memory
from app.store.restoring import restore
from tests.store.test_archive import holding, rows_of, written
from tests.store.test_products import LATER, NOW

# [s] of one page of 5,000 properties on a machine that does other things besides; it takes a tenth of it by itself.
_A_PAGE = 3.0


def put(store: Store, name: str, **told: Any) -> Stored:
    """A property by its name, with what it is found by."""
    customer, technician, address = (told.get(key, "") for key in ("customer", "technician", "address"))
    columns = {
        "customer": customer or None,
        "technician": technician,
        "ordered_by": place_key(name),
        "found_by": properties.found_by(name, address, told.get("customer_name", ""), technician),
    }
    document = {"address": address, "customer": customer or None, "technician": technician}
    with store.session() as session:
        (kept,) = properties.PROPERTIES.insert(session, [(name, document, columns)], NOW)
    return kept


def names(store: Store, text: str = "", **told: Any) -> list[str]:
    with store.reading() as session:
        return [item.name for item in properties.search(session, text, **told).items]


def test_every_word_is_found_in_any_order_and_any_case(store: Store) -> None:
    put(store, "12 Mill Lane", address="12 Mill Lane, Fennick", customer_name="Ada Fenn", technician="Jo Alder")
    put(store, "9 Élan Court", customer_name="Straße & Söhne")
    assert names(store, "FENN mill") == names(store, "alder lane 12") == names(store, "ck ada") == ["12 Mill Lane"]
    assert names(store, "éLAN") == names(store, "strasse") == ["9 Élan Court"]
    assert names(store, "mill court") == []
    # A word does not run over the end of the name into the address.
    assert names(store, "lane12") == []


@pytest.mark.parametrize("text", ["%", "_", "\\", "100%", "'", "a\0b", "\ud800"])
def test_signs_that_mean_something_to_a_database_stand_for_themselves(store: Store, text: str) -> None:
    put(store, "12 Mill Lane")
    assert names(store, text) == names(store, technician=text) == names(store, customer=text) == []


def test_streets_come_before_numbers_and_numbers_by_their_size(store: Store) -> None:
    for name in ("100 Oak Street", "9 Elm Street", "20 Oak Street", "Fennick Club", "20a Oak Street"):
        put(store, name)
    told = ["9 Elm Street", "Fennick Club", "20 Oak Street", "20a Oak Street", "100 Oak Street"]
    assert names(store) == told


def test_a_filter_keeps_to_a_technician_or_a_customer(store: Store) -> None:
    put(store, "1 Oak", technician="Jo Alder", customer="ada")
    put(store, "2 Oak", technician="Jo", customer="ada")
    put(store, "3 Oak", technician="Jo Alder")
    assert names(store, technician="Jo Alder") == ["1 Oak", "3 Oak"]
    assert names(store, customer="ada") == ["1 Oak", "2 Oak"]
    assert names(store, "2", customer="ada", technician="Jo") == ["2 Oak"]
    with store.reading() as session:
        assert properties.technicians(session) == {"Jo": 1, "Jo Alder": 2}
        assert properties.property_counts(session, ["ada", "nobody"]) == {"ada": 2}
        assert [item.slug for item in properties.properties_of(session, "ada")] == ["1-oak", "2-oak"]


def many(store: Store, count: int) -> None:
    told = [
        (
            f"{number} Oak Street",
            {"address": "", "areas": [{"id": "front", "name": "Front", "turf": ["tall-fescue"]}] * 2},
            {
                "technician": f"Technician {number % 12}",
                "ordered_by": place_key(f"{number} Oak Street"),
                "found_by": properties.found_by(f"{number} Oak Street", "", f"Customer {number // 2}", ""),
            },
        )
        for number in range(count)
    ]
    with store.session() as session:
        properties.PROPERTIES.insert(session, told, NOW)


def test_pages_hold_fifty_and_miss_nobody(store: Store) -> None:
    many(store, 120)
    seen: list[str] = []
    for number, held in ((1, 50), (2, 50), (3, 20)):
        with store.reading() as session:
            page = properties.search(session, "oak", page=number)
        assert (len(page.items), page.found, page.number, page.pages) == (held, 120, number, 3)
        seen += [item.slug for item in page.items]
    assert len(set(seen)) == 120
    with store.reading() as session:
        assert properties.search(session, page=99).number == 3
        assert properties.search(session, page=0).number == properties.search(session, page=-4).number == 1
        empty = properties.search(session, "nothing")
    assert (empty.items, empty.found, empty.number, empty.pages) == ((), 0, 1, 1)


def test_five_thousand_stay_quick_and_only_the_page_is_read(store: Store) -> None:
    many(store, 5000)
    asked = list[str]()

    @event.listens_for(store.engine, "before_cursor_execute")
    def listen(_connection: Any, _cursor: Any, statement: str, *_: Any) -> None:
        asked.append(statement)

    for words, number in (("", 1), ("", 90), ("customer 77", 1), ("nothing", 1)):
        asked.clear()
        begun = time.perf_counter()
        with store.reading() as session:
            page = properties.search(session, words, page=number)
        assert time.perf_counter() - begun < _A_PAGE
        assert len(page.items) <= properties.PAGE
        # A count, and one bounded question.
        told = [statement for statement in asked if statement.startswith("SELECT")]
        assert [("count(" in text, "LIMIT" in text) for text in told] == [(True, False), (False, True)]


def test_a_renamed_customer_is_found_by_the_new_name_and_nothing_else_changes(store: Store) -> None:
    before = put(store, "12 Mill Lane", customer="ada", customer_name="Ada Fenn")
    other = put(store, "14 Mill Lane", customer="ada-2", customer_name="Ada Fenn")
    with store.session() as session:
        properties.renamed_customer(session, "ada", "Ada Birch")
    assert names(store, "birch") == ["12 Mill Lane"]
    assert names(store, "fenn") == ["14 Mill Lane"]
    with store.reading() as session:
        assert properties.PROPERTIES.by_slug(session, before.slug) == before
        assert properties.PROPERTIES.by_slug(session, other.slug) == other


def test_many_are_changed_together_or_not_at_all(store: Store) -> None:
    first, second = put(store, "1 Oak"), put(store, "2 Oak")
    told = [(item.slug, item.name, {"notes": "new"}, item.version, {}) for item in (first, second)]
    with store.session() as session:
        properties.PROPERTIES.update_all(session, told, LATER)
    with store.reading() as session:
        now = properties.PROPERTIES.every(session)
    assert [(item.document, item.version) for item in now] == [({"notes": "new"}, 2), ({"notes": "new"}, 2)]
    stale = [(item.slug, item.name, {"notes": "mine"}, version, {}) for item, version in ((first, 2), (second, 1))]
    with pytest.raises(Changed) as caught, store.session() as session:
        properties.PROPERTIES.update_all(session, stale, LATER)
    assert (caught.value.key, caught.value.version) == ("2-oak", 2)
    gone = [("not-there", "Not there", {}, 1, {})]
    with pytest.raises(Changed, match="removed"), store.session() as session:
        properties.PROPERTIES.update_all(session, gone, LATER)
    taken = [(first.slug, "2 OAK", {}, 2, {})]
    with pytest.raises(InputError, match="is the name of another property"), store.session() as session:
        properties.PROPERTIES.update_all(session, taken, LATER)
    with store.reading() as session:
        assert properties.PROPERTIES.every(session) == now


def note(store: Store, key: str, place: str, day: date, **told: Any) -> None:
    document = {"property": place, "area": "front", "weed": "dandelion", "date": day.isoformat(), **told}
    with store.session() as session:
        properties.NOTES.keep(session, key, document, {"property": place, "day": day}, NOW)


def test_notes_come_by_property_the_latest_first(store: Store) -> None:
    note(store, "aaaaaaaa", "one", date(2027, 6, 1))
    note(store, "bbbbbbbb", "one", date(2027, 6, 9))
    note(store, "cccccccc", "two", date(2027, 6, 5))
    with store.reading() as session:
        found = properties.notes_of(session, ["one", "two", "three"])
        assert [item.key for item in properties.every_note(session)] == ["aaaaaaaa", "bbbbbbbb", "cccccccc"]
    assert {key: [item.key for item in told] for key, told in found.items()} == {
        "one": ["bbbbbbbb", "aaaaaaaa"],
        "two": ["cccccccc"],
    }
    with store.session() as session:
        assert properties.forget_notes(session, "one") == 2
    with store.reading() as session:
        assert [item.key for item in properties.every_note(session)] == ["cccccccc"]


def test_records_on_a_property_are_counted(store: Store) -> None:
    with store.session() as session:
        for number, place in enumerate(("one", "one", None)):
            session.add(
                ApplicationRow(
                    key=f"record-{number}",
                    property=place,
                    day=date(2027, 6, 1),
                    applicator="",
                    void=False,
                    unfinished=False,
                    asked="",
                    stock={},
                    document={},
                    changed_at=NOW,
                )
            )
    with store.reading() as session:
        assert [properties.records_on(session, slug) for slug in ("one", "two")] == [2, 0]


def test_an_id_hides_no_page(store: Store) -> None:
    assert [put(store, name).slug for name in ("New", "Import", "Template")] == ["new-1", "import-1", "template-1"]


def filled(store: Store) -> None:
    put(store, "12 Mill Lane", customer="ada-fenn", customer_name="Ada Fenn")
    note(store, "aaaaaaaa", "12-mill-lane", date(2027, 6, 1))
    with store.session() as session:
        properties.CUSTOMERS.insert(session, [("Ada Fenn", {"phone": "555"}, {})], NOW)
        properties.BRANCH.insert(session, [("branch", {"name": "Larkmere"}, {})], NOW)


def everything(store: Store) -> list[Any]:
    with store.reading() as session:
        named = (properties.CUSTOMERS, properties.PROPERTIES, properties.BRANCH)
        return [*(kind.every(session) for kind in named), properties.every_note(session)]


def test_all_of_it_goes_through_an_archive_and_back(store: Store) -> None:
    filled(store)
    other = open_in_memory()
    counts = restore(other, written(store))
    assert {name: counts[name] for name in ("customer", "property", "branch", "scouting")} == dict.fromkeys(
        ("customer", "property", "branch", "scouting"), 1
    )
    assert everything(other) == everything(store)
    restore(store, written(other))
    assert everything(store) == everything(other)
    assert names(store, "fenn mill") == ["12 Mill Lane"]


def test_what_was_restored_is_told_in_words() -> None:
    counts = {"customer": 2, "property": 2, "scouting": 3, "branch": 1, "application_change": 2, "follow_up": 0}
    assert counted(counts) == "2 customers, 2 properties, 3 scouting notes, 1 branch and 2 changes of a record"
    assert counted({"branch": 2, "application": 1}) == "2 branches and 1 application record"


def with_one(data: bytes, table: str, **told: object) -> bytes:
    """An archive whose first row of a table is another."""
    first, *others = rows_of(data, table)
    return holding(data, **{table: "".join(json.dumps(row) + "\n" for row in ({**first, **told}, *others)).encode()})


@pytest.mark.parametrize(
    ("table", "document", "said"),
    [
        ("customer", {"phone": 7}, "customer that cannot be used"),
        ("property", {"zone": "nowhere"}, "property that cannot be used"),
        ("property", {"areas": [{"id": "a", "name": "A"}] * 2}, "property that cannot be used"),
        ("scouting", {"weed": "dandelion"}, "scouting note that cannot be used"),
        ("branch", {"keep_years": 0}, "branch that cannot be used"),
    ],
)
def test_what_cannot_be_read_back_is_refused(store: Store, table: str, document: object, said: str) -> None:
    filled(store)
    before = everything(store)
    with pytest.raises(InputError, match=said):
        restore_backup(store, with_one(written(store), table, document=document), NOW)
    assert everything(store) == before
