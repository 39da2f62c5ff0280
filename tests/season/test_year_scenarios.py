"""Scenarios: what they ask anew, and the sentence that they make of the answer."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from app.engine.errors import InputError
from app.season.year import YearAsked
from app.season.year_checks import checked
from app.season.year_output import Scenario, YearPlan
from app.season.year_planning import plan_year
from app.season.year_scenarios import drought, late_spring, missed_visit, replanned, scenarios
from knowledge.base import KnowledgeBase
from tests.season.asked_year import asked_year
from tests.season.made_year import PRODIAMINE, QUINCLORAC, TRICLOPYR, made_control, made_plan, made_visit

TOPRAMEZONE = ("topramezone", 27, 0.033, "lb ai/acre")
RATE = {"value": 0.5, "unit": "lb ai/acre"}


class Solver:
    """Answers every year with the same plan, and remembers what it was asked."""

    def __init__(self, answer: YearPlan) -> None:
        self.answer = answer
        self.asked: list[YearAsked] = []

    def __call__(self, asked: YearAsked) -> YearPlan:
        self.asked.append(asked)
        return self.answer


def told(base: KnowledgeBase, kind: str, answer: YearPlan, **asked: Any) -> Scenario:
    return next(s for s in scenarios(base, asked_year(**asked), made_plan(), Solver(answer)) if s.kind == kind)


def test_a_late_spring_adds_its_days_up_to_the_most() -> None:
    assert late_spring(asked_year()).spring_shift_days == 14
    assert late_spring(asked_year(spring_shift_days=-7), 10).spring_shift_days == 3
    assert late_spring(asked_year(spring_shift_days=20)).spring_shift_days == 30


def test_a_drought_is_added_to_those_told() -> None:
    known = asked_year(dry=[{"from": "2027-05-01", "to": "2027-05-10"}])
    dry = drought(known, date(2027, 7, 1), date(2027, 7, 31)).dry
    assert [(span.start, span.end) for span in dry] == [
        (date(2027, 5, 1), date(2027, 5, 10)),
        (date(2027, 7, 1), date(2027, 7, 31)),
    ]
    for start, end in ((date(2027, 7, 2), date(2027, 7, 1)), (date(2026, 12, 1), date(2027, 1, 1))):
        with pytest.raises(InputError, match=r"^dry: must run from an earlier to a later day of 2027"):
            drought(known, start, end)


def test_what_was_done_before_is_counted_and_what_was_missed_is_not(base: KnowledgeBase) -> None:
    past = [{"date": "2027-03-01", "active": "mcpa", "rate": RATE}]
    asked = asked_year(applied_this_year=past)
    after = missed_visit(asked, made_plan(), 2)
    assert after.start == date(2027, 6, 8)
    assert after.visits.count == 1
    done = [(p.date, p.active, p.rate.value, p.rate.unit, p.area) for p in after.applied_this_year]
    assert done == [
        (date(2027, 3, 1), "mcpa", 0.5, "lb ai/acre", None),
        (date(2027, 4, 12), "prodiamine", 0.75, "lb ai/acre", "front"),
    ]
    checked(base, after)


def test_from_a_day_on_the_visits_that_are_left_are_asked_for() -> None:
    by_dates = asked_year(visits={"dates": ["2027-04-12", "2027-06-07", "2027-09-20"]})
    after = replanned(by_dates, made_plan(), date(2027, 6, 7))
    assert after.visits.dates == (date(2027, 6, 7), date(2027, 9, 20))
    missed = replanned(by_dates, made_plan(), date(2027, 6, 7), missed=2)
    assert missed.visits.dates == (date(2027, 9, 20),)


def test_locks_follow_their_visit_and_those_of_earlier_visits_are_dropped(base: KnowledgeBase) -> None:
    asked = asked_year(
        locks=[{"visit": 1, "actives": ["prodiamine"]}, {"visit": 3}, {"date": "2027-04-12"}, {"date": "2027-09-20"}],
        forbid=[{"actives": ["dicamba"]}, {"visit": 2, "actives": ["mcpa"]}, {"visit": 3, "actives": ["2-4-d"]}],
    )
    after = missed_visit(asked, made_plan(), 2)
    assert [(lock.visit, lock.date) for lock in after.locks] == [(1, None), (None, date(2027, 9, 20))]
    assert [(item.visit, item.actives) for item in after.forbid] == [(None, ("dicamba",)), (1, ("2-4-d",))]
    checked(base, after)


def test_a_young_stand_is_older_by_then() -> None:
    young = {
        "id": "front",
        "turf": ["tall-fescue"],
        "turf_condition": {"stand": "seedling", "weeks_since_emergence": 2},
    }
    (area,) = replanned(asked_year(areas=[young]), made_plan(), date(2027, 1, 22)).areas
    assert area.turf_condition.weeks_since_emergence == 5


def test_a_visit_that_is_not_there_cannot_be_missed() -> None:
    with pytest.raises(InputError, match=r"^missed: there is no visit 4; the plan has 1, 2, 3"):
        missed_visit(asked_year(), made_plan(), 4)


def test_a_visit_on_the_last_day_of_the_year_can_be_missed(base: KnowledgeBase) -> None:
    plan = made_plan(
        visits=[made_visit(1, date(2027, 4, 12), PRODIAMINE), made_visit(2, date(2027, 12, 31), QUINCLORAC)]
    )
    after = missed_visit(asked_year(), plan, 2)
    assert (after.start, after.visits.count) == (date(2027, 12, 31), 0)
    checked(base, after)


def test_each_scenario_is_planned_from_its_day_without_a_frontier(base: KnowledgeBase) -> None:
    solver = Solver(made_plan(visits=[]))
    found = scenarios(base, asked_year(options={"frontier": True}), made_plan(), solver)
    assert [(one.kind, one.missed, one.replanned_from) for one in found] == [
        # The first visit of spring, and six weeks about the middle of the summer of the zone (15 June to 31 August).
        ("late-spring", None, date(2027, 4, 12)),
        ("drought", None, date(2027, 7, 3)),
        ("missed-visit", 1, date(2027, 4, 13)),
        ("missed-visit", 2, date(2027, 6, 8)),
    ]
    assert not any(asked.options.frontier for asked in solver.asked)
    assert [asked.spring_shift_days for asked in solver.asked] == [14, 0, 0, 0]
    assert [len(asked.dry) for asked in solver.asked] == [0, 1, 0, 0]
    (dry,) = solver.asked[1].dry
    assert (dry.end - dry.start).days + 1 == 42


def test_what_lies_behind_is_left_out(base: KnowledgeBase) -> None:
    plan = made_plan(visits=[made_visit(1, date(2027, 9, 20), TRICLOPYR)])
    found = scenarios(base, asked_year(**{"from": "2027-09-01"}), plan, Solver(made_plan(visits=[])))
    assert [(one.kind, one.missed) for one in found] == [("missed-visit", 1)]
    assert scenarios(base, asked_year(), made_plan(visits=[]), Solver(plan)) == ()


def test_the_visit_that_takes_over_is_named(base: KnowledgeBase) -> None:
    answer = made_plan(
        control=[made_control("smooth-crabgrass", 40, 66, 82), made_control("dandelion", 40, 60.5, 78)],
        objective=64.0,
        visits=[made_visit(1, date(2027, 5, 24), QUINCLORAC), made_visit(2, date(2027, 7, 5), QUINCLORAC)],
    )
    found = told(base, "late-spring", answer)
    assert found.text == (
        "Where spring runs 14 days later than planned, smooth crabgrass falls from 88 to 66 % control: visit 1 on "
        "24 May takes over with quinclorac, and the year stands at 64 of 100 points instead of 79."
    )
    assert [(c.weed, c.before, c.after) for c in found.control] == [
        ("smooth-crabgrass", 88.0, 66.0),
        ("dandelion", 61.0, 60.5),
    ]


def test_visits_are_numbered_on_from_those_before(base: KnowledgeBase) -> None:
    answer = made_plan(
        control=[made_control("smooth-crabgrass", 40, 66, 82)],
        objective=64.0,
        visits=[made_visit(1, date(2027, 6, 14), TOPRAMEZONE), made_visit(2, date(2027, 9, 20))],
    )
    found = scenarios(base, asked_year(), made_plan(), Solver(answer))
    missed = next(one for one in found if one.missed == 1)
    assert [visit.number for visit in missed.visits] == [2, 3]
    assert "Where visit 1 on 12 April falls out, smooth crabgrass falls from 88 to 66 %" in missed.text
    assert "visit 2 on 14 June takes over with topramezone" in missed.text


def test_a_day_that_moves_is_told(base: KnowledgeBase) -> None:
    moved = made_visit(1, date(2027, 4, 26), PRODIAMINE)
    answer = made_plan(control=[made_control("smooth-crabgrass", 70, 85, 94)], objective=77.0, visits=[moved])
    assert ": visit 1 moves from 12 April to 26 April, and" in told(base, "late-spring", answer).text


def test_where_nothing_takes_over_it_is_said(base: KnowledgeBase) -> None:
    lost = {"control": [made_control("smooth-crabgrass", 0, 5, 9)], "objective": 20.0}
    other = made_visit(1, date(2027, 9, 20), TRICLOPYR, **{"for": ["dandelion"]})
    assert (
        "no later visit can take over against smooth crabgrass"
        in told(base, "drought", made_plan(visits=[other], **lost)).text
    )
    assert "no visit is left to take over" in told(base, "drought", made_plan(visits=[], **lost)).text


def test_after_the_last_visit_what_was_done_is_still_reckoned(base: KnowledgeBase) -> None:
    plan = made_plan(visits=[made_visit(1, date(2027, 4, 12), PRODIAMINE), made_visit(2, date(2027, 9, 20), TRICLOPYR)])
    solver = Solver(made_plan(visits=[made_visit(1, date(2027, 9, 21))], objective=70.0))
    found = scenarios(base, asked_year(), plan, solver)
    last = next(one for one in found if one.missed == 2)
    assert (last.visits, last.objective_after) == ((), 70.0)
    asked = solver.asked[-1]
    assert asked.visits.dates == (date(2027, 9, 21),)
    assert [(lock.date, lock.actives) for lock in asked.locks] == [(date(2027, 9, 21), ())]
    assert [past.active for past in asked.applied_this_year] == ["prodiamine"]
    checked(base, asked)


def test_what_a_visit_brings_beyond_the_plan_is_told_apart(base: KnowledgeBase) -> None:
    answer = made_plan(
        control=[made_control("smooth-crabgrass", 40, 66, 82)],
        objective=78.8,
        visits=[made_visit(1, date(2027, 6, 7), QUINCLORAC, TRICLOPYR, PRODIAMINE)],
    )
    found = scenarios(base, asked_year(), made_plan(), Solver(answer))
    text = next(one for one in found if one.missed == 1).text
    assert text.endswith(
        "visit 2 on 7 June takes over, now also with prodiamine, and the year still stands at 79 of 100 points."
    )


def test_a_year_that_goes_as_planned_is_planned_again_alike(base: KnowledgeBase) -> None:
    # A second reckoning by the model itself: what was done counts as it did when it was planned, but for adjuvants.
    asked = asked_year(weeds=[{"weed": "smooth-crabgrass"}, {"weed": "dandelion"}], visits={"count": 2})
    plan = plan_year(base, asked)
    first, second = plan.visits
    again = plan_year(base, replanned(asked, plan, second.date))
    assert first.date < second.date
    assert again.objective == pytest.approx(plan.objective, abs=2.0)


@pytest.mark.parametrize(("likely", "lost"), [(87.1, False), (87.0, True)])
def test_what_is_less_than_a_point_is_no_loss(base: KnowledgeBase, likely: float, lost: bool) -> None:
    answer = made_plan(control=[made_control("smooth-crabgrass", 70, likely, 94)], visits=[])
    text = told(base, "drought", answer).text
    assert ("nothing of note is lost: the later visits stay as they are" in text) is not lost


def test_where_nothing_can_be_planned_any_more_it_is_said(base: KnowledgeBase) -> None:
    relax = [{"constraint": "locks.0", "text": "The lock of visit 1 cannot be kept."}]
    answer = made_plan(visits=[], relax=relax)
    found = told(base, "drought", answer)
    assert found.text.endswith("nothing that is asked for can be planned any more: The lock of visit 1 cannot be kept.")
    assert found.relax
