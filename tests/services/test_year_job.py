"""A job of planning a branch: begun, cancelled, gone on with, killed, contended for, and damaged."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select, update

from app.engine.errors import InputError, UnknownId
from app.services import properties, year_job, year_job_sums
from app.services.year_job_lease import STALE, Holding, LeaseLost, alive, utc_now
from app.services.year_job_run import Ways, processes_of, run
from app.store import year_jobs as kept
from app.store.models import PropertyRow, YearFoldRow
from app.store.opening import Store, open_store
from tests.services import year_jobs_made as made
from tests.services.year_jobs_made import KEY, NOW, WISH


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = made.store_with(tmp_path)
    yield opened
    opened.close()


def test_every_property_stands_for_a_situation_and_equal_ones_for_one(store: Store) -> None:
    assert made.plan_job(store) == "done"
    with store.reading() as session:
        places = list(kept.places(session, KEY))
        stored = {row.slug: row.document for row in _rows(session)}
    assert {place.property for place in places} == set(stored)
    folds = {fold for fold, _, _ in made.folds(store)}
    assert {place.fold for place in places if place.fold} == folds
    # What the questions of these tests ask hangs on the turf alone.
    alike = {tuple(d["areas"][0]["turf"]) for d in stored.values() if d["areas"][0]["turf"]}
    assert len(folds) == len(alike) < len(places)
    far = year_job.progress(store, KEY)
    assert (far.planned, far.waiting, far.failed, far.state) == (len(folds), 0, 0, "done")


def _rows(session: Any) -> Any:
    return session.scalars(select(PropertyRow))


def test_a_property_that_cannot_be_planned_is_kept_with_its_reason(store: Store) -> None:
    bare = {"id": "lawn", "name": "Lawn", "turf": []}
    added = properties.add(store, {"name": "Bare Ground", "zone": "cool-humid", "areas": [bare]})
    made.plan_job(store)
    with store.reading() as session:
        told = kept.place_of(session, KEY, added.slug)
    assert told.fold is None
    assert told.document["reasons"] == ["no area has its turf told"]
    found = year_job_sums.summary(store, KEY)
    assert found.unplanned >= 1
    assert found.planned + found.unplanned == 25
    assert found.reasons["No area has its turf told"] == found.unplanned


def test_what_goes_wrong_with_one_situation_is_told_by_name_and_the_others_are_planned(store: Store) -> None:
    assert made.plan_job(store, made.mistaken) == "done"
    far = year_job.progress(store, KEY)
    assert far.failed > 0
    assert far.planned > 0
    assert far.can_go_on
    reasons = {document["figures"]["reason"] for _, state, document in made.folds(store) if state == kept.FAILED}
    assert reasons == {"ZeroDivisionError: nothing by nothing"}
    # Going on plans only these again.
    before = {fold: document for fold, state, document in made.folds(store) if state == kept.PLANNED}
    year_job.make_ready(store, KEY)
    assert made.plan_job(store) == "done"
    after = {fold: document for fold, _, document in made.folds(store)}
    assert year_job.progress(store, KEY).failed == 0
    assert all(after[fold] == document for fold, document in before.items())


def test_a_situation_that_kills_its_process_fails_alone(store: Store) -> None:
    assert made.plan_job(store, made.deadly) == "done"
    found = made.folds(store)
    dead = [document["figures"]["reason"] for _, state, document in found if state == kept.FAILED]
    assert dead
    assert all("was ended from outside" in reason for reason in dead)
    with store.reading() as session:
        asked = session.scalars(select(YearFoldRow.asked).where(YearFoldRow.state == kept.FAILED)).all()
    assert {item["areas"][0]["turf"][0] for item in asked} == {"fine-fescue"}
    assert {state for _, state, _ in found} == {kept.FAILED, kept.PLANNED}


def test_a_planner_that_cannot_be_made_ready_says_why(store: Store) -> None:
    made.plan_job(store, made.unready, 1)
    assert {document["figures"]["reason"] for _, _, document in made.folds(store)} == {"LookupError: no shelf"}


def test_cancelling_lets_what_runs_end_and_going_on_plans_the_rest(store: Store) -> None:
    seen: list[int] = []

    def told(counts: dict[str, int]) -> None:
        # Several may be ready at one look.
        if counts.get(kept.PLANNED, 0) >= 3 and not seen:
            seen.append(counts[kept.PLANNED])
            year_job.cancel(store, KEY)

    ways = Ways(1, maker=made.quick, asks=made.one_each, told=told)
    assert run(Holding(store, KEY), ways) == "cancelled"
    far = year_job.progress(store, KEY)
    # One ran and one waited for it when it was cancelled.
    assert seen[0] <= far.planned <= seen[0] + 2
    assert far.waiting == far.folds - far.planned > 0
    assert far.state == "cancelled"
    assert far.can_go_on
    before = {fold: document for fold, state, document in made.folds(store) if state == kept.PLANNED}
    with store.session() as session:
        # Were they planned again, they would be planned as they are asked now.
        session.execute(update(YearFoldRow).where(YearFoldRow.state == kept.PLANNED).values(asked={}))
    year_job.make_ready(store, KEY)
    assert run(Holding(store, KEY), Ways(2, maker=made.quick, asks=made.one_each)) == "done"
    after = {fold: (state, document) for fold, state, document in made.folds(store)}
    assert all(after[fold] == (kept.PLANNED, document) for fold, document in before.items())
    assert {state for state, _ in after.values()} == {kept.PLANNED}


def test_cancelling_while_properties_are_folded_goes_on_where_it_stopped(tmp_path: Path) -> None:
    store = made.store_with(tmp_path, 250)
    asked: list[str] = []

    def asks(store: Store, found: Any, told: Any) -> Any:
        asked.extend(place.slug for place in found)
        if len(asked) == 200:
            year_job.cancel(store, KEY)
        return made.asks(store, found, told)

    assert run(Holding(store, KEY), Ways(1, maker=made.quick, asks=asks)) == "cancelled"
    assert year_job.progress(store, KEY).places == 200
    year_job.make_ready(store, KEY)
    assert run(Holding(store, KEY), Ways(1, maker=made.quick, asks=asks)) == "done"
    assert len(asked) == len(set(asked)) == year_job.progress(store, KEY).places == 250
    store.close()


def test_a_killed_worker_loses_at_most_what_it_was_working_on(tmp_path: Path) -> None:
    made.store_with(tmp_path).close()
    command = [sys.executable, "-m", "tests.services.year_jobs_made", str(tmp_path), "slow", "2"]
    worker = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    store = open_store(tmp_path)
    try:
        _until(lambda: year_job.progress(store, KEY).planned >= 4, worker)
        children = _children(worker.pid)
        worker.kill()
        worker.wait()
        far = year_job.progress(store, KEY)
        assert far.stopped
        assert far.can_go_on
        assert not far.going
        assert far.state == "running"
        assert 4 <= far.planned < far.folds
        assert far.waiting + far.planned == far.folds
        before = {fold: document for fold, state, document in made.folds(store) if state == kept.PLANNED}
        # Those that planned for it end with it.
        _until(lambda: not any(Path(f"/proc/{child}").exists() for child in children), None)
        year_job.make_ready(store, KEY)
        assert run(Holding(store, KEY), Ways(2, maker=made.quick, asks=made.one_each)) == "done"
        after = {fold: document for fold, _, document in made.folds(store)}
        assert all(after[fold] == document for fold, document in before.items())
        assert year_job.progress(store, KEY).waiting == 0
        with store.reading() as session:
            assert len(list(kept.places(session, KEY))) == 24
    finally:
        worker.kill()
        store.close()


def _until(true: Any, worker: subprocess.Popen[bytes] | None) -> None:
    for _ in range(600):
        if true():
            return
        assert worker is None or worker.poll() is None, "the worker ended by itself"
        time.sleep(0.05)
    raise AssertionError("it did not come to that in thirty seconds")


def _children(process: int) -> list[int]:
    told = Path(f"/proc/{process}/task/{process}/children")
    return [int(child) for child in told.read_text().split()] if told.exists() else []


def test_two_never_work_on_one_job(store: Store) -> None:
    first, second = Holding(store, KEY), Holding(store, KEY)
    first.take()
    with pytest.raises(InputError, match="is being planned by process"):
        second.take()
    first.end("cancelled")
    second.take()
    with pytest.raises(LeaseLost):
        first.keep(folded=True)
    assert not year_job.one(store, KEY).told.folded


def test_a_silent_worker_is_taken_over_and_can_write_no_more(store: Store) -> None:
    first = Holding(store, KEY, lambda: NOW)
    first.take()
    just_alive, silent = NOW + STALE - timedelta(seconds=1), NOW + STALE
    with pytest.raises(InputError):
        Holding(store, KEY, lambda: just_alive).take()
    second = Holding(store, KEY, lambda: silent)
    second.take()
    with pytest.raises(LeaseLost, match="taken over"):
        first.keep(lambda session: kept.remove(session, KEY))
    with pytest.raises(LeaseLost):
        first.end("done")
    assert second.keep(folded=True)
    assert year_job.one(store, KEY).told.folded


def test_a_worker_of_this_machine_that_is_gone_need_not_be_waited_for(store: Store) -> None:
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    told = Holding(store, KEY).take().lease
    assert told is not None
    assert alive(told, told.beat)
    assert not alive(told.model_copy(update={"process": gone.pid}), told.beat)
    assert alive(told.model_copy(update={"process": gone.pid, "host": "elsewhere"}), told.beat)


def test_a_beat_is_written_while_a_plan_takes_long(store: Store) -> None:
    times = iter(NOW + timedelta(seconds=4 * step) for step in range(1000))
    held = Holding(store, KEY, lambda: next(times))
    held.take()
    for _ in range(5):
        held.keep()
    lease = year_job.one(store, KEY).told.lease
    assert lease is not None
    assert lease.beat > NOW + timedelta(seconds=12)


def test_what_is_asked_of_a_branch_is_checked(store: Store) -> None:
    for wrong, path in (
        ({**WISH, "season": 1999}, "season"),
        ({**WISH, "visits": {}}, "visits.count"),
        ({**WISH, "visits": {"dates": ["2026-04-01"]}}, "visits.dates.0"),
        ({**WISH, "from": "2028-01-01"}, "from"),
        ({**WISH, "technician": "Nobody There"}, "technician"),
        ({**WISH, "search": "zzz"}, "search"),
        ({**WISH, "catalog": "shelf"}, "catalog"),
        ({**WISH, "colour": "green"}, "colour"),
    ):
        with pytest.raises(InputError) as told:
            year_job.start(store, "another-job", wrong)
        assert told.value.faults[0].path == path
    with pytest.raises(UnknownId):
        year_job.one(store, "another-job")


def test_the_same_form_sent_twice_starts_one_job(store: Store) -> None:
    again, new = year_job.start(store, KEY, {**WISH, "season": 2028})
    assert not new
    assert again.told.asked.season == 2027


def test_a_choice_of_properties_is_kept_to(store: Store) -> None:
    year_job.start(store, "search-job", {**WISH, "search": "made 1", "technician": "Ada Holm"})
    assert run(Holding(store, "search-job"), Ways(1, maker=made.quick, asks=made.asks)) == "done"
    with store.reading() as session:
        names = [place.document["name"] for place in kept.places(session, "search-job")]
        who = {place.document["technician"] for place in kept.places(session, "search-job")}
    assert names
    assert all("1" in name for name in names)
    assert who == {"Ada Holm"}


def test_what_runs_or_is_done_is_not_gone_on_with_or_cancelled(store: Store) -> None:
    held = Holding(store, KEY)
    held.take()
    with pytest.raises(InputError, match="worked on already"):
        year_job.make_ready(store, KEY)
    with pytest.raises(InputError, match="cancel it first"):
        year_job.remove(store, KEY)
    assert year_job.cancel(store, KEY).stopping
    held.end("cancelled")
    assert made.plan_job(store) == "done"
    with pytest.raises(InputError, match="nothing to cancel"):
        year_job.cancel(store, KEY)
    with pytest.raises(InputError, match="is done"):
        year_job.make_ready(store, KEY)
    with pytest.raises(InputError, match="is done"):
        Holding(store, KEY).take()


def test_a_job_just_started_is_about_to_be_worked_on_and_later_can_be_gone_on_with(store: Store) -> None:
    assert year_job.progress(store, KEY, NOW).going
    later = year_job.progress(store, KEY, NOW + STALE)
    assert not later.going
    assert later.can_go_on


@pytest.mark.parametrize(("told", "wrong"), [("0", True), ("65", True), ("many", True), ("3", False)])
def test_the_number_of_processes_is_a_setting(monkeypatch: pytest.MonkeyPatch, told: str, wrong: bool) -> None:
    monkeypatch.setenv("SWARDWRIGHT_PROCESSES", told)
    if wrong:
        with pytest.raises(InputError):
            processes_of()
    else:
        assert processes_of() == 3
        assert processes_of(2) == 2
    monkeypatch.delenv("SWARDWRIGHT_PROCESSES")
    assert processes_of() == min(os.cpu_count() or 1, 64)


def test_an_interrupted_job_is_cancelled(store: Store) -> None:
    def told(counts: dict[str, int]) -> None:
        os.kill(os.getpid(), signal.SIGINT)

    with pytest.raises(KeyboardInterrupt):
        run(Holding(store, KEY), Ways(1, maker=made.quick, asks=made.asks, told=told))
    assert year_job.progress(store, KEY, utc_now()).state == "cancelled"
