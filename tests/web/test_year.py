"""The pages of the year: listed, planned, drawn, changed by a form, tried out before they are kept, and versions.

Plans are made by hand in place of the search.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest
from flask.testing import FlaskClient

from app.season.year import YearAsked
from app.season.year_output import VisitWindow, WeedWindow
from app.services import years
from app.services.year_question import read_wish
from app.store.opening import Store
from app.web.year_view import calendar_of, frontier_dots, signed, visits_of
from tests.season import planned_year
from tests.services.year_kept import SEASON, SLUG, place_with, plans_by_hand

AT = f"/year/{SLUG}/{SEASON}"
DAYS = ["2027-04-08", "2027-05-06", "2027-07-12", "2027-09-09"]


@pytest.fixture
def planner(store: Store, monkeypatch: pytest.MonkeyPatch) -> list[YearAsked]:
    place_with(store)
    return plans_by_hand(monkeypatch)


@pytest.fixture
def planned(store: Store, planner: list[YearAsked]) -> years.KeptYear:
    return years.plan(store, SLUG, SEASON, read_wish({"visits": {"dates": DAYS}}), 0)


def fields(page: str) -> dict[str, str]:
    """What the form of a page would send as it stands."""
    form = page.split('<form id="typed"')[1].split("</form>", maxsplit=1)[0]
    told = {}
    for tag in re.findall(r"<input [^>]*>", form):
        name, value = re.search(r'name="([^"]*)"', tag), re.search(r'value="([^"]*)"', tag)
        boxed = 'type="checkbox"' in tag or 'type="radio"' in tag
        if name and (not boxed or " checked" in tag):
            told[name.group(1)] = value.group(1) if value else ""
    for name, options in re.findall(r'<select [^>]*name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options) or re.search(r'value="([^"]*)"', options)
        told[name] = chosen.group(1) if chosen else ""
    return told


def main(page: str) -> str:
    return page.split("<main")[1].split("</main", maxsplit=1)[0]


def test_an_empty_list_says_what_to_do_first(client: FlaskClient) -> None:
    assert 'href="/properties/new"' in main(client.get("/year").text)


def test_the_list_holds_properties_with_and_without_a_plan(
    client: FlaskClient, store: Store, planned: years.KeptYear
) -> None:
    page = main(client.get("/year").text)
    assert "The year 2027" in page
    assert "4 visits." in page
    assert "80 of 100" in page
    assert "4.00 USD" in page
    other = main(client.get("/year?season=2028").text)
    assert f'href="/year/{SLUG}/2028">Plan it' in other
    assert "0 of 1 property are planned" in other
    assert "No property is found" in client.get("/year?q=nowhere").text
    assert client.get("/year?season=12").status_code == 404


def test_a_year_that_is_not_planned_is_planned_at_once(client: FlaskClient, planner: list[YearAsked]) -> None:
    page = main(client.get(AT).text)
    assert "2027 is not planned yet" in page
    assert "smooth crabgrass" in page
    assert "25 % cover" in page
    answered = client.post(f"{AT}/plan", data={"at": "0", "count": "3"})
    assert answered.status_code == 303
    assert planner[0].visits.count == 3
    assert "3 visits." in main(client.get(answered.location).text)
    assert client.post(f"{AT}/plan", data={"at": "0", "count": "3"}).status_code == 409
    assert client.post(f"{AT}/plan", data={"at": "0", "count": "many"}).status_code == 422


def test_a_property_that_lacks_a_fact_says_which(client: FlaskClient, store: Store) -> None:
    place_with(store, zone=None)
    page = main(client.get(AT).text)
    assert "the zone of 12 Mill Lane is not told" in page.replace("The zone", "the zone")
    assert client.get(f"{AT}/edit").status_code == 422
    assert client.get("/year/nowhere/2027").status_code == 404
    assert client.get(f"/year/{SLUG}/999").status_code == 404


def test_the_page_answers_first_and_holds_everything(client: FlaskClient, planned: years.KeptYear) -> None:
    page = main(client.get(AT).text)
    order = [
        "4 visits.",
        "What to expect",
        "The year by weeks",
        "The visits",
        "Mechanisms over",
        "allowance",
        "would buy",
    ]
    places = [page.index(words) for words in order]
    assert places == sorted(places)
    for words in (
        "88 to 98, likely 95",
        "Take",
        "No seed before 24 July 2027.",
        "1 lb ai/acre of 1.5 lb ai/acre a year",
        "One more visit would add 1.2 points.",
        "the knee",
        "Proved:",
        "noted on 2026-07-20, 25 % cover",
        "8 April 2027",
    ):
        assert words in page, words
    # Visits on equal areas stand together, by name.
    assert page.count("on Front and Back") == 4
    client.set_cookie("units", "metric")
    assert "g ai/ha" in client.get(AT).text
    assert client.get(f"{AT}/versions/1").status_code == 200
    assert client.get(f"{AT}/versions/9").status_code == 404


def test_the_calendar_draws_windows_and_visits_on_the_days_they_have() -> None:
    plan = planned_year.planned_year([planned_year.visit(1), planned_year.resting(2)])
    drawn = calendar_of(plan)
    # Computed by hand: 8 April is day 98 of 365, so 97 days have passed; 10 April to 1 July are days 99 to 182.
    assert [(mark.number, mark.sprayed) for mark in drawn.visits] == [(1, True), (2, False)]
    assert drawn.visits[0].x == pytest.approx(100 * 97 / 365, abs=0.01)
    (bar,) = drawn.lanes[0].life
    assert (bar.x, bar.width) == (pytest.approx(100 * 99 / 365, abs=0.01), pytest.approx(100 * 83 / 365, abs=0.02))
    assert bar.told_by == "calendar"
    assert len(drawn.weeks) == 51
    april = drawn.months[3]
    assert april.begins == (
        "8 April: visit 1, Pellmere Early",
        "Smooth crabgrass, comes up: 10 April to 1 July, by the calendar.",
    )
    assert sum(month.width for month in drawn.months) == pytest.approx(100, abs=0.1)


def test_sprays_before_and_after_a_weed_comes_up_stand_in_rows_of_their_own() -> None:
    def window(kind: str, purpose: str, month: int) -> WeedWindow:
        start, end = date(2027, month, 1), date(2027, month, 20)
        told = {"kind": kind, "purpose": purpose, "text": "So.", "told_by": "weather", "sources": ()}
        return WeedWindow(start=start, end=end, **told)

    windows = (window("wasted", "postemergence", 1), window("best", "preemergence", 4), window("seeds", "", 9))
    (weed,) = planned_year.planned_year().weeds
    plan = planned_year.planned_year(weeds=(weed.model_copy(update={"windows": windows}),))
    drawn = calendar_of(plan)
    assert [[bar.kind for bar in row] for row in drawn.lanes[0].sprays] == [["best"], ["wasted"]]
    assert [bar.kind for bar in drawn.lanes[0].life] == ["seeds"]
    assert drawn.two_rows
    assert drawn.kinds == {"best", "wasted", "seeds"}
    said = "Smooth crabgrass, best time to spray before it comes up: 1 April to 20 April, by the weather. So."
    assert said in drawn.months[3].begins


def test_a_visit_has_the_days_that_suit_every_area_it_sprays() -> None:
    front, back = planned_year.visit(1), planned_year.visit(5, "back")
    other = VisitWindow(start=date(2027, 4, 6), end=date(2027, 5, 30), trigger="Later.")
    back = back.model_copy(update={"number": 1, "date": front.date, "window": other})
    drawn = calendar_of(planned_year.planned_year([front, back]))
    # The window of the front is 2 to 16 April.
    assert drawn.visits[0].bar.words == "6 April to 16 April"


def test_areas_that_are_treated_otherwise_stand_apart() -> None:
    front, back = planned_year.visit(1), planned_year.visit(1, "back")
    other = planned_year.visit(5, "back").model_copy(update={"number": 1, "date": front.date})
    names = {"front": "Front", "back": "Back"}
    assert [part.names for part in visits_of((front, back), names)[0].parts] == ["Front and Back"]
    assert [part.names for part in visits_of((front, other), names)[0].parts] == ["Front", "Back"]


def test_the_frontier_is_drawn_by_cost_or_by_visits() -> None:
    points = planned_year.planned_year().frontier
    by_cost, by_visits = frontier_dots(points, by_cost=True), frontier_dots(points, by_cost=False)
    assert [dot.x for dot in by_cost] == sorted(dot.x for dot in by_cost)
    assert [dot.y for dot in by_cost] == sorted((dot.y for dot in by_cost), reverse=True)
    # 1.8 of 5.57 and 2 of 6 of the same width.
    width = by_cost[-1].x - by_cost[0].x
    assert by_cost[1].x - by_cost[0].x == pytest.approx(width * 1.8 / 5.57, abs=0.1)
    assert by_visits[1].x - by_visits[0].x == pytest.approx(width / 3, abs=0.1)
    assert signed(-0.5) == "\N{MINUS SIGN}0.5"


def test_a_change_is_shown_against_the_chosen_plan_before_it_is_kept(
    client: FlaskClient, store: Store, planned: years.KeptYear, planner: list[YearAsked]
) -> None:
    told = fields(client.get(f"{AT}/edit").text)
    told |= {
        "v1.date": "2027-05-13",
        "ban0": "dicamba",
        "v3.hold.front": "none",
        "v0.hold.front": "keep",
        "v2.not": "MCPA",
    }
    told |= {"v2.tank.back.0": "2,4-D + triclopyr", "w0.pressure": "low", "v3.date": ""}
    answered = client.post(f"{AT}/edit", data={**told, "v4.date": "2027-10-07"})
    assert answered.status_code == 303
    asked = planner[-1]
    assert [str(day) for day in asked.visits.dates or ()] == ["2027-04-08", "2027-05-13", "2027-07-12", "2027-10-07"]
    locks = {(str(lock.date), lock.area): lock.actives for lock in asked.locks}
    assert locks == {("2027-04-08", "front"): ("prodiamine",), ("2027-07-12", "back"): ("2-4-d", "triclopyr")}
    assert [(item.actives, str(item.date)) for item in asked.forbid] == [
        (("mcpa",), "2027-07-12"),
        (("dicamba",), "None"),
    ]
    assert asked.weeds[0].pressure == "low"
    page = main(client.get(answered.location).text)
    assert "10.0 points of 100 less expected control, at the same cost" in page
    for words in ("The visit of 6 May moves to 13 May.", "Not dicamba this year.", "Not MCPA on the visit of 12 July."):
        assert words in page, words
    assert "\N{MINUS SIGN}10.0" in page
    assert len(years.versions(store, SLUG, SEASON)) == 1
    kept = client.post(answered.location, data={"choose": "yes", "at": str(planned.at)})
    assert kept.location == f"{AT}?told=kept"
    assert "Version 2 of 2, chosen, edited" in main(client.get(kept.location).text)
    # What was held is shown as held when the form is opened again.
    again = fields(client.get(f"{AT}/edit").text)
    assert (again["v0.hold.front"], again["v0.hold.back"], again["v2.hold.back"]) == ("keep", "", "other")
    assert (again["ban0"], again["v2.not"]) == ("dicamba", "MCPA")


def test_the_plan_may_choose_the_days_and_the_ground_its_weeds(
    client: FlaskClient, planned: years.KeptYear, planner: list[YearAsked]
) -> None:
    told = fields(client.get(f"{AT}/edit").text)
    told |= {"days": "count", "count": "2", "v0.hold.front": "none", "v0.hold.back": "none"}
    del told["w1.on"]
    told |= {"w9.weed": "", "w15.weed": "ground ivy", "w15.pressure": "high", "w15.areas": "front"}
    assert client.post(f"{AT}/edit", data=told).status_code == 303
    asked = planner[-1]
    assert asked.visits.count == 2
    assert [(lock.visit, lock.area, lock.actives) for lock in asked.locks] == [(1, None, ())]
    assert {weed.weed: (weed.pressure, weed.areas) for weed in asked.weeds}["ground-ivy"] == ("high", ("front",))
    assert told["w1.weed"] not in {weed.weed for weed in asked.weeds}


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"v1.date": "6 May"}, "v1.date"),
        ({"v1.date": "2027-04-08"}, "v1.date"),
        ({"ban0": "salt"}, "ban0"),
        ({"v0.hold.front": "other"}, "v0.tank.front.0"),
        ({"v0.hold.front": "other", "v0.tank.front.1": "water"}, "v0.tank.front.1"),
        ({"budget": "much"}, "budget"),
        ({"most": "9"}, "most"),
        ({"from": "2026-05-01"}, "from"),
        ({"days": "count", "count": "99"}, "count"),
        ({"w12.weed": "an unheard of plant of xyzzy"}, "w12.weed"),
        ({"w0.priority": "0"}, "w0.priority"),
    ],
)
def test_faults_stand_at_their_fields_and_what_was_typed_is_kept(
    client: FlaskClient, store: Store, planned: years.KeptYear, change: dict[str, str], field: str
) -> None:
    told = {**fields(client.get(f"{AT}/edit").text), **change}
    answered = client.post(f"{AT}/edit", data=told)
    assert answered.status_code == 422
    assert f'href="#{field}"' in answered.text
    assert f'id="{field}-fault"' in answered.text
    for name, value in change.items():
        assert fields(answered.text)[name] == value or value in ("other", "count")
    assert len(years.versions(store, SLUG, SEASON)) == 1


def test_what_nothing_fits_is_loosened_by_a_button(
    client: FlaskClient, store: Store, planned: years.KeptYear, planner: list[YearAsked]
) -> None:
    told = fields(client.get(f"{AT}/edit").text) | {"v0.hold.front": "other", "v0.tank.front.0": "dicamba"}
    answered = client.post(f"{AT}/edit", data=told)
    page = main(client.get(answered.location).text)
    assert "Nothing fits" in page
    assert "Leave this visit to the plan" in page
    assert "Allow 7.25 USD per 1000 ft2" in page
    assert "Keep this plan" not in page
    assert client.post(answered.location, data={}).status_code == 422
    loose = client.post(f"{answered.location}/loosen", data={"constraint": "locks.0"})
    assert loose.status_code == 303
    assert planner[-1].locks == ()
    assert "Keep this plan" in client.get(loose.location).text
    assert client.post(f"{answered.location}/loosen", data={"constraint": "weeds.0"}).status_code == 422


def test_the_second_of_two_is_shown_what_is_chosen_now(
    client: FlaskClient, store: Store, planned: years.KeptYear
) -> None:
    answered = client.post(f"{AT}/edit", data=fields(client.get(f"{AT}/edit").text) | {"ban0": "dicamba"})
    years.plan(store, SLUG, SEASON, read_wish({"visits": {"count": 2}}), planned.at)
    refused = client.post(answered.location, data={"choose": "yes", "at": str(planned.at)})
    assert refused.status_code == 409
    assert "changed meanwhile by somebody else" in refused.text
    (seen,) = set(re.findall(r'name="at" value="(\d+)"', main(refused.text)))
    assert client.post(answered.location, data={"choose": "no", "at": seen}).location == f"{AT}?told=beside"
    assert [(item.number, item.chosen) for item in years.versions(store, SLUG, SEASON)] == [
        (1, False),
        (2, True),
        (3, False),
    ]
    assert client.post(f"{AT}/choose", data={"number": "3", "at": seen}).status_code == 409
    assert client.get(f"{AT}/tried/nothing-waits-here").status_code == 404


def test_versions_are_listed_compared_and_chosen(client: FlaskClient, store: Store, planned: years.KeptYear) -> None:
    assert "There is one version" in client.get(f"{AT}/versions").text
    second = years.plan(store, SLUG, SEASON, read_wish({"visits": {"count": 2}}), planned.at)
    page = main(client.get(f"{AT}/versions").text)
    assert "Version 2 against version 1: as much expected control, 2.00 USD per 1000 ft2 less." in page
    turned = main(client.get(f"{AT}/versions?a=2&b=1").text)
    assert "2.00 USD per 1000 ft2 more" in turned
    answered = client.post(f"{AT}/choose", data={"number": "1", "at": str(second.at)})
    assert answered.location == f"{AT}?told=chosen"
    assert "Version 1 of 2, chosen" in client.get(answered.location).text


def test_planning_again_from_a_day(client: FlaskClient, planned: years.KeptYear, planner: list[YearAsked]) -> None:
    page = main(client.get(f"{AT}/again?from=2027-06-01").text)
    assert "0 planned applications are done, 4 missed, 2 visits lie ahead" in page
    told: dict[str, Any] = {"from": "2027-06-01", "at": str(planned.at), "day": ["2027-07-12", "", "2027-06-05"]}
    answered = client.post(f"{AT}/again", data=told)
    assert answered.status_code == 303
    assert [str(day) for day in planner[-1].visits.dates or ()] == ["2027-06-05", "2027-07-12"]
    page = main(client.get(answered.location).text)
    assert "The visit of 8 Apr (Pellmere Early) has no record and counts as missed." in page
    assert "before its first day" in page
    for wrong in ({"from": "June"}, {"from": "2026-06-01"}, {"day": ["soon"]}, {"day": ["2027-02-01"]}):
        assert client.post(f"{AT}/again", data={**told, **wrong}).status_code == 422
    assert client.get(f"/year/{SLUG}/2031/again").status_code == 404


def test_a_year_is_carried_over_into_the_next(
    client: FlaskClient, store: Store, planned: years.KeptYear, planner: list[YearAsked]
) -> None:
    page = client.get(f"/year/{SLUG}/2028/edit?carry=2027").text
    assert "Visits of 2027" in page
    told = fields(page)
    assert [told[f"v{row}.date"] for row in range(4)] == ["2028-04-08", "2028-05-06", "2028-07-12", "2028-09-09"]
    answered = client.post(f"/year/{SLUG}/2028/edit", data=told)
    assert answered.location == f"/year/{SLUG}/2028?told=planned"
    assert planner[-1].year == 2028
    kept = years.chosen(store, SLUG, 2028)
    assert kept is not None
    assert kept.note.how == "carried-over"
