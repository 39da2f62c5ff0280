"""A planned year in the JSON API: the answers of the service, and faults by their path."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

from app.engine.output import as_json
from app.services.shelf import fill_demo, shelf_products
from app.services.year import plan, plan_with_scenarios
from app.services.year_prices import priced
from app.web import create_app
from tests.season.asked_year import SMALL, plain_year


@pytest.fixture
def client() -> Iterator[FlaskClient]:
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True).test_client() as found:
        yield found


def test_a_year_is_answered(client: FlaskClient) -> None:
    answered = client.post("/api/v1/year", json=SMALL)
    assert answered.status_code == 200
    told = answered.get_json()
    assert told == as_json(plan(SMALL))
    # The project's own agreement on the shape of an answer.
    agreed = {
        *("visits", "control", "allowance", "groups_by_visit", "objective", "bound", "gap", "proven", "cost"),
        *("frontier", "relax", "notices", "sources"),
    }
    assert agreed <= set(told)
    for visit in told["visits"]:
        assert {"number", "date", "window", "area", "applications", "for", "reasons", "cautions"} <= set(visit)
        assert {"from", "to", "trigger"} <= set(visit["window"])
    for shown in told["control"]:
        assert {"weed", "low", "likely", "high"} <= set(shown)


def test_scenarios_are_answered(client: FlaskClient) -> None:
    answered = client.post("/api/v1/year/scenarios", json=SMALL)
    assert answered.status_code == 200
    assert answered.get_json() == as_json(plan_with_scenarios(SMALL))
    assert answered.get_json()["plan"] == as_json(plan(SMALL))


def test_the_shelf_of_the_app_is_planned_with(client: FlaskClient) -> None:
    asked = {**SMALL, "catalog": "shelf"}
    answered = client.post("/api/v1/year", json=asked)
    assert answered.status_code == 422
    assert answered.get_json()["error"]["fields"][0]["path"] == "catalog"
    store = client.application.extensions["store"]
    fill_demo(store)
    answered = client.post("/api/v1/year", json=asked)
    assert answered.status_code == 200
    assert answered.get_json() == as_json(plan(asked, lambda: shelf_products(store)))


@pytest.mark.parametrize("call", ["year", "year/scenarios"])
@pytest.mark.parametrize(
    ("changes", "paths"),
    [
        ({"visits": {"count": 2, "dates": ["2027-04-01"]}}, ["visits.count"]),
        ({"visits": {"dates": ["2027-05-01", "2027-04-01"]}}, ["visits.dates.1"]),
        ({"visits": {"count": "many"}}, ["visits.count"]),
        ({"year": 1066}, ["year"]),
        ({"limits": {"budget_per_1000_ft2": -1}}, ["limits.budget_per_1000_ft2"]),
        ({"limits": {"budget_per_1000_ft2": 4}}, ["limits.budget_per_1000_ft2"]),
        ({"areas": [{"id": "a", "turf": ["fescue", "bluegras"]}]}, ["areas.0.turf.0", "areas.0.turf.1"]),
        (
            {"weeds": [{"weed": "crabgrass"}, {"weed": "dandelion", "resistant_to": ["x"]}]},
            ["weeds.0.weed", "weeds.1.resistant_to.0"],
        ),
        ({"locks": [{"visit": 1, "actives": ["prodiamin"]}]}, ["locks.0.actives.0"]),
        ({"forbid": [{"actives": ["dicambo"]}]}, ["forbid.0.actives.0"]),
        ({"frm": "2027-04-01"}, ["frm"]),
    ],
)
def test_faults_are_named_by_their_path(
    client: FlaskClient, call: str, changes: dict[str, Any], paths: list[str]
) -> None:
    answered = client.post(f"/api/v1/{call}", json=plain_year(**changes))
    assert answered.status_code == 422
    assert [field["path"] for field in answered.get_json()["error"]["fields"]] == paths


def test_no_query_is_taken(client: FlaskClient) -> None:
    assert client.post("/api/v1/year?top=3", json=SMALL).status_code == 422


def test_a_priced_year_is_answered(client: FlaskClient) -> None:
    pricing = {"labour_per_hour": 42, "minutes_per_visit": 12, "minutes_per_1000_ft2": 1.2, "margin_pct": 28}
    asked = {"year": SMALL, "pricing": {**pricing, "stand_in_per_1000_ft2": 1}}
    answered = client.post("/api/v1/year/price", json=asked)
    assert answered.status_code == 200
    told = answered.get_json()
    assert told == as_json(priced(asked))
    assert told["plan"] == as_json(plan(SMALL))
    assert isinstance(told["price"]["price"], float)
    assert sum(one["price"] for one in told["price"]["visits"]) == told["price"]["price"]
    refused = client.post("/api/v1/year/price", json={"year": SMALL, "pricing": {**pricing, "margin_pct": 100}})
    assert refused.status_code == 422
    assert refused.get_json()["error"]["fields"][0]["path"] == "pricing.margin_pct"
