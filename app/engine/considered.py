"""The catalog of one situation: every dose on offer, what the rules say of it, and the tanks worth judging."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.engine.catalog import (
    NO_DOSE,
    ProductChoice,
    Tanks,
    enumerate_product_tanks,
    enumerate_tanks,
    single_choices,
)
from app.engine.control import expit
from app.engine.doses import Dose
from app.engine.offers import adjuvants_offered, offered, spread_dry
from app.engine.responses import ControlFacts
from app.engine.rules import Finding, Question, ask
from app.engine.rules.limits import least_interval
from app.engine.tables import Timing, columns_of, moments
from app.engine.understood import NOT_EMERGED, Understood
from knowledge.base import KnowledgeBase

_PERCENT = 100
# Doses, and of each mixture or product its name and the places of its doses.
Offer = tuple[list[Dose], list[tuple[str, tuple[int, ...]]]]


@dataclass(frozen=True)
class Catalog:
    """Every dose to consider with what the rules say of it.

    Attributes
    ----------
    offered : tuple of tuple of int
        Doses [indices] of each mixture, or of each product at one of its rates, stopped or not.
    findings : tuple of tuple of Finding
        What the rules on the dose itself found, by dose.
    once, twice : tuple of tuple of Finding
        What the rules on yearly totals, intervals and dates found for one and two applications.
    later : tuple of tuple of Finding
        What they found for one application on the day of a program's second.
    intervals : tuple of int
        Least days between two applications of each dose.
    by_target : array (doses, targets)
        Best likely control [percent] that the dose gives by itself on each target.
    """

    doses: tuple[Dose, ...]
    choices: tuple[ProductChoice, ...]
    offered: tuple[tuple[int, ...], ...]
    findings: tuple[tuple[Finding, ...], ...]
    once: tuple[tuple[Finding, ...], ...]
    twice: tuple[tuple[Finding, ...], ...]
    later: tuple[tuple[Finding, ...], ...]
    intervals: tuple[int, ...]
    by_target: NDArray[np.float64]

    @property
    def activity(self) -> NDArray[np.float64]:
        """Best likely control [percent] that each dose gives by itself on any target, array (doses,)."""
        return np.asarray(self.by_target.max(axis=1, initial=0.0))

    def stopped(self, index: int) -> tuple[Finding, ...]:
        """The hard stops against one application of a dose."""
        return stops_in((*self.findings[index], *self.once[index]))


def stops_in(findings: Collection[Finding]) -> tuple[Finding, ...]:
    """The hard stops among findings."""
    return tuple(finding for finding in findings if finding.outcome == "stop")


def build_catalog(
    base: KnowledgeBase,
    understood: Understood,
    facts: ControlFacts,
    timing: Timing,
    only: frozenset[str] | None = None,
    offer: Offer | None = None,
) -> Catalog:
    """The doses and products to consider, each asked every rule.

    Parameters
    ----------
    only : frozenset of str, optional
        Consider these actives alone.
    offer : tuple, optional
        Doses, and what holds several of them, to consider in place of all that is on offer.
    """
    doses, products = offer if offer is not None else offered(base, understood)
    if only is not None:
        kept = [i for i, dose in enumerate(doses) if dose.active.id in only]
        place = {old: new for new, old in enumerate(kept)}
        doses = [doses[i] for i in kept]
        products = [
            (label, tuple(place[i] for i in parts)) for label, parts in products if all(i in place for i in parts)
        ]
    asked = [Question(base, understood, dose) for dose in doses]
    intervals = tuple(least_interval(question)[0] for question in asked)
    findings = tuple(ask(question, "dose") for question in asked)
    once = tuple(ask(question, "repeat") for question in asked)
    days = [max(round(timing.interval), interval) for interval in intervals]
    twice = tuple(
        ask(Question(base, understood, dose, repeats=2, last_day=day), "repeat")
        for dose, day in zip(doses, days, strict=True)
    )
    later = tuple(ask(Question(base, understood, dose, last_day=round(timing.interval)), "repeat") for dose in doses)
    usable = [not stops_in((*f, *o)) for f, o in zip(findings, once, strict=True)]
    choices = (
        *single_choices(doses, usable),
        *(ProductChoice(label, parts, parts) for label, parts in products if all(usable[i] for i in parts)),
    )
    each = by_target(base, understood, facts, timing, doses)
    parts = tuple(parts for _, parts in products)
    return Catalog(tuple(doses), choices, parts, findings, once, twice, later, intervals, each)


def by_target(
    base: KnowledgeBase, understood: Understood, facts: ControlFacts, timing: Timing, doses: Sequence[Dose]
) -> NDArray[np.float64]:
    """Best likely control [percent] of each dose on each target, array (doses, targets).

    Of a product's rates the highest speaks for all: what it can do decides whether it is worth judging.
    """
    adjuvants = adjuvants_offered(understood)
    highest: dict[tuple[str, str], Dose] = {}
    for dose in doses:
        if name := _product_of(dose):
            key = (name, dose.active.id)
            before = highest.get(key)
            highest[key] = dose if before is None or dose.rate.base > before.rate.base else before
    rows: dict[int, list[float]] = {}
    found = np.zeros((len(doses), len(understood.targets)))
    for place, dose in enumerate(doses):
        speaks = highest.get((_product_of(dose), dose.active.id), dose)
        if id(speaks) not in rows:
            rows[id(speaks)] = _activity(base, understood, facts, timing, speaks, adjuvants)
        found[place] = rows[id(speaks)]
    return found


def _activity(
    base: KnowledgeBase,
    understood: Understood,
    facts: ControlFacts,
    timing: Timing,
    dose: Dose,
    adjuvants: Sequence[str],
) -> list[float]:
    """Best likely control [percent] of a dose on each target, at any of its uses and adjuvants."""
    best = [0.0] * len(understood.targets)
    for column in columns_of(understood):
        asked = moments(column, understood, base, timing)
        for view in ("single", "escape"):
            if view in asked:
                for adjuvant in adjuvants:
                    cell = facts.cell(dose, column.target, asked[view], adjuvant)
                    at = column.target.index
                    best[at] = max(best[at], _PERCENT * float(expit(cell.mean)))
    return best


def tanks_considered(
    base: KnowledgeBase,
    understood: Understood,
    catalog: Catalog,
    floor: float,
    only: frozenset[str] | None = None,
) -> Tanks:
    """Every tank worth judging whose doses pass the rules on the dose itself.

    Parameters
    ----------
    floor : float
        Control [percent] below which a dose counts as no activity.
    only : frozenset of str, optional
        Tanks made of exactly these actives alone.
    """
    live = [not catalog.stopped(i) for i in range(len(catalog.doses))]
    active = catalog.activity >= floor
    choices = [c for c in catalog.choices if any(active[i] for i in (*c.alone, *c.partner))]
    most = understood.situation.options.max_products if only is None else max(len(only), 1)
    if understood.products is not None:
        every = frozenset(_product_of(dose) for dose in catalog.doses)
        chosen = sharing_products(catalog_best(catalog), base) if only is None else every
        sharing = [_product_of(dose) in chosen and not spread_dry(dose) for dose in catalog.doses]
        tanks = enumerate_product_tanks(catalog.doses, choices, most, sharing)
    else:
        usable = [bool(ok and (only is not None or strong)) for ok, strong in zip(live, active, strict=True)]
        usable = [ok or (live[i] and catalog.doses[i].level == "mixture") for i, ok in enumerate(usable)]
        partners = _partners(base, understood, catalog, live) if only is None else only
        tanks = enumerate_tanks(catalog.doses, choices, usable, most, partners)
    if only is not None:
        exact = [{catalog.doses[d].active.id for d in row if d != NO_DOSE} == only for row in tanks.doses]
        tanks = tanks.take(np.flatnonzero(exact))
    return tanks


def catalog_best(catalog: Catalog) -> dict[str, NDArray[np.float64]]:
    """Best likely control [percent] of each product by itself, array (targets,)."""
    best: dict[str, NDArray[np.float64]] = {}
    for dose, row in zip(catalog.doses, catalog.by_target, strict=True):
        if name := _product_of(dose):
            best[name] = np.maximum(best.get(name, np.zeros_like(row)), row)
    return best


def sharing_products(best: dict[str, NDArray[np.float64]], base: KnowledgeBase) -> frozenset[str]:
    """Products that may share a tank: of each target in turn the next that does most on it by itself.

    Products that are stopped here count too, so that barring one never lets a weaker one in.

    Parameters
    ----------
    best : dict of str to array (targets,)
        Best likely control [percent] of each by itself.
    """
    most, floor = round(base.parameter("shelf-partners")), base.parameter("activity-floor")
    targets = max(map(len, best.values()), default=0)
    queues = [
        [name for name in sorted(best, key=lambda n: (-best[n][t], n)) if best[name][t] >= floor]
        for t in range(targets)
    ]
    chosen: dict[str, None] = {}
    for rank in range(max(map(len, queues), default=0)):
        for queue in queues:
            if rank < len(queue) and len(chosen) < most:
                chosen.setdefault(queue[rank])
    return frozenset(chosen)


def _product_of(dose: Dose) -> str:
    """Name of the product that delivers a dose, empty for a generic active."""
    return dose.product.product.name if dose.product is not None else ""


def _partners(base: KnowledgeBase, understood: Understood, catalog: Catalog, live: list[bool]) -> frozenset[str]:
    """Actives that do enough by themselves to be worth a place beside others.

    The measure is the best that is recorded of any selective active, stopped here or not, so that
    barring or restricting one never lets a weaker one in.
    """
    best: dict[str, float] = {}
    for dose, activity, ok in zip(catalog.doses, catalog.activity.tolist(), live, strict=True):
        if ok:
            best[dose.active.id] = max(best.get(dose.active.id, 0.0), activity)
    recorded = [
        response.band[1]
        for column in columns_of(understood)
        for response in column.target.weed.responses
        if response.active in base.actives
        and base.actives[response.active].selective
        and (column.stage in response.stages if response.stages else column.stage != NOT_EMERGED)
    ]
    top = max(recorded, default=0.0)
    floor = min(base.parameter("partner-floor"), base.parameter("partner-share") * top)
    return frozenset(key for key, activity in best.items() if activity >= floor)
