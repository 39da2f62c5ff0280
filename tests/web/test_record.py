"""The record as pages: log, form, conflict, void and ratings."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient

from app.services import branch, follow_ups, records
from app.store.opening import Store, open_in_memory
from app.web import create_app
from tests.services.kept import BRANCH, KEY, NOW, applied, branch_with

FORM = {
    "key": KEY,
    "date": "2027-06-02",
    "where": "brindle-yard|front",
    "products.0.name": "Mistlewick Crabgrass",
    "products.0.rate": "1",
    "products.0.rate.unit": "lb/acre",
    "products.0.amount": "1,84",
    "products.0.amount.unit": "oz",
    "targets.0.weed": "smooth crabgrass",
    "targets.0.stage": "1-3-tiller",
    "weather.temp_f": "22",
    "typed_in": "metric",
}


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    branch_with(opened)
    yield opened
    opened.close()


@pytest.fixture
def client(store: Store) -> FlaskClient:
    return create_app(allowed_hosts=frozenset({"localhost"}), store=store, testing=True).test_client()


def page(client: FlaskClient, path: str) -> str:
    return " ".join(client.get(path).get_data(as_text=True).split())


def fields(html: str) -> dict[str, str]:
    """What a form would send as it is drawn: inputs, chosen options and text areas."""
    found = {m[1]: m[2] for m in re.finditer(r'<input id="[^"]*" name="([^"]+)"[^>]*?value="([^"]*)"', html)}
    found |= {m[1]: m[2] for m in re.finditer(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', html)}
    for select in re.finditer(r'<select (?:id="[^"]*" )?name="([^"]+)".*?</select>', html, re.DOTALL):
        chosen = re.search(r'<option(?: value="([^"]*)")? selected>([^<]*)', select[0])
        if chosen is not None:
            found[select[1]] = chosen[1] if chosen[1] is not None else chosen[2]
    found |= {m[1]: m[2] for m in re.finditer(r'<textarea [^>]*name="([^"]+)"[^>]*>([^<]*)</textarea>', html)}
    return found


def test_an_empty_log_says_what_to_do(client: FlaskClient) -> None:
    told = page(client, "/record")
    assert "No record is kept yet" in told
    assert "State law decides" in told


def test_a_record_is_written_filled_in_and_shown(client: FlaskClient, store: Store) -> None:
    assert client.post("/record/new", data=FORM).headers["Location"] == f"/record/{KEY}?told=kept"
    record = records.one(store, KEY).record
    assert record.customer == "Marit Oversea"
    # 22 degrees Celsius are 71.6 Fahrenheit: 22 * 9 / 5 + 32.
    assert record.weather.temp_f == pytest.approx(71.6)
    assert record.products[0].amount is not None
    assert record.products[0].amount.value == 1.84
    told = page(client, f"/record/{KEY}?told=kept")
    assert "The record is kept." in told
    assert f'<a href="/record/{KEY}/edit#started">time</a>' in told
    assert "Filled in and not typed: name of the property, location, customer" in told
    assert "71.6 °F" in told
    client.set_cookie("units", "metric")
    assert "22 °C" in page(client, f"/record/{KEY}")
    log = page(client, "/record")
    assert "1 record, 1 still to be filled" in log
    assert "LKM-107" in log


def test_the_same_form_sent_twice_keeps_it_once(client: FlaskClient) -> None:
    client.post("/record/new", data=FORM)
    again = client.post("/record/new", data=FORM)
    assert again.headers["Location"] == f"/record/{KEY}?told=again"
    other = client.post("/record/new", data={**FORM, "started": "09:00"})
    assert other.status_code == 409
    told = " ".join(other.get_data(as_text=True).split())
    assert "Somebody else was quicker" in told
    assert 'value="09:00"' in told


def test_a_form_that_cannot_be_kept_names_its_fields_and_keeps_what_was_typed(
    client: FlaskClient, store: Store
) -> None:
    bad = {
        **FORM,
        "started": "09:00",
        "finished": "08:00",
        "products.1.rate": "2",
        "targets.1.weed": "zzzz",
        "weather.wind_mph": "strong",
        "treated": "five",
        "application": "second",
    }
    answered = client.post("/record/new", data=bad)
    told = answered.get_data(as_text=True)
    assert answered.status_code == 422
    for field in ("products.1.name", "targets.1.weed", "weather.wind_mph", "treated", "application"):
        assert f'href="#{field}"' in told, field
        assert f'id="{field}-fault"' in told, field
    assert 'value="strong"' in told
    again = client.post("/record/new", data={**FORM, "started": "09:00", "finished": "08:00"})
    assert 'href="#finished"' in again.get_data(as_text=True)
    with store.reading() as session:
        assert not records.records.known(session, KEY)


@pytest.mark.parametrize(
    ("left_out", "field"), [("date", "date"), ("products.0.name", "products.0.name"), ("key", "date")]
)
def test_what_is_needed_is_asked_for(client: FlaskClient, left_out: str, field: str) -> None:
    told = client.post("/record/new", data={key: value for key, value in FORM.items() if key != left_out})
    assert told.status_code == 422
    assert f'href="#{field}"' in told.get_data(as_text=True)


def test_an_untouched_form_changes_nothing(client: FlaskClient, store: Store) -> None:
    weather = {"temp_f": 71.333, "wind_mph": 4.2, "rh_pct": 55.5, "sky": "clear"}
    part = {"active": "quinclorac", "rate": {"value": 0.123456789, "unit": "lb ai/acre"}}
    product = {"name": "Mistlewick Crabgrass", "rate": {"value": 1 / 3, "unit": "lb/acre"}, "actives": [part]}
    records.keep(
        store,
        KEY,
        applied(weather=weather, products=[product], round="monday", filled_in=["customer"], notes="a\nb"),
        NOW,
    )
    for units in ("us", "metric"):
        client.set_cookie("units", units)
        sent = fields(client.get(f"/record/{KEY}/edit").get_data(as_text=True))
        answered = client.post(f"/record/{KEY}/edit", data=sent)
        assert answered.headers["Location"] == f"/record/{KEY}?told=unchanged"
    assert records.one(store, KEY).version == 1


def test_a_change_stands_in_the_history(client: FlaskClient, store: Store) -> None:
    records.keep(store, KEY, applied(filled_in=["property_name", "area_name"]), NOW)
    sent = fields(client.get(f"/record/{KEY}/edit").get_data(as_text=True))
    sent |= {"started": "07:40", "area_name": "Berm", "by": "Ada Holm", "why": "From the sheet"}
    assert client.post(f"/record/{KEY}/edit", data=sent).status_code == 303
    kept = records.one(store, KEY).record
    assert (kept.started, kept.filled_in[0]) == ("07:40", "property_name")
    assert "area_name" not in kept.filled_in
    told = page(client, f"/record/{KEY}?told=changed")
    assert "Ada Holm: From the sheet" in told
    assert '<td data-label="Before">nothing</td><td data-label="After">07:40</td>' in told


def test_the_second_of_two_tabs_is_told_and_shown_both(client: FlaskClient, store: Store) -> None:
    records.keep(store, KEY, applied(), NOW)
    sent = fields(client.get(f"/record/{KEY}/edit").get_data(as_text=True))
    client.post(f"/record/{KEY}/edit", data={**sent, "started": "07:40"})
    second = client.post(f"/record/{KEY}/edit", data={**sent, "started": "08:10"})
    told = " ".join(second.get_data(as_text=True).split())
    assert second.status_code == 409
    assert '<td data-label="You typed">08:10</td><td data-label="Stored now">07:40</td>' in told
    assert 'name="version" value="2"' in told
    assert records.one(store, KEY).record.started == "07:40"


def test_the_branch_asks_for_fields_of_its_own(client: FlaskClient, store: Store) -> None:
    branch.change_branch(store, {**BRANCH, "extra": ["Work order"], "required": ["weather.wind_mph"]}, 1)
    assert "Work order" in page(client, "/record/new")
    client.post("/record/new", data={**FORM, "extra.0": "WO-7", "weather.wind_mph": "0"})
    kept = records.one(store, KEY)
    assert kept.record.extra == {"Work order": "WO-7"}
    assert not {"extra.Work order", "weather.wind_mph"} & {gap.path for gap in kept.gaps}


def test_a_record_is_made_void_with_a_reason(client: FlaskClient, store: Store) -> None:
    records.keep(store, KEY, applied(), NOW)
    assert "Make this record void?" in page(client, f"/record/{KEY}/void")
    bare = client.post(f"/record/{KEY}/void", data={"version": "1", "by": "Ada"})
    assert bare.status_code == 422
    assert 'href="#why"' in bare.get_data(as_text=True)
    assert client.post(f"/record/{KEY}/void", data={"version": "0", "why": "x"}).status_code == 409
    assert client.post(f"/record/{KEY}/void", data={"version": "1", "why": "Rained off"}).status_code == 303
    assert "Rained off" in page(client, "/record")
    assert client.get(f"/record/{KEY}/edit").status_code == 303


def test_what_was_seen_is_rated_changed_and_removed(client: FlaskClient, store: Store) -> None:
    records.keep(store, KEY, applied(), NOW)
    at = f"/record/{KEY}/follow-up"
    assert "Control of smooth crabgrass" in page(client, at)
    sent = {"key": "key-of-rating-1", "date": "2027-06-30", "by": "Ada", "w0": "80", "o0": "dandelion"}
    assert client.post(at, data=sent).status_code == 422
    assert client.post(at, data={**sent, "o0.control": "20", "injury_pct": "3"}).status_code == 303
    (kept,) = follow_ups.follow_ups_of(store, KEY)
    assert kept.follow_up.ratings == {"smooth-crabgrass": 80, "dandelion": 20}
    told = page(client, f"/record/{KEY}")
    assert "28 days after" in told
    assert "the stage of the weed is not told" in told
    form = fields(client.get(f"{at}/key-of-rating-1").get_data(as_text=True))
    assert (form["w0"], form["w1"], form["injury_pct"]) == ("80", "20", "3")
    assert client.post(f"{at}/key-of-rating-1", data={**form, "w0": "60"}).status_code == 303
    stale = client.post(f"{at}/key-of-rating-1", data={**form, "w0": "50"})
    assert stale.status_code == 409
    assert "Somebody else was quicker" in stale.get_data(as_text=True)
    assert client.post(f"{at}/key-of-rating-1", data={"act": "remove", "version": "2"}).status_code == 303
    assert follow_ups.follow_ups_of(store, KEY) == ()


@pytest.mark.parametrize(("field", "value"), [("w0", "101"), ("w0", "half"), ("date", "2027-01-01"), ("date", "")])
def test_a_rating_that_cannot_be_is_named(client: FlaskClient, store: Store, field: str, value: str) -> None:
    records.keep(store, KEY, applied(), NOW)
    sent = {"key": "key-of-rating-1", "date": "2027-06-30", "w0": "80", field: value}
    answered = client.post(f"/record/{KEY}/follow-up", data=sent)
    assert answered.status_code == 422
    assert f'href="#{field}"' in answered.get_data(as_text=True)


def test_the_log_is_filtered_paged_printed_and_exported(client: FlaskClient, store: Store) -> None:
    for number in range(52):
        records.keep(store, f"key-of-form-{number:02d}", applied(area=f"a-{number}", applicator="Ada Holm"), NOW)
    told = page(client, "/record?technician=ada+holm")
    assert "page 1 of 2" in told
    assert told.count('data-label="Applied"') == 50
    assert page(client, "/record?technician=ada+holm&page=2").count('data-label="Applied"') == 2
    whole = page(client, "/record?all=1&from=2027-06-01&to=2027-06-30")
    assert whole.count('data-label="Applied"') == 52
    assert "1 June 2027 to 30 June 2027" in whole
    assert "Pellmere branch" in whole
    assert client.get("/record.csv?technician=nobody").get_data().count(b"\n") == 1
    bad = client.get("/record?from=2027-06-02&to=2027-06-01")
    assert bad.status_code == 422
    assert 'href="#to"' in bad.get_data(as_text=True)


def test_a_record_that_is_not_there_is_404(client: FlaskClient) -> None:
    for path in ("", "/edit", "/void", "/follow-up", "/follow-up/key-of-rating-1"):
        assert client.get(f"/record/no-such-record{path}").status_code == 404
