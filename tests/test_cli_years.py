"""`swardwright years`: listed, planned, shown; plans are made by hand in place of the search."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from app.store.opening import open_store
from tests.services.year_kept import place_with, plans_by_hand
from tests.test_cli_shelf import run


@pytest.fixture
def at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[str, str]:
    store = open_store(tmp_path / "kept")
    place_with(store)
    store.close()
    plans_by_hand(monkeypatch)
    return ("--data", str(tmp_path / "kept"))


def test_a_year_is_planned_listed_and_shown(
    at: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, "years", "show", "12-mill-lane", "2027", *at)
    assert (code, err) == (0, "")
    assert out == "12 Mill Lane, 2027: not planned yet; plan it with `swardwright years plan 12-mill-lane 2027`.\n"
    code, out, err = run(capsys, "years", "plan", "12-mill-lane", "2027", "--visits", "3", *at)
    assert (code, err) == (0, "")
    assert "3 visits." in out
    wish = tmp_path / "wish.json"
    wish.write_text(json.dumps({"visits": {"count": 4}, "forbid": [{"actives": ["dicamba"]}]}), encoding="utf-8")
    told = json.loads(run(capsys, "years", "plan", "12-mill-lane", "2027", str(wish), "--json", *at)[1])
    assert [(item["number"], item["chosen"]) for item in told["versions"]] == [(1, False), (2, True)]
    out = run(capsys, "years", "show", "12-mill-lane", "2027", *at)[1]
    assert "2 (chosen): 70.0 of 100, 4.00 USD per 1000 ft2" in out
    code, out, _ = run(capsys, "years", "list", "2027", *at)
    assert code == 0
    assert out.startswith("2027: 1 of 1 properties planned; 1 found.\n12 Mill Lane (12-mill-lane)\n  4 visits.")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("show", "nowhere", "2027"), "nowhere"),
        (("plan", "12-mill-lane", "12"), "season"),
        (("plan", "12-mill-lane", "2027", "--visits", "99"), "visits.count"),
    ],
)
def test_bad_input_is_one_sentence_and_exit_code_2(
    at: tuple[str, str], capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str
) -> None:
    code, out, err = run(capsys, "years", *words, *at)
    assert (code, out) == (2, "")
    assert said in err
