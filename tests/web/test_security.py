"""Who may write: tokens on forms, log-ins that end, a password that can be changed, backup and restore."""

from __future__ import annotations

import io
import json
import re
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy.exc import OperationalError

from app.services import accounts, backup
from app.store import products, settings
from app.store.opening import Store, open_in_memory
from app.web import create_app, security
from tests.store.test_products import FULL, NOW, kept, product

PASSWORD, OTHER = "a long password", "another long one"


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    yield opened
    opened.close()


@pytest.fixture
def strict(store: Store) -> Flask:
    """The app as it is served, with tokens asked for."""
    application = create_app(allowed_hosts=frozenset({"localhost"}), store=store)
    application.config.update(TESTING=True)
    return application


def token(client: FlaskClient, path: str = "/about") -> str:
    found = re.search(r'name="csrf_token" value="([^"]+)"', client.get(path).get_data(as_text=True))
    assert found is not None
    return found.group(1)


def test_no_form_is_taken_without_its_token(strict: Flask) -> None:
    client = strict.test_client()
    posts = [
        rule for rule in strict.url_map.iter_rules() if "POST" in (rule.methods or ()) and "api" not in rule.endpoint
    ]
    assert len(posts) >= 5
    for rule in posts:
        path = re.sub(r"<[^>]+>", "any", re.sub(r"<int:[^>]+>", "2027", rule.rule))
        for sent in ({}, {"csrf_token": "made up"}):
            refused = client.post(path, data=sent)
            assert refused.status_code == 400, path
            assert "Nothing was stored" in refused.get_data(as_text=True)


def test_without_its_token_nothing_is_stored(strict: Flask, store: Store) -> None:
    client = strict.test_client()
    with store.session() as session:
        (alder,) = products.insert(session, [product("Alder")], NOW)
    archive = backup.archive_of(open_in_memory(), NOW)
    sent = {"replace": "yes", "backup": (io.BytesIO(archive), "empty.zip")}
    assert client.post("/restore", data=sent).status_code == 400
    assert client.post("/shelf/alder/remove", data={"version": "1"}).status_code == 400
    assert client.post("/shelf/alder/stock", data={"version": "1", "stock": "2 gal"}).status_code == 400
    assert client.post("/sprayers/new", data={"name": "Boom", "kind": "boom"}).status_code == 400
    assert kept(store) == (alder,)
    # With it, the same is done.
    sent = {"version": "1", "csrf_token": token(client)}
    assert client.post("/shelf/alder/remove", data=sent).status_code == 303
    assert kept(store) == ()


def test_a_form_with_its_token_is_taken(strict: Flask) -> None:
    client = strict.test_client()
    assert client.post("/units", data={"units": "metric", "csrf_token": token(client)}).status_code == 303
    # A token of one browser is none of another's.
    other = strict.test_client()
    token(other)
    assert other.post("/units", data={"units": "metric", "csrf_token": token(client)}).status_code == 400


@pytest.mark.parametrize("kind", ["application/x-www-form-urlencoded", "multipart/form-data", "text/plain"])
def test_a_form_of_another_site_reaches_no_call(strict: Flask, kind: str) -> None:
    client = strict.test_client()
    sent = client.post(
        "/api/v1/recommend", data=b"{}", content_type=kind, headers={"Origin": "http://elsewhere.example"}
    )
    assert sent.status_code == 400
    assert "another page" in sent.get_json()["error"]["message"]


@pytest.mark.parametrize("kind", ["application/x-www-form-urlencoded", "text/plain", None])
def test_a_call_that_writes_takes_no_body_that_a_form_can_send(strict: Flask, store: Store, kind: str | None) -> None:
    # The types that a browser sends for another site without asking first: Fetch standard, "CORS-safelisted
    # request-header" (from memory). Here as a client that tells no origin.
    client, label = strict.test_client(), json.dumps(product("Alder").model_dump(mode="json"))
    for path, body in (("/api/v1/shelf", label), ("/api/v1/shelf/import", '{"csv": "name\nAlder\n", "confirm": true}')):
        refused = client.post(path, data=body, content_type=kind)
        assert refused.status_code == 415
        assert "Content-Type" in refused.get_json()["error"]["message"]
    assert kept(store) == ()
    assert client.post("/api/v1/shelf", data=label, content_type="application/json").status_code == 201


