"""The mix card as a page: what is typed, what is refused, what is shown. Invented products."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlencode

import pytest
from flask.testing import FlaskClient

from app.engine.product import Product
from app.services.shelf import add_product
from app.services.sprayers import add_sprayer
from app.store.opening import open_in_memory
from app.web import create_app
from tests.mixing.made import amount, granule, product

LINE = {"turf": ["tall-fescue"], "low": amount("0.5 qt/acre"), "high": amount("1 qt/acre")}

TWICE = [{**LINE, "purpose": "preemergence"}, {**LINE, "low": amount("1 pt/acre"), "high": amount("1 pt/acre")}]
WETTER = {
    "name": "Marl Wetter",
    "kind": "adjuvant",
    "formulation": "SL",
    "adjuvant": "nis",
    "adjuvant_rate": amount("0.5 % v/v"),
    "packs": [{"size": amount("1 gal"), "price": 30}],
}


@pytest.fixture
def client() -> Iterator[FlaskClient]:
    store = open_in_memory()
    add_product(store, WETTER)
    for told in (product(), granule()):
        made = {key: value for key, value in told.items() if key != "rate"}
        line = {**LINE, "low": told["rate"], "high": told["rate"]} if told["formulation"] == "G" else LINE
        add_product(store, Product.model_validate({**made, "rates": [line]}).model_dump(mode="json", exclude_none=True))
    add_sprayer(
        store, {"name": "Blue boom", "kind": "boom", "carrier": amount("40 gal/acre"), "tank": amount("50 gal")}
    )
    yield create_app(allowed_hosts=frozenset({"localhost"}), store=store, testing=True).test_client()
    store.close()


USUAL = {
    "method": "broadcast",
    "area": "60000",
    "area.unit": "ft2",
    "carrier": "1",
    "carrier.unit": "gal/1000 ft2",
    "tank": "50",
    "tank.unit": "gal",
    "turf": "tall-fescue",
    "site_use": "residential-lawn",
    "p1": "fennick-amine",
    "p1.rate": "1",
    "p1.rate.unit": "qt/acre",
}


def page(client: FlaskClient, **changes: str | None) -> tuple[int, str]:
    told = {key: value for key, value in {**USUAL, **changes}.items() if value is not None}
    answered = client.get(f"/mix?{urlencode(told)}")
    return answered.status_code, answered.get_data(as_text=True)


def test_the_form_alone_offers_shelf_and_sprayers(client: FlaskClient) -> None:
    shown = client.get("/mix").get_data(as_text=True)
    assert "Write mix card" in shown
    assert '<option value="Fennick Amine">' in shown
    assert "Blue boom (40 gal/acre, 50 gal)" in shown


def test_a_card_tells_what_goes_in(client: FlaskClient) -> None:
    status, shown = page(client)
    assert status == 200
    # A quart an acre on 50,000 ft2: 36.73 fl oz, poured to the half ounce.
    for text in (
        "1 qt 4.5 fl oz",
        "exactly 36.73 fl oz",
        "7 fl oz",
        "Order of adding",
        "0.75 lb ae/acre",
        "The last part-tank",
    ):
        assert text in shown
    assert "Stop" not in shown


def test_a_rate_of_the_label_is_taken_for_the_turf(client: FlaskClient) -> None:
    none = {"p1.rate": None, "p1.rate.unit": None}
    assert "exactly 36.73 fl oz" in page(client, **{"p1.at": "high"}, **none)[1]
    assert "exactly 18.37 fl oz" in page(client, **{"p1.at": "low"}, **none)[1]
    status, shown = page(client, turf="kentucky-bluegrass", **{"p1.at": "high"}, **none)
    assert status == 422
    assert "the label&#39;s line cannot be told" in shown


def test_the_label_shows_its_figures_for_the_turf_that_is_told(client: FlaskClient) -> None:
    _, shown = page(client, **{"look": "rates", "p1.rate": None, "p1.rate.unit": None, "area": None})
    assert "0.5 qt/acre (lowest)" in shown
    assert "0.75 qt/acre (middle)" in shown
    assert "tall fescue: 0.5 qt/acre to 1 qt/acre (postemergence)" in shown
    assert "This cannot be mixed yet" not in shown
    assert "(lowest)" not in page(client, look="rates", turf="kentucky-bluegrass")[1]


def test_a_label_with_two_uses_asks_which(client: FlaskClient) -> None:
    store = client.application.extensions["store"]
    told = {**{key: value for key, value in product("Fennick Twice").items() if key != "rate"}, "rates": TWICE}
    add_product(store, told)
    none = {"p1": "fennick twice", "p1.rate": None, "p1.rate.unit": None}
    status, shown = page(client, **none, **{"p1.at": "high"})
    assert status == 422
    assert "choose one of the list" in shown
    assert "1 qt/acre (highest, preemergence)" in shown
    assert "1 pt/acre (as the label says, postemergence)" in shown
    assert "exactly 36.73 fl oz" in page(client, **none, **{"p1.at": "high-preemergence"})[1]
    assert "exactly 18.37 fl oz" in page(client, **none, **{"p1.at": "high-postemergence"})[1]


def test_a_product_may_be_named_as_it_is_called(client: FlaskClient) -> None:
    assert "exactly 36.73 fl oz" in page(client, p1="fennick AMINE")[1]


def test_an_adjuvant_of_the_shelf_brings_its_rate_and_packs(client: FlaskClient) -> None:
    status, shown = page(client, adjuvant="marl-wetter")
    assert status == 200
    # Half a hundredth of 50 gal is 32 fl oz.
    assert "exactly 32 fl oz" in shown
    assert "Marl Wetter" in shown
    assert "1 of 1 gal" in shown
    assert "exactly 16 fl oz" in page(client, adjuvant="marl-wetter", adjuvant_rate="0.25")[1]


def test_a_kept_sprayer_gives_volume_and_tank(client: FlaskClient) -> None:
    status, shown = page(
        client, carrier=None, tank=None, sprayer="blue-boom", **{"carrier.unit": None, "tank.unit": None}
    )
    assert status == 200
    assert "50 gal of spray" in shown


def test_a_product_typed_by_hand(client: FlaskClient) -> None:
    own = {
        "p1": "own",
        "p1.name": "Marl Amine",
        "p1.formulation": "SL",
        "p1.active_1": "2-4-d-dma",
        "p1.content_1": "3.8",
        "p1.content_1.unit": "lb ae/gal",
    }
    status, shown = page(client, **own)
    assert status == 200
    assert "Marl Amine" in shown
    assert "0.95 lb ae/acre" in shown


def test_granules_and_spots(client: FlaskClient) -> None:
    none = {"carrier": None, "tank": None, "carrier.unit": None}
    _, shown = page(
        client, method="granular", p1="larkmere-grain", **{"p1.rate": "3", "p1.rate.unit": "lb/1000 ft2"}, **none
    )
    assert "Setting the spreader" in shown
    assert "180 lb" in shown
    _, shown = page(client, method="spot", spray="2", area=None, tank=None, **{"spray.unit": "gal"})
    assert "2 gal of spray" in shown


def test_a_stop_heads_the_card(client: FlaskClient) -> None:
    status, shown = page(client, **{"p1.rate": "3"})
    assert status == 200
    assert shown.index("Stop: do not spray this") < shown.index("Order of adding")


def test_metric_pours(client: FlaskClient) -> None:
    client.set_cookie("units", "metric")
    _, shown = page(client)
    assert "1 L 80 mL" in shown


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        ({"area": "wide"}, "area", "is no number"),
        ({"area": "60,000"}, "area", "may mean two things"),
        ({"p1.name": "Marl Amine", "p1.active_1": "2-4-d-dma", "p1.content_1": "3.8"}, "p1", "empty one of them"),
        ({"p2.rate": "1"}, "p2", "is needed with its rate"),
        ({"p2": "gone", "p2.rate": "1"}, "p2", "not on the shelf"),
        ({"adjuvant": "fennick-amine"}, "adjuvant", "is no adjuvant"),
        ({"area": "0"}, "area", "out of range"),
        ({"area": None}, "area", "is required"),
        ({"carrier": None, "carrier.unit": None}, "carrier", "is required"),
        ({"tank": "-1"}, "tank", "out of range"),
        ({"p1.rate.unit": "oz/acre"}, "p1.rate", "which ounce"),
        ({"p1.rate.unit": "fl oz/gal"}, "p1.rate", "method spot"),
        ({"p1": "gone"}, "p1", "gone"),
        ({"p1": "own", "p1.active_1": "2-4-d-dma"}, "p1.content_1", "is needed"),
        ({"p1": "own"}, "p1", "at least one active"),
        ({"p1": "larkmere-grain", "p1.rate.unit": "lb/1000 ft2"}, "p1.formulation", "granular"),
        ({"sprayer": "gone", "carrier": None, "carrier.unit": None}, "sprayer", "gone"),
    ],
)
def test_a_refusal_names_the_field_and_keeps_what_was_typed(
    client: FlaskClient, changes: dict[str, str | None], field: str, said: str
) -> None:
    status, shown = page(client, **changes)
    assert status == 422
    assert f'href="#{field}"' in shown
    assert said in shown
    assert 'name="p1" list="shelf-names" autocomplete="off" spellcheck="false" value="Fennick Amine"' in shown or (
        "p1" in changes
    )


def test_empty_fields_are_no_part_of_the_address(client: FlaskClient) -> None:
    answered = client.get(f"/mix?{urlencode({**USUAL, 'p2': '', 'spray': ''})}")
    assert answered.status_code == 302
    assert "p2" not in answered.headers["Location"]
