"""A job in the store: damaged, carried away in an archive, and brought back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import delete, select, update

from app.engine.errors import InputError
from app.services import year_job, year_job_sums
from app.services.backup import archive_of, restore_backup
from app.services.year_job_lease import Holding
from app.services.year_job_run import Ways, run
from app.store import year_jobs as kept
from app.store.models import PropertyRow, YearFoldRow, YearJobRow, YearPlaceRow
from app.store.opening import Store, open_store
from tests.services import year_jobs_made as made
from tests.services.year_jobs_made import KEY, NOW


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = made.store_with(tmp_path)
    yield opened
    opened.close()


def test_a_job_that_is_kept_damaged_says_so_and_can_be_removed(store: Store) -> None:
    with store.session() as session:
        session.execute(update(YearJobRow).values(document={"asked": {"season": "soon"}}))
    with pytest.raises(InputError, match="is damaged"):
        year_job.progress(store, KEY)
    with pytest.raises(InputError, match="is damaged"):
        made.plan_job(store)
    (told,) = year_job.listing(store)
    assert isinstance(told, str)
    assert "is damaged" in told
    year_job.remove(store, KEY)
    assert year_job.listing(store) == ()


def test_a_damaged_situation_fails_by_name_and_a_damaged_plan_is_told(store: Store) -> None:
    folded = Ways(1, maker=made.quick, asks=made.asks, told=lambda _: None)
    year_job.cancel(store, KEY)
    assert run(Holding(store, KEY), folded) == "done"
    with store.session() as session:
        first = session.scalars(select(YearFoldRow).order_by(YearFoldRow.id)).first()
        assert first is not None
        first.state, first.asked, first.document = kept.WAITING, {"areas": "none"}, {}
        session.execute(update(YearJobRow).values(state="cancelled"))
    assert run(Holding(store, KEY), folded) == "done"
    far = year_job.progress(store, KEY)
    assert far.failed == 1
    with store.session() as session:
        session.execute(update(YearFoldRow).where(YearFoldRow.state == kept.PLANNED).values(document={}))
    with pytest.raises(InputError, match="is damaged"):
        year_job_sums.summary(store, KEY)


def test_a_damaged_property_is_kept_with_its_reason(store: Store) -> None:
    with store.session() as session:
        first = session.scalars(select(PropertyRow).order_by(PropertyRow.id)).first()
        assert first is not None
        slug = first.slug
        session.execute(update(PropertyRow).where(PropertyRow.slug == slug).values(document={"zone": "nowhere"}))
    assert made.plan_job(store) == "done"
    with store.reading() as session:
        told = kept.place_of(session, KEY, slug)
    assert told.fold is None
    assert "is damaged (zone" in told.document["reasons"][0]


def test_an_archive_brings_a_job_back_and_goes_on_with_it(tmp_path: Path, store: Store) -> None:
    def told(counts: dict[str, int]) -> None:
        if counts.get(kept.PLANNED, 0) >= 3 and year_job.progress(store, KEY).going:
            year_job.cancel(store, KEY)

    run(Holding(store, KEY), Ways(1, maker=made.quick, asks=made.one_each, told=told))
    other = open_store(tmp_path / "other")
    restore_backup(other, archive_of(store, NOW), NOW)
    before, after = year_job.progress(store, KEY), year_job.progress(other, KEY)
    assert (after.planned, after.waiting, after.state) == (before.planned, before.waiting, "cancelled")
    year_job.make_ready(other, KEY)
    assert run(Holding(other, KEY), Ways(1, maker=made.quick, asks=made.one_each)) == "done"
    other.close()


@pytest.mark.parametrize(
    "spoil",
    [
        update(YearJobRow).values(state="lost"),
        update(YearFoldRow).values(document={"figures": {}, "plan": {}}),
        update(YearFoldRow).values(state="odd"),
        update(YearPlaceRow).values(document={"name": "x", "technician": "", "parts": [], "reasons": []}),
        delete(YearFoldRow),
        delete(YearJobRow),
    ],
    ids=str,
)
def test_an_archive_with_a_job_that_cannot_be_read_changes_nothing(tmp_path: Path, store: Store, spoil: Any) -> None:
    made.plan_job(store)
    with store.session() as session:
        session.execute(spoil)
    other = open_store(tmp_path / "other")
    with pytest.raises(InputError, match="plan of the branch that cannot be used"):
        restore_backup(other, archive_of(store, NOW), NOW)
    assert year_job.listing(other) == ()
    other.close()
