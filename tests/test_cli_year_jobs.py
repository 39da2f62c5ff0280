"""The commands that plan a branch: data on standard output, progress on standard error."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import pytest

from app.cli import main
from app.services import year_job_run
from app.services.year_job_lease import Holding
from app.services.year_job_run import Ways, run
from app.store.opening import open_store
from tests.benchmarks.years import fill
from tests.services import year_jobs_made as made

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A folder with made properties, planned in no time."""
    store = open_store(tmp_path)
    fill(store, 30)
    store.close()

    def quickly(holding: Holding, ways: Ways) -> str:
        return run(holding, dataclasses.replace(ways, maker=made.quick, asks=made.asks))

    monkeypatch.setattr(year_job_run, "run", quickly)
    return str(tmp_path)


def _json(capsys: Captured, *arguments: str) -> Any:
    assert main([*arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_branch_is_planned_and_told(data: str, capsys: Captured) -> None:
    plan = ("branch-year", "plan", "--season", "2027", "--visits", "2", "--processes", "1", "--data", data)
    assert main([*plan, "--json"]) == 0
    shown = capsys.readouterr()
    job = json.loads(shown.out)
    assert (job["state"], job["waiting"], job["properties"]) == ("done", 0, 30)
    # A line for how far it is, and how it is gone on with.
    assert f"{job['situations']} of {job['situations']} situations planned" in shown.err
    assert f"branch-year resume {job['id']}" in shown.err
    assert [item["id"] for item in _json(capsys, "branch-year", "list", "--data", data)["jobs"]] == [job["id"]]
    assert main(["branch-year", "status", job["id"], "--data", data]) == 0
    told = capsys.readouterr().out
    assert "properties are planned" in told
    assert "dandelion" in told
    order = _json(capsys, "branch-year", "order", job["id"], "--data", data)
    assert {need["active"] for need in order["actives"]} == {"dicamba"}
    load = _json(capsys, "branch-year", "load", job["id"], "--data", data)
    assert sum(week["visits"] for week in load["weeks"]) == 2 * job["plannable"]
    for name in ("order", "load"):
        assert main(["branch-year", name, job["id"], "--data", data, "--csv"]) == 0
        assert capsys.readouterr().out.count("\n") > 2
        assert main(["branch-year", name, job["id"], "--data", data]) == 0
        assert capsys.readouterr().out
    assert main(["branch-year", "resume", job["id"], "--data", data]) == 2
    assert "is done" in capsys.readouterr().err
    assert main(["branch-year", "cancel", job["id"], "--data", data]) == 2
    assert "nothing to cancel" in capsys.readouterr().err
    assert _json(capsys, "branch-year", "remove", job["id"], "--data", data) == {"removed": job["id"]}


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--visits", "30"), "visits.count"),
        (("--dates", "2026-04-01"), "visits.dates.0"),
        (("--visits", "2", "--catalog", "shelf"), "the shelf is empty"),
        (("--visits", "2", "--technician", "Nobody"), "finds no property"),
        (("--visits", "2", "--processes", "0"), "processes"),
        (("--visits", "2", "--budget", "-1"), "limits.budget_per_1000_ft2"),
    ],
)
def test_bad_input_is_one_sentence_and_keeps_nothing(
    data: str, capsys: Captured, more: tuple[str, ...], said: str
) -> None:
    assert main(["branch-year", "plan", "--season", "2027", *more, "--data", data]) == 2
    shown = capsys.readouterr()
    assert said in shown.err
    assert shown.out == ""
    assert _json(capsys, "branch-year", "list", "--data", data)["jobs"] == []


def test_an_unknown_job_is_said(data: str, capsys: Captured) -> None:
    for part in ("status", "cancel", "resume", "work", "order", "load", "use", "remove"):
        assert main(["branch-year", part, "no-such-job", "--data", data]) == 2
        assert "no-such-job" in capsys.readouterr().err
