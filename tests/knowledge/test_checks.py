"""Every broken fixture is found: one small change each to a sound little knowledge base.

A fixture in ``broken/`` names the change, where the problem must be reported and what it must say,
and the cross-check that is to find it (null where reading or validating the file finds it).
"""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
import yaml

from knowledge import checks
from knowledge.base import KnowledgeBase
from knowledge.checks import check
from knowledge.loader import build, fact_files, load, read_tree
from knowledge.reader import KnowledgeError, Problem

HERE = Path(__file__).parent
SOUND = HERE / "sound"
FIXTURES = sorted((HERE / "broken").glob("*.yaml"))
NAMES = [path.stem for path in FIXTURES]


def _fixture(path: Path) -> dict[str, Any]:
    return yaml.safe_load(path.read_text(encoding="utf-8"))  # type: ignore[no-any-return]


def _broken(fixture: dict[str, Any], folder: Path) -> Path:
    """A copy of the sound facts with the fixture's changes."""
    shutil.copytree(SOUND, folder)
    for edit in fixture["edits"]:
        path = folder / edit["file"]
        if edit["old"] is None:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(edit["new"], encoding="utf-8")
            continue
        text = path.read_text(encoding="utf-8")
        assert text.count(edit["old"]) == 1, "the fixture no longer fits the sound facts"
        path.write_text(text.replace(edit["old"], edit["new"]), encoding="utf-8")
    return folder


def test_the_sound_facts_are_sound() -> None:
    base = load(SOUND)
    assert set(base.weeds) == {"test-clover"}
    assert set(base.actives) == {"paperquat", "inkazone"}


def test_the_shipped_facts_hold_no_contradiction(base: KnowledgeBase) -> None:
    assert check(base) == []


@pytest.mark.parametrize("path", FIXTURES, ids=NAMES)
def test_the_problem_is_reported_with_its_place(path: Path, tmp_path: Path) -> None:
    fixture = _fixture(path)
    with pytest.raises(KnowledgeError) as caught:
        load(_broken(fixture, tmp_path / "facts"))
    found = [p for p in caught.value.problems if fixture["said"] in p.message or fixture["said"] in str(p)]
    assert found, caught.value
    assert any(p.file == fixture["file"] and (not fixture["at"] or p.path == fixture["at"]) for p in found), found


@pytest.mark.parametrize(
    ("path", "name"), [(path, name) for path in FIXTURES if (name := _fixture(path)["check"])], ids=lambda value: str(value)[-40:]
)
def test_the_check_that_is_meant_finds_it_and_no_other(path: Path, name: str, tmp_path: Path) -> None:
    fixture = _fixture(path)
    folder = _broken(fixture, tmp_path / "facts")
    records, problems = read_tree(folder, fact_files(folder))
    base, more = build(records, "made")
    assert problems + more == []
    by_check: dict[str, list[Problem]] = {f.__name__: list(f(base)) for f in checks._CHECKS}
    assert any(fixture["said"] in problem.message for problem in by_check.pop(name))
    assert [found for found in by_check.values() if found] == []


def test_every_check_has_its_broken_fixture() -> None:
    assert {f.__name__ for f in checks._CHECKS} == {name for path in FIXTURES if (name := _fixture(path)["check"])}


def test_all_problems_are_told_at_once(tmp_path: Path) -> None:
    folder = _broken(_fixture(HERE / "broken" / "a-band-that-sinks.yaml"), tmp_path / "facts")
    for name in ("a-gap-in-the-year", "a-sensitive-turf-with-a-rate"):
        for edit in _fixture(HERE / "broken" / f"{name}.yaml")["edits"]:
            path = folder / edit["file"]
            path.write_text(path.read_text(encoding="utf-8").replace(edit["old"], edit["new"]), encoding="utf-8")
    with pytest.raises(KnowledgeError) as caught:
        load(folder)
    files = {problem.file for problem in caught.value.problems}
    assert files == {"weeds/test-clover.yaml", "zones.yaml", "turf/test-fescue.yaml"}
    assert str(caught.value).count("\n") == len(caught.value.problems) - 1


def test_walking_finds_every_model_with_its_path() -> None:
    weed = load(SOUND).weeds["test-clover"]
    paths = [path for path, _ in checks.walk(weed)]
    assert {"", "recognise", "responses.0", "responses.1.sources.0", "windows.0", "season_shifts.0"} <= set(paths)
    assert len(paths) == len(set(paths))
