"""`swardwright windows` and `swardwright degree-days`: text and JSON, exit codes, one sentence where it fails."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from app.engine.output import as_json
from app.services.weather import degree_days, windows
from tests.test_cli_shelf import run

DEMO = Path(__file__).parents[1] / "demo_data"
REQUEST, TABLE, DAILY = DEMO / "windows.json", DEMO / "forecast.csv", DEMO / "daily.csv"
AT = ("--at", "40.1,-83.2", "--timezone", "America/New_York")


def test_a_request_answers_what_the_service_answers(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "windows", str(REQUEST), "--json")
    assert (code, err) == (0, "")
    assert json.loads(out) == as_json(windows(json.loads(REQUEST.read_text(encoding="utf-8"))))


def test_a_table_tells_its_day_in_text(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ("windows", str(TABLE), *AT, "--active", "dicamba", "--turf", "tall-fescue")
    told = json.loads(run(capsys, *asked, "--json")[1])
    code, out, _ = run(capsys, *asked)
    assert code == 0
    joined = " ".join(out.split())
    assert told["headline"] in joined
    signs = {"open": "O", "closed": ".", "unknown": "?"}
    for day in told["days"]:
        assert f"{day['day']}: {day['words']}." in joined
        assert "|" + "".join(signs[hour["state"]] for hour in day["hours"]) + "|" in out
        for span in (*day["shut"], *day["careful"]):
            assert all(reason["text"] in joined for reason in span["reasons"])
    assert max(map(len, out.splitlines())) <= 80


def test_degree_days_in_text_and_json(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ("degree-days", str(DAILY), "--base", "10C", "--upper", "88", "--from", "2027-05-01")
    told = json.loads(run(capsys, *asked, "--json")[1])
    payload = {"csv": DAILY.read_text(encoding="utf-8"), "base_f": 50, "upper_f": 88, "from": "2027-05-01"}
    assert told == as_json(degree_days(payload))
    code, out, _ = run(capsys, *asked)
    assert code == 0
    assert told["text"] in " ".join(out.split())
    assert f"{told['total']:.1f}" in out.splitlines()[-1]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("windows", str(TABLE)), "--at: is required for a table"),
        (("windows", str(TABLE), "--at", "40.1,-83.2"), "--timezone: is required"),
        (("windows", str(TABLE), "--at", "here", "--timezone", "UTC"), "is no place"),
        (("windows", str(TABLE), "--at", "99,0", "--timezone", "UTC"), "place.latitude"),
        (("windows", str(TABLE), *AT, "--units", "imperial"), "units"),
        (("windows", str(TABLE), *AT, "--active", "salt"), "is no known active"),
        (("windows", str(REQUEST), "--active", "dicamba"), "belongs to a table"),
        (("windows", "nowhere.csv"), "cannot be read"),
        (("degree-days", str(DAILY), "--base", "warm"), "--base"),
        (("degree-days", str(DAILY), "--method", "guess"), "method"),
        (("degree-days", str(TABLE)), "no column for"),
    ],
)
def test_bad_input_is_one_sentence(capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], said: str) -> None:
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1
