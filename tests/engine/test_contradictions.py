"""A typed label against the facts: each kind of contradiction on both sides of its threshold."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.contradictions import Contradiction, contradictions
from app.engine.errors import InputError
from app.engine.label_faults import faults_of
from app.engine.product import Product
from knowledge.base import KnowledgeBase
from tests.engine.made import fact, with_active, with_tolerance

# At 2 lb ae/gal, 32 fl oz/acre bring 0.5 lb ae/acre: a gallon is 128 fl oz.
LABEL: dict[str, Any] = {
    "name": "Trial Salt 2",
    "formulation": "SL",
    "actives": [
        {"active": "2-4-d", "form": "2-4-d-dma", "content": {"value": 2, "unit": "lb ae/gal"}},
    ],
    "rates": [
        {
            "turf": ["tall-fescue"],
            "low": {"value": 16, "unit": "fl oz/acre"},
            "high": {"value": 32, "unit": "fl oz/acre"},
        }
    ],
    "turf": ["tall-fescue"],
    "site_uses": ["residential-lawn"],
}


def label(**changes: Any) -> Product:
    """The plain label with these fields changed."""
    return Product.model_validate({**LABEL, **changes})


def bare(base: KnowledgeBase, **changes: Any) -> KnowledgeBase:
    """Facts in which only these records speak of 2,4-D on tall fescue."""
    rates = [
        fact(turf=["all"], timing="postemergence", low="0.1 lb ae/acre", usual="0.2 lb ae/acre", high="9 lb ae/acre")
    ]
    return with_tolerance(with_active(base, **{"rates": rates, **changes}), {})


def found(base: KnowledgeBase, **changes: Any) -> tuple[Contradiction, ...]:
    return contradictions(base, label(**changes))


def test_a_label_that_agrees_is_left_in_peace(base: KnowledgeBase) -> None:
    assert contradictions(base, label()) == ()


def test_a_sensitive_turf_is_told_at_the_turf(base: KnowledgeBase) -> None:
    facts = with_tolerance(bare(base), {"class": "S"})
    (told,) = found(facts)
    assert told.path == "turf"
    assert "tall fescue" in told.text.lower()
    assert "sensitive to 2,4-D" in told.text
    assert told.sources
    # Where the label's turf was not typed, its lines of rates say where it is used.
    assert [item.path for item in found(facts, turf=None)] == ["rates.0.turf"]


def test_a_turf_sensitive_only_where_the_label_does_not_go_is_no_contradiction(base: KnowledgeBase) -> None:
    facts = with_tolerance(bare(base), {}, {"class": "S", "site_uses": ["golf-green"]})
    assert found(facts) == ()
    assert [item.path for item in found(facts, site_uses=["golf-green"])] == ["turf"]


def test_a_barred_site_is_told(base: KnowledgeBase) -> None:
    facts = bare(base, sites_barred=[fact(site_uses=["residential-lawn"], text="Not on home lawns.")])
    (told,) = found(facts)
    assert told.path == "site_uses"
    assert "Not on home lawns" in told.text
    assert found(facts, site_uses=["roadside"]) == ()
    assert found(facts, site_uses=None) == ()


@pytest.mark.parametrize(("most", "told"), [("0.5 lb ae/acre", 0), ("0.49 lb ae/acre", 1)])
def test_a_rate_is_held_against_the_single_maximum(base: KnowledgeBase, most: str, told: int) -> None:
    facts = bare(base, limits=[fact(turf=["all"], single_max=most)])
    for changes in ({}, {"max_per_application": {"value": 32, "unit": "fl oz/acre"}}):
        items = found(facts, **changes)
        assert len(items) == told * (1 + len(changes))
        assert all("0.5 lb ae/acre" in item.text and most in item.text for item in items)
    assert {item.path for item in items} <= {"rates.0.high", "max_per_application"}


def test_a_rate_is_held_against_the_highest_usual_rate(base: KnowledgeBase) -> None:
    usual = {"turf": ["all"], "timing": "postemergence", "low": "0.1 lb ae/acre", "usual": "0.2 lb ae/acre"}
    assert found(bare(base, rates=[fact(**usual, high="0.5 lb ae/acre")])) == ()
    (told,) = found(bare(base, rates=[fact(**usual, high="0.4 lb ae/acre")]))
    assert "highest usual rate" in told.text


def test_salt_given_as_active_ingredient_is_counted_as_acid(base: KnowledgeBase) -> None:
    # 2 lb of dimethylamine salt hold 2 x 0.8306 lb of acid (molecular weights 221.04 and 266.12).
    facts = bare(base, limits=[fact(turf=["all"], single_max="0.42 lb ae/acre")])
    salt = [{"active": "2-4-d", "form": "2-4-d-dma", "content": {"value": 2, "unit": "lb ai/gal"}}]
    assert found(facts, actives=salt) == ()
    assert len(found(facts)) == 1


@pytest.mark.parametrize(
    ("limit", "field", "fine", "loose"),
    [
        (
            {"annual_max": "1.0 lb ae/acre"},
            "max_per_year",
            {"value": 64, "unit": "fl oz/acre"},
            {"value": 65, "unit": "fl oz/acre"},
        ),
        ({"max_applications": 2}, "max_applications_per_year", 2, 3),
        ({"min_interval_days": 21}, "min_interval_days", 21, 20),
    ],
)
def test_a_year_is_not_looser_than_recorded(
    base: KnowledgeBase, limit: dict[str, Any], field: str, fine: Any, loose: Any
) -> None:
    facts = bare(base, limits=[fact(turf=["all"], **limit)])
    assert found(facts, **{field: fine}) == ()
    assert [item.path for item in found(facts, **{field: loose})] == [field]
    assert found(bare(base), **{field: loose}) == ()


def test_the_loosest_turf_allowed_decides_what_holds_for_all(base: KnowledgeBase) -> None:
    limits = [fact(turf=["tall-fescue"], max_applications=1), fact(turf=["kentucky-bluegrass"], max_applications=3)]
    facts = bare(base, limits=limits)
    both = ["tall-fescue", "kentucky-bluegrass"]
    assert found(facts, turf=both, max_applications_per_year=3) == ()
    assert len(found(facts, turf=both, max_applications_per_year=4)) == 1


@pytest.mark.parametrize(
    ("record", "field", "fine", "short"),
    [
        ({"rainfast_hours": fact(value=6)}, "rainfast_hours", 6, 5.5),
        ({"seeding_interval": [fact(turf=["all"], days=28)]}, "seeding_interval_days", 28, 27),
        (
            {"carrier_floor": fact(value="20 gal/acre")},
            "carrier_floor",
            {"value": 20, "unit": "gal/acre"},
            {"value": 180, "unit": "L/ha"},
        ),
    ],
)
def test_waits_and_water_are_not_less_than_recorded(
    base: KnowledgeBase, record: dict[str, Any], field: str, fine: Any, short: Any
) -> None:
    facts = bare(base, **record)
    assert found(facts, **{field: fine}) == ()
    (told,) = found(facts, **{field: short})
    assert told.path == field


def test_a_temperature_above_that_of_the_form_says_both_figures(base: KnowledgeBase) -> None:
    ester = [{"active": "2-4-d", "form": "2-4-d-bee", "content": {"value": 2, "unit": "lb ae/gal"}}]
    (told,) = [item for item in found(base, actives=ester, max_air_f=95) if item.path == "max_air_f"]
    assert told.text.startswith("you typed 95 F; recorded for the butoxyethyl ester of 2,4-D: not above 85 F")
    assert not [item for item in found(base, actives=ester, max_air_f=85) if item.path == "max_air_f"]


def test_a_temperature_above_that_of_the_turf_is_told(base: KnowledgeBase) -> None:
    stop = fact(turf=["cool-season"], max_f=90, outcome="stop", text="Heat stress.")
    caution = fact(turf=["cool-season"], max_f=80, outcome="caution", text="Take care.")
    facts = bare(base, air_temperature=[stop, caution])
    assert found(facts, max_air_f=90) == ()
    (told,) = found(facts, max_air_f=91)
    assert "not above 90 F" in told.text


def test_adjuvants_are_told_both_ways(base: KnowledgeBase) -> None:
    facts = bare(base, adjuvants=[fact(id="coc", use="forbidden"), fact(id="nis", use="required")])
    (told,) = found(facts, adjuvants=[{"id": "nis", "use": "required"}, {"id": "coc", "use": "allowed"}])
    assert told.path == "adjuvants.1"
    (told,) = found(facts, adjuvants=[{"id": "nis", "use": "forbidden"}, {"id": "coc", "use": "forbidden"}])
    assert told.path == "adjuvants.0"
    barred = with_tolerance(bare(base), {"adjuvants_barred": ["mso"]})
    (told,) = found(barred, adjuvants=[{"id": "mso", "use": "allowed"}])
    assert "injures" in told.text


@pytest.mark.parametrize(
    ("changes", "path", "words"),
    [
        ({"turf": ["tal-fescue"]}, "turf.0", "nearest: tall-fescue"),
        (
            {"actives": [{"active": "2-4-dd", "content": {"value": 2, "unit": "lb ae/gal"}}]},
            "actives.0.active",
            "2-4-d",
        ),
        (
            {"actives": [{"active": "2-4-d", "form": "dicamba-dma", "content": {"value": 2, "unit": "lb ae/gal"}}]},
            "actives.0.form",
            "form of 2,4-D",
        ),
        ({"actives": [{"active": "2-4-d", "content": {"value": 40, "unit": "% w/w"}}]}, "density", "needed"),
    ],
)
def test_what_cannot_be_used_is_a_fault(base: KnowledgeBase, changes: dict[str, Any], path: str, words: str) -> None:
    with pytest.raises(InputError) as refused:
        found(base, **changes)
    assert refused.value.faults[0].path == path
    assert words in refused.value.faults[0].message


def test_an_unknown_turf_in_a_line_of_rates_is_a_fault(base: KnowledgeBase) -> None:
    line = {**LABEL["rates"][0], "turf": ["all", "mosslawn"]}
    assert [fault.path for fault in faults_of(base, label(rates=[line]))] == ["rates.0.turf.1"]


def test_an_adjuvant_contradicts_nothing(base: KnowledgeBase) -> None:
    told = Product.model_validate({"name": "Trial Wetter", "kind": "adjuvant", "formulation": "SL", "adjuvant": "nis"})
    assert contradictions(base, told) == ()
