"""What holds in every situation, asked of many programs: stops, restrictions, missing facts, order and bytes.

`test_properties.py` asks the shown answer; here the whole list behind it is asked, and the facts are changed.
"""

from __future__ import annotations

import itertools
import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from app.engine.describe import sprays_of
from app.engine.expect import expect
from app.engine.recommend import program_findings, recommend
from app.engine.screening import Screened, screen
from app.engine.situation import ExpectRequest, LocalRule, Situation
from app.engine.timing_rules import situation_findings
from app.engine.understood import understand
from knowledge.base import KnowledgeBase
from knowledge.models import Active, Limit, Tolerance
from tests.conftest import plain
from tests.engine.made import fact
from tests.engine.reference import stops
from tests.engine.strategies import ACTIVES, BASE, KNOWN_FORECAST, payloads, situations
from tests.engine.test_screening import small

ROOT = Path(__file__).resolve().parent.parent.parent


def some(count: int) -> Any:
    """Settings of a property over whole situations: the same ones in every run, and no long search for a smaller."""
    return settings(
        deadline=None,
        max_examples=count,
        derandomize=True,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )


def _screened(situation: Situation, base: KnowledgeBase = BASE) -> Screened:
    return screen(base, understand(situation, base))


def _passing(screened: Screened) -> frozenset[str]:
    doses = np.unique(np.concatenate([screened.programs.first.ravel(), screened.programs.second.ravel()]))
    return frozenset(screened.catalog.doses[d].active.id for d in doses.tolist() if d >= 0)


def _tanks(screened: Screened) -> set[Any]:
    """What is sprayed together, whatever the rates: a lower ceiling may lower a rate, and then allow it twice."""
    return {
        (spray.adjuvant, frozenset((dose.active.id, dose.form.id) for dose in spray.doses))
        for place in range(len(screened.programs))
        for spray in sprays_of(screened, place)
    }


def _some_places(screened: Screened, count: int) -> list[int]:
    """The first programs of the ranking, and others spread over every kind."""
    every = len(screened.programs)
    spread = np.linspace(0, every - 1, count).astype(int).tolist() if every else []
    return list(dict.fromkeys([*screened.order[:count].tolist(), *spread]))


@some(12)
@given(situations())
def test_no_listed_program_breaks_a_stop(situation: Situation) -> None:
    screened = _screened(situation)
    for place in _some_places(screened, 25):
        sprays = sprays_of(screened, place)
        found = [f for f in program_findings(BASE, screened.understood, sprays) if f.outcome == "stop"]
        assert found == [], [f.sentence(BASE) for f in found]
        assert stops(BASE, screened.understood, sprays) == []


@some(12)
@given(situations())
def test_no_dose_is_above_the_rates_of_any_turf(situation: Situation) -> None:
    screened = _screened(situation)
    for place in _some_places(screened, 25):
        for spray in sprays_of(screened, place):
            for dose in spray.doses:
                for turf in screened.understood.turf:
                    names = {turf.id, turf.rate_class, turf.season, "all"}
                    highs = [rate.high.base for rate in dose.active.rates if names & set(rate.turf)]
                    assert dose.level == "mixture" or dose.rate.base <= max(highs) * (1 + 1e-9)


@some(30)
@given(payloads(), st.data())
def test_control_of_a_tank_never_falls_when_a_rate_rises(payload: dict[str, Any], data: st.DataObject) -> None:
    known = {r.active for target in payload["targets"] for r in BASE.weeds[target["weed"]].responses}
    told = sorted(key for key in known if BASE.actives[key].rates)
    keys = data.draw(st.lists(st.sampled_from(told), min_size=1, max_size=3, unique=True))
    twice = data.draw(st.booleans())
    adjuvant = data.draw(st.sampled_from(["none", "nis", "mso"]))
    series = []
    for share in (0.2, 0.6, 1.0, 1.7):
        actives = []
        for number, key in enumerate(keys):
            rate = BASE.actives[key].rates[0].usual
            value = rate.value * (share if number == 0 else 1.0)
            actives.append({"active": key, "rate": {"value": value, "unit": rate.unit}})
        tank = {"actives": actives, "adjuvant": {"id": adjuvant}}
        program = {"applications": [{**tank, "day": 0}, {**tank, "day": 28}] if twice else [tank]}
        request = ExpectRequest.model_validate({"situation": payload, "program": program})
        series.append([control.likely for control in expect(BASE, request).control])
    for likely in zip(*series, strict=True):
        figures = [value for value in likely if value is not None]
        assert len(figures) in (0, len(likely))
        # Figures are shown at one decimal.
        assert all(more >= less - 0.1 for less, more in itertools.pairwise(figures))


