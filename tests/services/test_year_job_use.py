"""Plans of the branch in the years of its properties: by the property's own names, once, and never behind its back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from app.engine.errors import InputError, UnknownId
from app.services import properties, year_job, year_job_sums, year_job_use, years
from app.services.year_job_lease import Holding
from app.services.year_job_run import Ways, run
from app.store import year_jobs as kept
from app.store.opening import Store, open_store
from tests.services import year_jobs_made as made
from tests.services.year_jobs_made import KEY, WISH


def _lawn(name: str, **told: Any) -> dict[str, Any]:
    size = {"value": 5000, "unit": "ft2"}
    return {"name": name, "turf": ["tall-fescue"], "area": size, "site_use": "residential-lawn", **told}


def _property(store: Store, name: str, *areas: dict[str, Any], weeds: tuple[str, ...] = ("dandelion",)) -> str:
    slug = properties.add(store, {"name": name, "zone": "cool-humid", "areas": areas}).slug
    for number, weed in enumerate(weeds):
        first = properties.one(store, slug).property.areas[number % len(areas)].id
        properties.add_note(store, slug, {"area": first, "weed": weed, "date": "2026-07-01", "cover_pct": 10})
    return slug


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Two lawns alike, one of two unlike areas, one of two uses; planned as the app asks, by plans made by hand."""
    opened = open_store(tmp_path)
    _property(opened, "One Lane", _lawn("Lawn"))
    _property(opened, "Two Lane", _lawn("Grass", area={"value": 9000, "unit": "ft2"}))
    _property(opened, "Three Lane", _lawn("Front"), _lawn("Back", turf=["kentucky-bluegrass"]))
    pitch = _lawn("Pitch", site_use="sports-turf", area={"value": 2, "unit": "acre"})
    _property(opened, "Four Lane", _lawn("Garden"), pitch, weeds=("dandelion", "white-clover"))
    year_job.start(opened, KEY, WISH)
    assert run(Holding(opened, KEY), Ways(1, maker=made.quick)) == "done"
    yield opened
    opened.close()


def test_equal_lawns_share_a_plan_and_each_use_has_its_own(store: Store) -> None:
    with store.reading() as session:
        folds = {place.property: place.fold for place in kept.places(session, KEY)}
        parts = kept.place_of(session, KEY, "four-lane").document["parts"]
    assert folds["one-lane"] == folds["two-lane"] != folds["three-lane"]
    assert {part["site_use"] for part in parts} == {"residential-lawn", "sports-turf"}


def test_a_plan_becomes_the_chosen_version_once_under_the_names_of_the_property(store: Store) -> None:
    assert years.chosen(store, "two-lane", 2027) is None
    year_job_use.use_one(store, KEY, "two-lane")
    year_job_use.use_one(store, KEY, "two-lane")
    found = years.chosen(store, "two-lane", 2027)
    assert found is not None
    assert len(years.versions(store, "two-lane", 2027)) == 1
    assert {visit.area for visit in found.plan.visits} == {"grass"} == {area.id for area in found.asked.areas}
    assert found.asked.areas[0].area is not None
    assert found.asked.areas[0].area.value == 9000
    assert "Planned with the branch in one go." in found.note.said
    assert "dandelion" in found.note.weeds


def test_all_are_taken_over_and_of_two_uses_the_larger_is_chosen(store: Store) -> None:
    done = year_job_use.use_all(store, KEY)
    assert (sorted(done.taken), done.left) == (["four-lane", "one-lane", "three-lane", "two-lane"], {})
    found = years.chosen(store, "four-lane", 2027)
    assert found is not None
    assert (found.asked.site_use, found.number) == ("sports-turf", 1)
    assert len(years.versions(store, "four-lane", 2027)) == 2
    unlike = years.chosen(store, "three-lane", 2027)
    assert unlike is not None
    assert {visit.area for visit in unlike.plan.visits} == {"front", "back"}


def test_a_property_that_has_changed_is_left_out_and_told(store: Store) -> None:
    properties.add_note(
        store, "one-lane", {"area": "lawn", "weed": "wild-violet", "date": "2026-08-01", "cover_pct": 20}
    )
    gone = properties.one(store, "three-lane")
    properties.remove(store, "three-lane", gone.version)
    done = year_job_use.use_all(store, KEY)
    assert sorted(done.taken) == ["four-lane", "two-lane"]
    assert "has changed since it was planned" in done.left["one-lane"]
    assert "three-lane" in done.left["three-lane"]
    with pytest.raises(InputError, match="has changed"):
        year_job_use.use_one(store, KEY, "one-lane")
    assert years.chosen(store, "one-lane", 2027) is None


def test_what_was_planned_by_hand_before_stays_among_the_versions(store: Store) -> None:
    year_job_use.use_one(store, KEY, "one-lane")
    year_job.start(store, "second-job", {**WISH, "visits": {"count": 3}})
    run(Holding(store, "second-job"), Ways(1, maker=made.quick))
    year_job_use.use_one(store, "second-job", "one-lane")
    assert [brief.chosen for brief in years.versions(store, "one-lane", 2027)] == [False, True]


def test_the_same_reason_of_several_properties_is_counted_once(store: Store) -> None:
    for name in ("Bare Lane", "Bald Lane"):
        _property(store, name, _lawn("Ground", turf=[]), weeds=())
    year_job.start(store, "bare-job", {**WISH, "search": "ba"})
    run(Holding(store, "bare-job"), Ways(1, maker=made.quick))
    found = year_job_sums.summary(store, "bare-job")
    assert list(found.reasons.values()) == [2]
    assert next(iter(found.reasons)).startswith("It has no area with its turf")


def test_what_has_no_plan_says_why(store: Store) -> None:
    _property(store, "Bare Lane", _lawn("Ground", turf=[]), weeds=())
    year_job.start(store, "third-job", WISH)
    run(Holding(store, "third-job"), Ways(1, maker=made.mistaken))
    with pytest.raises(InputError, match="is not planned: Bare Lane has no area with its turf"):
        year_job_use.plans_of(store, "third-job", "bare-lane")
    with pytest.raises(UnknownId):
        year_job_use.plans_of(store, KEY, "bare-lane")
    year_job.start(store, "fourth-job", WISH)
    with pytest.raises(UnknownId):
        year_job_use.use_one(store, "fourth-job", "one-lane")
    run(Holding(store, "fourth-job"), Ways(1, maker=made.unready))
    with pytest.raises(InputError, match="LookupError"):
        year_job_use.use_one(store, "fourth-job", "one-lane")
