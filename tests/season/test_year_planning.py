"""A planned year: its visits, windows, sums, frontier, and what to loosen where nothing fits."""

from __future__ import annotations

import itertools
from datetime import date, timedelta
from typing import Any

import pytest

from app.engine.errors import InputError
from app.engine.measures import Rate
from app.engine.product import Product
from app.season.year_output import YearPlan
from app.season.year_planning import YearMemo, evaluate, plan_year
from app.services.shelf_csv import read_csv
from knowledge.base import KnowledgeBase
from tests.demo_data.demo_shelf import FILE
from tests.season.asked_year import asked_year

DATES = ["2027-04-12", "2027-05-31", "2027-10-04"]


@pytest.fixture(scope="module")
def memo() -> YearMemo:
    return YearMemo()


@pytest.fixture(scope="module")
def products() -> tuple[Product, ...]:
    rows = read_csv(FILE.read_text(encoding="utf-8"))
    return tuple(row.product for row in rows if row.product is not None)


def planned(base: KnowledgeBase, memo: YearMemo, shelf: tuple[Product, ...] | None = None, **changes: Any) -> YearPlan:
    return plan_year(base, asked_year(**{"visits": {"dates": DATES}, **changes}), shelf, memo)


@pytest.fixture(scope="module")
def plain(base: KnowledgeBase, memo: YearMemo) -> YearPlan:
    return planned(base, memo, options={"frontier": True})


def actives_on(plan: YearPlan, number: int) -> set[str]:
    return {
        part.active
        for visit in plan.visits
        if visit.number == number
        for tank in visit.applications
        for product in tank.products
        for part in product.actives
    }


def test_the_visits_are_those_told_and_each_says_why(plain: YearPlan) -> None:
    assert [visit.date.isoformat() for visit in plain.visits] == DATES
    for visit in plain.visits:
        assert visit.window.start <= visit.date <= visit.window.end
        assert visit.reasons
        assert bool(visit.applications) == bool(visit.against)
    assert plain.bound == pytest.approx(plain.objective + plain.gap, abs=0.011)
    assert plain.proven
    assert plain.gap <= 0.1


def test_crabgrass_is_held_before_it_comes_up_and_dandelion_sprayed_in_autumn(plain: YearPlan) -> None:
    # Common practice, no source: what every handbook of cool-season lawns advises.
    assert "smooth-crabgrass" in plain.visits[0].against
    assert "dandelion" in plain.visits[-1].against
    assert all(0 <= c.low <= c.likely <= c.high <= 100 for c in plain.control)


def test_what_is_applied_stays_within_its_ceiling(plain: YearPlan) -> None:
    assert plain.allowance
    for used in plain.allowance:
        assert used.maximum is None or used.used <= used.maximum * (1 + 1e-6)
        assert used.most is None or used.count <= used.most


def test_more_visits_never_do_less_and_the_knee_is_one_of_them(plain: YearPlan) -> None:
    points = plain.frontier
    assert [p.visits for p in points] == sorted(p.visits for p in points)
    assert [p.control for p in points] == sorted(p.control for p in points)
    assert sum(p.knee for p in points) <= 1
    assert points[-1].control == pytest.approx(plain.objective, abs=0.31)
    assert plain.next_visit


def test_dates_are_chosen_apart_and_no_more_than_asked(base: KnowledgeBase, memo: YearMemo) -> None:
    plan = planned(base, memo, visits={"count": 3})
    days = [visit.date for visit in plan.visits]
    gap = timedelta(days=base.parameter("year-visit-gap"))
    assert len(days) <= 3
    assert all(later - earlier >= gap for earlier, later in itertools.pairwise(days))
    # Chosen dates do at least as well as those told, since these lie near days among which is chosen.
    assert plan.objective >= planned(base, memo).objective - 1


