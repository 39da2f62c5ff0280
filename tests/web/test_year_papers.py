"""The papers of a year as they are answered: the branch's sheet, the calendar and the table."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import date

import icalendar
import pytest
from flask.testing import FlaskClient

from app.services.year_papers import proposal_of
from app.store.opening import Store
from app.web.year_show import alike, areas_said, has_room, seen
from tests.season.planned_year import WEEDS, visit
from tests.services.year_place import asked_year, keep_place, keep_plan, year_papers

AT = "/year/12-mill-lane/2027"


@pytest.fixture
def kept(store: Store, client: FlaskClient) -> FlaskClient:
    keep_place(store)
    keep_plan(store)
    return client


def test_the_sheet_holds_what_the_branch_needs_and_marks_it_as_its_own(kept: FlaskClient) -> None:
    page = kept.get(f"{AT}/sheet").text
    assert "not for the customer" in page
    for words in ("Pellmere Early", "prodiamine", "group 3", "2.46 fl oz", "Labor", "proved", "0123456789ab"):
        assert words in page, words
    for _, name, *_ in WEEDS:
        assert name in page
    assert f'href="{AT}/proposal"' in page


def test_the_sheet_is_told_in_metric_where_that_is_asked_for(kept: FlaskClient) -> None:
    kept.set_cookie("units", "metric")
    page = kept.get(f"{AT}/sheet").text
    # By hand: 2.46 fl oz are 72.75 mL, 6000 ft2 are 557.4 m2.
    assert "72.8 mL" in page
    assert "557 m2" in page


def test_the_proposal_is_for_the_customer_alone(kept: FlaskClient) -> None:
    page = kept.get(f"{AT}/proposal").text
    assert "A proposal for <b>Ada Fenn</b>" in page
    assert "front lawn, 6,000 square feet; back lawn, 4,500 square feet" in page
    assert "$380.00" in page
    told = page.split("<h1>")[1]
    for secret in ("prodiamine", "Pellmere", "triclopyr", "Margin", "group"):
        assert secret not in told, secret


def test_the_proposal_of_a_year_in_which_nothing_is_applied_is_not_found(store: Store, client: FlaskClient) -> None:
    keep_place(store)
    keep_plan(store, 0)
    assert client.get(f"{AT}/proposal").status_code == 404
    assert client.get(f"{AT}/sheet").status_code == 200


def test_many_areas_are_told_by_their_number() -> None:
    areas = [{"id": f"a{n}", "turf": ["tall-fescue"], "area": {"value": 1000, "unit": "ft2"}} for n in range(1, 6)]
    told = asked_year(areas=areas)
    found = replace(year_papers([visit(1, "a1")]), asked=told)
    assert areas_said(found, "us") == "five areas, 5,000 square feet together"
    assert areas_said(found, "metric") == "five areas, 464 square metres together"
    unsized = asked_year(areas=[*areas[:4], {"id": "a5", "turf": ["tall-fescue"]}])
    assert areas_said(replace(found, asked=unsized), "us") == "five areas"


def test_what_will_be_seen_is_said_as_far_as_the_first_page_has_room() -> None:
    day = date(2027, 2, 1)
    few, many = (proposal_of(year_papers(count), day) for count in (3, 8))
    assert len(seen(few)) == sum(len(one.purposes) for one in few.visits)
    assert 0 < len(seen(many)) < len(seen(few)) + 5
    assert has_room(many)


def test_the_page_of_the_year_leads_to_its_papers_and_shows_price_against_control(kept: FlaskClient) -> None:
    page = kept.get(AT).text
    for paper in ("proposal", "sheet", "calendar.ics", "visits.csv"):
        assert f'href="{AT}/{paper}"' in page
    assert 'Price of the year: <b class="num">380.00 USD</b>, 26 % of it margin' in page
    # Two visits of the frontier, 63 each.
    assert "126.00 USD" in page
    assert "126.00 USD" not in kept.get(f"{AT}/proposal").text


def test_areas_that_get_the_same_stand_abreast_on_the_sheet_and_others_do_not() -> None:
    one = [visit(1, f"a{number}", gain=float(number)) for number in range(1, 6)]
    other = visit(1, "a6", against=("dandelion",))
    (call,) = year_papers([*one, other]).calls
    assert [[part.area for part in group] for group in alike(call)] == [["a1", "a2", "a3", "a4"], ["a5"], ["a6"]]


def test_the_calendar_is_a_file_of_a_name_that_says_what_it_is(kept: FlaskClient) -> None:
    answered = kept.get(f"{AT}/calendar.ics")
    assert answered.mimetype == "text/calendar"
    assert answered.headers["Content-Disposition"] == 'attachment; filename="visits-12-mill-lane-2027.ics"'
    assert len(icalendar.Calendar.from_ical(answered.text).walk("VEVENT")) == 6


def test_the_visits_are_a_file_for_spreadsheets(kept: FlaskClient) -> None:
    answered = kept.get(f"{AT}/visits.csv")
    assert answered.mimetype == "text/csv"
    assert answered.headers["Content-Disposition"] == 'attachment; filename="visits-12-mill-lane-2027.csv"'
    assert len(list(csv.DictReader(io.StringIO(answered.text.lstrip("\ufeff"))))) == 6


@pytest.mark.parametrize("paper", ["proposal", "sheet", "calendar.ics", "visits.csv"])
@pytest.mark.parametrize("where", ["/year/12-mill-lane/2028", "/year/nowhere/2027"])
def test_papers_of_a_year_that_is_not_planned_are_not_found(kept: FlaskClient, paper: str, where: str) -> None:
    assert kept.get(f"{where}/{paper}").status_code == 404


def test_prices_that_are_not_set_are_said(store: Store, client: FlaskClient) -> None:
    keep_place(store)
    keep_plan(store)
    client.post("/branch", data={"version": "1", "name": "Larkmere Lawns", "timezone": "America/New_York"})
    assert "has not told how it makes its prices" in client.get(f"{AT}/sheet").text
