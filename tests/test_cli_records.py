"""Application records on the command line."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from app.cli import main
from app.services import follow_ups, records
from app.store.opening import open_store
from tests.services.kept import KEY, NOW, applied, branch_with
from tests.services.test_follow_ups import SEEN


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    store = open_store(tmp_path)
    branch_with(store)
    records.keep(store, KEY, applied(started="07:15"), NOW)
    records.change(store, KEY, applied(started="07:40"), 1, "Ada Holm", "Wrong hour", NOW)
    follow_ups.add_follow_up(store, KEY, SEEN, NOW)
    store.close()
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = main(["records", *arguments])
    told = capsys.readouterr()
    return code, told.out, told.err


def test_the_log_is_listed(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    code, out, _ = run(capsys, "list", "--data", str(folder))
    assert code == 0
    assert f"{KEY}  2027-06-02 07:40  Brindle Yard, Front lawn: Mistlewick Crabgrass" in out
    assert "Still to be filled: customer" in out
    assert "1 record, page 1 of 1; 1 still to be filled." in out
    code, out, _ = run(capsys, "list", "--data", str(folder), "--from", "2027-06-03", "--json")
    assert json.loads(out)["total"] == 0
    assert "No record is found" in run(capsys, "list", "--data", str(folder), "--technician", "Nobody")[1]


def test_a_record_is_shown_with_history_and_ratings(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    code, out, _ = run(capsys, "show", KEY, "--data", str(folder))
    assert code == 0
    assert "by Ada Holm: Wrong hour" in out
    assert "Started: 07:15 -> 07:40" in out
    assert "Rated 2027-06-30, 28 days after: smooth-crabgrass 80 % control" in out
    code, out, _ = run(capsys, "show", KEY, "--data", str(folder), "--json")
    assert json.loads(out)["version"] == 2


def test_the_log_is_exported(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    target = folder / "records.csv"
    assert run(capsys, "export", str(target), "--data", str(folder))[0] == 0
    with target.open(encoding="utf-8-sig", newline="") as file:
        assert [row["started"] for row in csv.DictReader(file)] == ["07:40"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("list", "--from", "June"), "from: must be a day written YYYY-MM-DD"),
        (("list", "--page", "0"), "page: 0 is out of range"),
        (("show", "no-such-record"), "'no-such-record' is no record"),
        (("export", "/nowhere/at/all.csv"), "cannot be written"),
    ],
)
def test_bad_input_is_one_sentence_and_2(
    capsys: pytest.CaptureFixture[str], folder: Path, arguments: tuple[str, ...], said: str
) -> None:
    code, out, err = run(capsys, *arguments, "--data", str(folder))
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert said in err
