"""The JSON API: shapes, statuses, and the one shape of failure."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

from app.engine.output import as_json
from app.services.advice import recommend
from app.web import create_app
from tests.conftest import plain

PROGRAM = {
    "applications": [{"day": 0, "actives": [{"active": "triclopyr", "rate": {"value": 1.0, "unit": "lb ae/acre"}}]}]
}


@pytest.fixture(scope="module")
def client() -> Iterator[FlaskClient]:
    """A client of the app as it runs."""
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True).test_client() as found:
        yield found


def test_recommend_answers_what_the_service_answers(client: FlaskClient) -> None:
    found = client.post("/api/v1/recommend", json=plain())
    assert found.status_code == 200
    assert found.get_json() == json.loads(json.dumps(as_json(recommend(plain()))))


def test_a_ranked_program_has_the_agreed_shape(client: FlaskClient) -> None:
    program = client.post("/api/v1/recommend", json=plain()).get_json()["ranked"][0]
    assert {
        *("rank", "id", "name", "actives", "groups", "applications", "control", "turf_injury", "cost"),
        *("score", "score_parts", "reasons", "cautions"),
    } <= set(program)
    assert set(program["score_parts"]) == {"control", "turf_safety", "resistance", "cost", "passes", "off_target"}
    assert {"weed", "stage", "low", "likely", "high", "days_after", "basis", "parts", "sources"} <= set(
        program["control"][0]
    )
    assert {"turf", "class", "likely_pct", "text", "sources"} <= set(program["turf_injury"][0])
    first = program["applications"][0]
    assert {"day", "date", "products", "adjuvant", "carrier"} <= set(first)
    assert {"active", "form", "rate"} <= set(first["products"][0]["actives"][0])


def test_why_not_and_expect_answer(client: FlaskClient) -> None:
    asked = {"situation": plain(), "actives": ["atrazine"]}
    found = client.post("/api/v1/why-not", json=asked).get_json()
    assert (found["allowed"], found["best"], found["rank"]) == (False, None, None)
    assert {"code", "text", "sources"} <= set(found["stops"][0])
    expected = client.post(
        "/api/v1/expect", json={"situation": plain(), "program": PROGRAM, "days_after": 28}
    ).get_json()
    assert expected["control"][0]["days_after"] == 28
    assert expected["stops"] == []


def test_what_has_no_fact_is_null_with_the_reason(client: FlaskClient) -> None:
    program = {
        "applications": [{"day": 0, "actives": [{"active": "siduron", "rate": {"value": 6, "unit": "lb ai/acre"}}]}]
    }
    shown = client.post("/api/v1/expect", json={"situation": plain(), "program": program}).get_json()["control"][0]
    assert shown["likely"] is None
    assert "no figure is recorded" in shown["text"]


@pytest.mark.parametrize("path", ["weeds", "actives", "turf", "sources"])
def test_knowledge_lists_and_entries(client: FlaskClient, path: str) -> None:
    listed = client.get(f"/api/v1/knowledge/{path}").get_json()["entries"]
    entry = client.get(f"/api/v1/knowledge/{path}/{listed[0]['id']}").get_json()
    assert entry["id"] == listed[0]["id"]


def test_health_and_versions(client: FlaskClient) -> None:
    assert set(client.get("/api/v1/health").get_json()) == {"status", "version", "knowledge_version"}


@pytest.mark.parametrize(
    ("body", "path"),
    [
        (plain(turf=["tal-fescue"]), "turf.0"),
        (plain(targets=[{"weed": "wild-voilet"}]), "targets.0.weed"),
        (plain(targets=[]), "targets"),
        (plain(zone="moon"), "zone"),
        (plain(catalog="shelf"), "catalog"),
        (plain(options={"top": 0}), "options.top"),
        (plain(forecast={"max_temp_f": "warm"}), "forecast.max_temp_f"),
        ({k: v for k, v in plain().items() if k != "date"}, "date"),
        (plain(turf=["common-bermudagrass"], targets=[{"weed": "bermudagrass-weed"}]), "targets.0.weed"),
        (
            plain(
                priorities={"control": 0, "turf_safety": 0, "resistance": 0, "cost": 0, "passes": 0, "off_target": 0}
            ),
            "priorities",
        ),
        (plain(local_rules=[{"kind": "ban-active"}]), "local_rules.0"),
        (
            plain(catalog=[{"name": "x", "formulation": "SL", "actives": [], "rate": {"value": 1, "unit": "qt/acre"}}]),
            "catalog.0.actives",
        ),
    ],
)
def test_bad_input_names_its_field(client: FlaskClient, body: dict[str, Any], path: str) -> None:
    found = client.post("/api/v1/recommend", json=body)
    assert found.status_code == 422
    error = found.get_json()["error"]
    assert path in [field["path"] for field in error["fields"]]
    assert error["message"]


def test_three_nearest_are_named(client: FlaskClient) -> None:
    error = client.post("/api/v1/recommend", json=plain(targets=[{"weed": "wild-voilet"}])).get_json()["error"]
    assert "wild-violet" in error["fields"][0]["message"]
    assert error["fields"][0]["message"].count(",") == 2


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("post", "/api/v1/recommend", b"{", 422),
        ("post", "/api/v1/recommend", b"\xff\xfe", 422),
        ("post", "/api/v1/recommend", b"[" * 50_000, 422),
        ("post", "/api/v1/recommend", b"1" * 5000, 422),
        ("post", "/api/v1/recommend", b" " * (10 * 1024 * 1024), 413),
        ("get", "/api/v1/recommend", None, 405),
        ("get", "/api/v1/nowhere", None, 404),
        ("get", "/api/v1/knowledge/weeds/dandelio", None, 404),
        ("get", "/api/v1/knowledge/gossip", None, 404),
        ("get", "/api/v1/answer", None, 422),
        ("get", "/api/v1/answer?weed=dandelion&colour=green", None, 422),
        ("get", "/api/v1/answer?weed=dandelion&month=may", None, 422),
        ("get", "/api/v1/answer?weed=dandelion&weed=henbit", None, 422),
        ("post", "/api/v1/recommend?top=3", b"{}", 422),
        ("post", "/api/v1/why-not", b'{"situation": {}, "situation": {}}', 422),
        ("post", "/api/v1/expect", b'{"days_after": NaN}', 422),
        ("post", "/api/v1/expect", b"[]", 422),
        ("get", "/api/v1/health?verbose=1", None, 422),
        ("get", "/api/v1/openapi.json?format=yaml", None, 422),
        ("get", "/api/v1/knowledge/weeds?letter=a", None, 422),
        ("delete", "/api/v1/health", None, 405),
    ],
)
def test_failures_have_one_shape(client: FlaskClient, method: str, path: str, body: bytes | None, status: int) -> None:
    found = getattr(client, method)(path, data=body)
    assert found.status_code == status
    error = found.get_json()["error"]
    assert set(error) == {"message", "fields"}


@pytest.mark.parametrize(
    ("kind", "status"),
    [
        ("application/json", 200),
        ("application/json; charset=utf-8", 200),
        ("", 200),
        ("text/plain", 415),
        ("application/x-www-form-urlencoded", 200),
        ("multipart/form-data; boundary=x", 415),
    ],
)
def test_only_json_is_taken(client: FlaskClient, kind: str, status: int) -> None:
    found = client.post("/api/v1/recommend", data=json.dumps(plain()), content_type=kind)
    assert found.status_code == status
    if status == 415:
        assert found.get_json()["error"]["message"].startswith("the body must be application/json")


def test_a_fault_of_ours_has_the_one_shape(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: Any) -> None:
        raise RuntimeError("broken")

    monkeypatch.setattr("app.api.routes.advice.recommend", fail)
    application = create_app(allowed_hosts=frozenset({"localhost"}))
    found = application.test_client().post("/api/v1/recommend", json=plain())
    assert found.status_code == 500
    assert set(found.get_json()["error"]) == {"message", "fields"}
    assert "broken" not in found.get_json()["error"]["message"]
