"""The page of a comparison: its form, its findings, and what it refuses."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

from app.services.shelf import fill_demo
from app.services.side_by_side import side_by_side
from app.web import create_app, side_show

PLACE = "turf=tall-fescue&zone=cool-humid&date=2027-05-20&stand=established&max_temp=74&max_temp_3=78"
WEEDS = "weed=ground+ivy&stage=vegetative&weed_2=wild+violet&stage_2=vegetative"
MIXTURES = "side_1=mixture:2-4-d-mecoprop-p-dicamba&side_2=mixture:2-4-d-triclopyr"
ASKED = f"/side-by-side?{WEEDS}&{PLACE}&{MIXTURES}"


@pytest.fixture(scope="module")
def client() -> Iterator[FlaskClient]:
    """A client of the app with the demo's shelf."""
    app = create_app(allowed_hosts=frozenset({"localhost"}), testing=True)
    fill_demo(app.extensions["store"])
    with app.test_client() as found:
        yield found


def _text(client: FlaskClient, path: str, status: int = 200) -> str:
    found = client.get(path)
    assert found.status_code == status, found.get_data(as_text=True)
    text = found.get_data(as_text=True)
    assert text.count("<h1") == 1
    assert "style=" not in text
    return text


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", text))


def test_the_form_offers_shelf_and_mixtures(client: FlaskClient) -> None:
    text = _text(client, "/side-by-side")
    assert "Compare sides" in text
    assert 'value="shelf:larkmere-three"' in text
    assert 'value="mixture:2-4-d-triclopyr"' in text
    # Adjuvants are chosen beside a product, not as a side.
    assert 'value="shelf:larkmere-wetter"' not in text
    assert text.count('name="weed') == 6


def test_an_empty_shelf_leaves_the_mixtures() -> None:
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True).test_client() as bare:
        text = _text(bare, "/side-by-side")
        assert "Products on the shelf" not in text
        assert "Standard mixtures" in text


def test_the_answer_says_what_the_engine_says(client: FlaskClient) -> None:
    text = _plain(_text(client, ASKED))
    situation = {
        "date": "2027-05-20",
        "zone": "cool-humid",
        "site_use": "residential-lawn",
        "turf": ["tall-fescue"],
        "turf_condition": {"stand": "established"},
        "targets": [
            {"weed": "ground-ivy", "stage": "vegetative"},
            {"weed": "wild-violet", "stage": "vegetative"},
        ],
        "forecast": {"max_temp_f": 74, "max_temp_next_3_days_f": 78},
    }
    sides = [{"mixture": "2-4-d-mecoprop-p-dicamba"}, {"mixture": "2-4-d-triclopyr"}]
    answer = side_by_side({"situation": situation, "sides": sides}, lambda: ())
    assert answer.verdict in text
    for difference in answer.differences:
        assert difference.text.replace(" F ", " °F ").split(" (")[0] in text
    for side in answer.sides:
        for shown in side.control:
            assert f"{shown.low:.0f} to {shown.high:.0f}, likely {shown.likely:.0f} %" in text
    assert "The product label is the law" in text
    assert answer.knowledge_version in text


def test_a_stop_is_unmistakable(client: FlaskClient) -> None:
    text = _text(client, f"{ASKED}&surroundings=tree-roots")
    assert 'class="hold"' in text
    assert "mark-stop" in text
    assert "may not be used here" in _plain(text)
    assert "Only B passes every stop here" in _plain(text)


def test_products_of_the_shelf_are_compared_at_an_end_of_their_label(client: FlaskClient) -> None:
    sides = "side_1=shelf:larkmere-three&at_1=low&side_2=shelf:larkmere-three&at_2=high&times_2=2&adjuvant_2=nis"
    text = _plain(_text(client, f"/side-by-side?{WEEDS}&{PLACE}&{sides}"))
    assert "3 pt/acre" in text
    assert "4 pt/acre" in text
    assert re.search(r"twice, \d+ days apart", text)


def test_single_actives_are_compared_at_their_rates(client: FlaskClient) -> None:
    sides = "active_1_1=triclopyr&rate_1_1=0.75&active_2_1=dicamba&rate_2_1=0.25"
    assert "A carries triclopyr where B carries dicamba" in _plain(
        _text(client, f"/side-by-side?{WEEDS}&{PLACE}&{sides}")
    )


def test_metric_figures_are_read_and_shown(client: FlaskClient) -> None:
    sides = "active_1_1=triclopyr&rate_1_1=840&active_2_1=dicamba&rate_2_1=280"
    place = PLACE.replace("max_temp=74&max_temp_3=78", "max_temp=23&max_temp_3=25")
    text = _plain(_text(client, f"/side-by-side?{WEEDS}&{place}&{sides}&units=metric"))
    assert "840 g ae/ha" in text
    assert "29 °C" in text
    assert "°F" not in text


