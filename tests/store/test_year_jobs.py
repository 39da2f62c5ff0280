"""Jobs, situations and properties of a planned branch, on each engine."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from app.engine.errors import UnknownId
from app.store import year_jobs as kept
from app.store.opening import Store

NOW = datetime(2026, 11, 2, 9, tzinfo=UTC)
KEY, OTHER = "first-job", "other-job"
FOLDS = ("a" * 64, "b" * 64, "c" * 64)


def _place(key: str, fold: str | None) -> tuple[str, str | None, dict[str, Any]]:
    return key, fold, {"name": key}


@pytest.fixture
def filled(store: Store) -> Store:
    """Two jobs, the first with three situations and five properties, one of which has none."""
    with store.session() as session:
        for key in (KEY, OTHER):
            kept.JOBS.keep(session, key, {"asked": {}}, {"season": 2027, "state": "waiting"}, NOW)
        folds = {fold: {"number": number} for number, fold in enumerate(FOLDS)}
        places = [_place(f"place-{n}", FOLDS[n % 3]) for n in range(4)]
        kept.add(session, KEY, folds, [*places, _place("a-bare-one", None)])
        kept.add(session, OTHER, {FOLDS[0]: {"number": 9}}, [_place("place-0", FOLDS[0])])
    return store


def test_jobs_are_told_the_latest_first_and_an_unknown_one_is_said(filled: Store) -> None:
    with filled.reading() as session:
        assert [job.key for job in kept.latest(session)] == [OTHER, KEY]
        assert [job.key for job in kept.every(session)] == [KEY, OTHER]
        assert kept.one(session, KEY).season == 2027
        for key in ("no-such-job", "Not a key", "x" * 80):
            with pytest.raises(UnknownId):
                kept.one(session, key)


def test_situations_wait_in_order_and_are_counted_by_state(filled: Store) -> None:
    with filled.session() as session:
        first, *others = kept.waiting(session, KEY, 0, 10)
        assert [told["number"] for _, told in (first, *others)] == [0, 1, 2]
        assert kept.waiting(session, KEY, others[0][0], 10) == (others[1],)
        kept.settle(session, first[0], kept.PLANNED, {"plan": {"long": "text"}, "figures": {"headline": "Good"}})
        kept.settle(session, others[0][0], kept.FAILED, {"figures": {"reason": "none"}})
    with filled.reading() as session:
        assert kept.counts(session, KEY) == {kept.PLANNED: 1, kept.FAILED: 1, kept.WAITING: 1}
        assert kept.counts(session, OTHER) == {kept.WAITING: 1}
        assert kept.known_folds(session, KEY, [FOLDS[1], "d" * 64]) == {FOLDS[1]}
        assert [item.figures for item in kept.figures(session, KEY)] == [{"headline": "Good"}, {"reason": "none"}, {}]
        assert [item.fold for item in kept.figures(session, KEY, kept.FAILED)] == [FOLDS[1]]
        assert kept.figures_of(session, KEY, FOLDS[2]).figures == {}
        assert kept.whole_fold(session, KEY, FOLDS[0])["plan"] == {"long": "text"}
        with pytest.raises(UnknownId):
            kept.figures_of(session, OTHER, FOLDS[1])
    with filled.session() as session:
        assert kept.wait_again(session, KEY) == 1
        assert kept.counts(session, KEY) == {kept.PLANNED: 1, kept.WAITING: 2}


def test_properties_come_by_situation_and_figures_can_be_asked_meanwhile(filled: Store) -> None:
    with filled.reading() as session:
        told = [
            (place.fold, kept.figures_of(session, KEY, place.fold)) for place in kept.places(session, KEY) if place.fold
        ]
        assert [fold for fold, _ in told] == [FOLDS[0], FOLDS[0], FOLDS[1], FOLDS[2]]
        assert kept.places_told(session, KEY) == (5, 4)
        places, number, pages = kept.page_of_places(session, KEY, 7)
        # Those without a plan stand last, whatever they are called.
        assert [place.property for place in places] == [*(f"place-{n}" for n in range(4)), "a-bare-one"]
        assert (number, pages) == (1, 1)


def test_removing_a_job_takes_what_hangs_on_it_and_nothing_else(filled: Store) -> None:
    with filled.session() as session:
        kept.remove(session, KEY)
    with filled.reading() as session:
        assert kept.places_told(session, KEY) == (0, 0)
        assert kept.jobs_of_rows(session) == {OTHER}
        assert kept.counts(session, OTHER) == {kept.WAITING: 1}
