"""Faults of the input: each with its path, in one plain sentence, and none that is not there."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.errors import InputError
from app.engine.situation import ExpectRequest, Situation, WhyNotRequest
from app.services.validation import validated
from tests.conftest import plain

PRODUCT = {
    "name": "Larkmere Plain",
    "formulation": "SL",
    "actives": [{"active": "2-4-d", "content": {"value": 3.8, "unit": "lb ae/gal"}}],
    "rate": {"value": 1, "unit": "qt/acre"},
}


def _faults(model: Any, payload: Any) -> list[tuple[str, str]]:
    with pytest.raises(InputError) as caught:
        validated(model, payload)
    return [(fault.path, fault.message) for fault in caught.value.faults]


def test_sound_input_is_the_model() -> None:
    assert validated(Situation, plain()) == Situation.model_validate(plain())


@pytest.mark.parametrize("payload", [[], "text", 3, None])
def test_only_an_object_is_taken(payload: Any) -> None:
    assert _faults(Situation, payload) == [("", "the input must be a JSON object")]


@pytest.mark.parametrize(
    ("changes", "path", "said"),
    [
        ({"date": "2027-02-30"}, "date", "no day of the calendar"),
        ({"date": None}, "date", "YYYY-MM-DD"),
        ({"zone": "tropic"}, "zone", "'tropic' is not one of 'cool-humid'"),
        ({"colour": "green"}, "colour", "is not a known key"),
        ({"forecast": {"wind": 4}}, "forecast.wind", "nearest: wind_mph"),
        ({"forecast": {"max_temp_f": 999}}, "forecast.max_temp_f", "999 is out of range"),
        ({"turf": []}, "turf", "must name at least 1"),
        ({"turf": ["a"] * 9}, "turf", "must name at most 5"),
        ({"carrier": {"value": 1, "unit": "gal"}}, "carrier", "does not belong here"),
        ({"options": {"top": 0}}, "options.top", "out of range"),
        ({"local_rules": [{"kind": "ban-active"}]}, "local_rules.0", "needs 'active'"),
        ({"targets": [{"weed": "dandelion", "priority": 0}]}, "targets.0.priority", "out of range"),
        ({"targets": [{"weed": "dandelion", "stge": "x"}]}, "targets.0.stge", "nearest: stage"),
        ({"targets": [{}]}, "targets.0.weed", "is required"),
        ({"turf": ["Tall Fescue"]}, "turf.0", "Tall Fescue"),
    ],
)
def test_one_fault_is_told_once_with_its_path(changes: dict[str, Any], path: str, said: str) -> None:
    ((found, message),) = _faults(Situation, plain(**changes))
    assert found == path
    assert said in message


@pytest.mark.parametrize(
    ("catalog", "path"),
    [
        ([{**PRODUCT, "formulation": "XX"}], "catalog.0.formulation"),
        ([{key: value for key, value in PRODUCT.items() if key != "rate"}], "catalog.0.rate"),
        ("all", "catalog"),
    ],
)
def test_a_fault_of_a_product_is_told_once(catalog: Any, path: str) -> None:
    assert [found for found, _ in _faults(Situation, plain(catalog=catalog))] == [path]


def test_a_missing_key_is_required() -> None:
    told = plain()
    del told["date"], told["zone"]
    assert _faults(Situation, told) == [("date", "is required"), ("zone", "is required")]


def test_every_fault_is_told_at_once() -> None:
    found = _faults(Situation, plain(date="x", zone="y", colour=1, options={"top": 99}))
    assert [path for path, _ in found] == ["date", "zone", "options.top", "colour"]


def test_the_path_runs_through_the_whole_request() -> None:
    told = {"situation": plain(zone="x"), "actives": ["triclopyr"]}
    assert [path for path, _ in _faults(WhyNotRequest, told)] == ["situation.zone"]
    program = {"applications": [{"actives": [{"active": "2-4-d", "rate": {"value": 1, "unit": "cup"}}]}]}
    paths = [path for path, _ in _faults(ExpectRequest, {"situation": plain(), "program": program})]
    assert "program.applications.0.actives.0.rate" in paths


def test_only_keys_that_are_taken_are_offered() -> None:
    """A closed season is told with `from` and `to`."""
    rule = {"kind": "closed-season", "start": "2027-01-01", "end": "2027-02-01"}
    found = dict(_faults(Situation, plain(local_rules=[rule])))
    offered = {word.strip() for message in found.values() for word in message.partition("nearest: ")[2].split(",")}
    assert offered & {"from", "to"}
    assert not offered & {"start", "end"}


@pytest.mark.parametrize("model", [Situation, WhyNotRequest, ExpectRequest])
def test_messages_are_plain_words(model: Any) -> None:
    for _, message in _faults(model, {"nothing": "x" * 500}):
        assert len(message) < 200
        assert "pydantic" not in message.lower()
        assert "https://" not in message


def test_a_wrong_shape_of_id_is_said_without_a_pattern() -> None:
    message = dict(_faults(Situation, plain(turf=["Tall Fescue"])))["turf.0"]
    assert "^[" not in message
