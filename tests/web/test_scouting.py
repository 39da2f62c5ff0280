"""Scouting notes as pages: the short form, sent once or twice, changed, closed."""

from __future__ import annotations

import re
from datetime import date

import pytest
from flask.testing import FlaskClient

from app.services import properties, scouting
from app.store.opening import Store
from tests.services.places import area, place

TODAY = str(date.today())
SEEN = {"key": "aaaaaaaaaa", "area": "front", "weed": "creeping charlie", "cover": "15", "date": TODAY, "by": "Jo"}
ONE = "/properties/12-mill-lane"
NEW = f"{ONE}/notes/new"


@pytest.fixture(autouse=True)
def kept(store: Store) -> None:
    properties.add(store, place(areas=[area(), area(name="Back")]))


def notes(store: Store) -> tuple[scouting.KeptNote, ...]:
    return scouting.notes_of(store, "12-mill-lane")


def test_a_note_is_of_today_and_of_whoever_noted_last(client: FlaskClient, store: Store) -> None:
    page = client.get(NEW).get_data(as_text=True)
    assert f'value="{TODAY}"' in page
    assert client.post(NEW, data=SEEN).headers["Location"] == f"{ONE}?told=noted"
    (note,) = notes(store)
    assert (note.note.weed, note.note.cover_pct, note.note.by) == ("ground-ivy", 15, "Jo")
    assert 'name="by" list="people" autocomplete="off" value="Jo"' in client.get(NEW).get_data(as_text=True)
    shown = client.get(ONE).get_data(as_text=True)
    assert "ground ivy" in shown
    assert "today" in shown
    assert "15 % of the ground" in shown


def test_a_form_sent_twice_keeps_one_note_and_the_next_has_a_key_of_its_own(client: FlaskClient, store: Store) -> None:
    for _ in range(2):
        answered = client.post(NEW, data={**SEEN, "act": "next"})
        assert answered.status_code == 303
    assert len(notes(store)) == 1
    page = client.get(answered.headers["Location"]).get_data(as_text=True)
    assert "Ground ivy is noted." in page
    assert re.search(r'value="front" checked', page)
    keys = {
        found.group(1)
        for found in (re.search(r'name="key" value="(\w+)"', client.get(NEW).get_data(as_text=True)) for _ in range(2))
        if found
    }
    assert len(keys) == 2


def test_a_refused_note_keeps_what_was_typed(client: FlaskClient, store: Store) -> None:
    typed = {**SEEN, "weed": "xyzzy", "area": "", "cover": "", "cover_exact": "x", "tillers": "2.5", "text": "thick"}
    answered = client.post(NEW, data=typed)
    page = answered.get_data(as_text=True)
    assert answered.status_code == 422
    for field in ("area", "cover_pct", "tillers"):
        assert f'href="#{field}"' in page
        assert f'id="{field}-fault"' in page
    assert 'value="xyzzy"' in page
    assert ">thick</textarea>" in page
    assert 'name="key" value="aaaaaaaaaa"' in page
    assert "nearest: " in client.post(NEW, data={**SEEN, "weed": "xyzzy"}).get_data(as_text=True)
    assert notes(store) == ()


def test_a_weed_noted_often_is_one_tap(client: FlaskClient, store: Store) -> None:
    client.post(NEW, data=SEEN)
    page = client.get(NEW).get_data(as_text=True)
    assert 'name="often" value="ground ivy"' in page
    tapped = client.post(NEW, data={**SEEN, "weed": "", "often": "ground ivy", "key": "bbbbbbbbbb"})
    assert tapped.status_code == 200
    assert 'value="ground ivy"' in tapped.get_data(as_text=True)
    assert len(notes(store)) == 1


def test_a_note_is_changed_and_both_sides_of_a_conflict_shown(client: FlaskClient, store: Store) -> None:
    client.post(NEW, data=SEEN)
    at = f"{ONE}/notes/aaaaaaaaaa"
    page = client.get(at).get_data(as_text=True)
    assert re.search(r'value="15" checked', page)
    changed = {**SEEN, "weed": "ground ivy", "cover": "", "cover_exact": "12.5", "version": "1", "stage": "flowering"}
    assert client.post(at, data=changed).status_code == 303
    (note,) = notes(store)
    assert (note.note.cover_pct, note.note.stage, note.version) == (12.5, "flowering", 2)
    second = client.post(at, data={**changed, "cover_exact": "30"})
    shown = second.get_data(as_text=True)
    assert second.status_code == 409
    assert "Somebody else was quicker" in shown
    assert 'name="version" value="2"' in shown
    assert 'value="30"' in shown


def test_a_weed_that_is_gone_closes_its_note(client: FlaskClient, store: Store) -> None:
    client.post(NEW, data=SEEN)
    close = f"{ONE}/notes/aaaaaaaaaa/close"
    assert client.post(close, data={"version": "1"}).headers["Location"] == f"{ONE}?told=closed"
    assert notes(store)[0].note.closed == date.today()
    page = client.get(ONE).get_data(as_text=True)
    assert "Closed notes: 1" in page
    assert "No weed is noted" in page
    assert client.post(close, data={"version": "1"}).status_code == 409


def test_a_property_without_an_area_says_so(client: FlaskClient, store: Store) -> None:
    properties.add(store, {"name": "Elm 3"})
    assert "This property has no area yet." in client.get("/properties/elm-3/notes/new").get_data(as_text=True)
    properties.add(store, place(name="Oak 1"))
    page = client.get("/properties/oak-1/notes/new").get_data(as_text=True)
    assert '<input type="hidden" name="area" value="front">' in page
