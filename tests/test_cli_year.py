"""`swardwright year`: text for people, one document for programs, one sentence for bad input."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path
from typing import Any

import pytest

from app.engine.output import as_json
from app.services.shelf import fill_demo
from app.services.year import plan, plan_with_scenarios
from app.store.opening import open_store
from app.year_text import scenarios_text, year_text
from tests.season.asked_year import SMALL, plain_year
from tests.test_cli_shelf import run


def written(tmp_path: Path, data: Any) -> str:
    path = tmp_path / "year.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return str(path)


def test_it_prints_what_the_service_answers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = written(tmp_path, SMALL)
    code, out, err = run(capsys, "year", asked, "--json")
    assert (code, err) == (0, "")
    assert json.loads(out) == as_json(plan(SMALL))
    code, out, err = run(capsys, "year", asked)
    assert (code, err) == (0, "")
    assert out == year_text(plan(SMALL))


def test_scenarios_are_asked_by_an_option(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = written(tmp_path, SMALL)
    code, out, _ = run(capsys, "year", asked, "--scenarios", "--json")
    found = plan_with_scenarios(SMALL)
    assert code == 0
    assert json.loads(out) == as_json(found)
    code, out, _ = run(capsys, "year", asked, "--scenarios")
    assert (code, out) == (0, scenarios_text(found))


def test_it_reads_standard_input(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(json.dumps(SMALL).encode())))
    code, out, _ = run(capsys, "year", "-", "--json")
    assert code == 0
    assert json.loads(out)["year"] == 2027


def test_it_plans_with_the_shelf_of_the_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = written(tmp_path, {**SMALL, "catalog": "shelf"})
    code, out, err = run(capsys, "year", asked, "--data", str(tmp_path / "data"))
    assert (code, out) == (2, "")
    assert "catalog: the shelf holds no herbicide yet" in err
    store = open_store(tmp_path / "data")
    fill_demo(store)
    store.close()
    code, out, _ = run(capsys, "year", asked, "--data", str(tmp_path / "data"), "--json")
    assert code == 0
    assert json.loads(out)["visits"]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"visits": {"count": 2, "dates": ["2027-04-01"]}}, "visits.count: is 2, but 1 dates are told"),
        ({"visits": {"dates": ["2027-05-01", "2027-04-01"]}}, "visits.dates.1: must lie after the date before it"),
        ({"year": 1066}, "year: 1066 is out of range"),
        ({"limits": {"budget_per_1000_ft2": -1}}, "limits.budget_per_1000_ft2: -1 is out of range"),
        ({"limits": {"budget_per_1000_ft2": 4}}, "limits.budget_per_1000_ft2: needs prices, and generic actives have"),
        ({"weeds": [{"weed": "crabgras"}]}, "weeds.0.weed: 'crabgras' is no known weed; nearest: "),
        (
            {"locks": [{"visit": 1, "actives": ["prodiamin"]}]},
            "locks.0.actives.0: 'prodiamin' is no known active; nearest: ",
        ),
        ({"from": "2027-02-30"}, "from: '2027-02-30' is no day of the calendar"),
    ],
)
def test_bad_input_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], changes: dict[str, Any], said: str
) -> None:
    code, out, err = run(capsys, "year", written(tmp_path, plain_year(**changes)))
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


def test_a_file_that_is_not_there_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "year", "nowhere.json")
    assert (code, out) == (2, "")
    assert "nowhere.json cannot be read" in err
