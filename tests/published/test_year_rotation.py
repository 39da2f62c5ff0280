"""Planned years against published advice on mechanisms.

Published: the advice of a project of sixteen state universities on annual bluegrass (ResistPoa, guidance with the
site of action poster): change sites of action within and between years, use both preemergence and early
postemergence actives, mix several effective sites. Common practice, no source: two or more mechanisms a year, one
alone never twice running on the same weed where weeds come to withstand it readily.
"""

from __future__ import annotations

from typing import Any

import pytest

from app.season.year_output import YearPlan
from app.season.year_planning import plan_year
from tests.engine.strategies import BASE
from tests.season.test_year_promises import asked_for
from tests.season.year_customers import actives_of
from tests.season.year_rotation import leanings

POA = "annual-bluegrass"
BERMUDA: dict[str, Any] = {
    "zone": "warm-humid",
    "site_use": "golf-rough",
    "areas": [{"id": "rough", "turf": ["hybrid-bermudagrass"], "turf_condition": {"stand": "established"}}],
    "weeds": [{"weed": POA, "pressure": "high"}, {"weed": "goosegrass"}],
    "visits": {"dates": ["2027-02-20", "2027-05-20", "2027-09-10", "2027-12-10"]},
}
PRODIAMINE = [
    {"date": day, "active": "prodiamine", "rate": {"value": 0.65, "unit": "lb ai/acre"}}
    for day in ("2026-02-20", "2026-09-05")
]


def acting(plan: YearPlan) -> dict[str, set[str]]:
    """Mechanisms on each visit that is against annual bluegrass, by its date."""
    return {
        visit.date.isoformat(): {
            BASE.actives[part["active"]].mechanism.group for tank in visit.applications for part in actives_of(tank)
        }
        for visit in plan.visits
        if POA in visit.against
    }


def test_annual_bluegrass_meets_several_mechanisms_before_and_after_it_comes_up() -> None:
    # Published: ResistPoa, as above.
    plan = plan_year(BASE, asked_for(**BERMUDA))
    held = acting(plan)
    assert len(set().union(*held.values())) >= 3
    assert any(day.startswith("2027-09") for day in held)
    assert any(not day.startswith("2027-09") for day in held)
    assert list(leanings(BASE, asked_for(**BERMUDA), plan)) == []


def test_the_mechanism_of_last_year_never_stands_alone_this_year() -> None:
    # Published: ResistPoa, as above; prodiamine (group 3) was used twice last year.
    told = {**BERMUDA, "applied_last_year": PRODIAMINE}
    plan = plan_year(BASE, asked_for(**told))
    assert BASE.must_alternate("3", POA)
    assert acting(plan)
    assert set().union(*acting(plan).values()) - {"3"}


@pytest.mark.parametrize("resistant", ["3", "2", "9"])
def test_what_a_weed_withstands_is_not_counted_on(resistant: str) -> None:
    # Common practice, no source: an active that a population withstands does nothing on it.
    weeds = [{"weed": POA, "pressure": "high", "resistant_to": [resistant]}]
    plan = plan_year(BASE, asked_for(**{**BERMUDA, "weeds": weeds}))
    assert acting(plan)
    assert all(groups - {resistant} for groups in acting(plan).values())


def test_no_mechanism_stands_on_more_visits_than_it_may() -> None:
    # Common practice, no source: `most_visits` of the facts, here with twelve visits to fill.
    days = [f"2027-{month:02d}-15" for month in range(1, 13)]
    asked = asked_for(visits={"dates": days}, options={"frontier": False, "time_limit_s": 10})
    plan = plan_year(BASE, asked)
    assert list(leanings(BASE, asked, plan)) == []
    for group, use in BASE.mechanisms.items():
        on = [visit for visit in plan.visits if int(group) in visit.groups]
        assert not use.shared or len(on) <= use.most_visits
