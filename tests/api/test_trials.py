"""Trials in the JSON API: analysed without being kept, kept by their version, faults by their path. Invented trials."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from app.engine.output import as_json
from app.services.trials import analyse_csv
from app.web import create_app
from tests.services.test_trials import LAWN
from tests.services.trial_files import sheet, trial_sheet

PATH = "/api/v1/trials"
ONE = f"{PATH}/mill-field"
MILL = trial_sheet()
VIOLET = (Path(__file__).parents[2] / "demo_data" / "trials" / "wild-violet.csv").read_text(encoding="utf-8")


@pytest.fixture
def client() -> Iterator[FlaskClient]:
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True).test_client() as found:
        yield found


def bring(client: FlaskClient, text: str = MILL, **told: Any) -> dict[str, Any]:
    """Import a file."""
    answered = client.post(f"{PATH}/import", json={"csv": text, "confirm": True, **told})
    assert answered.status_code == 200, answered.get_json()
    return dict(answered.get_json())


def fault(answered: Any) -> tuple[int, list[str]]:
    """Status of a refusal, and the paths it names."""
    error = answered.get_json()["error"]
    assert error["message"]
    return answered.status_code, [field["path"] for field in error["fields"]]


def test_a_file_is_analysed_as_the_service_does_and_nothing_is_stored(client: FlaskClient) -> None:
    answered = client.post(f"{PATH}/analyse", json={"csv": VIOLET, "alpha": 0.1, "design": "crd"})
    assert answered.status_code == 200
    assert answered.get_json() == json.loads(json.dumps(as_json(analyse_csv(VIOLET, 0.1, design="crd"))))
    assert client.get(PATH).get_json() == {"trials": []}


def test_an_analysis_has_the_agreed_shape(client: FlaskClient) -> None:
    first = client.post(f"{PATH}/analyse", json={"csv": VIOLET}).get_json()["analyses"][0]
    assert {"trial", "weed", "days_after", "design", "anova", "cv_pct", "lsd", "hsd", "means", "missing"} <= set(first)
    assert {"source", "df", "ss", "ms", "f", "p"} <= set(first["anova"][0])
    assert {"value", "alpha"} <= set(first["lsd"])
    assert {"treatment", "n", "mean", "sd", "se", "letter_lsd", "letter_hsd"} <= set(first["means"][0])
    assert first["lsd"]["alpha"] == 0.05
    assert isinstance(first["warnings"], list)


def test_headings_of_ones_own_are_told(client: FlaskClient) -> None:
    told = VIOLET.replace("days_after", "when rated", 1).replace("rep", "strip", 1)
    assert fault(client.post(f"{PATH}/analyse", json={"csv": told})) == (422, ["csv"])
    columns = {"days_after": "when rated", "rep": "strip"}
    found = client.post(f"{PATH}/analyse", json={"csv": f"\ufeff{told}", "columns": columns})
    assert found.get_json()["analyses"] == client.post(f"{PATH}/analyse", json={"csv": VIOLET}).get_json()["analyses"]


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"csv": None}, "csv"),
        ({"csv": ""}, "csv"),
        ({"csv": "\ud800"}, "csv"),
        ({"csv": sheet({"rep": "1"}, {"rep": "2", "control_pct": "140"})}, "csv"),
        ({"csv": trial_sheet(reps=1)}, "csv"),
        ({"alpha": 0}, "alpha"),
        ({"alpha": 0.0001}, "alpha"),
        ({"alpha": 0.5}, "alpha"),
        ({"alpha": 1e308}, "alpha"),
        ({"alpha": "much"}, "alpha"),
        ({"alpha": None}, "alpha"),
        ({"design": "latin"}, "design"),
        ({"columns": {"rep": "nowhere"}}, "columns.rep"),
        ({"columns": {"colour": "rep"}}, "columns.colour"),
        ({"columns": ["rep"]}, "columns"),
        ({"columns": {"rep": {}}}, "columns.rep"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_what_cannot_be_analysed_is_named(client: FlaskClient, changes: dict[str, Any], path: str) -> None:
    assert fault(client.post(f"{PATH}/analyse", json={"csv": MILL, **changes})) == (422, [path])


@pytest.mark.parametrize("number", ["1e999", "-1e999", "NaN", "Infinity"])
def test_a_number_that_is_none_is_refused(client: FlaskClient, number: str) -> None:
    body = f'{{"csv": {json.dumps(MILL)}, "alpha": {number}}}'
    assert client.post(f"{PATH}/analyse", data=body, content_type="application/json").status_code == 422


def test_a_file_is_previewed_and_then_imported(client: FlaskClient) -> None:
    preview = client.post(f"{PATH}/import", json={"csv": MILL}).get_json()
    assert (preview["stored"], preview["new"], preview["bad"], preview["seen"]) == (False, 1, 0, {})
    (mill,) = preview["trials"]
    assert (mill["name"], mill["status"], mill["id"], mill["plots"]) == ("Mill Field", "new", "", 32)
    assert mill["weeds"] == [{"weed": "dandelion", "name": "dandelion", "known": True}]
    assert mill["moves"]
    assert client.get(PATH).get_json() == {"trials": []}
    done = bring(client)
    assert (done["stored"], done["new"], done["trials"][0]["id"]) == (True, 1, "mill-field")
    (entry,) = client.get(PATH).get_json()["trials"]
    assert (entry["id"], entry["version"], entry["dates"], entry["moves"]) == (
        *("mill-field", 1, [28, 56]),
        len(mill["moves"]),
    )
    assert bring(client)["unchanged"] == 1


def test_two_trials_of_a_file_get_their_ids_in_order(client: FlaskClient) -> None:
    bring(client, trial_sheet("Alder"))
    both = bring(client, "".join((trial_sheet("Weir"), *trial_sheet("Alder").splitlines(keepends=True)[1:])))
    assert [(item["name"], item["status"], item["id"]) for item in both["trials"]] == [
        ("Weir", "new", "weir"),
        ("Alder", "unchanged", "alder"),
    ]


def test_every_row_at_fault_is_told_and_blocks_the_file(client: FlaskClient) -> None:
    text = sheet({"rep": "1"}, {"rep": "2", "control_pct": "140"}, {"rep": "3", "days_after": "soon"})
    preview = client.post(f"{PATH}/import", json={"csv": text}).get_json()
    assert [(item["line"], item["column"]) for item in preview["faults"]] == [(3, "control_pct"), (4, "days_after")]
    assert (preview["bad"], preview["trials"]) == (2, [])
    assert fault(client.post(f"{PATH}/import", json={"csv": text, "confirm": True})) == (422, ["csv"])
    alone = client.post(f"{PATH}/import", json={"csv": trial_sheet(reps=1)}).get_json()
    assert (alone["bad"], alone["trials"][0]["status"]) == (1, "bad")
    assert alone["trials"][0]["fault"]
    assert client.get(PATH).get_json() == {"trials": []}


def test_a_kept_name_is_replaced_only_where_told(client: FlaskClient) -> None:
    bring(client)
    other = trial_sheet(injury_pct="4")
    assert client.post(f"{PATH}/import", json={"csv": other, "confirm": True}).status_code == 422
    seen = client.post(f"{PATH}/import", json={"csv": other}).get_json()["seen"]
    assert bring(client, other, replace=True, seen=seen)["changed"] == 1
    assert client.get(ONE).get_json()["version"] == 2
    answered = client.post(f"{PATH}/import", json={"csv": MILL, "confirm": True, "replace": True, "seen": seen})
    assert (answered.status_code, answered.get_json()["error"]["version"]) == (409, 2)


def test_a_trial_is_read_changed_and_removed(client: FlaskClient) -> None:
    bring(client)
    told = client.get(ONE).get_json()
    assert (told["id"], told["version"], told["trial"]["name"]) == ("mill-field", 1, "Mill Field")
    assert told["evidence"][0]["trial"] == "mill-field"
    assert [item["treatment"] for item in told["silent"]] == ["2,4-D + triclopyr"]
    # What is read can be sent back, whole or without its plots.
    same = client.put(ONE, json={"version": 1, "trial": told["trial"]}).get_json()
    assert (same["version"], same["trial"]) == (2, told["trial"])
    changed = {key: value for key, value in told["trial"].items() if key != "plots"}
    after = client.put(ONE, json={"version": same["version"], "trial": {**changed, "place": "Weir"}}).get_json()
    assert after["trial"] == {**told["trial"], "place": "Weir"}
    assert client.delete(f"{ONE}?version={after['version']}").get_json() == {"removed": "mill-field"}
    assert client.get(ONE).status_code == client.get(f"{ONE}/report").status_code == 404


def test_a_conflict_tells_what_is_stored_and_its_version(client: FlaskClient) -> None:
    bring(client)
    trial = client.get(ONE).get_json()["trial"]
    client.put(ONE, json={"version": 1, "trial": {**trial, "place": "theirs"}})
    for answered in (
        client.put(ONE, json={"version": 1, "trial": {**trial, "place": "mine"}}),
        client.delete(f"{ONE}?version=1"),
    ):
        assert answered.status_code == 409
        error = answered.get_json()["error"]
        assert (error["version"], error["stored"]["place"], error["fields"]) == (2, "theirs", [])
    assert client.get(ONE).get_json()["trial"]["place"] == "theirs"


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"turf": "mosslawn"}, "trial.turf"),
        ({"colour": "red"}, "trial.colour"),
        ({"plots": []}, "trial.plots"),
        ({"name": ""}, "trial.name"),
        ({"treatments": [{"name": "other"}]}, "trial.plots.0.treatment"),
        ({"applied": "2027-02-30"}, "trial.applied"),
    ],
)
def test_faults_of_a_change_are_named_by_their_path(client: FlaskClient, changes: dict[str, Any], path: str) -> None:
    bring(client)
    trial = client.get(ONE).get_json()["trial"]
    status, paths = fault(client.put(ONE, json={"version": 1, "trial": {**trial, **changes}}))
    assert (status, paths[0]) == (422, path)
    assert client.get(ONE).get_json()["version"] == 1


def test_versions_and_ids_are_required(client: FlaskClient) -> None:
    bring(client)
    trial = client.get(ONE).get_json()["trial"]
    assert fault(client.put(ONE, json={"trial": trial})) == (422, ["version"])
    assert fault(client.put(ONE, json={"version": 1, "trial": [1]})) == (422, ["trial"])
    for query in ("", "?version=x", "?version=-1", "?version=1&version=1", "?colour=red"):
        assert client.delete(f"{ONE}{query}").status_code == 422
    assert client.put(f"{PATH}/none", json={"version": 1, "trial": trial}).status_code == 404
    assert client.delete(f"{PATH}/none?version=1").status_code == 404
    found = client.get(f"{PATH}/mill-feild")
    assert (found.status_code, "nearest: mill-field" in found.get_json()["error"]["message"]) == (404, True)


def test_the_report_takes_its_error_rate_from_the_address(client: FlaskClient) -> None:
    bring(client)
    assert client.get(f"{ONE}/report").get_json()["analyses"][0]["alpha"] == 0.05
    report = client.get(f"{ONE}/report?alpha=.1").get_json()
    assert report["analyses"] == json.loads(json.dumps(as_json(analyse_csv(MILL, 0.1))))["analyses"]
    for text in ("", "much", "0", "0.0001", "0.5", "nan", "inf", "1e-2", "-0.05", "٠.٠٥", "9" * 400, "0.05&alpha=0.05"):
        assert client.get(f"{ONE}/report?alpha={text}").status_code == 422, text
    assert client.get(f"{ONE}/report?weed=dandelion").status_code == 422


def test_several_trials_are_pooled(client: FlaskClient) -> None:
    asked = f"{PATH}/synthesis?weed=dandelion&treatment=triclopyr"
    assert client.get(asked).status_code == 422
    bring(client)
    status, paths = fault(client.get(asked))
    assert (status, paths) == (422, ["treatment"])
    bring(client, trial_sheet("Weir Bank"))
    found = client.get(f"{asked}&against=2,4-D&days_after=56&alpha=0.1")
    assert found.status_code == 200
    told = found.get_json()
    assert [item["trial"] for item in told["effects"]] == ["Mill Field", "Weir Bank"]
    assert (told["alpha"], {item["days_after"] for item in told["effects"]}) == (0.1, {56})
    # Two trials of the same plots are pooled to what each of them says (common practice, no source).
    assert told["estimate"] == pytest.approx(told["effects"][0]["estimate"])
    assert client.get(f"{PATH}/synthesis?weed=Dandelion&treatment=triclopyr").status_code == 200


@pytest.mark.parametrize(
    ("query", "paths"),
    [
        ("", ["weed", "treatment"]),
        ("weed=dandelion&treatment=", ["treatment"]),
        ("weed=dandelion&treatment=triclopyr&days_after=0", ["days_after"]),
        ("weed=dandelion&treatment=triclopyr&days_after=soon", ["days_after"]),
        ("weed=dandelion&treatment=triclopyr&days_after=9999999999999", ["days_after"]),
        ("weed=dandelion&treatment=triclopyr&alpha=2", ["alpha"]),
        ("weed=dandelio&treatment=triclopyr", ["weed"]),
        ("weed=dandelion&treatment=triclopir", ["treatment"]),
        ("weed=dandelion&treatment=triclopyr&against=triclopyr", ["against"]),
        ("weed=dandelion&treatment=triclopyr&colour=red", ["colour"]),
    ],
)
def test_a_question_that_cannot_be_pooled_is_named(client: FlaskClient, query: str, paths: list[str]) -> None:
    bring(client)
    bring(client, trial_sheet("Weir Bank"))
    assert fault(client.get(f"{PATH}/synthesis?{query}")) == (422, paths)


def test_ratings_of_lawns_are_gathered(client: FlaskClient) -> None:
    first = client.post(f"{PATH}/ratings", json=LAWN)
    assert (first.status_code, first.headers["Location"]) == (201, f"{PATH}/lawns-treated-with-2-4-d-amine")
    second = client.post(f"{PATH}/ratings", json={**LAWN, "lawn": "3 Weir Row", "control_pct": 70}).get_json()
    assert (second["version"], len(second["trial"]["plots"])) == (2, 2)
    report = client.get(f"{first.headers['Location']}/report").get_json()
    assert [(item["n"], item["mean"]) for item in report["lawns"]] == [(2, 77.5)]
    assert fault(client.post(f"{PATH}/ratings", json=LAWN)) == (422, ["lawn"])
    assert fault(client.post(f"{PATH}/ratings", json={**LAWN, "control_pct": 101})) == (422, ["control_pct"])


@pytest.mark.parametrize("path", ["import", "ratings"])
def test_what_writes_takes_json_alone(client: FlaskClient, path: str) -> None:
    sent = client.post(f"{PATH}/{path}", data=b"{}", content_type="text/plain")
    assert sent.status_code == 415


def test_a_trial_named_like_a_call_can_be_reached(client: FlaskClient) -> None:
    done = bring(client, trial_sheet("Synthesis"))
    slug = done["trials"][0]["id"]
    assert client.get(f"{PATH}/{slug}").get_json()["trial"]["name"] == "Synthesis"


def test_a_file_larger_than_other_requests_fits(client: FlaskClient) -> None:
    long = trial_sheet(remarks="x" * 60_000)
    assert len(long) > 1024 * 1024
    assert client.post(f"{PATH}/analyse", json={"csv": long}).status_code == 200
    refused = client.post(f"{PATH}/analyse", json={"csv": "x" * 13_000_000})
    assert refused.status_code == 413
