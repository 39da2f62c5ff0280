"""A small part of the facts that is sound by itself, so that a test of loading need not read all of them."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from knowledge.loader import FACTS

# The weeds that interactions, growth and mechanisms name, and one more of another kind.
KEPT = (
    *("annual-bluegrass", "goosegrass", "smooth-crabgrass", "large-crabgrass", "southern-crabgrass"),
    *("barnyardgrass", "green-foxtail", "yellow-foxtail"),
    *("annual-sedge", "buckhorn-plantain", "yellow-nutsedge"),
    *("dandelion", "white-clover"),
)


@pytest.fixture(scope="session")
def few_facts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of every fact but most weeds and the printed results; not to be changed."""
    folder = tmp_path_factory.mktemp("few") / "facts"
    shutil.copytree(FACTS, folder)
    shutil.rmtree(folder / "results")
    for file in (folder / "weeds").iterdir():
        if file.stem not in KEPT:
            file.unlink()
    likely = folder / "likely.yaml"
    lines = likely.read_text(encoding="utf-8").splitlines(keepends=True)
    told = re.compile(r" +- \{weed: ([a-z0-9-]+),")
    kept = [line for line in lines if not (named := told.match(line)) or named[1] in KEPT]
    likely.write_text("".join(kept), encoding="utf-8")
    return folder


@pytest.fixture
def facts(few_facts: Path, tmp_path: Path) -> Path:
    """A copy of them to break."""
    folder = tmp_path / "facts"
    shutil.copytree(few_facts, folder)
    return folder