def test_two_apps_on_one_host_keep_their_own_cookies(strict: Flask) -> None:
    other = create_app(allowed_hosts=frozenset({"localhost"}))
    assert other.config["SESSION_COOKIE_NAME"] != strict.config["SESSION_COOKIE_NAME"]


def test_an_app_that_others_reach_closes_where_the_password_is_forgotten(store: Store) -> None:
    accounts.set_password(store, PASSWORD)
    reached = create_app(allowed_hosts=frozenset({"localhost"}), store=store, needs_password=True)
    client = reached.test_client()
    enter(client)
    assert client.get("/").status_code == 200
    accounts.remove_password(store)
    closed = client.get("/shelf")
    assert closed.status_code == 403
    assert "swardwright password" in closed.get_data(as_text=True)
    assert client.get("/api/v1/shelf").status_code == 403
    accounts.set_password(store, OTHER)
    assert client.get("/shelf").status_code == 302
    assert enter(client, OTHER).status_code == 303


def enter(client: FlaskClient, password: str = PASSWORD) -> Any:
    return client.post("/login", data={"password": password, "csrf_token": token(client, "/login")})


def test_a_kept_password_guards_and_lets_in_and_out(strict: Flask, store: Store) -> None:
    client = strict.test_client()
    assert client.get("/").status_code == 200
    accounts.set_password(store, PASSWORD)
    assert client.get("/").status_code == 302
    assert client.get("/api/v1/health").status_code == 401
    assert enter(client, OTHER).status_code == 422
    assert enter(client).status_code == 303
    page = client.get("/")
    assert page.status_code == 200
    assert "Log out" in page.get_data(as_text=True)
    client.post("/logout", data={"csrf_token": token(client, "/")})
    assert client.get("/").status_code == 302


def test_a_new_password_ends_the_log_ins_made_with_the_old(strict: Flask, store: Store) -> None:
    client = strict.test_client()
    accounts.set_password(store, PASSWORD)
    enter(client)
    accounts.set_password(store, OTHER)
    assert client.get("/").status_code == 302
    assert enter(client).status_code == 422
    assert enter(client, OTHER).status_code == 303


@pytest.mark.parametrize(
    ("steps", "inside"),
    [
        ((security.IDLE_SECONDS - 60,), True),
        ((security.IDLE_SECONDS + 1,), False),
        ((security.IDLE_SECONDS - 60,) * 6, True),
        ((security.IDLE_SECONDS - 60,) * 7, False),
    ],
)
def test_a_log_in_ends(
    strict: Flask, store: Store, monkeypatch: pytest.MonkeyPatch, steps: tuple[float, ...], inside: bool
) -> None:
    client, now = strict.test_client(), [time.time()]
    monkeypatch.setattr(security.time, "time", lambda: now[0])
    accounts.set_password(store, PASSWORD)
    enter(client)
    for step in steps:
        now[0] += step
        answered = client.get("/")
    assert answered.status_code == (200 if inside else 302)


def test_a_log_in_outlives_a_restart(store: Store) -> None:
    accounts.set_password(store, PASSWORD)
    first, second = (create_app(allowed_hosts=frozenset({"localhost"}), store=store) for _ in range(2))
    client = first.test_client()
    enter(client)
    name = first.config["SESSION_COOKIE_NAME"]
    cookie = client.get_cookie(name)
    assert cookie is not None
    again = second.test_client()
    again.set_cookie(name, cookie.value)
    assert again.get("/").status_code == 200


