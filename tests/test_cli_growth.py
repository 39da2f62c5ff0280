"""`swardwright stage-on` and `swardwright emergence`: text and JSON, exit codes, one sentence where it fails."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from app.engine.output import as_json
from app.season.forecast import Day
from app.services.forecast_csv import read_days
from app.services.growth import emergence, stage_on
from tests.test_cli_shelf import run

SPRING = str(Path(__file__).parents[1] / "demo_data" / "daily-spring.csv")
NOTE = ("stage-on", "smooth crabgrass", "1-3-leaf", "2027-04-28", "2027-05-12")


def days() -> tuple[Day, ...]:
    return read_days(Path(SPRING).read_text(encoding="utf-8")).days


def test_stage_on_is_what_the_service_answers(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, *NOTE, "--zone", "transition", "--daily", SPRING, "--json")
    assert (code, err) == (0, "")
    asked = {"weed": "smooth-crabgrass", "stage": "1-3-leaf", "scouted": "2027-04-28", "on": "2027-05-12"}
    assert json.loads(out) == as_json(stage_on({**asked, "zone": "transition", "daily": days()}))


def test_stage_on_tells_people(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, *NOTE)
    told = " ".join(out.split())
    assert code == 0
    assert told.startswith("Smooth crabgrass: 1 to 3 leaves on 28 April; ")
    assert "expected on 12 May" in told
    assert "[note] With a temperature for each day" in told


def test_emergence_is_what_the_service_answers(capsys: pytest.CaptureFixture[str]) -> None:
    words = ("emergence", SPRING, "--weed", "smooth crabgrass", "--weed", "goosegrass", "--zone", "cool-humid")
    code, out, err = run(capsys, *words, "--today", "2027-05-10", "--soil-depth", "2", "--json")
    assert (code, err) == (0, "")
    asked = {"daily": days(), "weeds": ["smooth-crabgrass", "goosegrass"], "zone": "cool-humid"}
    assert json.loads(out) == as_json(emergence({**asked, "today": "2027-05-10", "soil_depth_in": 2.0}))


def test_emergence_tells_people(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "emergence", SPRING, "--today", "2027-05-10")
    assert code == 0
    found = emergence({"daily": days(), "today": "2027-05-10"})
    told = " ".join(out.split())
    for weed in found.weeds:
        assert weed.text in told
        assert all(f"[{event.status}] {event.text}" in told for event in weed.events)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((*NOTE[:4], "2027-04-01"), "on: 2027-04-01 lies before the day of scouting, 2027-04-28"),
        ((*NOTE, "--daily", "nowhere.csv"), "nowhere.csv cannot be read"),
        ((*NOTE, "--zone", "north"), "zone: 'north' is not one of"),
        (("emergence", SPRING, "--soil-depth", "deep"), "--soil-depth: 'deep' is no depth"),
        (("emergence", SPRING, "--today", "soon"), "today: must be a day written YYYY-MM-DD"),
        (("emergence", SPRING, "--weed", "xqzw"), "xqzw"),
    ],
)
def test_bad_input_is_one_sentence(capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str) -> None:
    code, out, err = run(capsys, *words)
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1