def test_a_lock_holds_and_costs_what_it_costs(base: KnowledgeBase, memo: YearMemo, plain: YearPlan) -> None:
    locked = planned(base, memo, locks=[{"visit": 1, "actives": ["dithiopyr"]}, {"date": DATES[1]}])
    assert "dithiopyr" in actives_on(locked, 1)
    assert not actives_on(locked, 2)
    assert locked.visits[1].locked
    assert locked.objective <= plain.objective + 0.1
    without = planned(base, memo, forbid=[{"actives": ["prodiamine"]}, {"actives": ["2-4-d"], "visit": 3}])
    assert all("prodiamine" not in actives_on(without, number) for number in (1, 2, 3))
    assert "2-4-d" not in actives_on(without, 3)


def test_a_lock_by_number_where_the_dates_are_chosen(base: KnowledgeBase, memo: YearMemo) -> None:
    plan = planned(base, memo, visits={"count": 2}, locks=[{"visit": 2, "actives": ["triclopyr"]}])
    sprayed = [visit.number for visit in plan.visits if visit.applications]
    assert "triclopyr" in actives_on(plan, sprayed[1])


def test_what_was_done_counts_and_is_not_planned_again(base: KnowledgeBase, memo: YearMemo, plain: YearPlan) -> None:
    done = [
        {"date": "2027-04-12", "active": part.active, "rate": {"value": part.rate.value, "unit": part.rate.unit}}
        for tank in plain.visits[0].applications
        for product in tank.products
        for part in product.actives
    ]
    rest = planned(base, memo, **{"from": "2027-04-13"}, visits={"dates": DATES[1:]}, applied_this_year=done)
    # The rest of the plan is still the best answer to the rest of the year.
    assert rest.objective == pytest.approx(plain.objective, abs=2)
    missed = planned(base, memo, **{"from": "2027-04-13"}, visits={"dates": DATES[1:]})
    assert missed.objective < plain.objective
    assert {used.active for used in rest.allowance if used.before} == {part["active"] for part in done}


def test_a_mechanism_of_last_year_needs_another_beside_it(base: KnowledgeBase, memo: YearMemo) -> None:
    """Published: change sites of action between years, mix effective ones (ResistPoa, resistpoa.org, as seen)."""
    weeds = [{"weed": "annual-bluegrass", "pressure": "high"}]
    asked = {
        "zone": "warm-humid",
        "site_use": "golf-fairway",
        "areas": [{"id": "f", "turf": ["hybrid-bermudagrass"], "turf_condition": {"stand": "established"}}],
        "weeds": weeds,
        "visits": {"dates": ["2027-09-06", "2027-11-15"]},
        "applied_last_year": [
            {"date": "2026-09-07", "active": "prodiamine", "rate": {"value": 0.75, "unit": "lb ai/acre"}}
        ],
    }
    plan = planned(base, memo, **asked)
    groups = {group for visit in plan.visits for group in visit.groups}
    assert groups, "something is sprayed against annual bluegrass"
    assert groups != {3}, "the mechanism of last year does not stand alone"


def test_money_buys_control_and_a_budget_of_nothing_says_what_the_least_is(
    base: KnowledgeBase, memo: YearMemo, products: tuple[Product, ...]
) -> None:
    free = planned(base, memo, products, catalog="shelf", options={"frontier": True})
    assert free.cost is not None
    assert free.cost > 0
    costs = [point.cost for point in free.frontier]
    assert None not in costs
    assert costs == sorted(c for c in costs if c is not None)
    held = planned(base, memo, products, catalog="shelf", limits={"budget_per_1000_ft2": free.cost / 2})
    assert held.cost is not None
    assert held.cost <= free.cost / 2 + 1e-6
    assert held.objective <= free.objective + 0.1
    nothing = planned(base, memo, products, catalog="shelf", limits={"budget_per_1000_ft2": 0})
    assert nothing.visits == ()
    assert nothing.relax is not None
    (relax,) = nothing.relax
    assert relax.constraint == "limits.budget_per_1000_ft2"
    assert relax.least is not None
    enough = planned(base, memo, products, catalog="shelf", limits={"budget_per_1000_ft2": relax.least})
    assert enough.relax is None
    assert any(visit.applications for visit in enough.visits)


