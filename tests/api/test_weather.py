"""The JSON API of weather."""

from __future__ import annotations

import json
from typing import Any

import pytest
from flask.testing import FlaskClient

from app.engine.output import as_json
from app.services.weather import degree_days, windows
from app.store.opening import open_in_memory
from app.web import create_app
from tests.services.test_weather import HAND, PLACE


@pytest.fixture
def client() -> FlaskClient:
    return create_app(allowed_hosts=frozenset({"localhost"}), store=open_in_memory(), testing=True).test_client()


def test_windows_are_what_the_service_answers(client: FlaskClient) -> None:
    asked = {"by_hand": HAND, "place": PLACE, "tank": {"turf": ["tall-fescue"], "actives": [{"active": "dicamba"}]}}
    answered = client.post("/api/v1/windows", json=asked)
    assert answered.status_code == 200
    assert answered.json == json.loads(json.dumps(as_json(windows(asked))))


def test_degree_days_are_what_the_service_answers(client: FlaskClient) -> None:
    asked = {"csv": "date,min_f,max_f\n2027-03-01,40,70\n", "method": "modified"}
    answered = client.post("/api/v1/degree-days", json=asked)
    assert answered.status_code == 200
    assert answered.json == json.loads(json.dumps(as_json(degree_days(asked))))


@pytest.mark.parametrize(
    ("call", "asked", "path"),
    [
        ("windows", {}, "forecast"),
        ("windows", {"csv": "time,temp_f\nx,1\n", "place": PLACE}, "csv"),
        ("windows", {"by_hand": HAND, "place": PLACE, "tank": {"products": [{"id": "nothing"}]}}, "tank.products.0.id"),
        ("degree-days", {"daily": []}, "daily"),
    ],
)
def test_bad_input_is_named(client: FlaskClient, call: str, asked: dict[str, Any], path: str) -> None:
    answered = client.post(f"/api/v1/{call}", json=asked)
    assert answered.status_code == 422
    assert answered.json is not None
    assert answered.json["error"]["fields"][0]["path"] == path
