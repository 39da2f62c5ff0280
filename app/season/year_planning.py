"""The best year of a property: planned, shown, and held against other plans."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date as Date

from app.engine.citations import cited
from app.engine.measures import Rate
from app.engine.product import Product
from app.season.daily import day_words
from app.season.year import YearAsked, YearPast, YearVisits
from app.season.year_candidates import YearMemo, places_of
from app.season.year_checks import checked
from app.season.year_frontier import frontier, next_visit
from app.season.year_output import FrontierPoint, Relax, YearControl, YearPlan, YearVisit
from app.season.year_problem import Builder, blocks_of
from app.season.year_relax import bought_by_nothing, nothing_to_visit, to_relax
from app.season.year_solving import Solved, first_planned, solved
from app.season.year_sums import allowances, calendar, expected, percent, rotation
from app.season.year_visits import shown_visits
from knowledge.base import KnowledgeBase

__all__ = ["YearMemo", "evaluate", "plan_year"]


def plan_year(
    base: KnowledgeBase, asked: YearAsked, products: Sequence[Product] | None = None, memo: YearMemo | None = None
) -> YearPlan:
    """Plan the year of a property.

    Parameters
    ----------
    products : sequence of Product, optional
        The shelf, where the catalog asks for it.
    memo : YearMemo, optional
        What was worked out for other properties on the same knowledge base.

    Raises
    ------
    InputError
        With every unknown id and every contradiction.
    """
    checked(base, asked, products)
    offered = _products(asked, products)
    held = solved(base, asked, offered, memo if memo is not None else YearMemo())
    relax = nothing_to_visit(asked, held)
    if relax is None and held.solution.chosen is None:
        relax = to_relax(held)
    if relax is None:
        relax = bought_by_nothing(held)
    if relax is not None:
        return _plan(held, (), relax, (), "")
    nothing = not held.solution.chosen and not any(not lock.actives for lock in asked.locks)
    if nothing:
        field = "visits.dates" if asked.visits.dates is not None else "weeds"
        text = "On none of these days would a treatment that is allowed be worth it; tell other dates, weeds or turf."
        relax = (Relax(constraint=field, text=text),)
    points = frontier(held) if asked.options.frontier and not nothing else ()
    more = next_visit(held) if asked.options.frontier and not nothing else ""
    return _plan(held, shown_visits(held), relax, points, more)


def _products(asked: YearAsked, shelf: Sequence[Product] | None) -> Sequence[Product] | None:
    """The products to plan with; None for generic actives."""
    if asked.catalog == "actives":
        return None
    return shelf if asked.catalog == "shelf" else asked.catalog


def _plan(
    held: Solved,
    visits: tuple[YearVisit, ...],
    relax: tuple[Relax, ...] | None,
    points: tuple[FrontierPoint, ...],
    more: str,
) -> YearPlan:
    base, asked, feasible = held.base, held.asked, held.solution.chosen is not None
    control = expected(held, visits) if visits else ()
    objective = held.points() if feasible else 0.0
    gap = max(0.0, held.solution.bound - held.solution.value) if feasible else 0.0
    used = allowances(held) if visits else ()
    turns = rotation(held) if visits else ()
    weeds = calendar(held)
    ids = [s for one in control for s in one.sources]
    ids += [s for one in used for s in one.sources] + [s for one in turns for s in one.sources]
    ids += [s for visit in visits for said in (*visit.reasons, *visit.cautions) for s in said.sources]
    ids += [s for weed in weeds for window in weed.windows for s in window.sources]
    groups: dict[int, set[int]] = {}
    for visit in visits:
        groups.setdefault(visit.number, set()).update(visit.groups)
    return YearPlan(
        year=asked.year,
        headline=_headline(held, visits, control, relax),
        visits=visits,
        control=control,
        allowance=used,
        groups_by_visit=tuple(tuple(sorted(groups[number])) for number in sorted(groups)),
        rotation=turns,
        weeds=weeds,
        objective=round(objective, 2),
        bound=round(objective + gap, 2),
        gap=round(gap, 2),
        proven=held.solution.proven,
        cost=_cost(held) if visits else None,
        currency=_currency(held),
        frontier=points,
        next_visit=more,
        relax=relax,
        considered=len([choice for choice in held.builder.choices if choice.day >= 0]),
        notices=tuple(notice.text for notice in base.notices.values()),
        sources=cited(base, ids),
        knowledge_version=base.version,
        proof=_proof(held),
    )


def _proof(held: Solved) -> str:
    """What the bound holds for."""
    if held.solution.chosen is None:
        return ""
    count = len([choice for choice in held.builder.choices if choice.day >= 0])
    gap = max(0.0, held.solution.bound - held.solution.value)
    days = f"the {len(held.dates.days)} days told"
    if held.dates.chosen:
        days = f"{len(held.dates.days)} days: those that every third Monday led to, and the weeks beside them"
    among = f"of {count} treatments on {days}"
    if not held.solution.proven:
        return f"Not proved: a plan whose products are worth it may do up to {gap:.1f} points better, {among}."
    return f"Proved: no plan whose products are worth it does more than {gap:.2f} points better, {among}."


def _cost(held: Solved) -> float | None:
    """Products of the year per 1000 ft2, by the ground that each area has; None where a price is unknown."""
    if held.products is None:
        return None
    chosen = [held.builder.choices[at] for at in held.solution.chosen or ()]
    told = sum(choice.part.cost * held.builder.blocks[choice.block].share for choice in chosen)
    return round(told, 4) if math.isfinite(told) else None


def _currency(held: Solved) -> str:
    return next((product.currency for product in held.products or () if product.kind == "herbicide"), "USD")


def _headline(
    held: Solved, visits: Sequence[YearVisit], control: Sequence[YearControl], relax: tuple[Relax, ...] | None
) -> str:
    """One sentence to read aloud: how many visits, from when, against what, and what to expect."""
    if relax is not None:
        return f"No plan for {held.asked.year} as it is asked: {relax[0].text}"
    spraying = sorted({(visit.number, visit.date) for visit in visits if visit.applications})
    if not spraying:
        stands = f"expect {held.points():.0f} of 100 points of control"
        return f"Nothing is to be sprayed in {held.asked.year} as it is asked; {stands}."
    first = next(visit for visit in visits if visit.number == spraying[0][0] and visit.applications)
    names = held.base.weeds[first.against[0]].name if first.against else "its weeds"
    whole = [one for one in control if one.area is None]
    best, least = max(whole, key=lambda c: c.likely), min(whole, key=lambda c: c.likely)
    count = f"{len(spraying)} visit{'s' if len(spraying) > 1 else ''} with treatments"
    band = _band(least)
    if best.weed != least.weed:
        band = f"{_band(best)}, least {band}"
    return (
        f"{count} in {held.asked.year}, the first about {day_words(first.date, first.date)} against {names}; "
        f"expect {held.points():.1f} of 100 points of control: {band}."
    )


def _band(told: YearControl) -> str:
    return f"{told.name} {percent(told.likely)} ({told.low:.0f} to {told.high:.0f})"


@dataclass(frozen=True)
class Evaluated:
    """A stated year by the same measure as a planned one.

    Attributes
    ----------
    points : float
        Expected control [points of 100].
    value : float
        The objective: the points less what each product on a visit has to bring.
    """

    points: float
    value: float
    products: int


def evaluate(
    base: KnowledgeBase,
    asked: YearAsked,
    applications: Sequence[tuple[Date, str, Rate]],
    memo: YearMemo | None = None,
) -> Evaluated:
    """What a stated year of applications (day, active, rate) does, whether or not rules stand against it.

    Actives of one day share a tank; each counts as one product unless they are told as one mixture.
    """
    past = tuple(YearPast(date=day, active=active, rate=rate) for day, active, rate in applications)
    stated = asked.model_copy(
        update={
            "applied_this_year": (*asked.applied_this_year, *past),
            "visits": YearVisits(dates=()),
            "locks": (),
            "forbid": (),
        }
    )
    start = first_planned(asked)
    builder = Builder(base, stated, blocks_of(stated, places_of(stated, start)), None, memo or YearMemo())
    done = builder.add_done(helped=True)
    problem = builder.problem(0, (), done)
    points = problem.value(())
    least = sum(builder.worth_from(block, 1) for block in range(len(builder.blocks)) for _ in past)
    return Evaluated(points, points - least, len(past))
