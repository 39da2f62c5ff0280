"""Files of properties and notes as pages: previewed, columns told, confirmed, exported."""

from __future__ import annotations

import io
import re

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from app.services import properties, scouting
from app.services.property_import import confirm
from app.store.opening import Store
from tests.services.test_property_import import FILE, NOTES

AT = "/properties/import"


def upload(client: FlaskClient, text: str, **told: str) -> TestResponse:
    return client.post(AT, data={"file": (io.BytesIO(text.encode()), "file.csv"), **told})


def key_of(page: TestResponse) -> str:
    found = re.search(r'name="key" value="([^"]+)"', page.get_data(as_text=True))
    assert found is not None
    return found.group(1)


def test_properties_are_previewed_then_kept(client: FlaskClient, store: Store) -> None:
    page = upload(client, FILE)
    shown = page.get_data(as_text=True)
    assert "2 properties new, 0 changed, 0 unchanged. Nothing is kept yet." in shown
    # The cautions of the foot stand on this page too.
    assert "The product label is the law" in shown
    assert properties.every(store) == ()
    done = client.post(f"{AT}/confirm", data={"key": key_of(page), "kind": "properties"})
    assert "2 properties new, 0 replaced, 0 unchanged" in client.get(done.headers["Location"]).get_data(as_text=True)
    assert "not kept already" in upload(client, FILE).get_data(as_text=True)
    changed = upload(client, FILE.replace(",Jo,", ",Di,"))
    assert "technician" in changed.get_data(as_text=True)
    data = {"key": key_of(changed), "kind": "properties", "replace": "yes"}
    assert client.post(f"{AT}/confirm", data=data).status_code == 303
    assert properties.one(store, "12-mill-lane").property.technician == "Di"
    assert client.post(f"{AT}/confirm", data=data).status_code == 422


def test_a_bad_file_is_refused_and_a_bad_cell_named(client: FlaskClient, store: Store) -> None:
    assert upload(client, "").status_code == 422
    assert client.post(AT, data={}).status_code == 422
    shown = upload(client, FILE.replace("KBG", "KBX")).get_data(as_text=True)
    assert "holds back the whole file" in shown
    assert "is no known turf" in shown
    assert "/confirm" in shown
    assert "<button class=" not in shown.split('action="/properties/import/confirm"')[1].split("</form>")[0]
    assert properties.every(store) == ()


def test_columns_are_told_by_hand(client: FlaskClient, store: Store) -> None:
    page = upload(client, "Where,Truck\n12 Mill Lane,Jo\n")
    assert page.status_code == 422
    assert "Which column is which?" in page.get_data(as_text=True)
    told = {"key": key_of(page), "kind": "properties", "columns.property": "Where", "columns.technician": "Where"}
    again = client.post(f"{AT}/columns", data=told)
    assert again.status_code == 422
    assert 'href="#columns.technician"' in again.get_data(as_text=True)
    shown = client.post(f"{AT}/columns", data={**told, "columns.technician": "Truck"})
    assert "1 property new" in shown.get_data(as_text=True)
    client.post(f"{AT}/confirm", data={"key": key_of(shown), "kind": "properties"})
    assert properties.one(store, "12-mill-lane").property.technician == "Jo"
    asked = upload(client, FILE, ask_columns="yes")
    assert asked.status_code == 200
    assert "Which column is which?" in asked.get_data(as_text=True)


def test_notes_come_in_the_same_way(client: FlaskClient, store: Store) -> None:
    confirm(store, FILE)
    # No note lies ahead of the day on which it comes in.
    page = upload(client, NOTES.replace("2027-", "2025-"), kind="notes")
    assert "2 notes new" in page.get_data(as_text=True)
    # A file waits under its kind.
    assert client.post(f"{AT}/confirm", data={"key": key_of(page), "kind": "properties"}).status_code == 422
    done = client.post(f"{AT}/confirm", data={"key": key_of(page), "kind": "notes"})
    assert "2 notes new" in client.get(done.headers["Location"]).get_data(as_text=True)
    assert len(scouting.notes_of(store, "elm-3")) == 1


def test_what_somebody_else_did_meanwhile_is_told(client: FlaskClient, store: Store) -> None:
    confirm(store, FILE)
    page = upload(client, FILE.replace(",Jo,", ",Di,"))
    kept = properties.one(store, "elm-3")
    properties.change(store, "elm-3", kept.property.model_dump(mode="json", by_alias=True), 1)
    told = client.post(f"{AT}/confirm", data={"key": key_of(page), "kind": "properties", "replace": "yes"})
    assert told.status_code == 409
    assert "Elm 3 was changed meanwhile" in told.get_data(as_text=True)


@pytest.mark.parametrize(
    ("path", "start"),
    [
        ("/properties.csv", "property,customer"),
        ("/properties/notes.csv", "property,area,weed"),
        ("/properties/template.csv", "property,customer"),
        ("/properties/notes-template.csv", "property,area,weed"),
    ],
)
def test_files_go_out(client: FlaskClient, store: Store, path: str, start: str) -> None:
    confirm(store, FILE)
    answered = client.get(path)
    assert answered.mimetype == "text/csv"
    assert "attachment" in answered.headers["Content-Disposition"]
    assert answered.get_data().decode("utf-8-sig").startswith(start)
