"""Growth as the faces ask it: strict payloads, the demo's days, one sentence for what is wrong."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from app.engine.errors import InputError
from app.services.forecast_csv import read_days
from app.services.growth import emergence, stage_on

DEMO = Path(__file__).parents[2] / "demo_data" / "daily-spring.csv"
NOTE: dict[str, Any] = {
    "weed": "smooth-crabgrass",
    "stage": "1-3-leaf",
    "scouted": "2027-05-01",
    "on": "2027-05-15",
    "zone": "cool-humid",
}


def days_of_the_demo() -> list[dict[str, Any]]:
    return [day.model_dump(mode="json") for day in read_days(DEMO.read_text(encoding="utf-8")).days]


def refused(payload: Any, service: Any = stage_on) -> str:
    with pytest.raises(InputError) as raised:
        service(payload)
    return str(raised.value)


def test_the_demo_s_days_age_a_note_by_warmth() -> None:
    daily = days_of_the_demo()
    between = [day for day in daily if "2027-05-01" <= day["date"] < "2027-05-15"]
    by_hand = sum(max(0.0, (day["min_f"] + day["max_f"]) / 2 - 50) for day in between)
    found = stage_on({**NOTE, "daily": daily})
    assert found.by == "degree-days"
    assert found.degree_days == pytest.approx(by_hand, abs=0.05)
    assert stage_on(NOTE).by == "calendar"


def test_a_day_without_its_extremes_is_a_missing_day() -> None:
    daily = days_of_the_demo()
    holed = [{**day, "max_f": None} if day["date"] == "2027-05-03" else day for day in daily]
    assert stage_on({**NOTE, "daily": holed}).by == "calendar"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"on": "2027-04-30"}, "on: 2027-04-30 lies before the day of scouting, 2027-05-01; name that day or a later"),
        ({"on": "15 May"}, "on: must be a day written YYYY-MM-DD"),
        ({"scouted": "2026-09-01"}, "scouted: the note is 256 days older than 2027-05-15; one of more than 180 days"),
        ({"stage": "flowering"}, "stage: 'flowering' is no stage of smooth crabgrass; use not-emerged, 1-3-leaf"),
        ({"weed": "smooth-crab"}, "weed: 'smooth-crab' is no known weed; nearest: "),
        ({"zone": "north"}, "zone: 'north' is not one of"),
        ({"tillers": 2}, "tillers: is not a known key"),
        ({"daily": [{"date": "2027-05-01", "min_f": 70, "max_f": 60}]}, "daily.0.min_f: 70 F is above the day's"),
    ],
)
def test_a_note_that_cannot_be_aged_is_refused_by_its_field(changes: dict[str, Any], said: str) -> None:
    assert refused({**NOTE, **changes}).startswith(said)


def test_a_required_field_is_named() -> None:
    assert refused({key: NOTE[key] for key in NOTE if key != "zone"}) == "zone: is required"


def test_emergence_of_the_demo_s_spring() -> None:
    daily = days_of_the_demo()
    found = emergence({"daily": daily, "weeds": ["smooth-crabgrass"], "today": "2027-05-10"})
    assert (str(found.first), str(found.last)) == ("2027-01-01", "2027-05-20")
    events = found.weeds[0].events
    total = 0.0
    # By hand: the day on which 70 degree-days of air above 50 F from 1 January are reached.
    for day in daily:
        total += max(0.0, (day["min_f"] + day["max_f"]) / 2 - 50)
        if total >= 70:
            break
    air = next(event for event in events if event.kind == "air-degree-days" and event.base_f == 50)
    assert str(air.earliest) == day["date"]


@pytest.mark.parametrize(
    ("payload", "said"),
    [
        ({}, "daily: is required"),
        ({"daily": []}, "daily: must name at least 1"),
        ({"daily": [{"date": "2027-01-01"}], "soil_depth_in": 0}, "soil_depth_in: 0 is out of range"),
        ({"daily": [{"date": "2027-01-02"}, {"date": "2027-01-01"}]}, "daily.1.date: 2027-01-01 comes before"),
        ({"daily": [{"date": "2027-01-01"}], "weeds": ["clover"]}, "weeds.0: 'clover' is no known weed"),
    ],
)
def test_emergence_refuses_by_field(payload: Any, said: str) -> None:
    assert refused(payload, emergence).startswith(said)
