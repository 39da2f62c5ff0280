"""Entries validated at the first look-up, and the snapshot that holds them."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import BaseModel, ValidationError

from knowledge.entries import LazyEntries
from knowledge.loader import load


class Small(BaseModel):
    value: int


def test_an_entry_is_read_when_it_is_looked_up_and_only_once() -> None:
    entries = LazyEntries(Small, {"good": '{"value": 1}', "bad": '{"value": "x"}'})
    assert list(entries) == ["good", "bad"]
    assert len(entries) == 2
    assert "bad" in entries
    assert "other" not in entries
    assert entries["good"] is entries["good"]
    with pytest.raises(ValidationError):
        entries["bad"]
    with pytest.raises(KeyError):
        entries["other"]


def test_it_is_equal_to_any_mapping_of_the_same_entries() -> None:
    entries = LazyEntries(Small, {"a": '{"value": 1}'})
    assert entries == {"a": Small(value=1)}
    assert entries != {"a": Small(value=2)}


def test_the_names_of_a_snapshot_are_those_of_its_weeds(few_facts: Path, tmp_path: Path) -> None:
    fresh = load(few_facts, tmp_path)
    again = load(few_facts, tmp_path)
    assert isinstance(again.weeds, LazyEntries)
    assert again.weed_names == fresh.weed_names
    assert again.weed_names["dandelion"].name == again.weeds["dandelion"].name


def test_a_snapshot_changed_in_one_place_is_not_used(few_facts: Path, tmp_path: Path) -> None:
    fresh = load(few_facts, tmp_path)
    file = next(tmp_path.glob("facts-*.json"))
    body = file.read_bytes()
    file.write_bytes(body.replace(b"dandelion", b"dandelio_", 1))
    assert load(few_facts, tmp_path) == fresh


def test_a_snapshot_of_other_facts_is_removed_when_a_new_one_is_written(few_facts: Path, tmp_path: Path) -> None:
    (tmp_path / "facts-000000000000.json").write_text("{}", encoding="utf-8")
    load(few_facts, tmp_path)
    assert [file.name for file in tmp_path.iterdir()] == [f"facts-{load(few_facts).version}.json"]
