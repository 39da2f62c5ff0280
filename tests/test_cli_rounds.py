"""`swardwright rounds`: a forecast kept, a round made, planned, printed and written down; one sentence on failure."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from app.services import properties, scouting, shelf
from app.store.opening import open_store
from tests.services.test_rounds import AREA
from tests.test_cli_shelf import run

DEMO = Path(__file__).parents[1] / "demo_data"
WEATHER = DEMO / "branch" / "forecast-july.csv"
AT = ("--at", "42.75,-77.65", "--timezone", "America/New_York", "--units", "us")


@pytest.fixture
def data(tmp_path: Path) -> Iterator[Path]:
    store = open_store(tmp_path / "kept")
    shelf.fill_demo(store)
    properties.add(store, {"name": "3 Quarry Lane", "zone": "cool-humid", "areas": [AREA]}, customer=None)
    seen = {"area": "front", "weed": "white-clover", "stage": "flowering", "cover_pct": 30, "date": "2027-07-10"}
    scouting.add_note(store, "3-quarry-lane", seen)
    store.close()
    return tmp_path / "kept"


def file(folder: Path, **more: Any) -> str:
    told = {"name": "Larkmere Tuesday", "date": "2027-07-13", "technician": "Jo Alder", "tanks": 1}
    told |= {"stops": [{"property": "3-quarry-lane", "area": "front"}], **more}
    path = folder / "round.json"
    path.write_text(json.dumps(told), encoding="utf-8")
    return str(path)


def test_a_day_from_the_forecast_to_the_record(data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    at = ("--data", str(data))
    code, out, err = run(capsys, "rounds", "forecast", str(WEATHER), *AT, "--name", "July week", *at)
    assert (code, err) == (0, "")
    assert "Kept: July week (july-week), 168 hours, 2027-07-12 to 2027-07-18" in out
    code, out, _ = run(capsys, "rounds", "make", file(tmp_path, forecast="july-week"), "--plan", *at)
    assert code == 0
    assert "1 area: tank A serves 1." in out
    assert "white clover" in out
    code, out, _ = run(capsys, "rounds", "list", *at)
    assert "Larkmere Tuesday (larkmere-tuesday), Jo Alder: 1 areas, 0 recorded" in out
    told = json.loads(run(capsys, "rounds", "show", "larkmere-tuesday", "--json", *at)[1])
    assert told["plan"]["proven"] is True
    assert told["plan"]["tanks"][0]["open_hours"]
    code, out, _ = run(capsys, "rounds", "sheet", "larkmere-tuesday", *at)
    assert code == 0
    assert "[ ] 1. 3 Quarry Lane, Front: tank A" in out
    code, out, _ = run(capsys, "rounds", "done", "larkmere-tuesday", "3-quarry-lane", "front", *at)
    assert code == 0
    assert out.startswith("Kept: record ")
    again = run(capsys, "rounds", "done", "larkmere-tuesday", "3-quarry-lane", "front", *at)
    assert again[0] == 0
    assert again[1].startswith("Stood already: record ")
    assert "1 recorded" in run(capsys, "rounds", "list", *at)[1]
    assert "3 Quarry Lane" in run(capsys, "records", "list", *at)[1]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("show", "no-such-round"), "no-such-round"),
        (("done", "no-such-round", "a", "b"), "no-such-round"),
        (("plan", "no-such-round"), "no-such-round"),
    ],
)
def test_what_is_not_kept_is_one_sentence(
    data: Path, capsys: pytest.CaptureFixture[str], asked: tuple[str, ...], said: str
) -> None:
    code, out, err = run(capsys, "rounds", *asked, "--data", str(data))
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


def test_a_round_that_is_none_is_not_kept(data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = file(tmp_path, tanks=9)
    code, _, err = run(capsys, "rounds", "make", told, "--data", str(data))
    assert code == 2
    assert "tanks" in err
    assert "No round is kept yet" in run(capsys, "rounds", "list", "--data", str(data))[1]


def test_a_forecast_without_its_place_is_not_kept(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "rounds", "forecast", str(WEATHER), "--data", str(data))
    assert code == 2
    assert "--at" in err
