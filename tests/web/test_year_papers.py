"""The papers of a year as they are answered: the branch's sheet, the calendar and the table."""

from __future__ import annotations

import csv
import io

import icalendar
import pytest
from flask.testing import FlaskClient

from app.store.opening import Store
from tests.season.planned_year import WEEDS
from tests.services.year_place import keep_place, keep_plan

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
    assert "0.5 of" not in page


def test_the_sheet_is_told_in_metric_where_that_is_asked_for(kept: FlaskClient) -> None:
    kept.set_cookie("units", "metric")
    page = kept.get(f"{AT}/sheet").text
    # By hand: 2.46 fl oz are 72.75 mL, 6000 ft2 are 557.4 m2.
    assert "72.8 mL" in page
    assert "557 m2" in page


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


@pytest.mark.parametrize("paper", ["sheet", "calendar.ics", "visits.csv"])
@pytest.mark.parametrize("where", ["/year/12-mill-lane/2028", "/year/nowhere/2027"])
def test_papers_of_a_year_that_is_not_planned_are_not_found(kept: FlaskClient, paper: str, where: str) -> None:
    assert kept.get(f"{where}/{paper}").status_code == 404


def test_prices_that_are_not_set_are_said(store: Store, client: FlaskClient) -> None:
    keep_place(store)
    keep_plan(store)
    client.post("/branch", data={"version": "1", "name": "Larkmere Lawns", "timezone": "America/New_York"})
    assert "has not told how it makes its prices" in client.get(f"{AT}/sheet").text
