"""The pages: statuses, kept forms, and what a page may do."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import date

import pytest
from flask.testing import FlaskClient
from werkzeug.security import generate_password_hash

from app.engine.output import as_json
from app.services.advice import answer
from app.services.knowledge_service import knowledge_base
from app.web import create_app

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
        (QUESTION + "&top=3&area=12000&area_unit=ft2", ["12,000 ft2", "Spray on"]),
        (QUESTION.replace("date=2027-05-20", "date=2027-01-10"), ["Not now", "Come back"]),
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
    for kind in ("weeds", "actives", "turf", "sources"):
        assert client.get(f"/knowledge/{kind}").status_code == 200
        for key in list(getattr(base, kind))[:100]:
            assert client.get(f"/knowledge/{kind}/{key}").status_code == 200, key


def test_a_refused_form_keeps_what_was_typed_and_links_to_each_field(client: FlaskClient) -> None:
    found = client.get("/answer?weed=dandelion&tillers=2&max_temp=warm&turf=tall-fescue&height=3.25")
    assert found.status_code == 422
    text = found.get_data(as_text=True)
    for kept in ('value="dandelion"', 'value="warm"', 'value="3.25"', 'href="#max_temp"', 'id="max_temp-fault"'):
        assert kept in text


def test_a_fault_is_said_in_the_same_words_at_the_field_and_in_the_summary(client: FlaskClient) -> None:
    text = client.get("/answer?weed=dandelion&max_temp=50&min_temp=60&mowings=2.5&zone=moon").get_data(as_text=True)
    for field, label, message in (
        ("mowings", "Mowings since emergence", "&#39;2.5&#39; is not a whole number"),
        ("min_temp", "Lowest tonight", "lowest tonight must not exceed highest today"),
    ):
        assert f'<a href="#{field}">{label}: {message}</a>' in text
        assert f'<span class="fault" id="{field}-fault">{message}</span>' in text
    assert 'href="#zone"' in text


def test_an_unknown_weed_offers_the_nearest_and_keeps_the_rest_of_the_question(client: FlaskClient) -> None:
    found = client.get("/answer?weed=grass+violent&turf=tall-fescue&max_temp=70")
    assert found.status_code == 422
    text = found.get_data(as_text=True)
    assert "Did you mean" in text
    assert "turf=tall-fescue&amp;max_temp=70&amp;weed=" in text


def test_a_name_is_said_back_as_it_was_taken(client: FlaskClient) -> None:
    assert "“creeping charlie” is taken as ground ivy" in client.get("/answer?weed=creeping+charlie").get_data(
        as_text=True
    )


def test_fields_left_empty_do_not_lengthen_the_address(client: FlaskClient) -> None:
    found = client.get("/answer?units=us&weed=dandelion&turf=&zone=&stage=&surroundings=slope")
    assert (found.status_code, found.headers["Location"]) == (302, "/answer?units=us&weed=dandelion&surroundings=slope")


def test_what_was_not_told_is_said_to_be_assumed(client: FlaskClient) -> None:
    text = client.get("/answer?weed=dandelion&month=9").get_data(as_text=True)
    assert "Taken as usual, since not told" in text
    assert '<a href="#zone">zone</a> cool humid' in text
    assert "15 September" in text
    assert "Taken as usual" not in client.get(QUESTION + "&site_use=residential-lawn").get_data(as_text=True)


def test_the_pages_the_json_and_the_service_tell_the_same(client: FlaskClient) -> None:
    told = client.get(QUESTION.replace("/answer", "/answer.json")).get_json()
    page = client.get(QUESTION).get_data(as_text=True)
    names = [program["name"] for program in told["ranked"]]
    assert [name in page for name in names] == [True] * len(names)
    quick = answer("bermudagrass", turf=None, month=6, zone="warm-humid", stage=None, site_use=None, today=date.today())
    asked = client.get("/answer.json?weed=bermudagrass&zone=warm-humid&month=6").get_json()
    assert asked == json.loads(json.dumps(as_json(quick.recommendation)))
    assert client.get("/answer.json?weed=dandelion&max_temp=warm").status_code == 422


def test_every_mark_has_its_number_in_the_list_of_sources(client: FlaskClient) -> None:
    for path in (
        QUESTION,
        "/knowledge/weeds/wild-violet",
        "/knowledge/actives/triclopyr",
        "/knowledge/turf/tall-fescue",
    ):
        text = client.get(path).get_data(as_text=True)
        told = re.search(r"<summary>(\d+) sources, by the numbers", text)
        marks = re.findall(r"sources? </span>\[([^\]]*)\]", text)
        assert told is not None
        assert marks
        assert all(int(number) <= int(told.group(1)) for mark in marks for number in mark.split(", "))


def test_an_unknown_names_the_field_that_settles_it(client: FlaskClient) -> None:
    text = client.get(QUESTION).get_data(as_text=True)
    assert '<a class="settle" href="#stress">Tell: stress</a>' in text


def test_the_answer_asks_after_one_active_only(client: FlaskClient) -> None:
    text = client.get(QUESTION + "&active=dicamba").get_data(as_text=True)
    assert 'type="hidden" name="active"' not in text
    back = client.get(QUESTION.replace("/answer", "/why-not") + "&active=dicamba").get_data(as_text=True)
    assert "active=dicamba" not in back.split("Back to the answer")[0].rsplit("<a ", 1)[1]
    none = client.get(QUESTION.replace("/answer", "/why-not"))
    assert none.status_code == 422
    assert 'id="active-fault"' in none.get_data(as_text=True)


def test_metric_is_shown_and_read(client: FlaskClient) -> None:
    metric = client.get(QUESTION + "&units=metric&max_temp=22").get_data(as_text=True)
    assert "g ae/ha" in metric
    assert "°C" in metric
    hot = client.get(QUESTION + "&units=metric&max_temp=38&max_temp_3=38").get_data(as_text=True)
    assert "38 °C" in hot
    assert "100 F" not in hot


def test_the_switch_of_units_turns_an_answer_and_keeps_its_meaning(client: FlaskClient) -> None:
    asked = QUESTION + "&units=us&max_temp=77&past_active_1=2-4-d&past_rate_1=1&past_date_1=2027-04-01"
    before = client.get(asked.replace("/answer", "/answer.json")).get_json()
    client.post("/units", data={"units": "metric", "back": asked})
    try:
        text = client.get(asked).get_data(as_text=True)
        assert 'name="max_temp" inputmode="decimal" autocomplete="off" value="25"' in text
        assert 'value="1121"' in text
        assert "g ae/ha" in text
        assert "lb ae/acre" not in text
        assert client.get(asked.replace("/answer", "/answer.json")).get_json() == before
    finally:
        client.delete_cookie("units")


def test_what_is_typed_is_never_markup(client: FlaskClient) -> None:
    for path in (
        "/answer?weed=",
        "/answer?weed=dandelion&max_temp=",
        "/answer?weed=dandelion&weed_2=",
        "/knowledge/weeds/",
    ):
        text = client.get(path + "%3Cscript%3Ealert(1)%3C%2Fscript%3E%22x").get_data(as_text=True)
        assert "<script>alert" not in text
        assert '"x"' not in text


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
        assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
        assert headers["Referrer-Policy"] == "same-origin"
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


@pytest.mark.parametrize("back", ["//evil.example/", "https://evil.example/", "/\\evil.example", "/\t/evil.example"])
def test_the_unit_switch_leads_nowhere_else(client: FlaskClient, back: str) -> None:
    assert client.post("/units", data={"units": "us", "back": back}).headers["Location"] == "/"


@pytest.mark.parametrize(
    ("path", "status"),
    [("/nowhere", 404), ("/knowledge/gossip", 404), ("/knowledge/weeds/wild-violets", 404), ("/units", 405)],
)
def test_failing_states_are_pages(client: FlaskClient, path: str, status: int) -> None:
    found = client.get(path)
    assert found.status_code == status
    assert "<h1" in found.get_data(as_text=True)


def test_a_misspelt_entry_leads_to_the_nearest(client: FlaskClient) -> None:
    assert 'href="/knowledge/weeds/wild-violet"' in client.get("/knowledge/weeds/wild-violets").get_data(as_text=True)


def test_a_fault_of_ours_is_a_page_that_says_what_was_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    application = create_app(allowed_hosts=frozenset({"localhost"}))

    def broken(payload: object) -> None:
        raise RuntimeError("broken on purpose")

    monkeypatch.setattr("app.services.advice.recommend", broken)
    found = application.test_client().get(QUESTION)
    assert found.status_code == 500
    assert "still holds your question" in found.get_data(as_text=True)
    assert "broken on purpose" not in found.get_data(as_text=True)


def test_a_body_that_is_too_large_is_refused(client: FlaskClient) -> None:
    assert client.post("/units", data={"units": "x" * (2 * 1024 * 1024)}).status_code == 413


def test_a_password_guards_every_page_and_call() -> None:
    hashed = generate_password_hash("a long password", method="scrypt:1024:8:1")
    application = create_app(allowed_hosts=frozenset({"localhost"}), password_hash=hashed, testing=True)
    with application.test_client() as guarded:
        assert guarded.get("/").headers["Location"] == "/login"
        assert guarded.get("/knowledge/weeds").headers["Location"] == "/login?back=%2Fknowledge%2Fweeds"
        assert 'value="/"' in guarded.get("/login?back=//evil.example").get_data(as_text=True)
        assert guarded.get("/api/v1/health").status_code == 401
        assert guarded.get("/login").status_code == 200
        assert guarded.post("/login", data={"password": "wrong"}).status_code == 422
        entered = guarded.post("/login", data={"password": "a long password", "back": "/knowledge"})
        assert (entered.status_code, entered.headers["Location"]) == (303, "/knowledge")
        assert "HttpOnly" in entered.headers["Set-Cookie"]
        assert "SameSite=Strict" in entered.headers["Set-Cookie"]
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
