"""What could go otherwise than planned in a year, what it costs, and what had better be done then."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date as Date
from datetime import timedelta
from typing import Literal, TypeVar

from app.engine.errors import FieldFault, InputError
from app.engine.measures import Rate
from app.engine.understood import season_on
from app.season.daily import day_words
from app.season.year import DryWeather, Forbid, Lock, YearArea, YearAsked, YearPast, YearVisits
from app.season.year_checks import first_day
from app.season.year_output import Scenario, ScenarioControl, YearPlan, YearVisit
from app.season.year_scenario_words import ScenarioWords
from knowledge.base import KnowledgeBase

Solve = Callable[[YearAsked], YearPlan]
Held = TypeVar("Held", Lock, Forbid)
Kind = Literal["late-spring", "drought", "missed-visit"]
LATE_DAYS = 14
DRY_DAYS = 42
_MOST_SHIFT = 30
_DAYS_PER_WEEK = 7


def late_spring(asked: YearAsked, days: int = LATE_DAYS) -> YearAsked:
    """The year with everything that warmth drives so many days later than asked, at most 30 in all."""
    return asked.model_copy(update={"spring_shift_days": min(_MOST_SHIFT, asked.spring_shift_days + days)})


def drought(asked: YearAsked, start: Date, end: Date) -> YearAsked:
    """The year with a drought from one day to another, both counted.

    Raises
    ------
    InputError
        Where the days do not follow each other or lie outside the year.
    """
    if not Date(asked.year, 1, 1) <= start <= end <= Date(asked.year, 12, 31):
        raise InputError([FieldFault("dry", f"must run from an earlier to a later day of {asked.year}")])
    return asked.model_copy(update={"dry": (*asked.dry, DryWeather.model_validate({"from": start, "to": end}))})


def missed_visit(asked: YearAsked, plan: YearPlan, number: int) -> YearAsked:
    """The rest of the year after a visit that fell out: what came before it is done, what it held is not.

    Raises
    ------
    InputError
        For a number that no visit of the plan has.
    """
    dates = {visit.number: visit.date for visit in plan.visits}
    if number not in dates:
        known = ", ".join(str(key) for key in sorted(dates)) or "none"
        raise InputError([FieldFault("missed", f"there is no visit {number}; the plan has {known}")])
    return replanned(asked, plan, min(dates[number] + timedelta(days=1), Date(asked.year, 12, 31)), missed=number)


def replanned(asked: YearAsked, plan: YearPlan, start: Date, missed: int | None = None) -> YearAsked:
    """What is still to be asked of a year on a day, when its plan was followed until then.

    Parameters
    ----------
    start : date
        The first day that is planned anew.
    missed : int, optional
        A visit before that day that was not made.

    Returns
    -------
    YearAsked
        With what the visits before that day applied in `applied_this_year`, and the visits that are left.
        Locks and forbids that name a visit follow it to its new number; those of earlier visits are dropped.
    """
    earlier = before(plan, start, missed)
    days = {visit.date for visit in plan.visits if visit.number not in earlier}
    done = [visit for visit in plan.visits if visit.number in earlier and visit.number != missed]
    dates = asked.visits.dates
    visits = {"count": len(days)} if dates is None else {"dates": [day for day in dates if day in days]}
    weeks = (start - first_day(asked)).days / _DAYS_PER_WEEK
    return asked.model_copy(
        update={
            "start": start,
            "visits": YearVisits.model_validate(visits),
            "applied_this_year": (*asked.applied_this_year, *(past for visit in done for past in _applied(visit))),
            "locks": tuple(lock for item in asked.locks for lock in _moved(item, len(earlier), start)),
            "forbid": tuple(kept for item in asked.forbid for kept in _moved(item, len(earlier), start)),
            "areas": tuple(_older(area, weeks) for area in asked.areas),
        }
    )


def before(plan: YearPlan, start: Date, missed: int | None = None) -> set[int]:
    """Numbers of the visits of a plan that lie before a day, made or missed."""
    return {visit.number for visit in plan.visits if visit.date < start or visit.number == missed}


def _applied(visit: YearVisit) -> Iterator[YearPast]:
    for application in visit.applications:
        for product in application.products:
            for part in product.actives:
                yield YearPast(
                    date=application.date,
                    active=part.active,
                    rate=Rate(value=part.rate.value, unit=part.rate.unit),
                    product=product.product,
                    area=visit.area,
                )


def _moved(item: Held, earlier: int, start: Date) -> Iterator[Held]:
    """The same where it still concerns a visit, with the visit's number among those that are left."""
    if item.date is not None and item.date < start:
        return
    if item.visit is None:
        yield item
    elif item.visit > earlier:
        yield item.model_copy(update={"visit": item.visit - earlier})


