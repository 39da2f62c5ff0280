"""The branch and customers as pages."""

from __future__ import annotations

from flask.testing import FlaskClient

from app.services import customers, properties
from app.services.branch import branch, change_branch
from app.store.opening import Store
from tests.services.places import place

FORM = {
    "version": "0",
    "name": "Larkmere",
    "zone": "cool-humid",
    "timezone": "America/Chicago",
    "work_from": "07:00",
    "work_to": "18:00",
    "rows.people": "3",
    "technicians.0.name": "Jo Alder",
    "technicians.0.licence": "TA-1120",
    "technicians.2.name": "Sam Birch",
    "required": ["weather.wind_mph", "sprayer"],
    "rows.extra": "2",
    "extra.1": "Permit number",
    "keep_years": "3",
    "latitude": "40.1",
    "longitude": "-88.2",
}


def test_the_branch_is_told_and_shown(client: FlaskClient, store: Store) -> None:
    page = client.get("/branch").get_data(as_text=True)
    assert "State law decides" in page
    assert client.post("/branch", data=FORM).headers["Location"] == "/branch?told=changed"
    told, version = branch(store)
    assert ([person.name for person in told.technicians], told.extra) == (["Jo Alder", "Sam Birch"], ("Permit number",))
    assert (told.required, told.keep_years, told.longitude, version) == (("weather.wind_mph", "sprayer"), 3, -88.2, 1)
    page = client.get("/branch").get_data(as_text=True)
    assert 'value="weather.wind_mph" checked' in page
    assert 'value="TA-1120"' in page


def test_faults_stand_at_the_line_they_were_typed_in(client: FlaskClient, store: Store) -> None:
    typed = {
        **FORM,
        "technicians.1.licence": "x",
        "technicians.2.name": "JO ALDER",
        "latitude": "north",
        "extra.0": "A",
    }
    answered = client.post("/branch", data={**typed, "extra.1": "a", "timezone": "Chicago"})
    page = answered.get_data(as_text=True)
    assert answered.status_code == 422
    for field in ("technicians.1.name", "latitude", "timezone"):
        assert f'href="#{field}"' in page, field
        assert f'id="{field}"' in page, field
    assert 'value="north"' in page
    assert branch(store)[1] == 0
    twice = client.post("/branch", data={**FORM, "technicians.2.name": "JO ALDER"}).get_data(as_text=True)
    assert 'href="#technicians.2.name"' in twice


PRICES = {
    "pricing.labour_per_hour": "42",
    "pricing.minutes_per_visit": "12",
    "pricing.minutes_per_1000_ft2": "1,5",
    "pricing.margin_pct": "25",
    "pricing.valid_days": "45",
    "pricing.payment": "Due in 30 days",
}


def test_how_prices_are_made_is_told_and_shown(client: FlaskClient, store: Store) -> None:
    assert client.post("/branch", data={**FORM, **PRICES}).status_code == 303
    told = branch(store)[0].pricing
    assert told is not None
    assert (told.labour_per_hour, told.minutes_per_1000_ft2, told.valid_days) == (42.0, 1.5, 45)
    assert (told.currency, told.stand_in_per_1000_ft2, told.payment) == ("USD", None, "Due in 30 days")
    page = client.get("/branch").get_data(as_text=True)
    for words in ('value="1.5"', 'value="45"', 'value="Due in 30 days"', 'name="pricing.currency"'):
        assert words in page, words
    # As it is shown it can be sent again, and emptied it goes.
    assert client.post("/branch", data={**FORM, **PRICES, "version": "1"}).status_code == 303
    assert client.post("/branch", data={**FORM, "pricing.currency": "USD", "version": "2"}).status_code == 303
    assert branch(store)[0].pricing is None


def test_faults_of_prices_stand_at_their_fields(client: FlaskClient, store: Store) -> None:
    typed = {**FORM, **PRICES, "pricing.margin_pct": "120", "pricing.labour_per_hour": "", "pricing.round_to": "x"}
    answered = client.post("/branch", data=typed)
    page = answered.get_data(as_text=True)
    assert answered.status_code == 422
    for field in ("pricing.margin_pct", "pricing.labour_per_hour", "pricing.round_to"):
        assert f'href="#{field}"' in page, field
        assert f'id="{field}-fault"' in page, field
    assert "Margin" in page
    assert branch(store)[1] == 0


def test_two_who_set_prices_see_both(client: FlaskClient, store: Store) -> None:
    pricing = {"labour_per_hour": 40, "minutes_per_visit": 12, "minutes_per_1000_ft2": 1.5, "margin_pct": 20}
    change_branch(store, {"name": "Larkmere", "pricing": pricing}, 0)
    answered = client.post("/branch", data={**FORM, **PRICES})
    assert answered.status_code == 409
    assert "Labor, an hour: 40" in answered.get_data(as_text=True)


def test_lines_are_added_without_storing(client: FlaskClient, store: Store) -> None:
    page = client.post("/branch", data={**FORM, "act": "add-people"}).get_data(as_text=True)
    assert 'id="technicians.3.name"' in page
    page = client.post("/branch", data={**FORM, "act": "add-extra"}).get_data(as_text=True)
    assert 'id="extra.2"' in page
    assert 'value="sprayer" checked' in page
    assert branch(store)[1] == 0


def test_the_second_is_shown_both(client: FlaskClient, store: Store) -> None:
    change_branch(store, {"name": "Fennick", "required": ["notes"]}, 0)
    answered = client.post("/branch", data=FORM)
    page = answered.get_data(as_text=True)
    assert answered.status_code == 409
    for words in ("Somebody else was quicker", "Fennick", 'name="version" value="1"', 'value="Larkmere"'):
        assert words in page, words
    assert client.post("/branch", data={**FORM, "version": "1"}).status_code == 303


def test_a_customer_is_kept_changed_and_removed(client: FlaskClient, store: Store) -> None:
    assert "No customer is kept yet." in client.get("/customers").get_data(as_text=True)
    assert client.post("/customers/new", data={"name": ""}).status_code == 422
    assert client.post("/customers/new", data={"name": "Ada Fenn", "phone": "555"}).status_code == 303
    properties.add(store, place(), customer="Ada Fenn")
    page = client.get("/customers/ada-fenn").get_data(as_text=True)
    assert "12 Mill Lane" in page
    assert client.post("/customers/ada-fenn", data={"name": "Ada Birch", "version": "1"}).status_code == 303
    second = client.post("/customers/ada-fenn", data={"name": "Mine", "version": "1"})
    assert second.status_code == 409
    assert "Ada Birch" in second.get_data(as_text=True)
    refused = client.post("/customers/ada-fenn", data={"remove": "yes", "version": "2"})
    assert refused.status_code == 422
    assert "belongs to this customer" in refused.get_data(as_text=True)
    properties.remove(store, "12-mill-lane", 1)
    assert client.post("/customers/ada-fenn", data={"remove": "yes", "version": "2"}).status_code == 303
    assert customers.customers(store).items == ()
    assert client.get("/customers/ada-fenn").status_code == 404
