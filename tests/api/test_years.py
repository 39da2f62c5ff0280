"""The calls of the years of properties; plans are made by hand in place of the search."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient

from app.store.opening import open_in_memory
from app.web import create_app
from tests.services.year_kept import SEASON, SLUG, place_with, plans_by_hand

AT = f"/api/v1/years/{SLUG}/{SEASON}"


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> Iterator[FlaskClient]:
    store = open_in_memory()
    place_with(store)
    plans_by_hand(monkeypatch)
    yield create_app(allowed_hosts=frozenset({"localhost"}), testing=True, store=store).test_client()
    store.close()


def test_a_year_is_planned_kept_and_told(calls: FlaskClient) -> None:
    empty = calls.get(AT).get_json()
    assert (empty["plan"], empty["versions"], empty["version"]) == (None, [], 0)
    made = calls.post(AT, json={"version": 0, "visits": {"count": 3}})
    assert made.status_code == 201
    told = calls.get(AT).get_json()
    assert told == made.get_json()
    assert told["plan"]["plan"]["headline"] == "3 visits."
    # Keys are those of the question and the plan, the words that Python keeps for itself among them.
    assert "from" in told["plan"]["asked"]
    assert "for" in told["plan"]["plan"]["visits"][0]
    assert [(item["number"], item["chosen"]) for item in told["versions"]] == [(1, True)]


def test_what_cannot_be_used_is_named_and_nothing_is_kept(calls: FlaskClient) -> None:
    wrong = calls.post(AT, json={"version": 0, "visits": {"count": 3}, "weeds": [{"weed": "Crab Grass"}]})
    assert wrong.status_code == 422
    assert [fault["path"] for fault in wrong.get_json()["error"]["fields"]] == ["weeds.0.weed"]
    assert calls.post(AT, json={"version": 0, "day": 3}).status_code == 422
    assert calls.post(AT, data="{}", content_type="text/plain").status_code == 415
    assert calls.get(f"/api/v1/years/nowhere/{SEASON}").status_code == 404
    assert calls.get(f"/api/v1/years/{SLUG}/12").status_code == 422
    assert calls.get(AT).get_json()["versions"] == []


def test_the_second_of_two_is_told(calls: FlaskClient) -> None:
    first = calls.post(AT, json={"version": 0}).get_json()
    assert calls.post(AT, json={"version": 0}).status_code == 409
    beside = calls.post(AT, json={"version": first["version"], "choose": False})
    assert beside.status_code == 201
    assert [item["chosen"] for item in beside.get_json()["versions"]] == [True, False]
