"""The pages that look over the whole knowledge."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient

from app.engine.matrix import MatrixCell
from app.web import create_app
from app.web.survey import strength

HOST = "localhost"


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return create_app(allowed_hosts=frozenset({HOST}), testing=True).test_client()


def page(client: FlaskClient, path: str, status: int = 200) -> str:
    answered = client.get(path, follow_redirects=True)
    assert answered.status_code == status, path
    return answered.get_data(as_text=True)


def test_the_matrix_answers_without_any_choice(client: FlaskClient) -> None:
    shown = page(client, "/knowledge/matrix")
    assert "What works on which weed" in shown
    assert "kentucky bluegrass" in shown.lower()
    assert "Not allowed on this turf here" in shown


def test_the_matrix_keeps_what_was_chosen(client: FlaskClient) -> None:
    shown = page(client, "/knowledge/matrix?turf=st-augustinegrass&zone=warm-humid&month=3&site_use=golf-rough")
    assert '<option value="st-augustinegrass" selected>' in shown
    assert '<option value="3" selected>' in shown


def test_filters_leave_fewer_weeds(client: FlaskClient) -> None:
    whole = page(client, "/knowledge/matrix?month=5")
    broad = page(client, "/knowledge/matrix?month=5&group=broadleaf&life_cycle=perennial")
    assert "smooth crabgrass" in whole
    assert "smooth crabgrass" not in broad
    assert ">dandelion<" in broad
    assert ">henbit<" not in broad


def test_barred_actives_stand_in_the_table_only_when_asked_for(client: FlaskClient) -> None:
    allowed = page(client, "/knowledge/matrix?month=5&turf=tall-fescue")
    everything = page(client, "/knowledge/matrix?month=5&turf=tall-fescue&shown=all")
    link = 'href="/knowledge/actives/atrazine"'
    assert link not in allowed
    assert link in everything
    assert "not allowed:" in everything


@pytest.mark.parametrize(
    ("query", "field"),
    [("turf=astroturf", "turf"), ("month=13", "month"), ("zone=moon", "zone"), ("group=trees", "group")],
)
def test_a_choice_that_is_none_is_named_at_its_field(client: FlaskClient, query: str, field: str) -> None:
    assert f'id="{field}-fault"' in page(client, f"/knowledge/matrix?{query}", 422)


def test_identify_narrows_and_says_what_rules_out(client: FlaskClient) -> None:
    whole = page(client, "/identify")
    assert "weeds are known here" in whole
    shown = page(client, "/identify?plant=broad-leaved&leaf-form=three-leaflets&flower-colour=white")
    assert "white clover" in shown
    assert "ruled out, and by what" in shown


def test_identify_drops_what_was_left_empty_from_its_address(client: FlaskClient) -> None:
    answered = client.get("/identify?plant=broad-leaved&habit=&month=")
    assert answered.status_code == 302
    assert answered.location.endswith("/identify?plant=broad-leaved")


@pytest.mark.parametrize("query", ["habit=flying", "wings=two", "month=13"])
def test_identify_refuses_what_is_no_answer(client: FlaskClient, query: str) -> None:
    assert 'role="alert"' in page(client, f"/identify?{query}", 422)


def test_the_calibration_tells_its_figures(client: FlaskClient) -> None:
    shown = page(client, "/knowledge/calibration")
    assert "points on average" in shown
    assert "worst misses" in shown


@pytest.mark.parametrize(
    ("likely", "word"),
    [(80.0, "strong"), (79.4, "fair"), (50.0, "fair"), (49.4, "weak"), (10.0, "weak"), (9.4, "none")],
)
def test_strength_on_both_sides_of_each_threshold(likely: float, word: str) -> None:
    cell = MatrixCell(active="2-4-d", low=1, likely=likely, high=99, basis="memory")
    assert strength(cell) == word


def test_what_stays_in_a_shortened_address_is_encoded(client: FlaskClient) -> None:
    answered = client.get("/identify?plant=a%26b%3Dc&habit=")
    assert answered.location.endswith("/identify?plant=a%26b%3Dc")


def test_nothing_told_asks_for_the_kind_of_plant_and_lists_nothing(client: FlaskClient) -> None:
    shown = page(client, "/identify")
    assert "Begin with the kind of plant" in shown
    assert "<h2>Fits</h2>" not in shown
