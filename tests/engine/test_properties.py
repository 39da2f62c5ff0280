"""Promises that hold over random situations on the real knowledge base."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from app.engine.describe import sprays_of
from app.engine.errors import InputError
from app.engine.expect import expect
from app.engine.output import as_json
from app.engine.recommend import program_findings, recommend
from app.engine.screening import screen
from app.engine.shortlist import shortlist
from app.engine.situation import ExpectRequest, Situation
from app.engine.understood import understand
from app.services.knowledge_service import knowledge_base
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM
from knowledge.models.common import SITE_USES, SURROUNDINGS, ZONES

BASE = knowledge_base()
PROFILE = settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@st.composite
def situations(draw: st.DrawFn) -> dict[str, Any]:
    """A situation as data; weeds that are the turf itself are left out."""
    turf = draw(st.lists(st.sampled_from(sorted(BASE.turf)), min_size=1, max_size=2, unique=True))
    weeds = draw(st.lists(st.sampled_from(sorted(BASE.weeds)), min_size=1, max_size=2, unique=True))
    assume(not any(set(BASE.weeds[w].same_species_turf) & set(turf) for w in weeds))
    targets = [
        {"weed": w, "stage": draw(st.sampled_from([None, *STAGES_BY_LIFE_FORM[BASE.weeds[w].life_form]]))}
        for w in weeds
    ]
    return {
        "date": draw(st.dates().map(lambda d: d.replace(year=2027, day=min(d.day, 28)).isoformat())),
        "zone": draw(st.sampled_from(ZONES)),
        "site_use": draw(st.sampled_from(SITE_USES)),
        "turf": turf,
        "targets": targets,
        "turf_condition": {
            "stand": draw(st.sampled_from([None, "established", "seedling", "newly-sodded", "newly-sprigged"])),
            "weeks_since_emergence": draw(st.none() | st.integers(0, 12)),
            "green_up": draw(st.sampled_from([None, "dormant", "transition", "active"])),
            "stress": draw(st.sampled_from([None, "none", "drought", "heat", "shade"])),
            "seeding_planned": draw(st.sampled_from([None, "2027-12-31"])),
        },
        "forecast": {
            "max_temp_f": draw(st.none() | st.integers(35, 105)),
            "max_temp_next_3_days_f": draw(st.none() | st.integers(35, 105)),
        },
        "surroundings": draw(st.lists(st.sampled_from(SURROUNDINGS), max_size=2, unique=True)),
        "options": {"max_products": draw(st.integers(1, 2)), "top": 8},
    }


def _shown(base: KnowledgeBase, data: dict[str, Any]) -> Any:
    return recommend(base, Situation.model_validate(data))


@PROFILE
@given(situations())
def test_nothing_ranked_breaks_any_stop(data: dict[str, Any]) -> None:
    understood = understand(Situation.model_validate(data), BASE)
    screened = screen(BASE, understood)
    for kept in shortlist(screened, 8):
        findings = program_findings(BASE, understood, sprays_of(screened, kept.place))
        assert [f.code for f in findings if f.outcome == "stop"] == []


@PROFILE
@given(situations())
def test_scores_sum_from_their_parts_and_bands_hold_their_likely(data: dict[str, Any]) -> None:
    for program in _shown(BASE, data).ranked:
        assert program.score == pytest.approx(sum(program.score_parts.values()), abs=1e-6)
        assert 0 <= program.score <= 100
        for shown in program.control:
            if shown.likely is not None:
                assert 0 <= shown.low <= shown.likely <= shown.high <= 100


@settings(PROFILE, max_examples=8)
@given(situations())
def test_equal_input_gives_equal_bytes(data: dict[str, Any]) -> None:
    first, second = (json.dumps(as_json(_shown(BASE, data))) for _ in range(2))
    assert first == second


def _candidates(base: KnowledgeBase, data: dict[str, Any]) -> tuple[set[frozenset[str]], set[str]]:
    screened = screen(base, understand(Situation.model_validate(data), base))
    sets = {screened.actives_of(place) for place in range(len(screened.programs))}
    return sets, {active for members in sets for active in members}


def _restricted(base: KnowledgeBase, kind: str, active: str) -> KnowledgeBase:
    fact = base.actives[active]
    if kind == "site":
        model = type(base.actives["msma"].sites_barred[0])
        barred = model(site_uses=SITE_USES, text="nowhere", basis="common-practice", sources=("common-practice",))
        return replace(base, actives={**base.actives, active: fact.model_copy(update={"sites_barred": (barred,)})})
    if kind == "rates":
        return replace(base, actives={**base.actives, active: fact.model_copy(update={"rates": ()})})
    changed = {}
    for key, turf in base.turf.items():
        if kind == "sensitive":
            records = tuple(
                t.model_copy(update={"tolerance": "S"}) if t.active == active else t for t in turf.tolerance
            )
        else:
            records = tuple(t for t in turf.tolerance if t.active != active)
        changed[key] = turf.model_copy(update={"tolerance": records})
    return replace(base, turf=changed)


@settings(PROFILE, max_examples=8)
@given(situations(), st.sampled_from(["site", "rates", "sensitive", "deleted"]), st.integers(0, 500))
def test_a_fact_that_restricts_or_goes_missing_never_adds_that_active(
    data: dict[str, Any], kind: str, pick: int
) -> None:
    _, actives = _candidates(BASE, data)
    assume(actives)
    active = sorted(actives)[pick % len(actives)]
    _, left = _candidates(_restricted(BASE, kind, active), data)
    assert active not in left
    down = {a for item in _shown(BASE, data).turned_down for a in item.actives}
    assert not down & left


@settings(PROFILE, max_examples=40)
@given(situations(), st.integers(0, 10_000), st.floats(1.01, 3))
def test_control_never_falls_when_the_rate_rises(data: dict[str, Any], pick: int, factor: float) -> None:
    data["targets"] = data["targets"][:1]
    weed = BASE.weeds[data["targets"][0]["weed"]]
    response = weed.responses[pick % len(weed.responses)]
    found = []
    for rate in (response.rate.value, response.rate.value * factor):
        spray = {"active": response.active, "rate": {"value": rate, "unit": response.rate.unit}}
        asked = {"situation": data, "program": {"applications": [{"day": 0, "actives": [spray]}]}}
        found.append(expect(BASE, ExpectRequest.model_validate(asked)).control[0].likely)
    if found[0] is not None:
        assert found[1] >= found[0]


@settings(PROFILE, max_examples=6)
@given(situations())
def test_an_unknown_forecast_never_says_less(data: dict[str, Any]) -> None:
    told = {**data, "forecast": {"max_temp_f": 70, "max_temp_next_3_days_f": 70, "rain_free_hours": 48}}
    unknown = {**data, "forecast": {}}
    settled = [sum(c.settled_by is not None for c in p.cautions) for p in _shown(BASE, told).ranked[:1]]
    open_ = [sum(c.settled_by is not None for c in p.cautions) for p in _shown(BASE, unknown).ranked[:1]]
    if settled and open_ and _shown(BASE, told).ranked[0].id == _shown(BASE, unknown).ranked[0].id:
        assert open_[0] >= settled[0]


def test_the_turf_itself_is_refused() -> None:
    with pytest.raises(InputError):
        understand(
            Situation.model_validate(
                {
                    "date": "2027-06-01",
                    "zone": "warm-humid",
                    "site_use": "golf-fairway",
                    "turf": ["hybrid-bermudagrass"],
                    "targets": [{"weed": "bermudagrass-weed"}],
                }
            ),
            BASE,
        )