def _tolerance(base: KnowledgeBase, situation: Situation, key: str, **changes: Any) -> KnowledgeBase:
    """The base in which every turf of the situation takes the active less well."""
    turfs = dict(base.turf)
    for name in situation.turf:
        records = tuple(
            Tolerance.model_validate({**r.model_dump(by_alias=True), **changes}) if r.active == key else r
            for r in turfs[name].tolerance
        )
        turfs[name] = turfs[name].model_copy(update={"tolerance": records})
    return replace(base, turf=turfs)


def _active(base: KnowledgeBase, key: str, **changes: Any) -> KnowledgeBase:
    told = base.actives[key].model_dump(by_alias=True)
    return replace(base, actives={**base.actives, key: Active.model_validate({**told, **changes})})


Restriction = Callable[[Situation, str], tuple[KnowledgeBase, Situation]]


def _sensitive(situation: Situation, key: str) -> tuple[KnowledgeBase, Situation]:
    return _tolerance(BASE, situation, key, **{"class": "S"}), situation


def _adjuvant_barred(situation: Situation, key: str) -> tuple[KnowledgeBase, Situation]:
    return _tolerance(BASE, situation, key, adjuvants_barred=["nis", "mso"]), situation


def _lower_rate(situation: Situation, key: str) -> tuple[KnowledgeBase, Situation]:
    lowest = min((rate.usual for rate in BASE.actives[key].rates), key=lambda quantity: quantity.base)
    return _tolerance(BASE, situation, key, max_rate=f"{lowest.value * 0.9:.6g} {lowest.unit}"), situation


def _lower_ceiling(situation: Situation, key: str) -> tuple[KnowledgeBase, Situation]:
    active = BASE.actives[key]
    usual = min((rate.usual for rate in active.rates), key=lambda quantity: quantity.base)
    limit = Limit.model_validate(fact(annual_max=f"{usual.value:.6g} {usual.unit}"))
    limited = active.model_copy(update={"limits": (*active.limits, limit)})
    return replace(BASE, actives={**BASE.actives, key: limited}), situation


def _site_barred(situation: Situation, key: str) -> tuple[KnowledgeBase, Situation]:
    return _active(BASE, key, sites_barred=[fact(site_uses=[situation.site_use], text="Not here.")]), situation


def _banned(situation: Situation, key: str) -> tuple[KnowledgeBase, Situation]:
    rule = LocalRule(kind="ban-active", active=key)
    return BASE, situation.model_copy(update={"local_rules": (*situation.local_rules, rule)})


@pytest.mark.parametrize(
    ("restrict", "whole"),
    [
        (_sensitive, True),
        (_site_barred, True),
        (_banned, True),
        (_lower_rate, False),
        (_lower_ceiling, False),
        (_adjuvant_barred, False),
    ],
)
@some(3)
@given(data=st.data())
def test_what_restricts_never_adds(restrict: Restriction, whole: bool, data: st.DataObject) -> None:
    """Fewer or equal programs pass, no active comes back, and what is barred outright is gone."""
    situation = data.draw(situations())
    before = _screened(situation)
    passing = sorted(key for key in _passing(before) if BASE.actives[key].rates)
    assume(passing)
    key = data.draw(st.sampled_from(passing))
    base, restricted = restrict(situation, key)
    after = _screened(restricted, base)
    assert _passing(after) <= _passing(before)
    assert not whole or key not in _passing(after)
    assert _tanks(after) - _tanks(before) == set()


@pytest.mark.parametrize(
    "case",
    [
        {"targets": [{"weed": "wild-violet", "stage": "flowering"}]},
        {"targets": [{"weed": "smooth-crabgrass"}], "turf": ["perennial-ryegrass"], "date": "2027-09-09"},
    ],
    ids=["wild-violet", "smooth-crabgrass"],
)
def test_banning_any_active_lets_no_new_tank_in(case: dict[str, Any]) -> None:
    situation = Situation.model_validate(plain(**case, options={"max_products": 2, "max_applications": 1}))
    before = _screened(situation)
    added = {}
    for key in sorted(_passing(before)):
        base, restricted = _banned(situation, key)
        new = _tanks(_screened(restricted, base)) - _tanks(before)
        if new:
            added[key] = len(new)
    assert added == {}


