"""Where a year has no plan: which constraint to loosen, by name, the smallest first."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

import numpy as np

from app.engine.wording import listed
from app.season.year import Lock, YearAsked
from app.season.year_output import Relax
from app.season.year_rows import BUDGET, COUNT, PRODUCTS
from app.season.year_solve import solve
from app.season.year_solving import Solved, solved

# Constraints tried together before all locks are named.
_TOGETHER, _MOST = 2, 4


def nothing_to_visit(asked: YearAsked, held: Solved) -> tuple[Relax, ...] | None:
    """What is wrong where there is no visit at all to plan; None where there is one."""
    if asked.visits.count == 0:
        return (Relax(constraint=COUNT, text="No visit is asked for; allow at least one.", least=1.0),)
    if asked.visits.dates is not None and not held.dates.days:
        if not asked.visits.dates:
            return (Relax(constraint="visits.dates", text="No date of a visit is told; tell at least one.", least=1.0),)
        text = f"Every date lies before {held.start}, the first day that is planned; tell a later one."
        return (Relax(constraint="visits.dates", text=text),)
    if not held.dates.days:
        text = f"Nothing is left of {asked.year} from {held.start} on; plan from an earlier day, or the next year."
        return (Relax(constraint="from", text=text),)
    return None


def bought_by_nothing(held: Solved) -> tuple[Relax, ...] | None:
    """What is wrong where the budget buys no treatment though one would be worth it; None where it does."""
    budget = held.asked.limits.budget_per_1000_ft2
    if budget is None or held.solution.chosen is None or held.solution.chosen:
        return None
    alone = [held.problem.value((at,)) - held.problem.value(()) for at in range(held.problem.choices)]
    prices = [
        choice.part.cost
        for at, choice in enumerate(held.builder.choices)
        if choice.day >= 0 and alone[at] > 0 and math.isfinite(choice.part.cost)
    ]
    cheapest = min(prices, default=None)
    if cheapest is None or cheapest <= budget:
        return None
    least = math.ceil(cheapest * 100) / 100
    text = f"A budget of {budget:g} per 1000 ft2 buys nothing; the cheapest treatment worth it costs {least:.2f}."
    return (Relax(constraint=BUDGET, text=text, least=least),)


def to_relax(held: Solved) -> tuple[Relax, ...]:
    """What to loosen where nothing is feasible: each single constraint that would do, else the smallest sets."""
    names = _in_order(held)
    for size in range(1, _TOGETHER + 1):
        found: list[tuple[tuple[str, ...], Solved]] = []
        for chosen in combinations(names, size):
            if len(found) >= _MOST:
                break
            again = _without(held, frozenset(chosen))
            if again.solution.chosen is not None:
                found.append((chosen, again))
        if found:
            return tuple(relax for chosen, again in found for relax in _said(held, chosen, again))
    locks = [f"locks.{number}" for number in range(len(held.asked.locks))]
    return tuple(Relax(constraint=name, text=_words(held, name, ())) for name in locks)


def _in_order(held: Solved) -> list[str]:
    """The constraints that may be loosened, that which asks for least first."""
    present = {row.name for row in held.rows.all() if row.name}
    locks = [name for name in sorted(present, reverse=True) if name.startswith("locks.")]
    forbids = [name for name in sorted(present, reverse=True) if name.startswith("forbid.")]
    return [name for name in (PRODUCTS, COUNT) if name in present] + forbids + locks + [BUDGET] * (BUDGET in present)


def _without(held: Solved, names: frozenset[str]) -> Solved:
    options = held.asked.options.model_copy(update={"frontier": False})
    return solved(held.base, held.asked.model_copy(update={"options": options}), held.products, held.memo, names)


def _said(held: Solved, chosen: tuple[str, ...], again: Solved) -> Iterator[Relax]:
    for name in chosen:
        others = tuple(other for other in chosen if other != name)
        yield Relax(constraint=name, text=_words(held, name, others), least=_least(held, name, again))


def _words(held: Solved, name: str, others: tuple[str, ...]) -> str:
    beside = f" Together with {listed(others)}." if others else ""
    kind, _, number = name.partition(".")
    if kind == "locks":
        lock = held.asked.locks[int(number)]
        return f"Let go of the lock that holds {_lock_words(held, lock)}.{_why(held, lock)}{beside}"
    if kind == "forbid":
        actives = [held.base.actives[key].name for key in held.asked.forbid[int(number)].actives]
        return f"Allow {listed(actives)} again: a lock asks for it.{beside}"
    said = {
        PRODUCTS: "Allow more products on a visit.",
        COUNT: "Allow more visits.",
        BUDGET: "Raise the budget: what is locked costs more.",
    }
    return said[name] + beside


def _lock_words(held: Solved, lock: Lock) -> str:
    what = listed(held.base.actives[key].name for key in lock.actives) or "nothing"
    when = f"on {lock.date}" if lock.date is not None else f"on visit {lock.visit}"
    return f"{what} {when}"


def _why(held: Solved, lock: Lock) -> str:
    """The stop that keeps out what is locked, where one does."""
    for block in range(len(held.builder.blocks)):
        for day in held.rows.days_named(lock):
            here = held.builder.here.get((block, day))
            if here is None:
                continue
            for active in lock.actives:
                if any(active in part.actives for part in here.parts):
                    continue
                for _, actives, stops in here.stopped:
                    if active in actives and stops:
                        return f" {stops[0].sentence(held.base)}"
    return ""


def _least(held: Solved, name: str, again: Solved) -> float | None:
    """The least value of a figure that would do."""
    chosen = again.solution.chosen or ()
    if name == PRODUCTS:
        on: dict[object, set[str]] = {}
        for lock in held.asked.locks:
            on.setdefault(lock.visit or lock.date, set()).update(lock.actives)
        return float(max(map(len, on.values()), default=0)) or None
    if name == COUNT:
        return float(len({again.builder.choices[at].day for at in chosen})) or None
    if name != BUDGET:
        return None
    costs = np.asarray([choice.part.cost for choice in again.builder.choices])
    priced = np.where(np.isfinite(costs), costs, 1e6)
    cheapest = replace(again.problem, weight=np.zeros_like(again.problem.weight), penalty=priced)
    found = solve(cheapest, held.asked.options.time_limit_s, 0.01)
    return math.ceil(-found.value * 100) / 100 if found.chosen else None