def test_failures_are_counted_over_all_workers_and_pass(store: Store) -> None:
    accounts.set_password(store, PASSWORD)
    workers = [create_app(allowed_hosts=frozenset({"localhost"}), store=store).test_client() for _ in range(2)]
    for number in range(accounts.MOST_FAILURES):
        enter(workers[number % 2], OTHER)
    for worker in workers:
        assert "too many failed attempts" in enter(worker).get_data(as_text=True)
    hashed = accounts.kept_hash(store)
    assert hashed is not None
    later = datetime.now(UTC) + accounts.FAILURES_COUNT_FOR
    assert accounts.try_password(store, hashed, PASSWORD, later) is None


@pytest.mark.parametrize("guarded", [True, False])
def test_a_store_that_is_away_is_told_on_page_and_call(
    strict: Flask, store: Store, monkeypatch: pytest.MonkeyPatch, guarded: bool
) -> None:
    client = strict.test_client()
    if guarded:
        accounts.set_password(store, PASSWORD)
        enter(client)

    def away(*_: object) -> None:
        raise OperationalError("SELECT", {}, Exception("database disk image is malformed"))

    monkeypatch.setattr(products, "every", away)
    page, call = client.get("/shelf"), client.get("/api/v1/shelf")
    assert (page.status_code, call.status_code) == (503, 503)
    assert "disk image is malformed; nothing was stored" in page.get_data(as_text=True)
    assert "disk image is malformed; nothing was stored" in call.get_json()["error"]["message"]
    monkeypatch.setattr(settings, "get", away)
    # Even where the password cannot be looked up; nobody is let in then.
    assert [client.get(path).status_code for path in ("/", "/login", "/api/v1/shelf")] == [503, 503, 503]


def test_the_password_is_not_kept_as_typed(store: Store) -> None:
    accounts.set_password(store, PASSWORD)
    kept_as = accounts.kept_hash(store)
    assert kept_as is not None
    assert PASSWORD not in kept_as
    assert kept_as.startswith("scrypt:")
    accounts.remove_password(store)
    assert accounts.kept_hash(store) is None


def test_a_backup_is_written_and_restored_by_a_click(strict: Flask, store: Store) -> None:
    client = strict.test_client()
    with store.session() as session:
        products.insert(session, [FULL], NOW)
    written = client.post("/backup", data={"csrf_token": token(client)})
    assert written.mimetype == "application/zip"
    assert "attachment" in written.headers["Content-Disposition"]
    with store.session() as session:
        products.insert(session, [product("Alder")], NOW)
    sent = {"csrf_token": token(client), "replace": "yes", "backup": (io.BytesIO(written.data), "shelf.zip")}
    restored = client.post("/restore", data=sent)
    assert restored.status_code == 303
    assert [item.product.name for item in kept(store)] == ["Larkmere Plain"]
    assert "1 product. What was kept before is in" in client.get("/about").get_data(as_text=True)


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"replace": "yes"}, ["choose the archive"]),
        ({"backup": (b"no archive", "a.zip")}, ["tick that everything"]),
        ({}, ["choose the archive", "tick that everything"]),
        ({"replace": "yes", "backup": (b"no archive", "a.zip")}, ["damaged or no backup", "nothing was changed"]),
    ],
)
def test_a_restore_that_is_refused_says_why(strict: Flask, store: Store, sent: dict[str, Any], said: list[str]) -> None:
    client = strict.test_client()
    with store.session() as session:
        products.insert(session, [FULL], NOW)
    files = {
        key: (io.BytesIO(value[0]), value[1]) if isinstance(value, tuple) else value for key, value in sent.items()
    }
    refused = client.post("/restore", data={"csrf_token": token(client), **files}, content_type="multipart/form-data")
    assert refused.status_code == 422
    assert all(text in refused.get_data(as_text=True) for text in said)
    assert len(kept(store)) == 1


def test_what_was_there_is_kept_aside_before_a_restore(store: Store) -> None:
    with store.session() as session:
        products.insert(session, [FULL], NOW)
    data = backup.archive_of(store, NOW)
    with store.session() as session:
        products.insert(session, [product("Alder")], NOW)
    _, before = backup.restore_backup(store, data, NOW)
    assert len(kept(store)) == 1
    backup.restore_backup(store, before.read_bytes(), NOW)
    assert len(kept(store)) == 2
