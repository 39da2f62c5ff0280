"""A planned year as text: everything that the plan tells stands in it, at eighty columns."""

from __future__ import annotations

from datetime import date

import pytest

from app.season.year_output import YearPlan, YearScenarios
from app.season.year_scenarios import scenarios
from app.year_text import scenarios_text, year_text
from knowledge.base import KnowledgeBase
from tests.season.asked_year import asked_year
from tests.season.made_year import PRODIAMINE, QUINCLORAC, SOURCES, made_control, made_plan, made_visit

OTHER_AREA = {"area": "back", "name": "Back lawn", "locked": True}


def flat(text: str) -> str:
    return " ".join(text.split())


def test_a_plan_is_told_whole() -> None:
    plan = made_plan()
    told = flat(year_text(plan))
    for words in (
        plan.headline,
        "1 2027-04-12 04-05 to 04-26 prodiamine 0.75 lb ai/acre against smooth crabgrass mechanism 3",
        "3 2027-09-20 09-13 to 10-04 nothing is sprayed",
        "Visit 2, Front, 2027-06-07: adds 20.0 points, 1.25 per 1000 ft2",
        *(visit.window.trigger for visit in plan.visits),
        *(f"{reason.text} [{reason.sources[0]}]" for visit in plan.visits for reason in visit.reasons),
        "74 to 96, likely 88 % control",
        "The plan stands at 79.0 of 100 points of control by priority: proved the best there is.",
        "Materials of the year: 2.50 USD per 1000 ft2.",
        "prodiamine, front: 0.75 of 1.5 lb ai/acre, 0.25 of it before this plan; 2 applications",
        "visit 1: 3; visit 2: 4; visit 3: none",
        "1 1.25 70.0 from here on more buys clearly less",
        "2 2.50 79.0 (not proved)",
        plan.next_visit,
        *plan.notices,
        "common-practice (common-practice): Common practice, no source.",
    ):
        assert words in told


def test_sources_of_what_is_not_shown_are_left_to_the_document() -> None:
    other = {"citation": "Elsewhere (2020).", "kind": "journal", "basis": "published"}
    text = year_text(made_plan(sources={**SOURCES, "elsewhere": other}))
    assert "Common practice, no source." in text
    assert "Elsewhere" not in text


def test_it_fits_eighty_columns() -> None:
    visit = made_visit(1, date(2027, 4, 12), PRODIAMINE, QUINCLORAC, **{"for": ["smooth-crabgrass"] * 9})
    text = year_text(made_plan(visits=[visit, {**visit, **OTHER_AREA}]))
    assert all(len(line) <= 80 for line in text.splitlines())


def test_areas_are_named_where_there_are_several() -> None:
    visit = made_visit(1, date(2027, 4, 12), PRODIAMINE)
    alone = year_text(made_plan(visits=[visit]))
    assert "04-26  prodiamine" in alone
    both = year_text(made_plan(visits=[visit, {**visit, **OTHER_AREA}]))
    assert "04-26  Front\n" in both
    assert "04-26  Back lawn, held by a lock\n" in both


def test_what_is_not_known_is_said() -> None:
    row = {"cost": None, "control": 70.0, "visits": 1, "knee": False, "proven": True}
    told = flat(year_text(made_plan(cost=None, frontier=[row], proven=False, bound=82.0, gap=3.0)))
    assert "Materials of the year: not known, since prices are missing." in told
    assert "What visits buy visits points 1 70.0" in told
    some = flat(year_text(made_plan(frontier=[row, {**row, "cost": 3.0, "visits": 2}])))
    assert "visits USD/1000 ft2 points 1 not known 70.0 2 3.00 70.0" in some
    assert "no plan does better than 82.0, 3.0 above it; whether one reaches that is open" in told


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"maximum": None}, "0.75 lb ai/acre, no ceiling recorded"),
        ({"most": 2, "count": 1}, "; 1 of at most 2 applications"),
        ({"count": 1}, "; 1 application "),
        ({"before": 0.0}, "0.75 of 1.5 lb ai/acre; 2"),
    ],
)
def test_an_allowance_is_told_as_far_as_it_is_known(changes: dict[str, object], said: str) -> None:
    (used,) = made_plan().allowance
    assert said in flat(year_text(made_plan(allowance=[used.model_copy(update=changes)]))) + " "


def test_where_nothing_fits_it_says_what_to_loosen() -> None:
    relax = [{"constraint": "limits.budget_per_1000_ft2", "text": "Visit 1 is locked and costs more.", "least": 4.5}]
    nothing = made_plan(
        visits=[], control=[], allowance=[], groups_by_visit=[], frontier=[], next_visit="", relax=relax
    )
    told = flat(year_text(nothing))
    assert "What to loosen, the least first - limits.budget_per_1000_ft2 (at least 4.5): Visit 1 is locked" in told
    assert "The plan stands" not in told


def test_scenarios_stand_below_the_plan(base: KnowledgeBase) -> None:
    asked, plan = asked_year(), made_plan()
    worse: YearPlan = made_plan(control=[made_control("smooth-crabgrass", 40, 60, 80)], objective=60.0)
    found = scenarios(base, asked, plan, lambda _: worse)
    told = flat(scenarios_text(YearScenarios(plan=plan, scenarios=found)))
    assert plan.headline in told
    for one in found:
        assert one.title in told
        assert one.text in told
    assert "smooth crabgrass: 88 % as planned, 60 % then" in told
    assert told.count("Before you spray") == 1


def test_without_a_plan_nothing_can_fall_out() -> None:
    text = scenarios_text(YearScenarios(plan=made_plan(visits=[]), scenarios=()))
    assert "Nothing is planned, so nothing can fall out." in text
