"""The command that compares sides: text for people, one document for programs, one sentence for bad input."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from app.cli import main
from app.services.shelf import fill_demo
from app.store.opening import open_store
from app.web import create_app
from tests.conftest import plain

MIXTURES = [{"mixture": "2-4-d-mecoprop-p-dicamba"}, {"mixture": "2-4-d-triclopyr"}]


def _written(tmp_path: Path, data: Any) -> str:
    path = tmp_path / "sides.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return str(path)


def test_it_prints_the_document_of_the_api(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = {"situation": plain(), "sides": MIXTURES}
    assert main(["side-by-side", _written(tmp_path, asked), "--json"]) == 0
    client = create_app(allowed_hosts=frozenset({"localhost"}), testing=True).test_client()
    answered = client.post("/api/v1/side-by-side", json=asked)
    assert json.loads(capsys.readouterr().out) == answered.get_json()


def test_it_prints_text_of_eighty_columns(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["side-by-side", "demo_data/side-by-side-four.json"]) == 0
    text = capsys.readouterr().out
    for words in ("A may not be used here", "Differences, the most important first", "Before you spray", "[stop]"):
        assert words in text
    # Ids of sources are copied whole, so a line that holds one may be longer.
    assert all(len(line) <= 80 for line in text.splitlines() if "[" not in line)


def test_ids_are_looked_up_on_the_shelf_of_the_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    store = open_store(tmp_path / "data")
    fill_demo(store)
    store.close()
    sides = [{"products": [{"id": "larkmere-three", "at": "high"}]}, MIXTURES[1]]
    asked = _written(tmp_path, {"situation": plain(), "sides": sides})
    assert main(["side-by-side", asked, "--data", str(tmp_path / "data")]) == 0
    assert "Larkmere Three (SL), 4 pt/acre" in capsys.readouterr().out


def test_bad_input_is_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = _written(tmp_path, {"situation": plain(), "sides": [MIXTURES[0], {"mixture": "2-4-d-nothing"}]})
    assert main(["side-by-side", asked]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "sides.1.mixture: '2-4-d-nothing' is no known mixture; nearest:" in told.err
    assert len(told.err.strip().splitlines()) == 1