def test_contradictory_locks_name_what_to_loosen(base: KnowledgeBase, memo: YearMemo) -> None:
    asked: dict[str, Any] = {
        "locks": [{"visit": 1, "actives": ["prodiamine"]}],
        "forbid": [{"actives": ["prodiamine"]}],
    }
    plan = planned(base, memo, **asked)
    assert plan.visits == ()
    assert plan.relax is not None
    assert [item.constraint for item in plan.relax] == ["forbid.0", "locks.0"]
    assert planned(base, memo, locks=asked["locks"]).relax is None
    stopped = planned(base, memo, locks=[{"visit": 2, "actives": ["msma"]}])
    assert stopped.relax is not None
    assert "MSMA is not for a residential lawn" in stopped.relax[0].text


def test_no_visit_to_plan_is_said(base: KnowledgeBase, memo: YearMemo) -> None:
    for visits, field in (({"count": 0}, "visits.count"), ({"dates": []}, "visits.dates")):
        plan = planned(base, memo, visits=visits)
        assert plan.visits == ()
        assert plan.relax is not None
        assert plan.relax[0].constraint == field
    winter = planned(base, memo, visits={"dates": ["2027-12-20"]})
    assert winter.relax is not None
    assert winter.relax[0].constraint == "visits.dates"
    assert not winter.visits[0].applications
    assert winter.visits[0].reasons


def test_areas_that_are_alike_are_planned_alike(base: KnowledgeBase, memo: YearMemo) -> None:
    area = {"turf": ["kentucky-bluegrass"], "turf_condition": {"stand": "established"}}
    plan = planned(base, memo, areas=[{"id": "front", **area}, {"id": "back", **area}])
    front, back = ([v for v in plan.visits if v.area == key] for key in ("front", "back"))
    assert [v.applications for v in front] == [v.applications for v in back]


def test_temperatures_move_the_windows(base: KnowledgeBase, memo: YearMemo) -> None:
    def daily(warm: float) -> dict[str, Any]:
        first = date(2027, 1, 1)
        days = [first + timedelta(days=n) for n in range(140)]
        return {
            "daily": [
                {"date": d.isoformat(), "min_f": 30 + warm, "max_f": 40 + warm + (d - first).days / 3} for d in days
            ]
        }

    first = {}
    for warm in (0.0, 6.0):
        plan = planned(base, memo, weather=daily(warm))
        crabgrass = next(weed for weed in plan.weeds if weed.weed == "smooth-crabgrass")
        emerging = next(window for window in crabgrass.windows if window.kind == "emerging")
        assert emerging.told_by == "weather"
        first[warm] = emerging.start
    assert first[6.0] < first[0.0]


def test_a_stated_year_is_measured_as_a_planned_one(base: KnowledgeBase, plain: YearPlan) -> None:
    asked = asked_year(visits={"dates": DATES})
    spring = [(date(2027, 4, 12), "prodiamine", Rate(value=0.65, unit="lb ai/acre"))]
    autumn = [(date(2027, 10, 4), "2-4-d", Rate(value=1.0, unit="lb ae/acre"))]
    nothing, one, both = (evaluate(base, asked, told) for told in ([], spring, [*spring, *autumn]))
    assert nothing.points == 0 < one.points < both.points <= plain.objective + plain.gap


def test_the_same_question_has_the_same_answer(base: KnowledgeBase, plain: YearPlan) -> None:
    again = planned(base, YearMemo(), options={"frontier": True})
    assert again.model_dump_json() == plain.model_dump_json()


def test_what_is_not_known_is_refused(base: KnowledgeBase, memo: YearMemo) -> None:
    with pytest.raises(InputError) as told:
        planned(base, memo, weeds=[{"weed": "crabgras"}])
    assert told.value.faults[0].path == "weeds.0.weed"


def test_a_visit_that_is_held_free_is_one_of_those_there_may_be(base: KnowledgeBase, memo: YearMemo) -> None:
    plan = planned(base, memo, visits={"count": 2}, locks=[{"date": "2027-04-12"}])
    free = next(visit for visit in plan.visits if visit.date == date(2027, 4, 12))
    assert not free.applications
    assert free.locked
    assert len({visit.number for visit in plan.visits if visit.applications}) <= 1