@pytest.mark.parametrize(
    ("query", "field", "words"),
    [
        (MIXTURES, "weed", "must name a weed"),
        (f"{WEEDS}&side_1=mixture:2-4-d-triclopyr", "side_2", "must be chosen"),
        (WEEDS, "side_1", "must be chosen"),
        (f"{WEEDS}&side_1=mixture:no-such&side_2=mixture:2-4-d-triclopyr", "side_1", "is no known mixture"),
        (f"{WEEDS}&side_1=nonsense&{MIXTURES.split('&')[1]}", "side_1", "is not one of the choices"),
        (f"{WEEDS}&side_3=shelf:no-such&{MIXTURES}", "side_3", "is no known product of the shelf"),
        (f"{WEEDS}&{MIXTURES}&active_1_1=dicamba&rate_1_1=0.2", "side_1", "clear one of the two"),
        (f"{WEEDS}&{MIXTURES}&active_3_1=dicamba", "rate_3_1", "is needed with the active"),
        (f"{WEEDS}&{MIXTURES}&active_3_2=dicamba&rate_3_2=much", "rate_3_2", "is not a number"),
        (f"{WEEDS}&{MIXTURES}&active_3_2=dicamba&rate_3_2=-1", "rate_3_2", "out of range"),
        (f"{WEEDS}&{MIXTURES}&rate_3_2=0.5", "active_3_2", "must name the active"),
        (f"{WEEDS}&{MIXTURES}&active_4_2=dicambo&rate_4_2=0.5", "active_4_2", "is no known active"),
        (f"{WEEDS}&{MIXTURES}&adjuvant_1=soap", "adjuvant_1", "is not one of the choices"),
        (f"{WEEDS}&{MIXTURES}&times_1=5", "times_1", "is not one of the choices"),
        (f"{WEEDS}&side_1=shelf:larkmere-three&at_1=top&{MIXTURES.split('&')[1]}", "at_1", "is not one of the choices"),
        (f"{WEEDS}&{MIXTURES}&weed_6=qqqq", "weed_6", "is no weed this knows"),
        (f"{WEEDS}&{MIXTURES}&max_temp=warm", "max_temp", "is not a number"),
    ],
)
def test_a_fault_stands_at_its_field_and_in_the_summary(
    client: FlaskClient, query: str, field: str, words: str
) -> None:
    text = _text(client, f"/side-by-side?{query}", 422)
    assert f'href="#{field}"' in text
    found = re.search(rf'id="{field}-fault">([^<]+)<', text)
    assert found is not None
    assert words in found[1].replace("&#39;", "'")
    assert f'id="{field}"' in text


def test_what_was_typed_is_kept(client: FlaskClient) -> None:
    text = _text(client, f"/side-by-side?weed=zzzz&{PLACE}&{MIXTURES}&active_3_1=dicamba&rate_3_1=x", 422)
    assert 'value="zzzz"' in text
    assert 'value="x"' in text
    assert '<option value="mixture:2-4-d-triclopyr" selected>' in text


def test_empty_fields_leave_the_address(client: FlaskClient) -> None:
    found = client.get(f"{ASKED}&side_3=&weed_3=")
    assert found.status_code == 302
    assert "side_3" not in found.headers["Location"]


def test_the_demo_opens_with_an_example() -> None:
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True, demo=True).test_client() as demo:
        assert 'value="ground ivy"' in _text(demo, "/side-by-side")


def test_cautions_of_all_sides_are_said_once(client: FlaskClient) -> None:
    text = _plain(_text(client, ASKED))
    assert text.count("What stands near is not told") == 1


def _compared(**changes: Any) -> Any:
    situation = {
        "date": "2027-05-20",
        "zone": "cool-humid",
        "site_use": "residential-lawn",
        "turf": ["tall-fescue"],
        "targets": [{"weed": "ground-ivy", "stage": "vegetative"}],
        **changes,
    }
    names = ("2-4-d-mecoprop-p-dicamba", "2-4-d-triclopyr", "2-4-d-triclopyr-dicamba")
    return side_by_side({"situation": situation, "sides": [{"mixture": name} for name in names]}, lambda: ())


def test_pairs_of_which_the_same_is_said_stand_together() -> None:
    compared = _compared()
    (bands,) = side_show.bands_of(compared)
    assert bands.lie == ("No clear difference; bands overlap, treat as equal.",)
    beside = _compared(surroundings=["tree-roots"])
    (bands,) = side_show.bands_of(beside)
    assert bands.lie == ("A and C may not be used here, so nothing is said for them.",)


def test_an_active_that_does_the_same_on_several_sides_stands_once() -> None:
    alone = side_show.alone_of(_compared())
    assert ("2,4-D", ("A", "B")) in [(row.name, row.sides) for row in alone]
    assert len(alone) == len({(row.name, row.likely) for row in alone})


def test_the_api_compares_and_refuses(client: FlaskClient) -> None:
    situation = _compared().situation.model_dump(mode="json", exclude={"derived"}, by_alias=True, exclude_none=True)
    body = {
        "situation": situation,
        "sides": [{"mixture": "2-4-d-triclopyr"}, {"products": [{"id": "larkmere-three", "at": "low"}]}],
    }
    found = client.post("/api/v1/side-by-side", json=body)
    assert found.status_code == 200
    assert found.get_json()["sides"][1]["name"] == "Larkmere Three"
    body["sides"][1]["products"][0]["id"] = "nothing"  # type: ignore[index]
    refused = client.post("/api/v1/side-by-side", json=body)
    assert refused.status_code == 422
    assert refused.get_json()["error"]["fields"][0]["path"] == "sides.1.products.0.id"
