"""The pages of rounds: made without a script, planned, done, and a conflict shown to the second of two."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient
from werkzeug.datastructures import MultiDict

from app.services import round_plan, rounds
from app.services.rounds import KeptRound
from app.store.opening import Store
from tests.season import planned
from tests.web.round_store import keep_places, keep_round

DAY = "2027-06-22"


@pytest.fixture
def kept(store: Store, client: FlaskClient) -> KeptRound:
    keep_places(store)
    return keep_round(store)


def told(**more: str) -> dict[str, str]:
    return {"date": DAY, "name": "South side", "tanks": "2", "catalog": "shelf", **more}


def test_an_empty_list_says_what_to_do_first(client: FlaskClient, store: Store) -> None:
    assert 'href="/properties"' in client.get("/round").text.split("<main")[1]
    keep_places(store)
    assert 'href="/round/new"' in client.get("/round").text


def test_the_list_holds_the_plan_in_a_sentence(client: FlaskClient, kept: KeptRound) -> None:
    page = client.get("/round").text
    assert f'href="/round/{kept.slug}"' in page
    assert "tank A serves 3" in page


def test_a_round_is_made_by_searching_and_ticking(client: FlaskClient, store: Store) -> None:
    keep_places(store)
    page = client.post("/round/new", data=told(q="pond", act="look")).text
    assert "Pond House" in page
    assert "Hill House" not in page
    ticked = MultiDict([*told(q="hill", act="look").items(), ("stop", "pond-house/front")])
    page = client.post("/round/new", data=ticked).text
    # What is ticked stays while something else is looked for.
    assert re.search(r'value="pond-house/front" checked', page)
    assert re.search(r'value="hill-house/front"(?! checked)', page)
    both = MultiDict([*told(act="save").items(), ("stop", "pond-house/front"), ("stop", "hill-house/front")])
    both["method.hill-house/front"] = "spot"
    answered = client.post("/round/new", data=both)
    assert answered.status_code == 303
    (made,) = rounds.listing(store)
    assert [(s.property, s.area, s.method) for s in made.round.stops] == [
        ("pond-house", "front", None),
        ("hill-house", "front", "spot"),
    ]
    assert answered.location == f"/round/{made.slug}?told=made"
    assert "Plan this round" in client.get(answered.location).text


def test_a_round_without_a_name_is_called_by_day_and_technician(client: FlaskClient, store: Store) -> None:
    keep_places(store)
    client.post("/round/new", data=told(name="", technician="Ada Marsh", act="save"))
    assert [item.round.name for item in rounds.listing(store)] == [f"{DAY} Ada Marsh"]


def test_faults_stand_at_their_fields_and_what_was_typed_is_kept(client: FlaskClient, store: Store) -> None:
    keep_places(store)
    wrong = told(date="22 June", sprayer="sold", act="save")
    answered = client.post("/round/new", data=MultiDict([*wrong.items(), ("stop", "nowhere/front")]))
    assert answered.status_code == 422
    assert 'id="date-fault"' in answered.text
    answered = client.post("/round/new", data=MultiDict([*told(act="save").items(), ("stop", "nowhere/front")]))
    assert answered.status_code == 422
    assert 'id="stops-fault"' in answered.text
    assert 'value="South side"' in answered.text
    assert rounds.listing(store) == ()


def test_the_page_leads_with_the_plan_and_holds_every_stop(client: FlaskClient, kept: KeptRound) -> None:
    page = client.get(f"/round/{kept.slug}").text
    main = page.split("<main")[1]
    assert main.index("tank A serves 3") < main.index("Tank A:") < main.index("These wait")
    for stop in planned.stops():
        assert stop.property_name in main
    assert "Sharing tank A costs 4 points" in main
    assert "24 July 2027" in main
    assert "20 July 2027" in main
    assert "The turf of this area is not told." in main
    for row in ("1 tank: 3 stops served", "2 tanks: 4 stops served"):
        assert row in main
    assert f'href="/round/{kept.slug}/sheet"' in main


def test_an_older_plan_says_so(client: FlaskClient, store: Store) -> None:
    keep_places(store)
    old = keep_round(store, planned.planned())
    assert "knowledge base has changed" in client.get(f"/round/{old.slug}").text


def test_a_stop_that_is_done_leads_to_its_record(client: FlaskClient, store: Store, kept: KeptRound) -> None:
    answered = client.post(f"/round/{kept.slug}/done", data={"property": "hill-house", "area": "front"})
    assert answered.status_code == 303
    key = rounds.one(store, kept.slug).done["hill-house", "front"]
    assert f"record={key}" in answered.location
    page = client.get(answered.location).text
    assert page.count(f'href="/record/{key}"') == 2
    assert client.get(f"/record/{key}").status_code == 200
    # The same again keeps it once.
    client.post(f"/round/{kept.slug}/done", data={"property": "hill-house", "area": "front"})
    assert len(rounds.one(store, kept.slug).done) == 1
    refused = client.post(f"/round/{kept.slug}/done", data={"property": "quarry-view", "area": "front"})
    assert refused.status_code == 422


def test_planning_keeps_the_plan_and_names_a_conflict(
    client: FlaskClient, store: Store, kept: KeptRound, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def plan_of(store: Store, told: object, time_limit: float = 0) -> object:
        asked.append(told)
        return planned.planned(headline="Planned once more.")

    monkeypatch.setattr(round_plan, "plan_of", plan_of)
    answered = client.post(f"/round/{kept.slug}/plan", data={"version": str(kept.version)})
    assert answered.status_code == 303
    assert asked == [kept.round]
    assert "Planned once more." in client.get(answered.location).text
    again = client.post(f"/round/{kept.slug}/plan", data={"version": str(kept.version)})
    assert again.status_code == 409
    assert "changed" in again.text


def test_the_second_of_two_is_shown_both(client: FlaskClient, store: Store, kept: KeptRound) -> None:
    page = client.get(f"/round/{kept.slug}/change").text
    assert 'value="North side"' in page
    assert page.count('name="stop"') >= 6
    stops = [("stop", f"{stop.property}/{stop.area}") for stop in planned.stops()]
    mine = [*told(name="Mine", act="save", version=str(kept.version)).items(), *stops]
    theirs = [*told(name="Theirs", act="save", version=str(kept.version)).items(), *stops]
    assert client.post(f"/round/{kept.slug}/change", data=MultiDict(theirs)).status_code == 303
    answered = client.post(f"/round/{kept.slug}/change", data=MultiDict(mine))
    assert answered.status_code == 409
    assert "Somebody else was quicker" in answered.text
    assert "Theirs" in answered.text
    assert 'value="Mine"' in answered.text
    version = rounds.one(store, kept.slug).version
    assert f'name="version" value="{version}"' in answered.text


def test_a_round_is_removed_unless_it_has_records_or_was_changed(
    client: FlaskClient, store: Store, kept: KeptRound
) -> None:
    client.post(f"/round/{kept.slug}/done", data={"property": "hill-house", "area": "front"})
    refused = client.post(f"/round/{kept.slug}/remove", data={"version": str(kept.version)})
    assert refused.status_code == 422
    assert "it stays" in refused.text
    other = rounds.make(store, {"name": "Spare", "date": DAY})
    assert client.post(f"/round/{other.slug}/remove", data={"version": "9"}).status_code == 409
    gone = client.post(f"/round/{other.slug}/remove", data={"version": str(other.version)})
    assert gone.location == "/round?told=removed"
    assert [item.slug for item in rounds.listing(store)] == [kept.slug]
    # Whoever removes what is gone already has what they wanted.
    assert client.post(f"/round/{other.slug}/remove", data={"version": "1"}).status_code == 303


def test_the_papers_hold_every_stop_and_amount(client: FlaskClient, kept: KeptRound) -> None:
    page = client.get(f"/round/{kept.slug}/sheet").text
    for words in ("Load sheet", "Ada Marsh", "LK-A-118", "Truck gun", "22 June 2027", "11.2 fl oz", "20 fl oz"):
        assert words in page, words
    slip = client.get(f"/round/{kept.slug}/slip/hill-house").text
    for words in ("Wrenhollow Creeper", "LKM-104", "555-0134", "LK-A-118", "smooth crabgrass", "label is the law"):
        assert words in slip, words
    assert client.get(f"/round/{kept.slug}/slip/nowhere").status_code == 404
    assert client.get(f"/round/{kept.slug}/slip/quarry-view").status_code == 404


@pytest.mark.parametrize("kind", ["actives", "granule"])
def test_what_is_not_sprayed_from_a_jug_has_its_pages_and_papers(client: FlaskClient, store: Store, kind: str) -> None:
    keep_places(store)
    granule = planned.ProductInTank(
        product="Larkmere Early Feed",
        id="larkmere-early-feed",
        actives=(planned.active("dithiopyr", "dithiopyr", 0.25, "lb ai/acre", "3"),),
        rate=planned.Amount(value=4, unit="lb/1000 ft2"),
    )
    dry = planned.tank("A", 36900, 3, products=(granule,), adjuvant=None, rainfast_hours=None)
    made = keep_round(store, planned.generic() if kind == "actives" else planned.planned(tanks=(dry,)))
    pages = {
        path: client.get(f"/round/{made.slug}{path}") for path in ("", "/sheet", "/sheet.html", "/slip/hill-house")
    }
    assert {page.status_code for page in pages.values()} == {200}
    if kind == "actives":
        assert "nothing can be poured" in pages["/sheet"].text
        assert "product: ____" in pages["/slip/hill-house"].text
    else:
        # By hand: 14,000 ft2 at 4 lb/1000 ft2.
        assert "56 lb" in pages["/slip/hill-house"].text
        assert "spread dry" in pages[""].text
        assert "of spray" not in pages["/slip/hill-house"].text


def test_the_papers_are_in_the_units_asked_for(client: FlaskClient, kept: KeptRound) -> None:
    client.set_cookie("units", "metric")
    page = client.get(f"/round/{kept.slug}/sheet").text
    assert " mL" in page
    assert " m2" in page
    assert "fl oz" not in page
    assert "29 °C" in page


def test_the_phone_file_comes_as_a_file_that_leads_nowhere(client: FlaskClient, kept: KeptRound) -> None:
    answered = client.get(f"/round/{kept.slug}/sheet.html")
    assert answered.headers["Content-Disposition"] == 'attachment; filename="load-sheet-north-side-2027-06-22.html"'
    assert not re.search(r'(?:src|href|action)="(?!#)', answered.text)
    assert "url(" not in answered.text
    assert "http:" not in answered.text.replace('http-equiv="', "")
    assert "https:" not in answered.text


def test_a_round_without_a_plan_has_no_papers(client: FlaskClient, store: Store) -> None:
    keep_places(store)
    made = rounds.make(store, {"name": "Bare", "date": DAY})
    assert client.get(f"/round/{made.slug}/sheet").status_code == 404
    assert "plan it first" in client.get(f"/round/{made.slug}/sheet").text
