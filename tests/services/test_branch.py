"""Use cases of the branch. An invented one."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.errors import InputError
from app.season.record import Branch
from app.services.branch import branch, change_branch, record_fields
from app.store.changed import Changed
from app.store.opening import Store, open_in_memory

TOLD: dict[str, Any] = {
    "name": "Larkmere",
    "zone": "cool-humid",
    "timezone": "America/Chicago",
    "technicians": [{"name": "Jo Alder", "licence": "TA-1120"}],
    "required": ["weather.wind_mph"],
    "extra": ["Permit number"],
}


@pytest.fixture
def store() -> Store:
    return open_in_memory()


def test_a_branch_that_was_never_told_is_empty(store: Store) -> None:
    assert branch(store) == (Branch(), 0)


def test_it_is_told_and_changed(store: Store) -> None:
    told, version = change_branch(store, TOLD, 0)
    assert (branch(store), version) == ((told, 1), 1)
    assert change_branch(store, {**TOLD, "name": "Fennick"}, 1)[1] == 2
    assert branch(store)[0].name == "Fennick"


@pytest.mark.parametrize("version", [0, 2])
def test_the_second_is_told(store: Store, version: int) -> None:
    change_branch(store, TOLD, 0)
    with pytest.raises(Changed, match="Larkmere was changed meanwhile") as caught:
        change_branch(store, {**TOLD, "name": "Mine"}, version)
    assert caught.value.stored is not None
    assert (caught.value.stored["name"], caught.value.version) == ("Larkmere", 1)
    assert branch(store)[0].name == "Larkmere"


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"timezone": "America/Chicgo"}, "timezone"),
        ({"work_from": "18:00", "work_to": "07:00"}, "work_to"),
        ({"work_from": "7 o'clock"}, "work_from"),
        ({"zone": "nowhere"}, "zone"),
        ({"technicians": [{"name": "Jo"}, {"name": "JO"}]}, "technicians.1.name"),
        ({"required": ["wether.wind"]}, "required.0"),
        ({"required": ["sprayer", "sprayer"]}, "required.1"),
        ({"extra": ["Permit", "permit"]}, "extra.1"),
        ({"keep_years": 1}, "keep_years"),
        ({"latitude": 91}, "latitude"),
        ({"pricing": {"margin_pct": 20, "minutes_per_visit": 9, "minutes_per_1000_ft2": 1}}, "pricing.labour_per_hour"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(store: Store, told: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as caught:
        change_branch(store, {**TOLD, **told}, 0)
    assert [fault.path for fault in caught.value.faults] == [field]
    assert branch(store)[1] == 0


def test_a_wrong_time_zone_is_told_beside_the_others(store: Store) -> None:
    with pytest.raises(InputError) as caught:
        change_branch(store, {**TOLD, "timezone": "Chicago", "keep_years": 0}, 0)
    assert [fault.path for fault in caught.value.faults] == ["timezone", "keep_years"]


def test_every_field_that_may_be_required_can_be(store: Store) -> None:
    told, _ = change_branch(store, {**TOLD, "required": list(record_fields())}, 0)
    assert "weather.wind_mph" in told.required
