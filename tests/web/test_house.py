"""The house's trials on the pages of answers, weeds and actives, and in the API."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient

from app.services import trials
from app.store.opening import Store, open_in_memory
from app.web import create_app

ASKED = "weed=smooth+crabgrass&turf=kentucky-bluegrass&zone=cool-humid&date=2027-07-05&stage=1-3-tiller"
SLUG = "larkmere-crabgrass-stage-2026"


@pytest.fixture(scope="module")
def filled() -> Iterator[Store]:
    """A store with the demo's trials."""
    store = open_in_memory()
    trials.fill_demo(store)
    yield store
    store.close()


@pytest.fixture(scope="module")
def house(filled: Store) -> FlaskClient:
    """The app over that store."""
    return create_app(allowed_hosts=frozenset({"localhost"}), testing=True, store=filled).test_client()


@pytest.fixture(scope="module")
def bare() -> FlaskClient:
    """The app over a store that holds nothing."""
    return create_app(allowed_hosts=frozenset({"localhost"}), testing=True).test_client()


def _text(client: FlaskClient, path: str) -> str:
    answered = client.get(path)
    assert answered.status_code == 200
    return answered.get_data(as_text=True)


def test_an_answer_shows_what_the_trials_changed_and_can_be_asked_without(house: FlaskClient) -> None:
    text = _text(house, f"/answer?{ASKED}")
    assert "This answer counts 1 trial of the house on these weeds." in text
    assert "leads; without the house&#39;s trials" in text
    assert f'href="/trials/{SLUG}"' in text
    assert "(prior)" in text
    assert "(posterior)" in text
    assert "trial of the house" in text
    assert "house=no" in text
    left_out = _text(house, f"/answer?{ASKED}&house=no")
    assert "trials are left out" in left_out
    assert "Rank with them" in left_out


def test_without_trials_nothing_is_said_of_them(bare: FlaskClient, house: FlaskClient) -> None:
    assert "The house's own trials" not in _text(bare, f"/answer?{ASKED}")
    assert "The house's own trials" not in _text(house, "/answer?weed=henbit&zone=cool-humid&date=2027-04-10")
    assert "own trials say" not in _text(bare, "/knowledge/weeds/smooth-crabgrass")


@pytest.mark.parametrize("path", ["/knowledge/weeds/smooth-crabgrass", "/knowledge/actives/quinclorac"])
def test_weed_and_active_show_prior_trials_and_posterior(house: FlaskClient, path: str) -> None:
    text = _text(house, path)
    assert "What the house's own trials say" in text
    for part in ("(prior)", f'<a href="/trials/{SLUG}">', "(posterior)", "94 % seen"):
        assert part in text
    assert "another date of the same plots lies nearer" in text


def test_a_trial_that_is_cited_is_met_under_its_number(house: FlaskClient) -> None:
    text = _text(house, "/knowledge/weeds/smooth-crabgrass")
    assert "Larkmere crabgrass stage 2026. Replicated plots, Tarnbeck, 2026. House trial." in text
    assert house.get(f"/trials/{SLUG}").status_code == 200


def test_the_api_ranks_with_and_without(house: FlaskClient, bare: FlaskClient) -> None:
    asked = {
        "date": "2027-07-05",
        "zone": "cool-humid",
        "site_use": "residential-lawn",
        "turf": ["kentucky-bluegrass"],
        "targets": [{"weed": "smooth-crabgrass", "stage": "1-3-tiller"}],
    }
    with_them = house.post("/api/v1/recommend", json=asked).get_json()
    without = house.post("/api/v1/recommend", json={**asked, "options": {"house_evidence": False}}).get_json()
    never = bare.post("/api/v1/recommend", json=asked).get_json()
    assert with_them["house_evidence"]["used"] is True
    assert without["house_evidence"]["used"] is False
    assert never["house_evidence"] is None
    assert with_them["ranked"] != never["ranked"]
    assert without["ranked"] == never["ranked"]
    refused = house.post("/api/v1/recommend", json={**asked, "options": {"house_evidence": "perhaps"}})
    assert refused.status_code == 422
    assert refused.get_json()["error"]["fields"][0]["path"] == "options.house_evidence"


def test_side_by_side_counts_them(house: FlaskClient, bare: FlaskClient) -> None:
    sides = [
        {
            "actives": [{"active": "quinclorac", "rate": {"value": 0.75, "unit": "lb ai/acre"}}],
            "adjuvant": {"id": "mso"},
        },
        {"actives": [{"active": "topramezone", "rate": {"value": 0.033, "unit": "lb ai/acre"}}]},
    ]
    situation = {
        "date": "2027-07-05",
        "zone": "cool-humid",
        "site_use": "residential-lawn",
        "turf": ["kentucky-bluegrass"],
        "targets": [{"weed": "smooth-crabgrass", "stage": "1-3-tiller"}],
    }
    found = [c.post("/api/v1/side-by-side", json={"situation": situation, "sides": sides}) for c in (house, bare)]
    assert [item.status_code for item in found] == [200, 200]
    with_them, without = (item.get_json()["sides"][0]["control"][0]["likely"] for item in found)
    assert with_them > without + 5
