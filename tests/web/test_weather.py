"""The page of spray windows: a table, a file, a day by hand, and what cannot be used."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app.web.weather import LABELS

TABLE = (Path(__file__).parents[2] / "demo_data" / "forecast.csv").read_text(encoding="utf-8")
EMPTY = {name: "" for name in LABELS if name != "file"}
PLACE = {"place": "Larkmere", "latitude": "40.1", "longitude": "-83.2", "timezone": "America/New_York"}
HAND = {
    "date": "2027-07-14",
    "morning": "62",
    "afternoon": "80",
    "wind_morning": "5",
    "wind_afternoon": "9",
    "humidity": "50",
    "cloud": "30",
    "rain_from": "none",
}


def send(client: FlaskClient, **typed: str) -> tuple[int, str]:
    answered = client.post("/weather", data={**EMPTY, **PLACE, **typed})
    return answered.status_code, answered.get_data(as_text=True)


def test_the_form_is_filled_from_its_address(client: FlaskClient) -> None:
    shown = client.get("/weather?latitude=40.1&timezone=America/New_York").get_data(as_text=True)
    assert 'value="40.1"' in shown
    assert 'value="America/New_York"' in shown
    assert 'href="/weather"' not in shown


def test_a_table_shows_a_strip_of_each_day(client: FlaskClient) -> None:
    status, shown = send(client, table=TABLE, active_1="triclopyr/triclopyr-bee", turf="tall-fescue")
    assert status == 200
    strips = re.findall(r'<svg class="strip" role="img".*?</svg>', shown, re.DOTALL)
    assert len(strips) == 3
    for strip in strips:
        assert len(re.findall('class="(?:open|closed|unknown)"', strip)) == 24
    assert "Larkmere, times of America/New_York; for triclopyr" in shown
    assert "gives off vapour above 85 °F" in shown
    # What was typed stands in the form again.
    assert "2027-07-14 00:00" in shown
    assert '<option value="triclopyr/triclopyr-bee" selected>' in shown


def test_a_file_counts_before_the_table(client: FlaskClient) -> None:
    sent = {**EMPTY, **PLACE, "table": "nonsense", "file": (io.BytesIO(TABLE.encode()), "forecast.csv")}
    shown = client.post("/weather", data=sent, content_type="multipart/form-data")
    assert shown.status_code == 200
    broken = {**EMPTY, **PLACE, "file": (io.BytesIO(b"\xff\xfea"), "forecast.csv")}
    refused = client.post("/weather", data=broken, content_type="multipart/form-data")
    assert refused.status_code == 422
    assert "UTF-16" in refused.get_data(as_text=True)


def test_a_day_by_hand_in_either_system(client: FlaskClient) -> None:
    status, us = send(client, **HAND)
    assert status == 200
    assert "open 6 am to 9 pm" in us
    client.set_cookie("units", "metric")
    metric = {**HAND, "morning": "16.7", "afternoon": "26.7", "wind_morning": "8", "wind_afternoon": "14.5"}
    status, shown = send(client, **metric)
    assert status == 200
    assert "open 6 am to 9 pm" in shown
    assert "°C</span>" in shown


def test_a_figure_out_of_range_is_said_in_the_units_of_the_form(client: FlaskClient) -> None:
    client.set_cookie("units", "metric")
    status, shown = send(client, **{**HAND, "afternoon": "77"})
    assert status == 422
    # 140 F are 60 C.
    assert "77 °C is out of range; it must be less than or equal to 60 °C" in shown


def test_every_fault_is_at_its_field(client: FlaskClient) -> None:
    status, shown = send(
        client, **{**HAND, "latitude": "99", "morning": "x", "timezone": "Larkmere", "humidity": "200"}
    )
    assert status == 422
    for field in ("latitude", "morning", "timezone", "humidity"):
        assert f'id="{field}-fault"' in shown, field
        assert f'href="#{field}"' in shown, field
    assert 'value="x"' in shown


def test_rows_of_a_table_are_named(client: FlaskClient) -> None:
    status, shown = send(client, table="time,temp_f\nx,70\n2027-07-14 06:00,hot\n")
    assert status == 422
    assert "line 2, time" in shown
    assert "line 3, temp_f" in shown
    assert "2027-07-14 06:00,hot" in shown


@pytest.mark.parametrize(
    "typed", [{}, {"active_1": "salt", **HAND}, {"turf": "moss", **HAND}, {"rain_from": "99", **HAND}]
)
def test_what_cannot_be_answered(client: FlaskClient, typed: dict[str, str]) -> None:
    assert send(client, **{**HAND, **typed} if typed else {})[0] == (422 if typed != HAND else 200)


def test_no_place_of_its_own_in_the_navigation(client: FlaskClient) -> None:
    assert '<a href="/weather"' not in client.get("/").get_data(as_text=True)


def test_a_forecast_is_kept_for_rounds(client: FlaskClient) -> None:
    for number in (1, 2):
        answered = client.post("/weather", data={**EMPTY, **PLACE, "table": TABLE, "act": "keep"})
        assert answered.status_code == 303
        slug = answered.headers["Location"].rpartition("=")[2]
        shown = client.get(answered.headers["Location"]).get_data(as_text=True)
        assert f'href="/round/new?forecast={slug}"' in shown
        # Kept twice it has a number behind its name.
        assert ("(2)" in shown) is (number == 2)
    chosen = client.get(f"/round/new?forecast={slug}").get_data(as_text=True)
    assert re.search(rf'<option value="{slug}" selected', chosen)


def test_a_broken_forecast_is_not_kept(client: FlaskClient) -> None:
    before = client.get("/round/new").get_data(as_text=True).count("<option")
    answered = client.post("/weather", data={**EMPTY, **PLACE, "table": "time,temp_f\nsoon,80", "act": "keep"})
    assert answered.status_code == 422
    assert "soon" in answered.get_data(as_text=True)
    assert client.get("/round/new").get_data(as_text=True).count("<option") == before
