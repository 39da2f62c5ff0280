"""What a record must hold, and what is still to be filled of it."""

from __future__ import annotations

from typing import Any

import pytest
import yaml

from app.season.record import ApplicationRecord, Branch
from app.season.record_rules import asked_mark, gaps, known_fields, still_to_fill, value_at
from knowledge.base import KnowledgeBase
from knowledge.loader import FACTS

WHOLE: dict[str, Any] = {
    "date": "2027-06-02",
    "started": "07:45",
    "customer": "Marit Oversea",
    "customer_address": "14 Quern Street",
    "place": "14 Quern Street, Pellmere",
    "treated": {"value": 5200, "unit": "ft2"},
    "products": [{"name": "Larkmere Amine", "registration": "LKM-101", "amount": {"value": 4, "unit": "fl oz"}}],
    "applicator": "Ada Holm",
    "licence": "C-4417",
}
# US EPA, 40 CFR 171.303(b)(7), published (entry sig-rup-171 of the reference on regulation): each element of the
# list, and the fields of a record that hold it.
ELEMENTS = {
    "customer name and address": ["customer", "customer_address"],
    "location": ["place"],
    "size of area": ["treated"],
    "time and date": ["date", "started"],
    "product name": ["products.name"],
    "EPA registration number": ["products.registration"],
    "total amount per location": ["products.amount"],
    "applicator name and certification number, and any supervised applicator": [
        *("applicator", "licence", "supervisor_licence"),
    ],
}


def record(**changes: Any) -> ApplicationRecord:
    return ApplicationRecord.model_validate({**WHOLE, **changes})


def test_the_usual_fields_are_those_of_the_federal_rule(base: KnowledgeBase) -> None:
    usual = {item.field for item in base.records.values() if item.asked == "usual"}
    assert usual == {field for fields in ELEMENTS.values() for field in fields}
    assert all(item.basis == "published" for item in base.records.values() if item.asked == "usual")


def test_every_field_of_the_facts_is_a_field_of_a_record(base: KnowledgeBase) -> None:
    for field in known_fields(base):
        path = field.replace("products.", "products.0.")
        head = path.split(".")[0]
        assert head in ApplicationRecord.model_fields
        value_at(record(), path)
    told = yaml.safe_load((FACTS / "records.yaml").read_text(encoding="utf-8"))
    assert len({item["field"] for item in told}) == len(told)


def test_a_whole_record_lacks_nothing(base: KnowledgeBase) -> None:
    assert gaps(base, Branch(), record()) == ()


@pytest.mark.parametrize("field", ["started", "customer", "customer_address", "place", "applicator", "licence"])
def test_each_field_that_is_empty_is_told(base: KnowledgeBase, field: str) -> None:
    assert [gap.path for gap in gaps(base, Branch(), record(**{field: ""}))] == [field]


def test_each_product_needs_its_own(base: KnowledgeBase) -> None:
    products = [*WHOLE["products"], {"name": "Mistlewick Crabgrass"}]
    found = gaps(base, Branch(), record(products=products))
    assert [gap.path for gap in found] == ["products.1.registration", "products.1.amount"]
    said = "Still to be filled: registration number of Mistlewick Crabgrass, total amount of Mistlewick Crabgrass."
    assert still_to_fill(found) == said


def test_who_is_supervised_names_the_number_of_who_supervises(base: KnowledgeBase) -> None:
    supervised = record(licence="", supervisor="Ada Holm")
    assert [gap.path for gap in gaps(base, Branch(), supervised)] == ["supervisor_licence"]
    assert gaps(base, Branch(), record(licence="", supervisor="Ada Holm", supervisor_licence="C-4417")) == ()


def test_a_branch_asks_for_more_and_a_calm_is_told(base: KnowledgeBase) -> None:
    branch = Branch(required=("weather.wind_mph", "targets", "no.such.field"), extra=("Work order",))
    told = [gap.path for gap in gaps(base, branch, record())]
    assert told == ["targets", "weather.wind_mph", "extra.Work order"]
    filled = record(
        weather={"wind_mph": 0}, targets=[{"weed": "dandelion"}], extra={"Work order": "WO-1", "Old field": "x"}
    )
    assert gaps(base, branch, filled) == ()
    assert [gap.path for gap in gaps(base, branch, record(extra={"Work order": "  "}))][-1] == "extra.Work order"


def test_nothing_is_asked_of_a_void_record(base: KnowledgeBase) -> None:
    assert gaps(base, Branch(extra=("Work order",)), record(started="", void="Rained off")) == ()


def test_the_mark_of_what_is_asked_changes_with_it_alone(base: KnowledgeBase) -> None:
    plain = asked_mark(base, Branch())
    assert asked_mark(base, Branch(name="Pellmere", technicians=())) == plain
    assert asked_mark(base, Branch(required=("notes",))) != plain
    assert asked_mark(base, Branch(extra=("Work order",))) != plain
    assert asked_mark(base, Branch(extra=("A", "B"))) == asked_mark(base, Branch(extra=("B", "A")))
    assert len(plain) == 16


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"started": "7:45"}, "no time of the day"),
        ({"finished": "07:00"}, "lies before the start"),
        ({"products": []}, "at least 1"),
        ({"products": [{"name": "A"}, {"name": " a "}]}, "stands twice"),
        ({"targets": [{"weed": "dandelion"}, {"weed": "dandelion"}]}, "stands twice"),
        ({"next_due": "2027-06-02"}, "must lie after"),
        ({"extra": {"x" * 81: "y"}}, "80 letters"),
        ({"date": "02/06/2027"}, "YYYY-MM-DD"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        record(**changes)
