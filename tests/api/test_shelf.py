"""The shelf in the JSON API: versions, both sides of a conflict, and faults by their path."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient

from app.web import create_app
from tests.services.test_shelf import LABEL
from tests.services.test_shelf_csv import CELLS, HEADINGS, sheet

PATH = "/api/v1/shelf"
ONE = f"{PATH}/trial-broadleaf-4"


@pytest.fixture
def client() -> Iterator[FlaskClient]:
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True).test_client() as found:
        yield found


def test_a_product_is_added_read_changed_and_removed(client: FlaskClient) -> None:
    assert client.get(PATH).get_json() == {"products": []}
    added = client.post(PATH, json=LABEL)
    assert (added.status_code, added.headers["Location"]) == (201, ONE)
    told = client.get(ONE).get_json()
    assert told == added.get_json()
    assert (told["version"], told["product"]["id"], told["contradictions"]) == (1, "trial-broadleaf-4", [])
    changed = client.put(ONE, json={"version": 1, "product": {**LABEL, "max_air_f": 120}})
    assert changed.get_json()["version"] == 2
    assert changed.get_json()["contradictions"][0]["path"] == "max_air_f"
    assert [item["version"] for item in client.get(PATH).get_json()["products"]] == [2]
    assert client.delete(f"{ONE}?version=2").get_json() == {"removed": "trial-broadleaf-4"}
    assert client.get(ONE).status_code == 404


def test_what_is_read_can_be_sent_back(client: FlaskClient) -> None:
    client.post(PATH, json=LABEL)
    told = client.get(ONE).get_json()
    again = client.put(ONE, json={"version": told["version"], "product": told["product"]}).get_json()
    assert again["product"] == told["product"]


def test_a_conflict_tells_what_is_stored_and_its_version(client: FlaskClient) -> None:
    client.post(PATH, json=LABEL)
    client.put(ONE, json={"version": 1, "product": {**LABEL, "notes": "theirs"}})
    for answered in (
        client.put(ONE, json={"version": 1, "product": {**LABEL, "notes": "mine"}}),
        client.delete(f"{ONE}?version=1"),
    ):
        assert answered.status_code == 409
        error = answered.get_json()["error"]
        assert (error["version"], error["stored"]["notes"], error["fields"]) == (2, "theirs", [])
    assert client.get(ONE).get_json()["product"]["notes"] == "theirs"


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"density": {"value": -1, "unit": "lb/gal"}}, "density.value"),
        ({"stock": {"value": 3, "unit": "oz"}}, "stock"),
        ({"colour": "red"}, "colour"),
        ({"turf": ["mosslawn"]}, "turf.0"),
        ({"expiry": 20270101}, "expiry"),
    ],
)
def test_faults_are_named_by_their_path_and_nothing_is_stored(
    client: FlaskClient, changes: dict[str, object], path: str
) -> None:
    refused = client.post(PATH, json={**LABEL, **changes})
    assert refused.status_code == 422
    assert [field["path"] for field in refused.get_json()["error"]["fields"]] == [path]
    assert client.get(PATH).get_json() == {"products": []}
    client.post(PATH, json=LABEL)
    refused = client.put(ONE, json={"version": 1, "product": {**LABEL, **changes}})
    assert [field["path"] for field in refused.get_json()["error"]["fields"]] == [f"product.{path}"]
    assert client.get(ONE).get_json()["version"] == 1


def test_versions_are_required(client: FlaskClient) -> None:
    client.post(PATH, json=LABEL)
    assert client.put(ONE, json={"product": LABEL}).status_code == 422
    for query in ("", "?version=x", "?version=-1", "?colour=red"):
        assert client.delete(f"{ONE}{query}").status_code == 422
    assert client.put(f"{PATH}/none", json={"version": 1, "product": LABEL}).status_code == 404
    assert client.delete(f"{PATH}/none?version=1").status_code == 404


def test_a_file_is_previewed_and_then_imported(client: FlaskClient) -> None:
    text = sheet(CELLS, {**CELLS, "name": "Bad", "density": "-1 lb/gal"})
    preview = client.post(f"{PATH}/import", json={"csv": text, "confirm": False}).get_json()
    assert (preview["stored"], preview["new"], preview["bad"]) == (False, 1, 1)
    assert preview["rows"][1]["faults"][0]["column"] == "density"
    assert client.get(PATH).get_json() == {"products": []}
    blocked = client.post(f"{PATH}/import", json={"csv": text, "confirm": True})
    assert blocked.status_code == 422
    done = client.post(f"{PATH}/import", json={"csv": text, "confirm": True, "leave_out_bad": True}).get_json()
    assert done["stored"]
    exported = client.get(f"{PATH}/export.csv")
    assert exported.mimetype == "text/csv"
    again = client.post(f"{PATH}/import", json={"csv": exported.data.decode("utf-8-sig"), "confirm": True}).get_json()
    assert (again["unchanged"], again["new"], again["changed"]) == (1, 0, 0)


def test_an_import_over_somebody_elses_change_is_409(client: FlaskClient) -> None:
    client.post(PATH, json=LABEL)
    text = sheet({**CELLS, "notes": "mine"})
    seen = client.post(f"{PATH}/import", json={"csv": text}).get_json()["seen"]
    client.put(ONE, json={"version": 1, "product": {**LABEL, "notes": "theirs"}})
    answered = client.post(f"{PATH}/import", json={"csv": text, "confirm": True, "seen": seen})
    assert answered.status_code == 409
    assert client.get(ONE).get_json()["product"]["notes"] == "theirs"


def test_a_large_file_fits_and_too_many_rows_are_refused(client: FlaskClient) -> None:
    many = sheet(*({**CELLS, "name": f"Product {number}", "notes": "x" * 900} for number in range(1000)))
    assert len(many) > 1024 * 1024
    assert client.post(f"{PATH}/import", json={"csv": many}).get_json()["new"] == 1000
    rows = ",".join(HEADINGS) + "\n" + "x\n" * 50_000
    refused = client.post(f"{PATH}/import", json={"csv": rows})
    assert refused.status_code == 422
    assert refused.get_json()["error"]["fields"][0]["path"] == "csv"
    assert "more than 10,000 rows" in refused.get_json()["error"]["message"]
