"""Properties as pages: added, changed, refused with what was typed kept, both sides of a conflict."""

from __future__ import annotations

import re
from datetime import date, timedelta
from urllib.parse import parse_qsl, urlsplit

import pytest
from flask.testing import FlaskClient

from app.services import customers, properties, scouting
from app.services.branch import change_branch
from app.store.opening import Store
from tests.services.places import area, place, put_record

FORM = {
    "name": "12 Mill Lane",
    "customer": "Ada Fenn",
    "zone": "cool-humid",
    "technician": "Jo Alder",
    "rows.areas": "1",
    "areas.0.name": "Front",
    "areas.0.turf.0": "tall-fescue",
    "areas.0.turf.1": "kentucky-bluegrass",
    "areas.0.size": "6,500 sq ft",
    "areas.0.size.unit": "acre",
    "areas.0.site_use": "residential-lawn",
    "areas.0.height": "8.89",
    "areas.0.height.unit": "cm",
    "areas.0.surroundings": ["tree-roots", "slope"],
    "rows.plans": "1",
    "plans.0.kind": "seeding",
    "plans.0.date": "2027-09-10",
    "plans.0.area": "front",
    "rows.rules": "1",
    "rules.0.kind": "ban-active",
    "rules.0.what": "2,4-D",
}
ONE = "/properties/12-mill-lane"


def text_of(client: FlaskClient, path: str) -> str:
    return client.get(path).get_data(as_text=True)


def fields_of(page: str) -> dict[str, str]:
    """What the fields of a form hold, as a browser would send them again."""
    found = dict(re.findall(r'<input[^>]*\bname="([^"]+)"[^>]*\bvalue="([^"]*)"', page))
    for name, body in re.findall(r'<select[^>]*\bname="([^"]+)"[^>]*>(.*?)</select>', page, re.DOTALL):
        chosen = re.search(r'<option(?: value="([^"]*)")? selected>([^<]*)', body)
        first = re.search(r'<option(?: value="([^"]*)")?>([^<]*)', body)
        pick = chosen or first
        found[name] = (pick.group(1) if pick.group(1) is not None else pick.group(2)) if pick else ""
    return found


def test_an_empty_place_says_what_to_do_first(client: FlaskClient) -> None:
    page = text_of(client, "/properties")
    assert "No property is kept yet." in page
    assert 'href="/properties/new"' in page
    assert 'href="/properties/import"' in page
    assert 'href="/branch"' in page


def test_a_property_is_added_and_read(client: FlaskClient, store: Store) -> None:
    answered = client.post("/properties/new", data=FORM)
    assert (answered.status_code, answered.headers["Location"]) == (303, f"{ONE}?told=kept")
    told = properties.one(store, "12-mill-lane").property
    (front,) = told.areas
    assert (front.area and str(front.area.quantity), front.mowing_height_in) == ("6500 ft2", 3.5)
    assert (front.turf, front.surroundings) == (("tall-fescue", "kentucky-bluegrass"), ("tree-roots", "slope"))
    assert (told.plans[0].area, told.local_rules[0].active) == ("front", "2-4-d")
    page = text_of(client, ONE)
    for words in (
        "Ada Fenn",
        "tall fescue, Kentucky bluegrass",
        "10 September 2027: seeding on Front",
        "2,4-D is barred",
    ):
        assert words in page, words
    assert "Not plannable" not in page
    client.set_cookie("units", "metric")
    assert "8.89 cm" in text_of(client, ONE)


def test_what_is_refused_keeps_what_was_typed_and_names_the_field(client: FlaskClient, store: Store) -> None:
    typed = {**FORM, "name": "", "areas.0.size": "about 6500", "areas.0.surroundings": ["slope"], "rules.0.what": "xyz"}
    answered = client.post("/properties/new", data=typed)
    page = answered.get_data(as_text=True)
    assert answered.status_code == 422
    for field in ("name", "areas.0.size", "rules.0.what"):
        assert f'href="#{field}"' in page, field
        assert f'id="{field}-fault"' in page, field
    assert 'value="about 6500"' in page
    assert re.search(r'value="slope" checked', page)
    assert not re.search(r'value="tree-roots" checked', page)
    assert properties.every(store) == ()
    assert customers.customers(store).items == ()


