"""Trials kept and removed again, against the advice: nothing stays behind, no stop goes, nothing is half kept."""

from __future__ import annotations

import itertools
import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from app.engine.house import Observed
from app.engine.output import as_json
from app.services import advice, house, trials
from app.services.trial_import import confirm
from app.store import opening
from app.store import trials as kept
from app.store.opening import Store, StoreFault, open_in_memory, open_store
from tests.conftest import plain
from tests.services.trial_files import trial_sheet

ROOT = Path(__file__).parents[2]
ASKED = {"targets": [{"weed": "dandelion", "stage": "flowering"}], "date": "2027-05-20"}
NAMES = ("Ärger am Hügel", "試験 三", "Mill Field")


@pytest.fixture
def store() -> Iterator[Store]:
    made = open_in_memory()
    yield made
    made.close()


def _sheets() -> list[str]:
    return [trial_sheet(name).replace('"2,4-D",1,68', f'"2,4-D",1,{30 + 20 * i}') for i, name in enumerate(NAMES)]


def _bytes(store: Store) -> str:
    found = advice.recommend(plain(**ASKED), house=lambda weeds: house.evidence_of(store, weeds))
    return json.dumps(as_json(found), ensure_ascii=False)


def test_removed_in_any_order_each_former_answer_comes_back_to_the_byte(store: Store) -> None:
    sheets = _sheets()
    answers: dict[frozenset[int], str] = {}
    for several in itertools.chain.from_iterable(itertools.combinations(range(3), n) for n in range(4)):
        for i in several:
            confirm(store, sheets[i])
        answers[frozenset(several)] = _bytes(store)
        _remove(store, set(range(3)))
    assert len(set(answers.values())) == len(answers)
    for order in itertools.permutations(range(3)):
        left = {0, 1, 2}
        for i in reversed(order):
            confirm(store, sheets[i])
        for i in order:
            assert _bytes(store) == answers[frozenset(left)]
            _remove(store, {i})
            left.remove(i)
        assert _bytes(store) == answers[frozenset()]


def _remove(store: Store, which: set[int]) -> None:
    for item in trials.listing(store):
        if item.name in {NAMES[i] for i in which}:
            trials.remove(store, item.slug, item.version)


def _wild(active: str, weed: str = "dandelion", **changes: Any) -> Observed:
    told = {"trial": "wild", "name": "Wild", "kind": "plots", "treatment": active, "weed": weed, "active": active}
    told |= {"rate": {"value": 1.0, "unit": "lb ae/acre"}, "stage": "vegetative", "days_after": 28, "n": 400}
    return Observed.model_validate({**told, "control_pct": 100, "log_odds": 11, "variance": 1e-5, **changes})


def test_resistance_that_is_told_is_never_lifted() -> None:
    resistant = plain(targets=[{"weed": "dandelion", "stage": "vegetative", "resistant_to": ["2-4-d"]}])
    program = {"applications": [{"actives": [{"active": "2-4-d", "rate": {"value": 1.0, "unit": "lb ae/acre"}}]}]}
    asked = {"situation": resistant, "program": program, "days_after": 28}
    with_it = advice.expect(asked, house=lambda _: [_wild("2-4-d")])
    assert as_json(with_it)["control"] == as_json(advice.expect(asked))["control"]
    best = advice.recommend(resistant, house=lambda _: [_wild("2-4-d")])
    assert not any(program.actives == ("2-4-d",) for program in best.ranked)


@pytest.mark.parametrize("turf", ["st-augustinegrass", "creeping-bentgrass", "kentucky-bluegrass"])
def test_no_stop_goes_for_the_best_of_trials(turf: str) -> None:
    asked = plain(turf=[turf], targets=[{"weed": "dandelion", "stage": "vegetative"}])
    every = ("2-4-d", "dicamba", "triclopyr", "mcpp", "fluroxypyr", "glyphosate", "quinclorac")
    without = advice.recommend(asked)
    answer = advice.recommend(asked, house=lambda _: [_wild(active) for active in every])
    assert {item.actives for item in without.turned_down} <= {item.actives for item in answer.turned_down}
    barred = {item.actives[0] for item in without.turned_down if len(item.actives) == 1}
    assert not any(barred & set(program.actives) for program in answer.ranked)


