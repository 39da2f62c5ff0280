"""The page that tells when weeds come up."""

from __future__ import annotations

from html import unescape
from pathlib import Path

from flask.testing import FlaskClient

from app.services.forecast_csv import read_days
from app.services.growth import emergence

SPRING = (Path(__file__).parents[2] / "demo_data" / "daily-spring.csv").read_text(encoding="utf-8")


def sent(client: FlaskClient, status: int = 200, **fields: object) -> str:
    answered = client.post("/emergence", data=fields)
    assert answered.status_code == status
    return unescape(answered.get_data(as_text=True))


def test_it_is_reached_from_the_knowledge(client: FlaskClient) -> None:
    assert 'href="/emergence"' in client.get("/knowledge").get_data(as_text=True)
    shown = client.get("/emergence").get_data(as_text=True)
    assert "<h1>When weeds come up</h1>" in shown
    assert "<table>" not in shown


def test_each_weed_has_its_sentence_and_its_table(client: FlaskClient) -> None:
    shown = sent(client, daily=SPRING, weeds=["smooth-crabgrass", "goosegrass"], zone="cool-humid", soil_depth_in="2")
    asked = {"daily": read_days(SPRING).days, "weeds": ["smooth-crabgrass", "goosegrass"], "zone": "cool-humid"}
    for weed in emergence({**asked, "soil_depth_in": 2.0}).weeds:
        assert weed.text in shown
        for event in weed.events:
            assert event.waits_for in shown
    assert '<input type="checkbox" name="weeds" value="goosegrass" checked>' in shown
    assert '<option value="cool-humid" selected>' in shown
    assert "2027-05-20" in shown


def test_without_a_choice_every_recorded_weed_is_told(client: FlaskClient) -> None:
    shown = sent(client, daily=SPRING)
    assert shown.count('<section aria-labelledby="w-') == len(emergence({"daily": read_days(SPRING).days}).weeds)


def test_air_alone_leaves_the_soil_unknown(client: FlaskClient) -> None:
    text = "date,min_c,max_c\n2027-01-01,5,9\n2027-01-02,6,10\n"
    shown = sent(client, daily=text, weeds=["goosegrass"])
    assert "no soil temperature is told, and air is not taken for soil" in shown


def test_what_was_typed_is_kept_with_its_faults(client: FlaskClient) -> None:
    text = "date,min_f,max_f\n2027-01-01,cold,9\n"
    shown = sent(client, 422, daily=text, soil_depth_in="deep", weeds=["goosegrass"])
    assert "line 2, min_f: 'cold' " in shown
    assert "'deep' is no depth" in shown
    assert "2027-01-01,cold,9" in shown
    assert 'value="goosegrass" checked' in shown
    assert "paste one row a day" in sent(client, 422)


def test_a_depth_out_of_range_is_refused_at_its_field(client: FlaskClient) -> None:
    shown = sent(client, 422, daily=SPRING, soil_depth_in="0")
    assert 'id="soil_depth_in-fault"' in shown
