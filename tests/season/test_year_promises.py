"""What every plan of a year keeps to, whoever asks: the engine's rules, limits, locks, and the same answer again."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import pytest
from hypothesis import Phase, given, settings

from app.season.year import YearAsked
from app.season.year_output import YearPlan
from app.season.year_planning import plan_year
from tests.engine.strategies import BASE
from tests.season.year_customers import actives_of, customers, stops_of
from tests.season.year_rotation import leanings

EXAMPLES = 12
FEW = 4
# Shrinking plans a hundred years more; the example that failed is told as it was drawn.
PHASES = (Phase.explicit, Phase.generate)
TOLERANCE = 2 * BASE.parameter("year-tolerance")


def actives(plan: YearPlan) -> list[tuple[int, set[str]]]:
    """Number of each visit and the actives of each of its tanks."""
    return [
        (visit.number, {part["active"] for part in actives_of(tank)})
        for visit in plan.visits
        for tank in visit.applications
    ]


def complexity(plan: YearPlan) -> float:
    """What the products of a plan have to bring at most [points]: the best plan is that after these are paid."""
    return BASE.parameter("year-least-gain") * sum(len(tank) for _, tank in actives(plan))


def faults(asked: YearAsked, plan: YearPlan) -> Iterator[str]:
    """Everything that binds a plan and that this one breaks."""
    if plan.relax is not None and not plan.visits:
        return
    yield from (f"{visit.date} {stop}" for visit, stops in stops_of(BASE, asked, plan) for stop in stops)
    yield from leanings(BASE, asked, plan)
    for used in plan.allowance:
        # What was used up before the plan is not the plan's.
        if used.maximum is not None and used.used > max(used.maximum, used.before) * (1 + 1e-6):
            yield f"{used.active}: {used.used} of {used.maximum} {used.unit}"
        if used.most is not None and used.count > used.most:
            yield f"{used.active}: {used.count} times of {used.most}"
    yield from _visit_faults(asked, plan)
    for forbid in asked.forbid:
        yield from (f"visit {n} holds {forbid.actives}" for n, tank in actives(plan) if set(forbid.actives) <= tank)
    if plan.objective > plan.bound + 1e-6:
        yield f"{plan.objective} points above the bound {plan.bound}"
    for row in plan.control:
        if not 0 <= row.low <= row.likely <= row.high <= 100:
            yield f"{row.weed}: {row.low}, {row.likely}, {row.high} %"


def _visit_faults(asked: YearAsked, plan: YearPlan) -> Iterator[str]:
    dates = sorted({visit.date for visit in plan.visits})
    if asked.visits.dates is not None:
        yield from (f"{day} was not asked for" for day in set(dates) - set(asked.visits.dates))
    else:
        if len(dates) > (asked.visits.count or 0):
            yield f"{len(dates)} visits"
        gap = BASE.parameter("year-visit-gap")
        yield from (f"{a} and {b}" for a, b in pairwise(dates) if (b - a).days < gap)
    for visit in plan.visits:
        if asked.start is not None and visit.date < asked.start:
            yield f"{visit.date} lies before {asked.start}"
        if not visit.window.start <= visit.date <= visit.window.end:
            yield f"{visit.date} lies outside its window"
        # Generic actives of a standard mixture count as one product, and stand side by side.
        labels = sum(len(tank.products) for tank in visit.applications)
        if asked.catalog != "actives" and labels > asked.limits.max_products_per_visit:
            yield f"{visit.date}: {labels} products"
        if not visit.applications and not visit.reasons:
            yield f"{visit.date} is empty without a reason"


@settings(max_examples=EXAMPLES, derandomize=True, phases=PHASES)
@given(customers(most_weeds=3, most_visits=3))
def test_no_rule_of_the_engine_is_broken(asked: YearAsked) -> None:
    assert list(faults(asked, plan_year(BASE, asked))) == []


@settings(max_examples=FEW, derandomize=True, phases=PHASES)
@given(customers(most_weeds=3, most_visits=3, by="dates"))
def test_the_same_year_is_planned_alike(asked: YearAsked) -> None:
    first, again = plan_year(BASE, asked), plan_year(BASE, asked.model_copy())
    assert first.model_dump_json() == again.model_dump_json()


@settings(max_examples=FEW, derandomize=True, phases=PHASES)
@given(customers(most_weeds=2, most_visits=2, by="count"))
def test_one_more_visit_is_never_worse(asked: YearAsked) -> None:
    assert asked.visits.count is not None
    more = asked.model_copy(update={"visits": asked.visits.model_copy(update={"count": asked.visits.count + 1})})
    first, then = plan_year(BASE, asked), plan_year(BASE, more)
    if first.relax is None and then.relax is None:
        assert not then.proven or then.objective >= first.objective - complexity(first) - TOLERANCE


@settings(max_examples=FEW, derandomize=True, phases=PHASES)
@given(customers(most_weeds=3, most_visits=3, by="dates"))
def test_forbidding_what_a_plan_holds_is_never_better(asked: YearAsked) -> None:
    first = plan_year(BASE, asked)
    held = sorted({active for _, tank in actives(first) for active in tank})
    if not held:
        return
    without = YearAsked.model_validate(
        {**asked.model_dump(mode="json", by_alias=True), "forbid": [{"actives": [held[0]]}]}
    )
    if asked.forbid:
        return
    then = plan_year(BASE, without)
    assert then.objective <= first.bound + complexity(then)
    assert all(held[0] not in tank for _, tank in actives(then))


def asked_for(**changes: object) -> YearAsked:
    """A lawn of Kentucky bluegrass with crabgrass and dandelion, with changes at the top level."""
    plain: dict[str, object] = {
        "year": 2027,
        "zone": "cool-humid",
        "site_use": "residential-lawn",
        "areas": [{"id": "front", "turf": ["kentucky-bluegrass"], "turf_condition": {"stand": "established"}}],
        "weeds": [{"weed": "smooth-crabgrass", "pressure": "high"}, {"weed": "dandelion"}],
        "visits": {"dates": ["2027-04-15", "2027-05-26", "2027-07-01", "2027-09-28"]},
        "options": {"frontier": False},
    }
    return YearAsked.model_validate({**plain, **changes})


@pytest.mark.parametrize("active", ["pendimethalin", "dithiopyr"])
def test_a_lock_is_kept(active: str) -> None:
    plan = plan_year(BASE, asked_for(locks=[{"visit": 1, "actives": [active]}]))
    assert plan.relax is None
    assert any(number == 1 and active in tank for number, tank in actives(plan))
    assert next(visit for visit in plan.visits if visit.number == 1).locked


def test_a_visit_locked_empty_stays_empty() -> None:
    plan = plan_year(BASE, asked_for(locks=[{"visit": 4, "actives": []}]))
    assert all(number != 4 for number, _ in actives(plan))


def test_what_was_applied_counts_against_the_year() -> None:
    # More prodiamine was applied than the year allows on any turf, so none is planned.
    spent = [{"date": "2027-03-01", "active": "prodiamine", "rate": {"value": 1.5, "unit": "lb ai/acre"}}]
    told = {"applied_this_year": spent, "from": "2027-03-15", "forbid": [{"actives": ["dithiopyr"]}]}
    plan = plan_year(BASE, asked_for(**told))
    assert all("prodiamine" not in tank for _, tank in actives(plan))
    assert list(faults(asked_for(**told), plan)) == []
