"""The log of records: pages, what is asked of it, and the file for spreadsheets."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from datetime import timedelta

import pytest

from app.engine.errors import InputError
from app.services import branch, records
from app.services.record_answers import log_asked
from app.services.record_log import PAGE, LogAsked, log, log_csv
from app.services.validation import validated
from app.store.opening import Store, open_in_memory
from tests.services.kept import BRANCH, DAY, KEY, NOW, applied, branch_with


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    branch_with(opened)
    yield opened
    opened.close()


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_the_log_comes_in_pages_that_hold_every_record_once(store: Store) -> None:
    for number in range(PAGE + 3):
        records.keep(store, f"key-of-form-{number:03d}", applied(date=f"{DAY - timedelta(days=number)}"), NOW)
    pages = [log(store, LogAsked(page=number)) for number in (1, 2)]
    assert [(item.total, item.pages, item.page) for item in pages] == [(PAGE + 3, 2, 1), (PAGE + 3, 2, 2)]
    keys = [item.key for page in pages for item in page.records]
    assert keys == [f"key-of-form-{number:03d}" for number in range(PAGE + 3)]
    assert log(store, LogAsked(page=99)).page == 2
    whole = log(store, LogAsked(), whole=True)
    assert [item.key for item in whole.records] == keys[::-1]


def test_what_is_to_be_filled_comes_first_where_that_is_asked(store: Store) -> None:
    told = {"customer": "A", "customer_address": "B", "place": "C", "applicator": "D", "licence": "E"}
    product = {"name": "P", "registration": "1", "amount": {"value": 1, "unit": "oz"}}
    whole = applied(date="2027-06-02", started="07:00", products=[product], **told)
    records.keep(store, "key-of-form-1", whole, NOW)
    records.keep(store, "key-of-form-2", applied(date="2027-05-01"), NOW)
    found = log(store, LogAsked(), unfinished_first=True)
    assert [item.key for item in found.records] == ["key-of-form-2", "key-of-form-1"]
    assert (found.total, found.unfinished) == (2, 1)
    assert [item.key for item in log(store, LogAsked()).records] == ["key-of-form-1", "key-of-form-2"]


def test_the_file_has_a_row_a_product_and_every_field(store: Store) -> None:
    branch.change_branch(store, {**BRANCH, "extra": ["Work order", "=cmd"]}, 1)
    products = [
        {"name": "=HYPERLINK(1)", "registration": "-12", "rate": {"value": 0.1, "unit": "fl oz/1000 ft2"}},
        {"name": "Second", "amount": {"value": 2.5, "unit": "gal"}},
    ]
    told = {"notes": 'one line\nand; another, "quoted"', "extra": {"Work order": "@A1", "Older field": "x"}}
    weather = {"temp_f": 71.5, "wind_mph": 0, "wind_from": "NW"}
    records.keep(store, KEY, applied(products=products, weather=weather, **told), NOW)
    text = log_csv(store, LogAsked())
    found = rows(text)
    assert [row["product"] for row in found] == ["'=HYPERLINK(1)", "Second"]
    assert [row["registration"] for row in found] == ["'-12", ""]
    assert (found[0]["rate"], found[1]["amount"]) == ("0.1 fl oz/1000 ft2", "2.5 gal")
    assert (found[0]["product_number"], found[0]["products"], found[1]["product_number"]) == ("1", "2", "2")
    for row in found:
        assert (row["key"], row["date"], row["temp_f"], row["wind_mph"]) == (KEY, "2027-06-02", "71.5", "0")
        assert (row["treated"], row["targets"]) == ("5000 ft2", "smooth-crabgrass (1-3-tiller)")
        assert (row["Work order"], row["Older field"], row["'=cmd"]) == ("'@A1", "x", "")
        assert row["notes"].splitlines()[0] == "one line"
        assert "registration number of Second" in row["still_to_fill"]
    # Every field of a record has a column, by its own name or by those of its parts.
    parts = {"products", "adjuvant", "weather", "extra", "property", "area"}
    for field in type(applied()).model_fields:
        assert field in found[0] or field in parts


def test_a_void_record_stays_in_log_and_file(store: Store) -> None:
    records.keep(store, KEY, applied(), NOW)
    records.void(store, KEY, 1, "Ada", "Rained off", NOW)
    assert [item.record.void for item in log(store, LogAsked()).records] == ["Rained off"]
    assert rows(log_csv(store, LogAsked()))[0]["void"] == "Rained off"


def test_records_beyond_the_years_of_the_branch_are_not_deleted(store: Store) -> None:
    branch.change_branch(store, {**BRANCH, "keep_years": 2}, 1)
    records.keep(store, KEY, applied(date="2015-06-02"), NOW)
    assert log(store, LogAsked()).total == 1


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"from": "2.6.2027"}, "from"),
        ({"from": "2027-06-02", "to": "2027-06-01"}, "to"),
        ({"page": "0"}, "page"),
        ({"page": "second"}, "page"),
        ({"unfinished": "perhaps"}, "unfinished"),
        ({"property": "No Slug"}, "property"),
        ({"color": "red"}, "color"),
    ],
)
def test_what_cannot_be_asked_is_named(asked: dict[str, str], field: str) -> None:
    with pytest.raises(InputError) as told:
        log_asked(asked)
    assert [fault.path for fault in told.value.faults] == [field]


def test_what_is_left_empty_is_not_asked() -> None:
    assert log_asked({"from": "", "technician": "", "unfinished": "", "property": None}) == validated(LogAsked, {})
