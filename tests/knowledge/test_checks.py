"""Each cross-check finds the contradiction it is there for: one broken record each."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from knowledge.base import KnowledgeBase
from knowledge.checks import check
from knowledge.loader import load


@pytest.fixture(scope="module")
def base(few_facts: Path) -> KnowledgeBase:
    """Few weeds are enough to break one, and quicker to check."""
    return load(few_facts)


def _weed(base: KnowledgeBase, key: str, **changes: Any) -> KnowledgeBase:
    return replace(base, weeds={**base.weeds, key: base.weeds[key].model_copy(update=changes)})


def _active(base: KnowledgeBase, key: str, **changes: Any) -> KnowledgeBase:
    return replace(base, actives={**base.actives, key: base.actives[key].model_copy(update=changes)})


def _turf(base: KnowledgeBase, key: str, **changes: Any) -> KnowledgeBase:
    return replace(base, turf={**base.turf, key: base.turf[key].model_copy(update=changes)})


def _response(base: KnowledgeBase, **changes: Any) -> KnowledgeBase:
    first, *rest = base.weeds["dandelion"].responses
    return _weed(base, "dandelion", responses=(first.model_copy(update=changes), *rest))


def _band(base: KnowledgeBase) -> KnowledgeBase:
    return _response(base, band=(50.0, 40.0, 60.0))


def _unregistered_source(base: KnowledgeBase) -> KnowledgeBase:
    return replace(base, sources={k: v for k, v in base.sources.items() if k != "common-practice"})


def _unseen_but_published(base: KnowledgeBase) -> KnowledgeBase:
    return _response(base, basis="published", sources=base.shifts["drought"].sources)


def _stage_of_a_grass(base: KnowledgeBase) -> KnowledgeBase:
    return _weed(base, "dandelion", treatable_stages=("1-3-tiller",))


def _unanswered_stage(base: KnowledgeBase) -> KnowledgeBase:
    kept = tuple(r for r in base.weeds["dandelion"].responses if r.stages and "seed-set" not in r.stages)
    return _weed(base, "dandelion", responses=kept, unknown_stages=())


def _twice_told(base: KnowledgeBase) -> KnowledgeBase:
    responses = base.weeds["dandelion"].responses
    return _weed(base, "dandelion", responses=(responses[0], *responses))


def _rate_off_by_ten(base: KnowledgeBase) -> KnowledgeBase:
    rate = base.weeds["dandelion"].responses[0].rate
    return _response(base, rate=replace(rate, value=rate.value * 40))


def _wrong_counting(base: KnowledgeBase) -> KnowledgeBase:
    first = base.weeds["dandelion"].responses[0]
    unit = (
        first.rate.unit.replace(" ae/", " ai/")
        if " ae/" in first.rate.unit
        else first.rate.unit.replace(" ai/", " ae/")
    )
    return _response(base, rate=replace(first.rate, unit=unit))


def _sinking_rates(base: KnowledgeBase) -> KnowledgeBase:
    rate = base.actives["2-4-d"].rates[0]
    return _active(base, "2-4-d", rates=(rate.model_copy(update={"low": rate.high, "high": rate.low}),))


def _foreign_form(base: KnowledgeBase) -> KnowledgeBase:
    return _active(base, "triclopyr", forms=base.actives["2-4-d"].forms)


def _sensitive_with_a_rate(base: KnowledgeBase) -> KnowledgeBase:
    rate = base.actives["2-4-d"].rates[0].model_copy(update={"turf": ("tall-fescue",)})
    changed = _active(base, "2-4-d", rates=(rate,))
    records = [
        t.model_copy(update={"tolerance": "S"}) if t.active == "2-4-d" else t
        for t in base.turf["tall-fescue"].tolerance
    ]
    return _turf(changed, "tall-fescue", tolerance=tuple(records))


def _tolerance_twice(base: KnowledgeBase) -> KnowledgeBase:
    records = base.turf["tall-fescue"].tolerance
    return _turf(base, "tall-fescue", tolerance=(records[0], *records))


def _gap_in_the_year(base: KnowledgeBase) -> KnowledgeBase:
    zone = base.zones["cool-humid"]
    return replace(base, zones={**base.zones, zone.id: zone.model_copy(update={"seasons": zone.seasons[:-1]})})


def _interaction_of_nobody(base: KnowledgeBase) -> KnowledgeBase:
    item = next(iter(base.interactions.values())).model_copy(update={"partners": ("salt",)})
    return replace(base, interactions={**base.interactions, item.id: item})


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        (_band, "must rise from low to high"),
        (_unregistered_source, "is not registered"),
        (_unseen_but_published, "no cited source was seen"),
        (_stage_of_a_grass, "is no stage of a broadleaf"),
        (_unanswered_stage, "nor an explicit unknown"),
        (_twice_told, "merge the two"),
        (_rate_off_by_ten, "a unit slip"),
        (_wrong_counting, "is counted as"),
        (_sinking_rates, "must rise from low over usual to high"),
        (_foreign_form, "is also a form of"),
        (_sensitive_with_a_rate, "has a rate for tall-fescue"),
        (_tolerance_twice, "stands twice without a site use"),
        (_gap_in_the_year, "must name every season"),
        (_interaction_of_nobody, "'salt' is no active"),
    ],
)
def test_a_contradiction_is_found(base: KnowledgeBase, broken: Any, said: str) -> None:
    assert check(base) == []
    assert any(said in problem.message for problem in check(broken(base)))