@some(10)
@given(data=st.data())
def test_another_turf_never_brings_an_active_back(data: st.DataObject) -> None:
    situation = data.draw(situations())
    assume(len(situation.turf) == 2 and not situation.applied_this_year)
    both = _passing(_screened(situation))
    for turf in situation.turf:
        assert both <= _passing(_screened(situation.model_copy(update={"turf": (turf,)})))


def _blind(situation: Situation) -> Situation:
    return situation.model_copy(update={"forecast": type(situation.forecast)()})


@some(6)
@given(situations(forecast=KNOWN_FORECAST))
def test_a_forecast_that_is_not_told_never_yields_fewer_cautions(situation: Situation) -> None:
    known, unknown = understand(situation, BASE), understand(_blind(situation), BASE)
    told = {f.code for f in situation_findings(BASE, known)}
    assert told <= {f.code for f in situation_findings(BASE, unknown)}
    screened = screen(BASE, known)
    for place in _some_places(screened, 12):
        sprays = sprays_of(screened, place)
        codes = {f.code for f in program_findings(BASE, known, sprays) if f.outcome != "info"}
        assert codes <= {f.code for f in program_findings(BASE, unknown, sprays)}


@some(4)
@given(situations(forecast=KNOWN_FORECAST))
def test_a_forecast_that_is_not_told_stops_nothing_more(situation: Situation) -> None:
    """It is asked for instead: whatever passes in known weather is still offered, with its cautions."""
    assert _passing(_screened(situation)) <= _passing(_screened(_blind(situation)))


@some(4)
@given(situations())
def test_the_order_in_which_things_are_named_does_not_matter(situation: Situation) -> None:
    turned = situation.model_copy(update={"turf": situation.turf[::-1], "targets": situation.targets[::-1]})
    one, other = recommend(BASE, situation), recommend(BASE, turned)
    assert [p.id for p in one.ranked] == [p.id for p in other.ranked]
    assert [p.score for p in one.ranked] == pytest.approx([p.score for p in other.ranked], abs=0.06)
    assert {item.actives for item in one.turned_down} == {item.actives for item in other.turned_down}


_IN_ANOTHER_PROCESS = """
import hashlib, json, sys
from app.engine.output import as_json
from app.engine.recommend import recommend
from app.engine.situation import Situation
from knowledge.loader import load
base = load()
for line in sys.stdin:
    answer = recommend(base, Situation.model_validate(json.loads(line)))
    text = json.dumps(as_json(answer), ensure_ascii=False)
    print(hashlib.sha256(text.encode()).hexdigest())
"""


def test_other_processes_give_the_same_bytes() -> None:
    cases: list[dict[str, Any]] = [
        plain(targets=[{"weed": "dandelion"}, {"weed": "white-clover"}], forecast={}),
        plain(targets=[{"weed": "smooth-crabgrass", "stage": "not-emerged"}], date="2027-04-10"),
        plain(turf=["common-bermudagrass"], zone="warm-humid", surroundings=["tree-roots", "slope"]),
    ]
    lines = "\n".join(json.dumps(case) for case in cases)
    running = [
        subprocess.Popen(
            [sys.executable, "-c", _IN_ANOTHER_PROCESS],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONHASHSEED": seed},
            cwd=ROOT,
            text=True,
        )
        for seed in ("0", "4711")
    ]
    digests = [process.communicate(lines)[0].split() for process in running]
    assert [process.returncode for process in running] == [0, 0]
    assert len(digests[0]) == len(cases)
    assert digests[0] == digests[1]


# What is deleted: the bases without that fact of the active, or of the turf's record of it.
Deletion = Callable[[KnowledgeBase, str, str], list[KnowledgeBase]]


def _without_field(name: str, empty: Any = None) -> Deletion:
    def delete(base: KnowledgeBase, key: str, turf: str) -> list[KnowledgeBase]:
        active = base.actives[key].model_copy(update={name: empty})
        return [replace(base, actives={**base.actives, key: active})]

    return delete


def _without_each(name: str) -> Deletion:
    """Each record of a list of the active in turn, and all of them."""

    def delete(base: KnowledgeBase, key: str, turf: str) -> list[KnowledgeBase]:
        records = getattr(base.actives[key], name)
        found = []
        for rest in (*(records[:i] + records[i + 1 :] for i in range(len(records))), ()):
            active = base.actives[key].model_copy(update={name: rest})
            found.append(replace(base, actives={**base.actives, key: active}))
        return found

    return delete


