"""Sprayers and their calibration as pages."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest
from flask.testing import FlaskClient

from app.services.sprayers import list_sprayers
from app.store.opening import Store, open_in_memory
from app.web import create_app

BOOM = {
    "name": "Blue boom",
    "kind": "boom",
    "carrier": "40",
    "carrier.unit": "gal/acre",
    "tank": "50",
    "tank.unit": "gal",
}


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    yield opened
    opened.close()


@pytest.fixture
def client(store: Store) -> FlaskClient:
    return create_app(allowed_hosts=frozenset({"localhost"}), store=store, testing=True).test_client()


def test_a_sprayer_is_kept_changed_and_removed(client: FlaskClient, store: Store) -> None:
    assert "None is kept yet" in client.get("/sprayers").get_data(as_text=True)
    assert client.post("/sprayers/new", data=BOOM).status_code == 303
    shown = client.get("/sprayers").get_data(as_text=True)
    assert "Blue boom" in shown
    assert "40 gal/acre" in shown
    changed = client.post("/sprayers/blue-boom", data={**BOOM, "carrier": "44", "version": "1"})
    assert changed.status_code == 303
    assert list_sprayers(store)[0].document["carrier"]["value"] == 44
    assert 'value="44"' in client.get("/sprayers/blue-boom").get_data(as_text=True)
    assert client.post("/sprayers/blue-boom", data={"remove": "yes", "version": "2"}).status_code == 303
    assert list_sprayers(store) == ()
    assert client.get("/sprayers/blue-boom").status_code == 404


def test_the_second_is_told_and_shown_both(client: FlaskClient, store: Store) -> None:
    client.post("/sprayers/new", data=BOOM)
    client.post("/sprayers/blue-boom", data={**BOOM, "carrier": "44", "version": "1"})
    second = client.post("/sprayers/blue-boom", data={**BOOM, "carrier": "48", "version": "1"})
    shown = second.get_data(as_text=True)
    assert second.status_code == 409
    assert "Somebody else was quicker" in shown
    assert "44 gal/acre" in shown
    assert "48 gal/acre" in shown
    assert list_sprayers(store)[0].document["carrier"]["value"] == 44
    # Sent again on the version that was shown, the second's is kept.
    assert 'name="version" value="2"' in shown
    assert client.post("/sprayers/blue-boom", data={**BOOM, "carrier": "48", "version": "2"}).status_code == 303
    assert list_sprayers(store)[0].document["carrier"]["value"] == 48


def test_what_somebody_else_changed_is_not_removed_unseen(client: FlaskClient, store: Store) -> None:
    client.post("/sprayers/new", data=BOOM)
    client.post("/sprayers/blue-boom", data={**BOOM, "carrier": "44", "version": "1"})
    refused = client.post("/sprayers/blue-boom", data={"remove": "yes", "version": "1"})
    shown = refused.get_data(as_text=True)
    assert refused.status_code == 409
    assert 'value="44"' in shown
    assert len(list_sprayers(store)) == 1
    assert "shown as it is stored now" in shown
    for _ in range(2):
        assert client.post("/sprayers/blue-boom", data={"remove": "yes", "version": "2"}).status_code == 303
    back = client.post("/sprayers/blue-boom", data={**BOOM, "version": "2"})
    assert back.status_code == 409
    assert "Put mine back" in back.get_data(as_text=True)
    assert 'action="/sprayers/new"' in back.get_data(as_text=True)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"name": ""}, "name"),
        ({"kind": ""}, "kind"),
        ({"carrier": "much"}, "carrier"),
        ({"tank": "0"}, "tank"),
        ({"calibrated_on": "spring"}, "calibrated_on"),
    ],
)
def test_what_cannot_be_kept_is_named(client: FlaskClient, store: Store, changes: dict[str, str], field: str) -> None:
    refused = client.post("/sprayers/new", data={**BOOM, **changes})
    assert refused.status_code == 422
    assert f'href="#{field}"' in refused.get_data(as_text=True)
    assert list_sprayers(store) == ()


def test_a_name_stands_once(client: FlaskClient) -> None:
    client.post("/sprayers/new", data=BOOM)
    assert client.post("/sprayers/new", data=BOOM).status_code == 422


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("boom?gpa=40&mph=4&width_in=20", "0.5387 gal/min"),
        ("course?width_in=20", "204.2 ft"),
        ("course?width_in=20&caught_fl_oz=40", "40 gal/acre"),
        ("gun?area_ft2=1000&seconds=90&caught_fl_oz=64&caught_seconds=30", "1.5 gal/1000 ft2"),
        ("nozzles?caught_fl_oz=10+10+10+12", "replace nozzle 4"),
        ("speed?feet=200&seconds=45", "3.03 mph"),
    ],
)
def test_a_calibration_shows_its_working(client: FlaskClient, address: str, said: str) -> None:
    shown = client.get(f"/sprayers/calibrate/{address}")
    assert shown.status_code == 200
    assert said in shown.get_data(as_text=True)


def test_what_was_measured_can_be_kept(client: FlaskClient, store: Store) -> None:
    client.post("/sprayers/new", data=BOOM)
    shown = client.get("/sprayers/calibrate/course?width_in=20&caught_fl_oz=43.56").get_data(as_text=True)
    told = f"carrier=43.56&amp;carrier.unit=gal%2Facre&amp;calibrated_on={date.today()}"
    assert f"/sprayers/blue-boom?{told}" in shown
    assert f"/sprayers/new?{told}&amp;kind=backpack" in shown
    filled = client.get("/sprayers/blue-boom?carrier=43.56&carrier.unit=gal%2Facre&calibrated_on=2027-04-01")
    for text in ('value="43.56"', 'value="2027-04-01"', 'value="Blue boom"', "nothing is kept yet"):
        assert text in filled.get_data(as_text=True)
    # Looking alone changes nothing.
    assert list_sprayers(store)[0].document["carrier"]["value"] == 40


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("boom?l_per_ha=400&km_h=6&width_m=0.5", "2 L/min"),
        ("course?width_m=0.5&caught_ml=2000", "400 L/ha"),
        ("gun?area_m2=100&seconds=90&caught_ml=2000&caught_seconds=30", "6 L/100 m2"),
        ("nozzles?caught_ml=700+700+700+900", "replace nozzle 4"),
        ("speed?metres=60&seconds=45", "4.8 km/h"),
    ],
)
def test_a_calibration_in_metric(client: FlaskClient, address: str, said: str) -> None:
    client.set_cookie("units", "metric")
    shown = client.get(f"/sprayers/calibrate/{address}")
    assert shown.status_code == 200
    assert said in shown.get_data(as_text=True)


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("boom?gpa=40", "exactly one"),
        ("boom?gpa=40&gpm=1&mph=3&width_in=20", "exactly one"),
        ("gun?area_ft2=x", "is no number"),
        ("gun?area_ft2=1,000", "may mean two things"),
        ("gun?area_ft2=1000", "is required"),
        ("nozzles?caught_fl_oz=10", "at least"),
        ("speed?feet=0&seconds=3", "out of range"),
    ],
)
def test_what_cannot_be_reckoned_is_named(client: FlaskClient, address: str, said: str) -> None:
    refused = client.get(f"/sprayers/calibrate/{address}")
    assert refused.status_code == 422
    assert said in refused.get_data(as_text=True)
