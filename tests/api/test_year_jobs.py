"""The API of planning a branch, by the document that describes it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app.services import year_job
from app.services.year_job_lease import Holding
from app.services.year_job_run import Ways, run
from app.store.opening import Store, open_in_memory, open_store
from app.web import create_app
from tests.benchmarks.years import fill
from tests.services import year_jobs_made as made

AT = "/api/v1/year-jobs"
ASKED = {"key": "key-of-a-call", "season": 2027, "visits": {"count": 2}}


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[FlaskClient]:
    store = open_store(tmp_path)
    fill(store, 60)

    def begin(store: Store, key: str) -> None:
        run(Holding(store, key), Ways(1, maker=made.quick, asks=made.asks))

    monkeypatch.setattr(year_job, "begin", begin)
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True, store=store).test_client() as found:
        yield found
    store.close()


def test_a_job_is_begun_once_told_and_removed(client: FlaskClient) -> None:
    answer = client.post(AT, json=ASKED)
    assert (answer.status_code, answer.headers["Location"]) == (201, f"{AT}/key-of-a-call")
    assert client.post(AT, json=ASKED).status_code == 200
    one = client.get(f"{AT}/key-of-a-call").json
    assert one is not None
    assert (one["state"], one["properties"], one["going"]) == ("done", 60, False)
    assert [job["id"] for job in client.get(AT).json["jobs"]] == ["key-of-a-call"]  # type: ignore[index]
    summary = client.get(f"{AT}/key-of-a-call/summary").json
    assert summary is not None
    assert summary["planned"] == one["plannable"]
    pages = [client.get(f"{AT}/key-of-a-call/properties?page={page}").json for page in (1, 2)]
    assert sum(len(page["places"]) for page in pages) == 60  # type: ignore[index]
    # Those without a plan stand last.
    assert [bool(place["situations"]) for page in pages for place in page["places"]] == sorted(  # type: ignore[index]
        (bool(place["situations"]) for page in pages for place in page["places"]),  # type: ignore[index]
        reverse=True,
    )
    plans = client.get(f"{AT}/key-of-a-call/properties/1-made-lane").json
    assert plans is not None
    assert plans["plans"][0]["year"] == 2027
    for part in ("order", "load"):
        assert client.get(f"{AT}/key-of-a-call/{part}").status_code == 200
    assert client.delete(f"{AT}/key-of-a-call").json == {"removed": "key-of-a-call"}
    assert client.get(f"{AT}/key-of-a-call").status_code == 404


def test_what_cannot_be_is_refused(client: FlaskClient) -> None:
    assert client.post(AT, json={**ASKED, "season": "soon"}).status_code == 422
    assert client.post(AT, json={**ASKED, "key": "Not a key"}).status_code == 422
    assert client.get(AT).json == {"jobs": [], "damaged": []}
    for path in ("cancel", "resume", "use"):
        assert client.post(f"{AT}/no-such-job/{path}", json={}).status_code == 404
    client.post(AT, json=ASKED)
    for path in ("cancel", "resume"):
        assert client.post(f"{AT}/key-of-a-call/{path}", json={}).status_code == 422
        assert client.post(f"{AT}/key-of-a-call/{path}", json={"now": True}).status_code == 422
    assert client.get(f"{AT}/key-of-a-call/properties?page=first").status_code == 422


def test_a_store_in_memory_is_refused_before_anything_is_kept() -> None:
    store = open_in_memory()
    fill(store, 3)
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True, store=store).test_client() as client:
        answer = client.post(AT, json=ASKED)
        assert answer.status_code == 422
        assert "in memory" in answer.text
        assert client.get(AT).json == {"jobs": [], "damaged": []}