@pytest.mark.parametrize("group", ["areas", "plans", "rules"])
def test_a_line_is_added_without_storing_or_scolding(client: FlaskClient, store: Store, group: str) -> None:
    answered = client.post("/properties/new", data={**FORM, "name": "", "act": f"add-{group}"})
    page = answered.get_data(as_text=True)
    assert answered.status_code == 200
    assert f'name="rows.{group}" value="2"' in page
    assert 'id="faults"' not in page
    assert 'value="6,500 sq ft"' in page
    assert properties.every(store) == ()


def test_what_is_shown_for_change_can_be_sent_back_and_changes_nothing(client: FlaskClient, store: Store) -> None:
    client.post("/properties/new", data=FORM)
    before = properties.one(store, "12-mill-lane").property
    for units in ("us", "metric"):
        client.set_cookie("units", units)
        page = text_of(client, f"{ONE}/edit")
        sent: dict[str, object] = dict(fields_of(page))
        sent["areas.0.surroundings"] = re.findall(r'name="areas.0.surroundings" value="([^"]+)" checked', page)
        for name in ("new_customer", "areas.0.gone", "q"):
            sent.pop(name, None)
        assert client.post(f"{ONE}/edit", data=sent).status_code == 303
        assert properties.one(store, "12-mill-lane").property == before


def test_an_area_is_taken_off_and_an_empty_line_is_none(client: FlaskClient, store: Store) -> None:
    properties.add(store, place(areas=[area(), area(name="Back")]))
    sent = fields_of(text_of(client, f"{ONE}/edit")) | {"areas.0.gone": "yes", "rows.areas": "3"}
    sent.pop("areas.1.gone")
    assert client.post(f"{ONE}/edit", data=sent).status_code == 303
    assert [item.name for item in properties.one(store, "12-mill-lane").property.areas] == ["Back"]


def test_two_people_change_one_property(client: FlaskClient, store: Store) -> None:
    client.post("/properties/new", data=FORM)
    properties.change(store, "12-mill-lane", place(technician="Sam Birch"), 1, customer="Otto Birch")
    answered = client.post(f"{ONE}/edit", data={**FORM, "version": "1", "technician": "Di"})
    page = answered.get_data(as_text=True)
    assert answered.status_code == 409
    for words in ("Somebody else was quicker", "Sam Birch", "Otto Birch", 'name="version" value="2"', 'value="Di"'):
        assert words in page, words
    assert client.post(f"{ONE}/edit", data={**FORM, "version": "2", "technician": "Di"}).status_code == 303
    properties.remove(store, "12-mill-lane", 3)
    gone = client.post(f"{ONE}/edit", data={**FORM, "version": "3"})
    assert gone.status_code == 409
    assert 'action="/properties/new"' in gone.get_data(as_text=True)


def test_a_property_is_removed_unless_records_name_it(client: FlaskClient, store: Store) -> None:
    properties.add(store, place())
    properties.change(store, "12-mill-lane", place(notes="gate"), 1)
    assert client.post(f"{ONE}/remove", data={"version": "1"}).status_code == 409
    put_record(store, "12-mill-lane")
    refused = client.post(f"{ONE}/remove", data={"version": "2"})
    assert refused.status_code == 422
    assert "1 application record names it" in refused.get_data(as_text=True)
    assert "/record?property=12-mill-lane" in text_of(client, ONE)
    properties.add(store, place(name="Elm 3"))
    assert client.post("/properties/elm-3/remove", data={"version": "1"}).headers["Location"] == (
        "/properties?told=removed"
    )
    assert [item.slug for item in properties.every(store)] == ["12-mill-lane"]


