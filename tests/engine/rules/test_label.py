"""The label as typed binds: both sides of each of its figures. Invented products; no figure is of the trade."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.doses import ProductUse, doses_delivered, label_line
from app.engine.product import Product
from app.engine.rules import Finding, Question, registered
from app.engine.rules.limits import least_interval
from app.engine.situation import Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase
from knowledge.quantities import parse_quantity
from tests.conftest import plain
from tests.engine.made import with_active


def _amount(text: str) -> dict[str, Any]:
    found = parse_quantity(text)
    return {"value": found.value, "unit": found.unit}


def label(**told: Any) -> Product:
    """A product of one active with a line of rates, and what else the label says."""
    line = {"turf": ["cool-season"], "low": _amount("1 qt/acre"), "high": _amount("2 qt/acre")}
    part = {"active": "2-4-d", "form": "2-4-d-dma", "content": _amount("4 lb ae/gal")}
    made = {"name": "Larkmere Plain", "formulation": "SL", "actives": [part], "rates": [line], **told}
    return Product.model_validate(made)


def outcomes(
    base: KnowledgeBase,
    code: str,
    product: Product,
    rate: str = "1 qt/acre",
    *,
    adjuvant: str = "none",
    repeats: int = 1,
    last_day: int = 0,
    **situation: Any,
) -> list[str]:
    """Outcomes of one rule for a product at a rate in the plain situation with changes."""
    return [
        finding.outcome
        for finding in _findings(
            base, code, product, rate, adjuvant=adjuvant, repeats=repeats, last_day=last_day, **situation
        )
    ]


def _findings(base: KnowledgeBase, code: str, product: Product, rate: str, **told: Any) -> list[Finding]:
    asked = {key: told.pop(key) for key in ("adjuvant", "repeats", "last_day")}
    understood = understand(Situation.model_validate(plain(**told)), base)
    line = next((line for line in (label_line(product, understood, "postemergence"),) if line), None)
    (dose,) = doses_delivered(base, understood, product, parse_quantity(rate), "catalog.0", line)
    (rule,) = [item for item in registered() if item.code == code]
    found = list(rule.function(Question(base, understood, dose, **asked)))
    for finding in found:
        assert finding.sentence(base)
    return found


@pytest.mark.parametrize(
    ("sites", "found"),
    [(None, []), (["residential-lawn"], []), (["golf-rough", "residential-lawn"], []), (["golf-rough"], ["stop"])],
)
def test_only_the_sites_it_names(base: KnowledgeBase, sites: list[str] | None, found: list[str]) -> None:
    assert outcomes(base, "label-site", label(site_uses=sites)) == found


@pytest.mark.parametrize(
    ("turf", "found"),
    [
        (None, []),
        (["tall-fescue"], []),
        (["cool-season"], []),
        (["all"], []),
        (["warm-season"], ["stop"]),
        (["kentucky-bluegrass"], ["stop"]),
        ([], ["stop"]),
    ],
)
def test_only_the_turf_it_names(base: KnowledgeBase, turf: list[str] | None, found: list[str]) -> None:
    assert outcomes(base, "label-turf", label(turf=turf)) == found


@pytest.mark.parametrize(
    ("rate", "found"),
    [
        ("2 qt/acre", []),
        ("64 fl oz/acre", []),
        ("2.001 qt/acre", ["stop"]),
        ("1 qt/acre", []),
        ("0.999 qt/acre", ["caution"]),
    ],
)
def test_the_rate_stays_within_the_line(base: KnowledgeBase, rate: str, found: list[str]) -> None:
    assert outcomes(base, "label-rate", label(), rate) == found


def test_a_weight_is_held_against_a_volume_by_the_density(base: KnowledgeBase) -> None:
    part = {"active": "2-4-d", "form": "2-4-d-dma", "content": _amount("46 % w/w")}
    heavy = label(actives=[part], density=_amount("9.7 lb/gal"))
    # 2 qt of 9.7 lb/gal weigh 4.85 lb.
    assert outcomes(base, "label-rate", heavy, "4.85 lb/acre") == []
    assert outcomes(base, "label-rate", heavy, "4.86 lb/acre") == ["stop"]
    bare = label(actives=[part])
    assert outcomes(base, "label-rate", bare, "1 lb/acre") == ["stop"]


@pytest.mark.parametrize(("most", "found"), [("1 qt/acre", []), ("0.99 qt/acre", ["stop"])])
def test_the_most_in_one_application(base: KnowledgeBase, most: str, found: list[str]) -> None:
    assert outcomes(base, "label-rate", label(max_per_application=_amount(most))) == found


def test_turf_without_a_line_is_a_stop(base: KnowledgeBase) -> None:
    line = {"turf": ["warm-season"], "low": _amount("1 qt/acre"), "high": _amount("2 qt/acre")}
    assert outcomes(base, "label-rate", label(rates=[line])) == ["stop"]


def _past(product: str | None, rate: str = "1.5 lb ae/acre", day: str = "2027-04-01") -> list[dict[str, Any]]:
    return [{"date": day, "active": "2-4-d", "rate": _amount(rate), "product": product}]


@pytest.mark.parametrize(
    ("most", "repeats", "product", "found"),
    [
        # One quart of 4 lb ae/gal is 1 lb ae/acre; 1.5 lb ae/acre were applied.
        ("2.5 qt/acre", 1, None, []),
        ("2.499 qt/acre", 1, None, ["stop"]),
        ("2.499 qt/acre", 1, "Larkmere Plain", ["stop"]),
        ("2.499 qt/acre", 1, "Another", []),
        ("2 qt/acre", 2, "Another", []),
        ("1.99 qt/acre", 2, "Another", ["stop"]),
    ],
)
def test_the_year_keeps_the_labels_total(
    base: KnowledgeBase, most: str, repeats: int, product: str | None, found: list[str]
) -> None:
    made = label(max_per_year=_amount(most))
    assert outcomes(base, "label-annual", made, repeats=repeats, applied_this_year=_past(product)) == found


@pytest.mark.parametrize(
    ("ceiling", "repeats", "product", "found"),
    [(2, 1, None, []), (1, 1, None, ["stop"]), (1, 1, "Another", []), (1, 2, "Another", ["stop"])],
)
def test_the_number_of_applications(
    base: KnowledgeBase, ceiling: int, repeats: int, product: str | None, found: list[str]
) -> None:
    made = label(max_applications_per_year=ceiling)
    assert outcomes(base, "label-count", made, repeats=repeats, applied_this_year=_past(product)) == found


@pytest.mark.parametrize(("days", "found"), [(29, []), (30, ["stop"])])
def test_the_interval_since_the_last(base: KnowledgeBase, days: int, found: list[str]) -> None:
    # From 21 April to 20 May there are 29 days.
    made = label(min_interval_days=days)
    assert outcomes(base, "label-interval", made, applied_this_year=_past(None, day="2027-04-21")) == found
    assert outcomes(base, "label-interval", made, applied_this_year=_past("Another", day="2027-04-21")) == []


def test_the_longer_interval_counts_between_two(base: KnowledgeBase) -> None:
    understood = understand(Situation.model_validate(plain()), base)
    bare = with_active(base)
    for days in (10, 90):
        product = label(min_interval_days=days)
        (dose,) = doses_delivered(bare, understood, product, parse_quantity("1 qt/acre"), "catalog.0")
        assert least_interval(Question(bare, understood, dose))[0] == days


@pytest.mark.parametrize(
    ("told", "found"), [(None, []), ("20 gal/acre", []), ("19.99 gal/acre", ["stop"]), ("1 gal/1000 ft2", [])]
)
def test_the_least_carrier(base: KnowledgeBase, told: str | None, found: list[str]) -> None:
    made = label(carrier_floor=_amount("20 gal/acre"))
    carrier = {"carrier": _amount(told)} if told is not None else {}
    assert outcomes(base, "label-carrier", made, **carrier) == found


@pytest.mark.parametrize(
    ("forecast", "found"),
    [
        ({"max_temp_f": 85, "max_temp_next_3_days_f": 85}, []),
        ({"max_temp_f": 86, "max_temp_next_3_days_f": 80}, ["stop"]),
        ({"max_temp_f": 80, "max_temp_next_3_days_f": 86}, ["stop"]),
        ({"max_temp_f": 80}, ["unknown"]),
        ({}, ["unknown"]),
    ],
)
def test_the_warmest_air(base: KnowledgeBase, forecast: dict[str, float], found: list[str]) -> None:
    assert outcomes(base, "label-temperature", label(max_air_f=85), forecast=forecast) == found


@pytest.mark.parametrize(
    ("says", "adjuvant", "found"),
    [
        ({}, "nis", []),
        ({"mso": "forbidden"}, "mso", ["stop"]),
        ({"mso": "forbidden"}, "nis", []),
        ({"mso": "required"}, "none", ["stop"]),
        ({"mso": "required"}, "mso", []),
        ({"mso": "required", "nis": "required"}, "nis", []),
        ({"nis": "allowed"}, "mso", []),
    ],
)
def test_what_it_says_of_adjuvants(base: KnowledgeBase, says: dict[str, str], adjuvant: str, found: list[str]) -> None:
    made = label(adjuvants=[{"id": key, "use": use} for key, use in says.items()])
    assert outcomes(base, "label-adjuvant", made, adjuvant=adjuvant) == found


@pytest.mark.parametrize(("hours", "found"), [(6, []), (5.9, ["warning"]), (None, ["unknown"])])
def test_the_hours_without_rain(base: KnowledgeBase, hours: float | None, found: list[str]) -> None:
    forecast = {"max_temp_f": 72} if hours is None else {"max_temp_f": 72, "rain_free_hours": hours}
    assert outcomes(base, "label-rainfast", label(rainfast_hours=6), forecast=forecast) == found


@pytest.mark.parametrize(
    ("planned", "last_day", "found"),
    [("2027-06-19", 0, []), ("2027-06-18", 0, ["stop"]), ("2027-06-19", 1, ["stop"]), (None, 0, [])],
)
def test_the_wait_before_seeding(base: KnowledgeBase, planned: str | None, last_day: int, found: list[str]) -> None:
    # From 20 May to 19 June there are 30 days.
    made = label(seeding_interval_days=30)
    condition = {"turf_condition": {"stand": "established", "seeding_planned": planned}}
    assert outcomes(base, "label-seeding", made, last_day=last_day, **condition) == found


@pytest.mark.parametrize(("expiry", "last_day", "found"), [("2027-05-20", 0, []), ("2027-05-20", 1, ["warning"])])
def test_what_is_past_its_date(base: KnowledgeBase, expiry: str, last_day: int, found: list[str]) -> None:
    assert outcomes(base, "label-expired", label(expiry=expiry), last_day=last_day) == found


def test_re_entry_and_what_was_not_typed_are_said(base: KnowledgeBase) -> None:
    told = label(reentry_hours=12)
    (finding,) = _findings(base, "label-reentry", told, "1 qt/acre", adjuvant="none", repeats=1, last_day=0)
    assert "12 hours" in finding.sentence(base)
    (missing,) = _findings(base, "label-untold", told, "1 qt/acre", adjuvant="none", repeats=1, last_day=0)
    assert "re-entry" not in missing.values["missing"]
    assert "the turf it may be used on" in missing.values["missing"]


def test_a_generic_active_has_no_label(base: KnowledgeBase) -> None:
    understood = understand(Situation.model_validate(plain()), base)
    (dose,) = doses_delivered(base, understood, label(turf=[]), parse_quantity("1 qt/acre"), "catalog.0")
    bare = Question(base, understood, dose.__class__(dose.active, dose.form, dose.rate, None, "stated", None))
    assert isinstance(dose.product, ProductUse)
    assert [f for rule in registered() if rule.code.startswith("label-") for f in rule.function(bare)] == []
