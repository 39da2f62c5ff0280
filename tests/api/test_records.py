"""The JSON API of application records."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient

from app.store.opening import Store, open_in_memory
from app.web import create_app
from tests.services.kept import KEY, applied, branch_with

AT = f"/api/v1/records/{KEY}"


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    branch_with(opened)
    yield opened
    opened.close()


@pytest.fixture
def client(store: Store) -> FlaskClient:
    return create_app(allowed_hosts=frozenset({"localhost"}), store=store, testing=True).test_client()


def document(**changes: Any) -> dict[str, Any]:
    return {**applied().model_dump(mode="json", exclude_none=True), **changes}


def posted(client: FlaskClient, **more: Any) -> Any:
    return client.post("/api/v1/records", json={"key": KEY, "record": document(), **more})


def test_a_record_is_kept_read_changed_and_voided(client: FlaskClient) -> None:
    first = posted(client)
    assert (first.status_code, first.headers["Location"]) == (201, AT)
    assert first.get_json()["unfinished"]
    assert {"path": "started", "name": "time"} in first.get_json()["gaps"]
    assert posted(client).status_code == 200
    changed = client.put(
        AT, json={"version": 1, "record": document(started="07:40"), "by": "Ada", "why": "Found the sheet"}
    )
    assert changed.status_code == 200
    (change,) = changed.get_json()["history"]
    assert (change["by"], change["why"], change["before"]["started"]) == ("Ada", "Found the sheet", "")
    assert change["differences"] == [{"field": "Started", "before": "", "after": "07:40"}]
    void = client.post(f"{AT}/void", json={"version": 2, "why": "Rained off"})
    assert void.get_json()["record"]["void"] == "Rained off"
    assert client.get(AT).get_json()["version"] == 3
    assert client.delete(AT).status_code == 405


def test_what_is_left_empty_is_filled_in_where_that_is_asked(client: FlaskClient) -> None:
    bare = {"date": "2027-06-02", "property": "brindle-yard", "area": "front", "products": [{"name": "Larkmere Amine"}]}
    told = client.post("/api/v1/records", json={"key": KEY, "record": bare, "fill_in": True}).get_json()["record"]
    assert told["customer"] == "Marit Oversea"
    assert "products.0.registration" in told["filled_in"]


def test_another_record_under_a_kept_key_and_an_old_version_are_409(client: FlaskClient) -> None:
    posted(client)
    other = posted(client, record=document(started="09:00"))
    assert other.status_code == 409
    assert other.get_json()["error"]["version"] == 1
    client.put(AT, json={"version": 1, "record": document(started="07:40")})
    for call in (
        client.put(AT, json={"version": 1, "record": document(started="10:00")}),
        client.post(f"{AT}/void", json={"version": 1, "why": "x"}),
    ):
        assert call.status_code == 409
        assert call.get_json()["error"]["stored"]["started"] == "07:40"


def test_a_rating_is_kept_changed_and_removed(client: FlaskClient) -> None:
    posted(client)
    told = {"key": "key-of-rating-1", "follow_up": {"date": "2027-06-30", "ratings": {"smooth-crabgrass": 80}}}
    kept = client.post(f"{AT}/follow-ups", json=told)
    assert (kept.status_code, kept.get_json()["days_after"]) == (201, 28)
    assert client.get("/api/v1/trials").get_json()["trials"][0]["moves"] == 1
    own = f"{AT}/follow-ups/key-of-rating-1"
    told["follow_up"]["ratings"] = {"smooth-crabgrass": 60}  # type: ignore[index]
    changed = client.put(own, json={"version": 1, "follow_up": told["follow_up"]})
    assert changed.get_json()["version"] == 2
    assert client.delete(f"{own}?version=1").status_code == 409
    assert client.delete(f"{own}?version=2").get_json() == {"removed": "key-of-rating-1"}
    assert client.get(AT).get_json()["follow_ups"] == []
    assert client.get("/api/v1/trials").get_json()["trials"] == []


def test_the_log_is_filtered_and_exported(client: FlaskClient) -> None:
    posted(client)
    assert client.get("/api/v1/records?from=2027-06-02&to=2027-06-02").get_json()["total"] == 1
    assert client.get("/api/v1/records?from=2027-06-03").get_json()["records"] == []
    assert client.get("/api/v1/records?unfinished=true&property=brindle-yard").get_json()["unfinished"] == 1
    text = client.get("/api/v1/records/export.csv?to=2027-12-31").get_data().decode("utf-8-sig")
    assert [row["key"] for row in csv.DictReader(io.StringIO(text, newline=""))] == [KEY]


def test_what_is_due_is_told_for_a_day(client: FlaskClient) -> None:
    posted(client)
    on = date(2027, 6, 2) + timedelta(days=25)
    (item,) = client.get(f"/api/v1/records/due?on={on}").get_json()["due"]
    assert (item["kind"], item["key"]) == ("rating", KEY)
    assert client.get("/api/v1/records/due").status_code == 200


@pytest.mark.parametrize(
    ("payload", "path", "said"),
    [
        ({"key": KEY}, "record", "is required"),
        ({"key": "no", "record": document()}, "key", "is not an id"),
        ({"key": KEY, "record": document(date="June 2")}, "record.date", "YYYY-MM-DD"),
        ({"key": KEY, "record": document(property="nowhere")}, "record.property", "'nowhere' is no property"),
        ({"key": KEY, "record": document(targets=[{"weed": "crabgras"}])}, "record.targets.0.weed", "nearest"),
        ({"key": KEY, "record": document(treated={"value": 5, "unit": "gal"})}, "record.treated", "does not belong"),
        ({"key": KEY, "record": document(colour="red")}, "record.colour", "not a known key"),
        ({"key": KEY, "record": document(void="x")}, "record.void", "cannot be void"),
    ],
)
def test_bad_input_names_its_field_and_keeps_nothing(
    client: FlaskClient, payload: dict[str, Any], path: str, said: str
) -> None:
    answered = client.post("/api/v1/records", json=payload)
    assert answered.status_code == 422
    (field,) = answered.get_json()["error"]["fields"]
    assert field["path"] == path
    assert said in field["message"]
    assert client.get("/api/v1/records").get_json()["total"] == 0


@pytest.mark.parametrize(
    "query", ["from=x", "page=0", "unfinished=maybe", "colour=red", "from=2027-02-01&to=2027-01-01"]
)
def test_a_bad_query_is_422(client: FlaskClient, query: str) -> None:
    assert client.get(f"/api/v1/records?{query}").status_code == 422


def test_what_is_not_kept_is_404_and_a_form_is_no_json(client: FlaskClient) -> None:
    assert client.get("/api/v1/records/no-such-record").status_code == 404
    assert client.post("/api/v1/records/no-such-record/void", json={"version": 1, "why": "x"}).status_code == 404
    assert client.post("/api/v1/records", data="{}", content_type="text/plain").status_code == 415
