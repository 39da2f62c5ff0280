"""Loading: every fault at once, and snapshots that are never stale."""

from __future__ import annotations

from pathlib import Path

import pytest

from knowledge.loader import digest, fact_files, load
from knowledge.reader import KnowledgeError


def test_the_shipped_facts_hold_no_problem() -> None:
    base = load()
    assert len(base.weeds) >= 30
    assert len(base.actives) >= 40
    assert len(base.turf) == 17


def test_a_snapshot_gives_the_same_base(few_facts: Path, tmp_path: Path) -> None:
    fresh = load(few_facts, tmp_path)
    assert list(tmp_path.glob("facts-*.json"))
    assert load(few_facts, tmp_path) == fresh


def test_a_damaged_snapshot_is_not_used(few_facts: Path, tmp_path: Path) -> None:
    fresh = load(few_facts, tmp_path)
    next(tmp_path.glob("facts-*.json")).write_text('{"weeds": ', encoding="utf-8")
    assert load(few_facts, tmp_path) == fresh


def test_a_snapshot_folder_that_cannot_be_written_does_no_harm(few_facts: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "a-file"
    blocked.write_text("", encoding="utf-8")
    assert load(few_facts, blocked).version == digest(few_facts, fact_files(few_facts))


def test_the_version_follows_the_text(facts: Path) -> None:
    before = digest(facts, fact_files(facts))
    with (facts / "parameters.yaml").open("a", encoding="utf-8") as file:
        file.write("# a remark\n")
    assert digest(facts, fact_files(facts)) != before


def test_a_stem_that_differs_from_the_id_is_reported(facts: Path) -> None:
    (facts / "weeds" / "dandelion.yaml").rename(facts / "weeds" / "puffball.yaml")
    with pytest.raises(KnowledgeError, match="make them equal"):
        load(facts)


def test_a_folder_of_no_known_kind_is_reported(facts: Path) -> None:
    (facts / "gossip").mkdir()
    (facts / "gossip" / "a.yaml").write_text("id: a\n", encoding="utf-8")
    with pytest.raises(KnowledgeError, match="is not a kind of fact"):
        load(facts)


def test_every_fault_is_reported_at_once(facts: Path) -> None:
    weed = facts / "weeds" / "dandelion.yaml"
    weed.write_text(weed.read_text(encoding="utf-8").replace("eppo: ", "eppo: x", 1) + "surplus: 1\n", encoding="utf-8")
    turf = facts / "turf" / "tall-fescue.yaml"
    turf.write_text(turf.read_text(encoding="utf-8").replace("season: cool-season", "season: wet", 1), encoding="utf-8")
    with pytest.raises(KnowledgeError) as caught:
        load(facts)
    places = {f"{problem.file}:{problem.path}" for problem in caught.value.problems}
    assert {"weeds/dandelion.yaml:eppo", "weeds/dandelion.yaml:surplus", "turf/tall-fescue.yaml:season"} <= places
