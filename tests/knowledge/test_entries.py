"""Entries validated at the first look-up, and the snapshot that holds them."""

from __future__ import annotations

import os
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


def test_only_the_latest_snapshots_stay(few_facts: Path, tmp_path: Path) -> None:
    for number in range(6):
        old = tmp_path / f"facts-00000000000{number}.json"
        old.write_text("{}", encoding="utf-8")
        os.utime(old, (number, number))
    load(few_facts, tmp_path)
    fresh = f"facts-{load(few_facts).version}.json"
    kept = [f"facts-00000000000{number}.json" for number in (3, 4, 5)]
    assert sorted(file.name for file in tmp_path.iterdir()) == sorted([fresh, *kept])
