"""Growth in the JSON API: the answers of the services, and faults by their path."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient

from app.engine.output import as_json
from app.services.growth import emergence, stage_on
from app.web import create_app

NOTE = {"weed": "dandelion", "stage": "flowering", "scouted": "2027-05-01", "on": "2027-05-20", "zone": "cool-humid"}
DAYS = {"daily": [{"date": "2027-01-01", "min_f": 60, "max_f": 160 - 30}, {"date": "2027-01-02"}]}


@pytest.fixture
def client() -> Iterator[FlaskClient]:
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True).test_client() as found:
        yield found


def test_stage_on_answers(client: FlaskClient) -> None:
    answered = client.post("/api/v1/stage-on", json=NOTE)
    assert answered.status_code == 200
    assert answered.get_json() == as_json(stage_on(NOTE))


def test_emergence_answers(client: FlaskClient) -> None:
    answered = client.post("/api/v1/emergence", json=DAYS)
    assert answered.status_code == 200
    assert answered.get_json() == as_json(emergence(DAYS))


@pytest.mark.parametrize(
    ("call", "payload", "path"),
    [
        ("stage-on", {**NOTE, "on": "2027-04-01"}, "on"),
        ("stage-on", {**NOTE, "stage": "heading"}, "stage"),
        ("emergence", {"daily": [{"date": "2027-01-01", "min_f": "cold"}]}, "daily.0.min_f"),
        ("emergence", {**DAYS, "zone": "north"}, "zone"),
    ],
)
def test_a_fault_is_named(client: FlaskClient, call: str, payload: object, path: str) -> None:
    answered = client.post(f"/api/v1/{call}", json=payload)
    assert answered.status_code == 422
    assert [field["path"] for field in answered.get_json()["error"]["fields"]] == [path]
