"""The pages: statuses, kept forms, and what a page may do."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient
from werkzeug.security import generate_password_hash

from app.services.knowledge_service import knowledge_base
from app.web import create_app
from app.web.forms import field_of

QUESTION = "/answer?weed=wild+violet&turf=tall-fescue&zone=cool-humid&date=2027-05-20&stage=flowering&stand=established"


@pytest.fixture(scope="module")
def client() -> Iterator[FlaskClient]:
    """A client of the app as it runs."""
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True).test_client() as found:
        yield found


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("/", ["What kills this weed here?", "Rank programs"]),
        (QUESTION, ["triclopyr", "Turned down", "likely", "Sources", "label is the law"]),
        ("/answer?weed=creeping+charlie", ["ground ivy"]),
        (QUESTION.replace("/answer", "/why-not") + "&active=atrazine", ["Not here", "Stop"]),
        (QUESTION.replace("/answer", "/why-not") + "&active=triclopyr", ["ranks 1"]),
        ("/knowledge", ["Weeds", "published"]),
        ("/about", ["knowledge version", "nothing is sent anywhere"]),
    ],
)
def test_a_page_says_what_it_is_for(client: FlaskClient, path: str, words: list[str]) -> None:
    found = client.get(path)
    assert found.status_code == 200
    text = found.get_data(as_text=True)
    assert text.count("<h1") == 1
    for word in words:
        assert word in text


def test_every_entry_has_its_page(client: FlaskClient) -> None:
    base = knowledge_base()
    for kind in ("weeds", "actives", "turf"):
        assert client.get(f"/knowledge/{kind}").status_code == 200
        for key in getattr(base, kind):
            assert client.get(f"/knowledge/{kind}/{key}").status_code == 200, key


def test_a_refused_form_keeps_what_was_typed_and_links_to_each_field(client: FlaskClient) -> None:
    found = client.get("/answer?weed=dandelion&tillers=2&max_temp=warm&turf=tall-fescue&height=3.25")
    assert found.status_code == 422
    text = found.get_data(as_text=True)
    for kept in ('value="dandelion"', 'value="warm"', 'value="3.25"', 'href="#max_temp"', 'id="max_temp-fault"'):
        assert kept in text


def test_an_unknown_weed_offers_the_nearest(client: FlaskClient) -> None:
    found = client.get("/answer?weed=zzvioletzz")
    assert found.status_code == 422
    assert "Did you mean" in found.get_data(as_text=True) or "nearest" in found.get_data(as_text=True)


def test_metric_is_shown_and_read(client: FlaskClient) -> None:
    metric = client.get(QUESTION + "&units=metric&max_temp=22").get_data(as_text=True)
    assert "g ae/ha" in metric
    assert "°C" in metric
    hot = client.get(QUESTION + "&units=metric&max_temp=38&max_temp_3=38").get_data(as_text=True)
    assert "100 F" in hot or "100.4 F" in hot


def test_what_is_typed_is_never_markup(client: FlaskClient) -> None:
    text = client.get("/answer?weed=%3Cscript%3Ealert(1)%3C/script%3E").get_data(as_text=True)
    assert "<script>alert" not in text


def test_suggestions_tolerate_slips(client: FlaskClient) -> None:
    for typed, name in (
        ("wild voilet", "wild violet"),
        ("nutgrass", "yellow nutsedge"),
        ("creeping charlie", "ground ivy"),
    ):
        assert client.get("/suggest", query_string={"q": typed}).get_json()[0]["name"] == name
    assert client.get("/suggest?q=").get_json() == []


def test_every_answer_carries_the_strict_policy(client: FlaskClient) -> None:
    for path in ("/", QUESTION, "/api/v1/health", "/nowhere"):
        headers = client.get(path).headers
        assert "default-src 'none'" in headers["Content-Security-Policy"]
        assert "unsafe" not in headers["Content-Security-Policy"]
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Cache-Control"] == "no-store"


def test_pages_load_nothing_from_elsewhere(client: FlaskClient) -> None:
    text = client.get(QUESTION).get_data(as_text=True)
    for mark in ('src="http', 'href="http', "<style", "onclick", "style="):
        assert mark not in text


def test_another_host_or_origin_is_refused(client: FlaskClient) -> None:
    assert client.get("/", headers={"Host": "evil.example"}).status_code == 400
    assert client.post("/units", data={"units": "metric"}, headers={"Origin": "http://evil.example"}).status_code == 400
    assert client.post("/api/v1/recommend", json={}, headers={"Origin": "http://evil.example"}).status_code == 400
    assert client.post("/units", data={"units": "metric"}, headers={"Origin": "http://localhost"}).status_code == 303


@pytest.mark.parametrize("back", ["//evil.example/", "https://evil.example/", "/\\evil.example"])
def test_the_unit_switch_leads_nowhere_else(client: FlaskClient, back: str) -> None:
    assert client.post("/units", data={"units": "us", "back": back}).headers["Location"] == "/"


@pytest.mark.parametrize(
    ("path", "status"), [("/nowhere", 404), ("/knowledge/gossip", 404), ("/knowledge/weeds/x", 404)]
)
def test_failing_states_are_pages(client: FlaskClient, path: str, status: int) -> None:
    found = client.get(path)
    assert found.status_code == status
    assert "<h1" in found.get_data(as_text=True)


def test_a_body_that_is_too_large_is_refused(client: FlaskClient) -> None:
    assert client.post("/units", data={"units": "x" * (2 * 1024 * 1024)}).status_code == 413


def test_a_password_guards_every_page_and_call() -> None:
    hashed = generate_password_hash("a long password", method="scrypt:1024:8:1")
    application = create_app(allowed_hosts=frozenset({"localhost"}), password_hash=hashed, testing=True)
    with application.test_client() as guarded:
        assert guarded.get("/").headers["Location"] == "/login"
        assert guarded.get("/api/v1/health").status_code == 401
        assert guarded.get("/login").status_code == 200
        assert guarded.post("/login", data={"password": "wrong"}).status_code == 422
        assert guarded.post("/login", data={"password": "a long password"}).status_code == 303
        assert guarded.get("/").status_code == 200
        assert guarded.get("/api/v1/health").status_code == 200


def test_guessing_is_slowed() -> None:
    hashed = generate_password_hash("a long password", method="scrypt:1024:8:1")
    application = create_app(allowed_hosts=frozenset({"localhost"}), password_hash=hashed, testing=True)
    with application.test_client() as guarded:
        for _ in range(5):
            guarded.post("/login", data={"password": "wrong"})
        refused = guarded.post("/login", data={"password": "a long password"})
        assert refused.status_code == 422
        assert "too many" in refused.get_data(as_text=True)


@pytest.mark.parametrize(
    ("path", "field"),
    [
        ("forecast.max_temp_f", "max_temp"),
        ("targets.1.weed", "weed_2"),
        ("targets.0.resistant_to.0", "weed"),
        ("applied_this_year.2.rate.value", "past_rate_3"),
        ("turf.1", "turf_2"),
        ("", "weed"),
    ],
)
def test_faults_find_their_field(path: str, field: str) -> None:
    assert field_of(path) == field
