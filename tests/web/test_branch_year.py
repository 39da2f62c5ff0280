"""The page of the branch's year: begun, watched, cancelled, gone on with, its order, its load, and plans used."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from sqlalchemy import update

from app.services import shelf, year_job, years
from app.services.year_job_lease import Holding
from app.services.year_job_run import Ways, run
from app.store.models import YearFoldRow, YearJobRow
from app.store.opening import Store, open_store
from app.web import create_app
from tests.benchmarks.years import fill
from tests.services import year_jobs_made as made
from tests.services.test_year_job_sums import from_shelf

FORM = {"season": "2027", "count": "2", "catalog": "shelf", "key": "key-of-a-form"}
AT = f"/branch/year/{FORM['key']}"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path)
    shelf.fill_demo(opened)
    fill(opened, 60)
    yield opened
    opened.close()


@pytest.fixture
def client(store: Store) -> Iterator[FlaskClient]:
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True, store=store).test_client() as found:
        yield found


@pytest.fixture
def worked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Jobs that the page would have had worked on in a process of its own, worked on here."""
    begun: list[str] = []

    def begin(store: Store, key: str) -> None:
        begun.append(key)
        run(Holding(store, key), Ways(1, maker=from_shelf, asks=made.asks))

    monkeypatch.setattr(year_job, "begin", begin)
    return begun


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> Callable[[Store, str], None]:
    """Nothing is worked on."""

    def begin(store: Store, key: str) -> None: ...

    monkeypatch.setattr(year_job, "begin", begin)
    return begin


def test_without_properties_the_page_says_what_to_do_first(tmp_path: Path) -> None:
    empty = open_store(tmp_path / "empty")
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True, store=empty).test_client() as client:
        page = client.get("/branch/year").text
    assert "Add the lawns" in page
    assert "/properties/new" in page
    empty.close()


def test_a_branch_is_planned_and_the_page_tells_what_it_adds_up_to(
    client: FlaskClient, store: Store, worked: list[str]
) -> None:
    answer = client.post("/branch/year", data=FORM)
    assert (answer.status_code, answer.headers["Location"]) == (303, f"{AT}?told=begun")
    page = client.get(answer.headers["Location"]).text
    assert worked == [FORM["key"]]
    found = year_job.progress(store, FORM["key"])
    assert f"{found.plannable} properties are planned" in page
    assert "plans are proven to be the best there is" in page
    assert "dandelion" in page
    assert "http-equiv" not in page
    assert f'href="{AT}"' in client.get("/branch/year").text


def test_the_form_sent_twice_begins_one(client: FlaskClient, worked: list[str]) -> None:
    assert client.post("/branch/year", data=FORM).status_code == 303
    assert client.post("/branch/year", data=FORM).status_code == 303
    assert worked == [FORM["key"]]


def test_what_is_wrong_is_said_at_its_field_and_nothing_is_begun(client: FlaskClient, worked: list[str]) -> None:
    wrong = {**FORM, "season": "soon", "count": "many", "budget": "a lot", "search": "zzz"}
    answer = client.post("/branch/year", data=wrong)
    assert answer.status_code == 422
    for field in ("season", "count", "budget"):
        assert f'id="{field}-fault"' in answer.text
    assert 'value="soon"' in answer.text
    answer = client.post("/branch/year", data={**FORM, "dates": "2027-04-12, 2027-13-01"})
    assert (answer.status_code, 'id="dates-fault"' in answer.text) == (422, True)
    answer = client.post("/branch/year", data={**FORM, "search": "zzz"})
    assert 'id="search-fault"' in answer.text
    assert worked == []
    assert "Planned so far" not in client.get("/branch/year").text


def test_while_it_goes_on_the_page_looks_again_by_itself_and_can_cancel(
    client: FlaskClient, store: Store, begun: Callable[[Store, str], None]
) -> None:
    client.post("/branch/year", data=FORM)
    held = Holding(store, FORM["key"])
    held.take()
    page = client.get(AT).text
    assert '<noscript><meta http-equiv="refresh"' in page
    assert f'data-poll="/api/v1/year-jobs/{FORM["key"]}"' in page
    assert "Cancel" in page
    assert client.post(f"{AT}/cancel").status_code == 303
    assert "Stopping at" in client.get(AT).text
    assert client.post(f"{AT}/remove").status_code == 422
    held.end("cancelled")
    page = client.get(AT).text
    assert "Cancelled at" in page
    assert "Go on" in page
    assert client.post(f"{AT}/cancel").status_code == 422


def test_one_that_stopped_by_itself_says_how_far_it_came_and_goes_on(
    client: FlaskClient, store: Store, worked: list[str]
) -> None:
    client.post("/branch/year", data=FORM)
    with store.session() as session:
        session.execute(update(YearJobRow).values(state="running"))
        first = session.query(YearFoldRow).order_by(YearFoldRow.id).limit(2).all()
        for row in first:
            row.state, row.document = "waiting", {}
    found = year_job.progress(store, FORM["key"])
    page = client.get(AT).text
    assert f"Stopped at {found.planned} of {found.folds}: go on." in page
    answer = client.post(f"{AT}/resume")
    assert answer.headers["Location"] == f"{AT}?told=resumed"
    assert len(worked) == 2
    assert year_job.progress(store, FORM["key"]).waiting == 0


def test_order_and_load_are_pages_and_files(client: FlaskClient, worked: list[str]) -> None:
    client.post("/branch/year", data=FORM)
    order = client.get(f"{AT}/order").text
    assert "September" in order
    assert "Wrenhollow Creeper" in order
    load = client.get(f"{AT}/load").text
    assert "Ada Holm" in load
    for name in ("order", "load"):
        answer = client.get(f"{AT}/{name}.csv")
        assert answer.headers["Content-Disposition"].endswith(f'filename="{name}-{FORM["key"]}.csv"')
        assert len(list(csv.reader(io.StringIO(answer.text)))) > 2


def test_the_plan_of_a_property_is_shown_and_used(client: FlaskClient, store: Store, worked: list[str]) -> None:
    client.post("/branch/year", data=FORM)
    slug = "1-made-lane"
    page = client.get(f"{AT}/properties/{slug}").text
    assert "Use this plan" in page
    assert "area-0" not in page
    assert client.get(f"{AT}/properties/nobody-there").status_code == 404
    assert client.get("/branch/year/no-such-job").status_code == 404


def test_a_damaged_one_is_said_and_can_be_removed(client: FlaskClient, store: Store, worked: list[str]) -> None:
    client.post("/branch/year", data=FORM)
    with store.session() as session:
        session.execute(update(YearFoldRow).values(document={"figures": {}}))
    answer = client.get(AT)
    assert answer.status_code == 200
    assert "is damaged" in answer.text
    with store.session() as session:
        session.execute(update(YearJobRow).values(document={}))
    assert "is damaged" in client.get("/branch/year").text
    assert "is damaged" in client.get(AT).text
    assert client.post(f"{AT}/remove").headers["Location"] == "/branch/year?told=removed"
    assert "is damaged" not in client.get("/branch/year").text


def test_a_property_that_is_no_longer_what_it_was_is_left_out(
    client: FlaskClient, store: Store, worked: list[str]
) -> None:
    # Its question is asked anew, and not as these tests plan it: so none is taken over, and all are told.
    client.post("/branch/year", data=FORM)
    page = client.post(f"{AT}/use")
    assert page.status_code == 200
    assert "were left out" in page.text
    assert "plan it anew" in page.text
    assert years.chosen(store, "1-made-lane", 2027) is None
