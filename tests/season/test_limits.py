"""Limits of a tank against the engine's own rules, and labels of products."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from app.engine.doses import single_doses
from app.engine.rules import Question, ask
from app.engine.situation import Situation
from app.engine.understood import understand
from app.season.limits import AirLimit, Limits, Sprayed, limits_of, sprayed
from knowledge.base import KnowledgeBase
from tests.conftest import plain

HERE = "residential-lawn"


def weight_at(limits: Limits, temp_f: float) -> set[tuple[str, str]]:
    """What the air limits say at a temperature."""
    return {
        (limit.code, limit.weight)
        for limit in limits.air
        if (limit.max_f is not None and temp_f > limit.max_f) or (limit.min_f is not None and temp_f < limit.min_f)
    }


@pytest.mark.parametrize("turf", ["tall-fescue", "creeping-bentgrass", "st-augustinegrass"])
@pytest.mark.parametrize("temp_f", [45.0, 72.0, 86.0, 91.0, 101.0])
def test_as_the_rules_of_the_engine(base: KnowledgeBase, turf: str, temp_f: float) -> None:
    """Every active, form and use: the same stops and warnings of temperature and vapour, the same dry hours."""
    weather = {"max_temp_f": temp_f, "max_temp_next_3_days_f": temp_f, "rain_free_hours": 0.1, "wind_mph": 5}
    situation = Situation.model_validate(plain(turf=[turf], forecast=weather))
    understood = understand(situation, base)
    seen = 0
    for dose in single_doses(base, understood):
        found = ask(Question(base, understood, dose), "dose")
        engine = {
            (f.code, "stop" if f.outcome == "stop" else "caution")
            for f in found
            if f.code in ("temperature", "volatility") and f.outcome != "unknown"
        }
        limits = limits_of([sprayed(dose)], understood.turf, HERE)
        assert weight_at(limits, temp_f) == engine, dose.form.id
        assert bool(limits.dry) == any(f.code == "rainfast" for f in found), dose.active.id
        if limits.dry:
            assert dose.active.rainfast_hours is not None
            assert limits.rainfast_hours == dose.active.rainfast_hours.value
        seen += bool(engine)
    assert seen or temp_f == 72.0


def test_a_form_that_is_not_told_is_to_be_settled(base: KnowledgeBase) -> None:
    told, untold = (
        limits_of([Sprayed(base.actives["triclopyr"], form)], [base.turf["tall-fescue"]], HERE)
        for form in (next(f for f in base.actives["triclopyr"].forms if f.id == "triclopyr-bee"), None)
    )
    assert ("volatility", "stop") in weight_at(told, 88)
    assert ("volatility", "unknown") in weight_at(untold, 88)
    assert "tank.actives.form" in {limit.settled_by for limit in untold.air}


def test_turf_that_is_not_told_is_to_be_settled(base: KnowledgeBase) -> None:
    msma = Sprayed(base.actives["msma"])
    limits = limits_of([msma])
    assert ("temperature", "unknown") in weight_at(limits, 90)
    assert "tank.turf" in {limit.settled_by for limit in limits.air}
    assert ("temperature", "stop") in weight_at(limits_of([msma], [base.turf["tall-fescue"]]), 90)


def product(**changes: Any) -> dict[str, Any]:
    """A product nobody sells, as data."""
    return {
        "name": "Larkmere Broadleaf",
        "formulation": "SL",
        "actives": [{"active": "2-4-d", "form": "2-4-d-dma", "content": {"value": 3.8, "unit": "lb ae/gal"}}],
        "rate": {"value": 2, "unit": "pt/acre"},
        **changes,
    }


def test_the_label_binds_beside_the_facts(base: KnowledgeBase) -> None:
    from app.engine.product import Product

    held = Product.model_validate(
        product(max_air_f=82, rainfast_hours=9, carrier_floor={"value": 30, "unit": "gal/acre"})
    )
    active = base.actives["2-4-d"]
    limits = limits_of([Sprayed(active, active.forms[0], held)])
    assert ("label-temperature", "stop") in weight_at(limits, 83)
    assert ("label-temperature", "stop") not in weight_at(limits, 82)
    assert limits.rainfast_hours == 9
    assert limits.max_temp_f == 82
    assert limits.carrier is not None
    assert (limits.carrier.value, limits.name) == (30, "Larkmere Broadleaf")


def test_a_granule_and_a_residual_ask_for_no_dry_hours(base: KnowledgeBase) -> None:
    from app.engine.product import Product

    content = {"value": 0.6, "unit": "% w/w"}
    dry = Product.model_validate(
        product(
            formulation="G",
            actives=[{"active": "2-4-d", "content": content}],
            rate={"value": 150, "unit": "lb/acre"},
            rainfast_hours=9,
        )
    )
    assert limits_of([Sprayed(base.actives["2-4-d"], None, dry)]).dry == ()
    assert limits_of([Sprayed(base.actives["dithiopyr"], preemergence=True)]).dry == ()


def test_a_limit_limits_something() -> None:
    with pytest.raises(ValidationError, match="is required"):
        AirLimit()
    with pytest.raises(ValidationError, match="not below"):
        AirLimit(min_f=80, max_f=60)
