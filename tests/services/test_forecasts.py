"""Forecasts are kept as they were told, and a change names the version it was made on."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.engine.errors import InputError, UnknownId
from app.season.forecast import Forecast
from app.services import forecasts
from app.store.changed import Changed
from app.store.opening import Store, open_store

NOW = datetime(2027, 7, 13, 20, tzinfo=UTC)
TOLD = Forecast.model_validate(
    {
        "place": "Pellmere",
        "latitude": 42.75,
        "longitude": -77.65,
        "timezone": "America/New_York",
        "hours": [
            {"start": "2027-07-14T06:00:00-04:00", "temp_f": 68, "wind_mph": 0.0},
            {"start": "2027-07-14T07:00:00-04:00", "temp_f": 71, "rh_pct": 82},
        ],
        "daily": [{"date": "2027-07-13", "min_f": 61, "max_f": 84}],
    }
)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path / "store.sqlite")
    yield opened
    opened.close()


def test_what_is_kept_is_read_back_equal(store: Store) -> None:
    done = forecasts.keep(store, "  Pellmere,  14 July ", TOLD, NOW)
    assert (done.slug, done.name, done.version) == ("pellmere-14-july", "Pellmere, 14 July", 1)
    assert forecasts.one(store, done.slug) == done
    assert forecasts.every(store) == (done,)
    # A calm of 0 mph is told; humidity and gusts that are not told stay so.
    assert (done.forecast.hours[0].wind_mph, done.forecast.hours[0].rh_pct) == (0.0, None)
    assert done.forecast == TOLD


def test_a_change_names_its_version(store: Store) -> None:
    first = forecasts.keep(store, "Pellmere", TOLD, NOW)
    shorter = TOLD.model_copy(update={"hours": TOLD.hours[:1]})
    second = forecasts.change(store, first.slug, "Pellmere, evening", shorter, first.version, NOW)
    assert (second.slug, second.name, second.version) == (first.slug, "Pellmere, evening", 2)
    with pytest.raises(Changed):
        forecasts.change(store, first.slug, "Pellmere", TOLD, first.version, NOW)
    with pytest.raises(Changed):
        forecasts.remove(store, first.slug, first.version)
    assert forecasts.every(store) == (second,)
    forecasts.remove(store, first.slug, second.version)
    assert forecasts.every(store) == ()


def test_a_name_is_needed_and_stands_once(store: Store) -> None:
    forecasts.keep(store, "Pellmere", TOLD, NOW)
    for name, said in (("  ", "is required"), ("x" * 121, "more than 120"), ("PELLMERE", "of another forecast")):
        with pytest.raises(InputError) as refused:
            forecasts.keep(store, name, TOLD, NOW)
        assert [(fault.path, said in fault.message) for fault in refused.value.faults] == [("name", True)]
    assert len(forecasts.every(store)) == 1


def test_an_unknown_one_is_told_with_the_nearest(store: Store) -> None:
    forecasts.keep(store, "Pellmere", TOLD, NOW)
    with pytest.raises(UnknownId, match="pellmere"):
        forecasts.one(store, "pelmere")
