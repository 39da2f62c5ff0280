"""The command line: exit codes, one sentence for bad input, one JSON document for programs."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from app.api.routes import blueprint
from app.cli import main
from app.engine.output import as_json
from app.services.advice import recommend
from tests.conftest import plain

ROOT = Path(__file__).resolve().parent.parent


def _written(tmp_path: Path, data: Any) -> str:
    path = tmp_path / "input.json"
    path.write_text(data if isinstance(data, str) else json.dumps(data), encoding="utf-8")
    return str(path)


def test_recommend_prints_the_same_document_as_the_service(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["recommend", _written(tmp_path, plain()), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == as_json(recommend(plain()))
    assert blueprint.name == "api"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (
            ["answer", "creeping charlie", "--month", "10"],
            ["ground ivy", "triclopyr", "Turned down", "label is the law"],
        ),
        (["answer", "wild voilet", "--turf", "tall-fescue", "--month", "5"], ["wild violet", "likely", "% control"]),
        (["recommend", "demo_data/crabgrass-tillered.json"], ["quinclorac", "score"]),
        (["why-not", "demo_data/wild-violet-summer.json", "--active", "dicamba"], ["not here", "[stop]"]),
        (["why-not", "demo_data/wild-violet-summer.json", "--active", "triclopyr"], ["ranks 1"]),
        (["expect", "demo_data/wild-violet-program.json"], ["Expected", "wild violet"]),
        (["knowledge", "coverage"], ["weeds", "published"]),
        (["knowledge", "check"], ["No problem found"]),
        (["knowledge", "show", "actives", "triclopyr"], ["triclopyr-tea", "sources"]),
    ],
)
def test_text_for_people(arguments: list[str], words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments) == 0
    text = capsys.readouterr().out
    for word in words:
        assert word in text
    if arguments[0] != "knowledge":
        assert max(len(line) for line in text.splitlines()) <= 80


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ("{", "not JSON at line 1"),
        ('{"a": 1, "a": 2}', "a: stands twice"),
        ('{"date": NaN}', "NaN is no JSON number"),
        ("[]", "must be a JSON object"),
        (plain(turf=["tal-fescue"]), "tall-fescue"),
        (plain(targets=[]), "targets: must name at least 1"),
        (plain(colour="green"), "colour: is not a known key"),
        (plain(date="2027-02-30"), "date: '2027-02-30' is no day of the calendar"),
        (plain(date="1850-01-01"), "the year must lie between 2000 and 2100"),
        (plain(carrier={"value": -5, "unit": "gal/acre"}), "carrier.value"),
        (plain(carrier={"value": 5, "unit": "bucket"}), "unit 'bucket' is not known"),
        (plain(carrier={"value": 5, "unit": "lb/acre"}), "does not belong here"),
        ("x" * (1024 * 1024 + 1), "larger than 1024 KiB"),
        ("[" * 100_000, "nested too deep"),
    ],
)
def test_bad_input_is_one_sentence_and_exit_code_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], data: Any, said: str
) -> None:
    assert main(["recommend", _written(tmp_path, data)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert said in printed.err
    assert len(printed.err.strip().splitlines()) == 1


@pytest.mark.parametrize(
    "arguments",
    [
        ["recommend", "nowhere.json"],
        ["answer", "zzzzzz"],
        ["answer", "dandelion", "--turf", "lawn"],
        ["answer", "dandelion", "--month", "13"],
        ["answer", "dandelion", "--stage", "heading"],
        ["knowledge", "show", "weeds", "dandelio"],
        ["knowledge", "show", "gossip", "x"],
        ["why-not", "demo_data/wild-violet-summer.json", "--active", "dicambra"],
        ["serve", "--host", "0.0.0.0"],
        ["serve", "--port", "0"],
    ],
)
def test_what_cannot_be_done_exits_2(
    arguments: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SWARDWRIGHT_PASSWORD_HASH", raising=False)
    assert main(arguments) == 2
    assert capsys.readouterr().err.startswith("swardwright: ")


def test_the_program_runs_by_itself_and_reads_standard_input() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "app", "recommend", "-", "--json", "--top", "1"],
        input=json.dumps(plain()),
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
    )
    assert len(json.loads(done.stdout)["ranked"]) == 1
    assert done.stderr == ""


def test_equal_input_gives_equal_bytes_in_another_process(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = _written(tmp_path, plain())
    assert main(["recommend", path, "--json"]) == 0
    here = capsys.readouterr().out
    command = [sys.executable, "-m", "app", "recommend", path, "--json"]
    there = subprocess.run(
        command,
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
        env={"PYTHONHASHSEED": "7", "HOME": str(tmp_path)},
    )
    assert there.stdout == here