def _without_tolerance(base: KnowledgeBase, key: str, turf: str) -> list[KnowledgeBase]:
    told = base.turf[turf]
    rest = tuple(record for record in told.tolerance if record.active != key)
    return [replace(base, turf={**base.turf, turf: told.model_copy(update={"tolerance": rest})})]


def _without_injury(base: KnowledgeBase, key: str, turf: str) -> list[KnowledgeBase]:
    told = base.turf[turf]
    rest = tuple(r.model_copy(update={"injury": None}) if r.active == key else r for r in told.tolerance)
    return [replace(base, turf={**base.turf, turf: told.model_copy(update={"tolerance": rest})})]


def _without_responses(base: KnowledgeBase, key: str, turf: str) -> list[KnowledgeBase]:
    weeds = {
        name: weed.model_copy(update={"responses": tuple(r for r in weed.responses if r.active != key)})
        for name, weed in base.weeds.items()
    }
    return [replace(base, weeds=weeds)]


DELETIONS: dict[str, Deletion] = {
    "tolerance": _without_tolerance,
    "injury": _without_injury,
    "responses": _without_responses,
    "limits": _without_field("limits", ()),
    "carrier_floor": _without_field("carrier_floor"),
    "rates": _without_each("rates"),
    "seedling": _without_each("seedling"),
    "seeding_interval": _without_each("seeding_interval"),
    "rainfast_hours": _without_field("rainfast_hours"),
    "symptoms": _without_field("symptoms"),
    "soil": _without_field("soil"),
    "slope": _without_field("slope"),
    "residual_half_life_days": _without_field("residual_half_life_days"),
    "temperature_shifts": _without_field("temperature_shifts", ()),
}
HARD: list[dict[str, Any]] = [
    {"targets": [{"weed": "dandelion"}, {"weed": "smooth-crabgrass", "stage": "not-emerged"}], "date": "2027-04-10"},
    {
        "targets": [{"weed": "dandelion"}, {"weed": "smooth-crabgrass"}, {"weed": "yellow-nutsedge"}],
        "turf_condition": {"stand": "seedling", "mowings_since_emergence": 1, "seeding_planned": "2027-05-25"},
        "date": "2027-05-20",
        "carrier": {"value": 2, "unit": "gal/acre"},
    },
    {
        "targets": [{"weed": "henbit"}, {"weed": "goosegrass"}, {"weed": "dollarweed"}],
        "turf": ["st-augustinegrass"],
        "zone": "warm-humid",
        "date": "2027-04-20",
        "turf_condition": {"stand": "newly-sprigged", "weeks_since_emergence": 2},
        "forecast": {"max_temp_f": 91, "max_temp_next_3_days_f": 93},
    },
    {
        "targets": [{"weed": "dandelion"}, {"weed": "annual-bluegrass"}],
        "turf": ["creeping-bentgrass"],
        "site_use": "golf-green",
        "date": "2027-09-20",
        "applied_this_year": [
            {"date": day, "active": key, "rate": {"value": 1.0, "unit": f"lb {BASE.actives[key].rate_basis}/acre"}}
            for key in ACTIVES
            for day in ("2027-04-01", "2027-09-10")
        ],
    },
]
Alone = tuple[int, str, KnowledgeBase, Situation]


@pytest.fixture(scope="module")
def turned_down() -> list[Alone]:
    """Every active that nothing lets pass by itself, with the base and the situation that say so."""
    found = []
    for number, case in enumerate(HARD):
        situation = Situation.model_validate(plain(**case))
        for key in ACTIVES:
            # The other actives that the situation names stay known, and are barred.
            base = small(BASE, {key, *(past.active for past in situation.applied_this_year)})
            others = [LocalRule(kind="ban-active", active=other) for other in base.actives if other != key]
            alone = situation.model_copy(update={"local_rules": tuple(others)})
            if len(screen(base, understand(alone, base), only=frozenset({key})).programs) == 0:
                found.append((number, key, base, alone))
    return found


@pytest.mark.parametrize("name", DELETIONS)
def test_a_fact_that_is_missing_never_brings_an_active_back(name: str, turned_down: list[Alone]) -> None:
    assert {number for number, *_ in turned_down} == set(range(len(HARD)))
    back = []
    for number, key, base, situation in turned_down:
        for less in DELETIONS[name](base, key, situation.turf[0]):
            if len(screen(less, understand(situation, less), only=frozenset({key})).programs):
                back.append((number, key))
                break
    assert back == []