def test_evidence_that_the_knowledge_base_lost_moves_nothing() -> None:
    lost = [_wild("no-such-active"), _wild("2-4-d", stage="no-such-stage"), _wild("2-4-d", form="no-such-form")]
    asked = plain(**ASKED)
    answer, without = as_json(advice.recommend(asked, house=lambda _: lost)), as_json(advice.recommend(asked))
    assert answer["ranked"] == without["ranked"]
    gone = [_wild("2-4-d", weed="no-such-weed")]
    assert as_json(advice.recommend(asked, house=lambda _: gone)) == without


def test_figures_of_other_weeds_are_passed_over(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    for sheet in _sheets():
        confirm(store, sheet)
    assert {item.weed for item in house.evidence_of(store, {"dandelion"})} == {"dandelion"}
    everything = house.evidence_of(store)
    assert [item for item in everything if item.weed == "dandelion"] == list(house.evidence_of(store, {"dandelion"}))
    read: list[object] = []
    monkeypatch.setattr(Observed, "model_validate", read.append)
    assert house.evidence_of(store, {"henbit"}) == ()
    assert read == []


def test_a_store_that_another_program_holds_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(opening, "_BUSY_MILLISECONDS", 50)
    open_store(tmp_path).close()
    with closing(sqlite3.connect(tmp_path / opening.FILE_NAME)) as held:
        held.execute("PRAGMA locking_mode = EXCLUSIVE")
        held.execute("BEGIN EXCLUSIVE")
        with pytest.raises(StoreFault, match="in use by another program: database is locked; try again"):
            open_store(tmp_path)
    open_store(tmp_path).close()


def _command(*told: str) -> list[str]:
    return [sys.executable, "-c", "import sys; from app.cli import main; sys.exit(main(sys.argv[1:]))", *told]


def test_two_that_import_the_same_file_keep_it_once(tmp_path: Path) -> None:
    file, data = tmp_path / "plots.csv", tmp_path / "data"
    file.write_text(trial_sheet(), encoding="utf-8")
    open_store(data).close()
    told = _command("trials", "import", str(file), "--confirm", "--data", str(data))
    both = [subprocess.Popen(told, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(2)]
    said = [process.communicate(timeout=120) for process in both]
    assert [process.returncode for process in both] == [0, 0], said
    assert sorted(b"1 new, 0 changed, 0 unchanged" in out for out, _ in said) == [False, True]
    with closing(open_store(data)) as store:
        assert [item.name for item in trials.listing(store)] == ["Mill Field"]


def test_killed_while_it_imports_nothing_is_half_kept(tmp_path: Path) -> None:
    data = tmp_path / "data"
    open_store(data).close()
    code = (
        "import sys, time; from pathlib import Path; from app.store import trials; from app.store.opening import "
        "open_store; from app.services.trial_import import confirm; before = trials.insert\n"
        "def slow(*told):\n    before(*told); print('written', flush=True); time.sleep(60)\n"
        "trials.insert = slow; confirm(open_store(Path(sys.argv[1])), sys.stdin.read())"
    )
    told = [sys.executable, "-c", code, str(data)]
    process = subprocess.Popen(told, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(trial_sheet())
    process.stdin.close()
    assert process.stdout.readline() == "written\n"
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    process.stdout.close()
    started = time.monotonic()
    with closing(open_store(data)) as store:
        assert trials.listing(store) == ()
        confirm(store, trial_sheet())
        with store.reading() as session:
            assert all(item.evidence for item in kept.every(session))
    assert time.monotonic() - started < 30


def test_advice_without_a_store_makes_none_and_loads_no_database(tmp_path: Path) -> None:
    (tmp_path / "asked.json").write_text(json.dumps(plain(**ASKED)))
    code = (
        "import sys; from app.cli import main; code = main(sys.argv[1:])\n"
        "heavy = {'sqlalchemy', 'alembic', 'statsmodels', 'matplotlib', 'flask'} & set(sys.modules)\n"
        "print(code, sorted(heavy), file=sys.stderr)"
    )
    for told in (["recommend", str(tmp_path / "asked.json"), "--json"], ["answer", "dandelion"]):
        command = [sys.executable, "-c", code, *told, "--data", str(tmp_path / "none")]
        found = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
        assert found.stderr.strip() == "0 []"
    assert not (tmp_path / "none").exists()
