"""The calls of rounds: a forecast, a round, its plan, a stop done; conflicts and what cannot be used."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from app.services import properties, scouting, shelf
from app.store.opening import open_in_memory
from app.web import create_app
from tests.services.test_rounds import AREA

TABLE = (Path(__file__).parents[2] / "demo_data" / "branch" / "forecast-july.csv").read_text(encoding="utf-8")
PLACE = {"name": "Tarnbeck", "latitude": 42.75, "longitude": -77.65, "timezone": "America/New_York"}
STOP = {"property": "3-quarry-lane", "area": "front"}
ROUND = {"name": "Larkmere Tuesday", "date": "2027-07-13", "tanks": 1, "stops": [STOP]}


@pytest.fixture(scope="module")
def calls() -> Iterator[FlaskClient]:
    store = open_in_memory()
    shelf.fill_demo(store)
    properties.add(store, {"name": "3 Quarry Lane", "zone": "cool-humid", "areas": [AREA]}, customer=None)
    seen = {"area": "front", "weed": "white-clover", "stage": "flowering", "cover_pct": 30, "date": "2027-07-10"}
    scouting.add_note(store, "3-quarry-lane", seen)
    application = create_app(allowed_hosts=frozenset({"localhost"}), testing=True, store=store)
    yield application.test_client()
    store.close()


def send(calls: FlaskClient, method: str, path: str, told: Any = None) -> tuple[int, Any]:
    answered = calls.open(f"/api/v1{path}", method=method, json=told)
    return answered.status_code, answered.get_json()


def test_a_day_by_its_calls(calls: FlaskClient) -> None:
    told = {"name": "July week", "weather": {"csv": TABLE, "place": PLACE, "units": "us"}}
    code, kept = send(calls, "POST", "/forecasts", told)
    assert (code, kept["id"], kept["hours"], kept["missing_hours"]) == (201, "july-week", 168, 0)
    code, made = send(calls, "POST", "/rounds", {**ROUND, "forecast": "july-week"})
    assert (code, made["plan"]) == (201, None)
    code, plan = send(calls, "POST", f"/rounds/{made['id']}/plan", {"version": made["version"]})
    assert code == 200
    assert plan["plan"]["headline"] == "1 area: tank A serves 1."
    assert send(calls, "POST", f"/rounds/{made['id']}/plan", {"version": made["version"]})[0] == 409
    code, sheet = send(calls, "GET", f"/rounds/{made['id']}/sheet")
    assert (code, len(sheet["stops"])) == (200, 1)
    code, record = send(calls, "POST", f"/rounds/{made['id']}/done", STOP)
    assert (code, record["new"]) == (201, True)
    code, again = send(calls, "POST", f"/rounds/{made['id']}/done", STOP)
    assert (code, again["new"], again["key"]) == (200, False, record["key"])
    code, one = send(calls, "GET", f"/rounds/{made['id']}")
    assert one["done"] == [{**STOP, "record": record["key"]}]
    assert send(calls, "GET", f"/records/{record['key']}")[0] == 200
    code, listed = send(calls, "GET", "/rounds")
    assert [(item["id"], item["done"]) for item in listed["rounds"]] == [(made["id"], 1)]
    code, said = send(calls, "DELETE", f"/rounds/{made['id']}?version={plan['version']}")
    assert code == 422
    assert "it stays" in said["error"]["message"]
    # A forecast can go while rounds name it; the plan that was made by it stays.
    assert send(calls, "DELETE", f"/forecasts/july-week?version={kept['version']}")[0] == 200
    assert send(calls, "GET", f"/rounds/{made['id']}")[1]["plan"] == plan["plan"]


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"tanks": 9}, "tanks"),
        ({"date": "soon"}, "date"),
        ({"stops": [{"property": "nowhere", "area": "front"}]}, "stops.0.property"),
        ({"forecast": "nowhere"}, "forecast"),
        ({"extra": 1}, "extra"),
    ],
)
def test_what_cannot_be_used_names_its_field(calls: FlaskClient, change: Any, path: str) -> None:
    before = send(calls, "GET", "/rounds")
    code, said = send(calls, "POST", "/rounds", {**ROUND, "name": "Not kept", **change})
    assert code == 422
    assert path in [field["path"] for field in said["error"]["fields"]]
    assert send(calls, "GET", "/rounds") == before


def test_what_is_not_kept_is_404(calls: FlaskClient) -> None:
    assert send(calls, "GET", "/rounds/nowhere")[0] == 404
    assert send(calls, "POST", "/rounds/nowhere/plan", {"version": 1})[0] == 404
    assert send(calls, "POST", "/rounds/nowhere/done", STOP)[0] == 404
    assert send(calls, "GET", "/rounds/nowhere/sheet")[0] == 404
