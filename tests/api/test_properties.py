"""Properties, customers and notes in the JSON API: versions, pages, both sides of a conflict, faults by path."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

from app.store.opening import Store, open_in_memory
from app.web import create_app
from tests.services.places import area, place, put_record

PATH = "/api/v1/properties"
ONE = f"{PATH}/12-mill-lane"
SEEN = {"area": "Front", "weed": "creeping charlie", "date": "2025-06-01"}


@pytest.fixture
def store() -> Store:
    return open_in_memory()


@pytest.fixture
def client(store: Store) -> Iterator[FlaskClient]:
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True, store=store).test_client() as found:
        yield found


def paths_of(answered: Any) -> list[str]:
    assert answered.status_code == 422, answered.get_json()
    return [fault["path"] for fault in answered.get_json()["error"]["fields"]]


def test_a_property_is_added_read_changed_and_removed(client: FlaskClient) -> None:
    assert client.get(PATH).get_json()["properties"] == []
    added = client.post(PATH, json=place(areas=[area(turf=["KBG"]), area(name="Back", turf=[])]))
    assert (added.status_code, added.headers["Location"]) == (201, ONE)
    told = client.get(ONE).get_json()
    assert told == added.get_json()
    assert (told["id"], told["version"], told["records"], told["open_notes"]) == ("12-mill-lane", 1, 0, 0)
    assert told["property"]["areas"][0]["turf"] == ["kentucky-bluegrass"]
    assert [(item["path"], item["area"]) for item in told["missing"]] == [("areas.1.turf", "back")]
    changed = client.put(ONE, json={"version": 1, "property": {**told["property"], "technician": "Jo"}}).get_json()
    assert (changed["version"], changed["property"]["technician"]) == (2, "Jo")
    assert client.delete(f"{ONE}?version=2").get_json() == {"removed": "12-mill-lane"}
    assert client.get(ONE).status_code == 404


def test_what_is_read_can_be_sent_back(client: FlaskClient) -> None:
    rule = {"kind": "closed-season", "from": "2027-05-01", "to": "2027-06-01"}
    told = client.post(PATH, json=place(local_rules=[rule], plans=[{"kind": "event", "date": "2027-07-04"}])).get_json()
    again = client.put(ONE, json={"version": 1, "property": told["property"]}).get_json()
    assert again["property"] == told["property"]


def test_a_conflict_tells_what_is_stored_and_its_version(client: FlaskClient) -> None:
    client.post(PATH, json=place())
    client.put(ONE, json={"version": 1, "property": place(notes="theirs")})
    for answered in (
        client.put(ONE, json={"version": 1, "property": place(notes="mine")}),
        client.delete(f"{ONE}?version=1"),
    ):
        assert answered.status_code == 409
        error = answered.get_json()["error"]
        assert (error["stored"]["notes"], error["version"]) == ("theirs", 2)


def test_faults_are_named_by_their_path(client: FlaskClient) -> None:
    bad = place(zone="nowhere", areas=[area(turf=["fescew"])], customer="nobody")
    assert paths_of(client.post(PATH, json=bad)) == ["zone", "areas.0.turf.0"]
    assert paths_of(client.post(PATH, json=place(customer="nobody"))) == ["customer"]
    client.post(PATH, json=place())
    assert paths_of(client.put(ONE, json={"version": 1, "property": bad})) == [
        "property.zone",
        "property.areas.0.turf.0",
    ]
    assert paths_of(client.put(ONE, json={"property": place()})) == ["version"]
    assert paths_of(client.put(ONE, json={"version": 0, "more": 1})) == ["version", "more", "property"]
    assert paths_of(client.delete(ONE)) == ["version"]
    assert paths_of(client.post(PATH, json=place())) == ["name"]


def test_pages_and_searches(client: FlaskClient) -> None:
    for number in range(51):
        client.post(PATH, json=place(name=f"{number} Oak", technician="Jo" if number else "Sam"))
    first = client.get(PATH).get_json()
    assert (len(first["properties"]), first["found"], first["page"], first["pages"]) == (50, 51, 1, 2)
    assert first["technicians"] == {"Jo": 50, "Sam": 1}
    assert len(client.get(f"{PATH}?page=2").get_json()["properties"]) == 1
    found = client.get(f"{PATH}?search=oak+7&technician=Jo").get_json()
    assert [item["id"] for item in found["properties"]] == ["7-oak", "17-oak", "27-oak", "37-oak", "47-oak"]
    for odd in ("page=0", "page=x", "pages=2", "page=1&page=2"):
        assert client.get(f"{PATH}?{odd}").status_code == 422, odd


def test_a_property_with_records_is_kept(client: FlaskClient, store: Store) -> None:
    client.post(PATH, json=place())
    put_record(store, "12-mill-lane")
    refused = client.delete(f"{ONE}?version=1")
    assert refused.status_code == 422
    assert "records are kept" in refused.get_json()["error"]["message"]
    assert client.get(ONE).get_json()["records"] == 1


def test_notes_are_kept_changed_and_closed(client: FlaskClient) -> None:
    client.post(PATH, json=place())
    added = client.post(f"{ONE}/notes", json=SEEN)
    note = added.get_json()
    assert (added.status_code, note["weed_name"], note["note"]["weed"]) == (201, "ground ivy", "ground-ivy")
    assert (note["note"]["area"], note["note"]["property"]) == ("front", "12-mill-lane")
    assert client.get(ONE).get_json()["open_notes"] == 1
    at = f"{ONE}/notes/{note['key']}"
    closed = client.put(at, json={"version": 1, "note": {**note["note"], "closed": "2025-06-20"}}).get_json()
    assert (closed["version"], closed["note"]["closed"]) == (2, "2025-06-20")
    assert client.put(at, json={"version": 1, "note": SEEN}).status_code == 409
    assert client.get(f"{ONE}/notes").get_json() == {"notes": [closed]}
    assert client.get(ONE).get_json()["open_notes"] == 0
    assert paths_of(
        client.post(f"{ONE}/notes", json={**SEEN, "weed": "xyzzy", "stage": "tall", "date": "2999-01-01"})
    ) == [
        "weed",
        "date",
    ]
    assert paths_of(client.put(at, json={"version": 2, "note": {**SEEN, "area": "side"}})) == ["note.area"]
    assert client.get(f"{PATH}/not-there/notes").status_code == 404
    assert client.post(f"{PATH}/not-there/notes", json=SEEN).status_code == 404
    assert client.put(f"{ONE}/notes/not-there-at-all", json={"version": 1, "note": SEEN}).status_code == 404


def test_customers_are_kept_like_properties(client: FlaskClient) -> None:
    at = "/api/v1/customers"
    added = client.post(at, json={"name": "Ada Fenn"})
    assert (added.status_code, added.headers["Location"]) == (201, f"{at}/ada-fenn")
    client.post(PATH, json=place(customer="ada-fenn"))
    told = client.get(f"{at}/ada-fenn").get_json()
    assert (told["property_count"], told["properties"]) == (1, ["12-mill-lane"])
    changed = client.put(f"{at}/ada-fenn", json={"version": 1, "customer": {"name": "Ada Birch"}})
    assert changed.get_json()["customer"]["name"] == "Ada Birch"
    assert client.get(f"{PATH}?search=birch").get_json()["found"] == 1
    assert client.put(f"{at}/ada-fenn", json={"version": 1, "customer": {"name": "Mine"}}).status_code == 409
    refused = client.delete(f"{at}/ada-fenn?version=2")
    assert refused.status_code == 422
    assert "belongs to this customer" in refused.get_json()["error"]["message"]
    client.delete(f"{ONE}?version=1")
    assert client.delete(f"{at}/ada-fenn?version=2").get_json() == {"removed": "ada-fenn"}
    assert client.get(at).get_json() == {"customers": [], "found": 0, "page": 1, "pages": 1}


def test_what_writes_takes_json_alone(client: FlaskClient) -> None:
    for path in (PATH, "/api/v1/customers"):
        assert client.post(path, data='{"name": "A"}', content_type="text/plain").status_code == 415