def _older(area: YearArea, weeks: float) -> YearArea:
    """The area so many weeks later; how often it was mown meanwhile is not known, so that stays the least it can be."""
    condition = area.turf_condition
    if condition.weeks_since_emergence is None:
        return area
    older = condition.model_copy(update={"weeks_since_emergence": condition.weeks_since_emergence + weeks})
    return area.model_copy(update={"turf_condition": older})


def scenarios(base: KnowledgeBase, asked: YearAsked, plan: YearPlan, solve: Solve) -> tuple[Scenario, ...]:
    """What the plan of a year does in a late spring, in a drought, and where a visit falls out.

    Parameters
    ----------
    asked : YearAsked
        What `plan` answers.
    solve : callable
        Plans a year on the same knowledge base and products, as `year_planning.plan_year` does.

    Returns
    -------
    tuple of Scenario
        A spring `LATE_DAYS` late, seen on the day of the first visit in spring; a drought of `DRY_DAYS` in the
        middle of summer, known from its first day on; and each visit in turn that holds something and falls
        out. What lies before the first day that is planned is left out. Nothing where nothing is planned.
    """
    if not any(visit.applications for visit in plan.visits):
        return ()
    quick = asked.model_copy(update={"options": asked.options.model_copy(update={"frontier": False})})
    found = [_late(base, quick, plan, solve), _dry(base, quick, plan, solve)]
    held = sorted({visit.number for visit in plan.visits if visit.applications})
    found += [_missed(quick, plan, number, solve) for number in held]
    return tuple(one for one in found if one is not None)


def _season(base: KnowledgeBase, asked: YearAsked, *names: str) -> list[Date]:
    """Days of these seasons in the year, from the first that may be planned."""
    day, last, found = first_day(asked), Date(asked.year, 12, 31), []
    while day <= last:
        if season_on(day, asked.zone, base) in names:
            found.append(day)
        day += timedelta(days=1)
    return found


def _late(base: KnowledgeBase, asked: YearAsked, plan: YearPlan, solve: Solve) -> Scenario | None:
    spring = set(_season(base, asked, "early-spring", "late-spring"))
    later = late_spring(asked)
    days = later.spring_shift_days - asked.spring_shift_days
    seen = min((visit.date for visit in plan.visits if visit.date in spring), default=None)
    if seen is None or not days:
        return None
    words = ScenarioWords(f"Spring {days} days late", f"Where spring runs {days} days later than planned")
    return _scenario("late-spring", words, plan, replanned(later, plan, seen), solve)


def _dry(base: KnowledgeBase, asked: YearAsked, plan: YearPlan, solve: Solve) -> Scenario | None:
    summer = _season(base, asked, "summer")
    if len(summer) < DRY_DAYS:
        return None
    first = (len(summer) - DRY_DAYS) // 2
    start, end = summer[first], summer[first + DRY_DAYS - 1]
    span = f"{day_words(start, start)} to {day_words(end, start)}"
    words = ScenarioWords(f"Drought from {span}", f"Where a drought lasts from {span}")
    return _scenario("drought", words, plan, replanned(drought(asked, start, end), plan, start), solve)


def _missed(asked: YearAsked, plan: YearPlan, number: int, solve: Solve) -> Scenario:
    day = next(visit.date for visit in plan.visits if visit.number == number)
    words = ScenarioWords(f"Visit {number} falls out", f"Where visit {number} on {day_words(day, day)} falls out")
    return _scenario("missed-visit", words, plan, missed_visit(asked, plan, number), solve, missed=number)


def _to_look(then: YearAsked) -> YearAsked:
    """The year without a visit that is left, but for a day to look: what was done before is still to be reckoned."""
    day = first_day(then)
    return then.model_copy(update={"visits": YearVisits(dates=(day,)), "locks": (Lock(date=day),), "forbid": ()})


def _scenario(
    kind: Kind, words: ScenarioWords, plan: YearPlan, then: YearAsked, solve: Solve, missed: int | None = None
) -> Scenario:
    start = first_day(then)
    offset = len(before(plan, start, missed))
    ended = offset == len({visit.number for visit in plan.visits})
    made = solve(_to_look(then) if ended else then)
    left = () if ended else made.visits
    visits = tuple(visit.model_copy(update={"number": visit.number + offset}) for visit in left)
    known = {(item.weed, item.area): item.likely for item in plan.control}
    control = tuple(
        ScenarioControl(weed=c.weed, name=c.name, area=c.area, before=known[c.weed, c.area], after=c.likely)
        for c in made.control
        if (c.weed, c.area) in known
    )
    return Scenario(
        kind=kind,
        title=words.title,
        text=words.sentence(plan, made, control, visits, start),
        replanned_from=start,
        missed=missed,
        objective_before=plan.objective,
        objective_after=made.objective,
        control=control,
        visits=visits,
        relax=made.relax if not made.visits else None,
        proven=made.proven,
        sources=made.sources,
    )
