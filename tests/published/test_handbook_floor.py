"""Planned years against years that published calendars lay out: never worse by the tool's own measure.

Both are reckoned by the same model and without an adjuvant, as `evaluate` reckons what is stated. What a calendar
does that a rule stops was left out where its data stand (`left_out` of each year in `handbook_years`).

Where they differ, and why, on the dates of the calendar (computed; a visit of the calendar put in the place of the
planned one of that day does worse each time, which the test holds):

- Indiana: two mechanisms before crabgrass in place of one; ground ivy and violet are sprayed with triclopyr on both
  ends of the season, where the calendar leaves the autumn to 2,4-D, mecoprop-P and dicamba, which do little on violet.
- Nebraska Panhandle: spurge is held before emergence by isoxaben beside prodiamine; the calendar has nothing on it.
- Kansas: dandelion, henbit and chickweed are sprayed in April as well as in November, so that what stood over winter
  is gone by May; the calendar sprays broadleaf weeds in November alone.
- North Carolina: the same; and goosegrass, on which pendimethalin alone does little, is sprayed when it is up.
- The deep south: annual bluegrass stands in February and is sprayed then; the calendar has prodiamine, which does
  nothing on plants that stand, beside a mixture for broadleaf weeds; and two mechanisms hold the ground in September.
- North Florida: two long mechanisms before southern crabgrass and goosegrass in place of one short one.
- Plains: henbit stands in buffalograss that is dormant, when more actives may be sprayed than the calendar names.
"""

from __future__ import annotations

from datetime import date
from functools import cache

import pytest

from app.engine.measures import Rate
from app.season.year import YearAsked
from app.season.year_output import YearPlan
from app.season.year_planning import YearMemo, evaluate, plan_year
from knowledge.base import KnowledgeBase
from tests.engine.strategies import BASE
from tests.published.handbook_years import YEARS, HandbookYear, rate_of
from tests.season.year_customers import actives_of

Applied = tuple[date, str, Rate]
# Planned with free dates here; the others were held to it once, since each takes half a minute.
SHORT = ("st-augustinegrass-lawn-of-north-florida", "buffalograss-lawn-of-the-plains")
MEMO = YearMemo()


def _named(year: HandbookYear) -> str:
    return year.id


def asked_of(year: HandbookYear, *, dates: bool) -> YearAsked:
    """The property of a calendar, with its dates or its number of visits."""
    visits = {"dates": [day.isoformat() for day in year.dates]} if dates else {"count": len(year.dates)}
    plain = {
        "year": 2027,
        "zone": year.zone,
        "site_use": year.site_use,
        "areas": [{"id": "lawn", "turf": [year.turf], "turf_condition": {"stand": "established"}}],
        "weeds": [{"weed": weed} for weed in year.weeds],
        "visits": visits,
        "options": {"frontier": False},
    }
    return YearAsked.model_validate(plain)


def stated(base: KnowledgeBase, year: HandbookYear) -> list[Applied]:
    """What the calendar applies."""
    told = [(spray, rate_of(base, year, spray)) for spray in year.sprayed]
    return [(spray.date, spray.active, Rate(value=rate.value, unit=rate.unit)) for spray, rate in told]


def planned(plan: YearPlan) -> list[Applied]:
    """What a plan applies."""
    return [
        (tank.date, part["active"], Rate.model_validate(part["rate"]))
        for visit in plan.visits
        for tank in visit.applications
        for part in actives_of(tank)
    ]


def points(year: HandbookYear, applied: list[Applied]) -> float:
    """Expected control of the year [points of 100]."""
    return evaluate(BASE, asked_of(year, dates=True), applied, MEMO).points


@cache
def on_its_dates(year: HandbookYear) -> YearPlan:
    """The year planned on the calendar's own dates."""
    return plan_year(BASE, asked_of(year, dates=True), None, MEMO)


@pytest.mark.parametrize("year", YEARS, ids=_named)
def test_on_the_same_dates_a_plan_is_never_worse(year: HandbookYear) -> None:
    # Published: the calendars cited in `handbook_years.ROWS`.
    plan = on_its_dates(year)
    assert plan.relax is None
    assert points(year, planned(plan)) >= points(year, stated(BASE, year))


@pytest.mark.parametrize("year", YEARS, ids=_named)
def test_no_visit_of_the_calendar_would_do_better_in_its_place(year: HandbookYear) -> None:
    # Published: the calendars cited in `handbook_years.ROWS`. Each visit is exchanged for the calendar's of that day.
    mine, theirs = planned(on_its_dates(year)), stated(BASE, year)
    worth = BASE.parameter("year-least-gain")
    for day in year.dates:
        swapped = [one for one in mine if one[0] != day] + [one for one in theirs if one[0] == day]
        gained = points(year, swapped) - points(year, mine)
        told = sorted(active for at, active, _ in mine if at == day)
        instead = sorted(active for at, active, _ in theirs if at == day)
        print(f"{year.id} {day}: {told} in place of {instead}; the calendar's would change it by {gained:+.1f} points")
        # An empty visit stays empty where nothing is worth its product.
        assert gained <= worth * max(1, len(instead) - len(told)), f"{day}: {instead} in place of {told}"


@pytest.mark.parametrize("year", [year for year in YEARS if year.id in SHORT], ids=_named)
def test_with_the_same_number_of_visits_a_plan_is_never_worse(year: HandbookYear) -> None:
    # Published: the calendars cited in `handbook_years.ROWS`.
    plan = plan_year(BASE, asked_of(year, dates=False), None, MEMO)
    assert len({visit.date for visit in plan.visits}) <= len(year.dates)
    assert points(year, planned(plan)) >= points(year, stated(BASE, year))