def test_a_list_is_searched_filtered_and_paged(client: FlaskClient, store: Store) -> None:
    for number in range(1, 53):
        properties.add(store, place(name=f"{number} Oak Street", technician="Jo" if number % 2 else "Sam"))
    page = text_of(client, "/properties")
    assert "52 properties, page 1 of 2" in page
    assert page.index(">9 Oak Street<") < page.index(">10 Oak Street<")
    assert 'href="/properties?q=&amp;technician=&amp;page=2"' in page
    assert "51 Oak Street" in text_of(client, "/properties?page=2")
    found = text_of(client, "/properties?q=oak+51&technician=Jo")
    assert "1 property for “oak 51” of Jo" in found
    assert "No property is found for “elm”" in text_of(client, "/properties?q=elm")
    for odd in ("page=x", "page=0", "page=99", "technician=%00", "q=%00%25"):
        assert client.get(f"/properties?{odd}").status_code == 200, odd


def test_missing_facts_lead_to_their_field(client: FlaskClient, store: Store) -> None:
    properties.add(store, place(zone=None, areas=[area(), area(name="Back", turf=[])]))
    page = text_of(client, ONE)
    assert "Not plannable yet" in page
    edit = text_of(client, f"{ONE}/edit")
    for field in re.findall(rf'{ONE}/edit#([^"]+)"', page):
        assert f'id="{field}"' in edit, field


def test_each_area_asks_with_what_is_known_of_it(client: FlaskClient, store: Store) -> None:
    today = date.today()
    told = area(
        turf=["tall-fescue", "kentucky-bluegrass"],
        surroundings=["tree-roots", "slope"],
        mowing_height_in=3.5,
        stand="seedling",
        emerged=str(today - timedelta(days=22)),
    )
    plan = {"kind": "seeding", "date": str(today + timedelta(days=30))}
    properties.add(store, place(areas=[told], plans=[plan], local_rules=[{"kind": "ban-active", "active": "dicamba"}]))
    for weed, cover in (("dandelion", 5), ("creeping charlie", 20)):
        seen = {"area": "front", "weed": weed, "date": str(today), "cover_pct": cover, "stage": "flowering"}
        scouting.add_note(store, "12-mill-lane", seen)
    link = re.search(r'href="(/\?[^"]+)">Ask about this area', text_of(client, ONE))
    assert link is not None
    address = link.group(1).replace("&amp;", "&")
    asked = parse_qsl(urlsplit(address).query)
    assert set(asked) >= {
        *(("turf", "tall-fescue"), ("turf_2", "kentucky-bluegrass"), ("zone", "cool-humid")),
        *(("site_use", "residential-lawn"), ("area", "6500"), ("area_unit", "ft2"), ("height", "3.5")),
        *(("surroundings", "tree-roots"), ("surroundings", "slope"), ("stand", "seedling"), ("weeks", "3")),
        *(("seeding", plan["date"]), ("ban_1", "dicamba"), ("weed", "ground ivy"), ("stage", "flowering")),
        *(("cover", "20"), ("weed_2", "dandelion"), ("stage_2", "flowering")),
    }
    form = text_of(client, address)
    assert 'value="ground ivy"' in form
    # The question can be asked as it stands.
    assert client.get(f"/answer{address[1:]}").status_code == 200


def test_a_new_property_takes_its_zone_from_the_branch(client: FlaskClient, store: Store) -> None:
    change_branch(store, {"zone": "transition", "technicians": [{"name": "Jo Alder"}]}, 0)
    page = text_of(client, "/properties/new?customer=Ada+Fenn")
    assert re.search(r'value="transition" selected', page)
    assert 'value="Ada Fenn"' in page
    assert '<option value="Jo Alder">' in page


def test_a_customer_much_like_another_is_asked_after(client: FlaskClient, store: Store) -> None:
    client.post("/properties/new", data=FORM)
    again = {**FORM, "name": "Elm 3", "customer": "Ada Fen"}
    page = client.post("/properties/new", data=again).get_data(as_text=True)
    assert "much like Ada Fenn" in page
    assert 'id="new_customer"' in page
    assert client.post("/properties/new", data={**again, "new_customer": "yes"}).status_code == 303
    assert [item.slug for item in customers.customers(store).items] == ["ada-fen", "ada-fenn"]


@pytest.mark.parametrize("path", ["", "/edit", "/remove", "/notes/new", "/notes/aaaaaaaaaa"])
def test_what_is_not_there_is_said(client: FlaskClient, path: str) -> None:
    assert client.get(f"/properties/not-there{path}").status_code == 404
