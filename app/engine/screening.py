"""Candidates of one situation: which doses pass, which programs they make, and how they score."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.engine.catalog import NO_DOSE, ProductChoice, Tanks, enumerate_tanks, single_choices
from app.engine.control import Band, Ints, expit
from app.engine.doses import Dose, mixture_doses, product_doses, single_doses
from app.engine.errors import FieldFault, InputError
from app.engine.responses import ControlFacts
from app.engine.rules import Finding, Question, ask
from app.engine.rules.limits import least_interval
from app.engine.rules.tank import interactions_between
from app.engine.scoring import Scores, dose_injury, program_injury, score
from app.engine.screen import Programs, hardest_stage, join, program_control
from app.engine.tables import Tables, Timing, build_tables, columns_of, moments, usual_timing
from app.engine.understood import NOT_EMERGED, Understood
from knowledge.base import KnowledgeBase

Bools = NDArray[np.bool_]
_PERCENT = 100


@dataclass(frozen=True)
class Catalog:
    """Every dose to consider with what the rules say of it.

    Attributes
    ----------
    findings : tuple of tuple of Finding
        What the rules on the dose itself found, by dose.
    once, twice : tuple of tuple of Finding
        What the rules on yearly totals, intervals and dates found for one and two applications.
    later : tuple of tuple of Finding
        What they found for one application on the day of a program's second.
    intervals : tuple of int
        Least days between two applications of each dose.
    activity : array (doses,)
        Best likely control [percent] that the dose gives by itself on any target.
    """

    doses: tuple[Dose, ...]
    choices: tuple[ProductChoice, ...]
    findings: tuple[tuple[Finding, ...], ...]
    once: tuple[tuple[Finding, ...], ...]
    twice: tuple[tuple[Finding, ...], ...]
    later: tuple[tuple[Finding, ...], ...]
    intervals: tuple[int, ...]
    activity: NDArray[np.float64]

    def stopped(self, index: int) -> tuple[Finding, ...]:
        """The hard stops against one application of a dose."""
        return stops_in((*self.findings[index], *self.once[index]))


@dataclass(frozen=True)
class Screened:
    """Every program that passes every stop, with its figures.

    Attributes
    ----------
    programs : Programs
        Passing programs.
    band : Band
        Control at the hardest plausible stage, arrays (programs, targets).
    columns : array (programs, targets)
        Column of the tables in which each target is judged.
    order : array (programs,)
        Places of the programs, the best first; equal scores are ordered by what they are made of.
    too_much : float or None
        Least likely injury [percent] among the programs, where every one that passes the other stops
        would injure the turf beyond what is acceptable.
    """

    base: KnowledgeBase
    understood: Understood
    timing: Timing
    facts: ControlFacts
    catalog: Catalog
    tables: Tables
    programs: Programs
    band: Band
    columns: Ints
    scores: Scores
    order: Ints
    considered: int
    too_much: float | None

    def actives_of(self, place: int) -> frozenset[str]:
        """Ids of the actives of the program at a place."""
        doses = {int(d) for d in (*self.programs.first[place], *self.programs.second[place]) if d != NO_DOSE}
        return frozenset(self.catalog.doses[d].active.id for d in doses)

    def interval_of(self, place: int) -> int:
        """Days between the two applications of the program at a place."""
        doses = [int(d) for d in self.programs.second[place] if d != NO_DOSE]
        return max([round(self.timing.interval), *(self.catalog.intervals[d] for d in doses)])


def stops_in(findings: Collection[Finding]) -> tuple[Finding, ...]:
    """The hard stops among findings."""
    return tuple(finding for finding in findings if finding.outcome == "stop")


def build_catalog(
    base: KnowledgeBase, understood: Understood, facts: ControlFacts, timing: Timing, only: frozenset[str] | None = None
) -> Catalog:
    """The doses and products to consider, each asked every rule.

    Parameters
    ----------
    only : frozenset of str, optional
        Consider these actives alone.
    """
    doses, products = _offered(base, understood)
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
    activity = np.asarray([_activity(base, understood, facts, timing, dose) for dose in doses])
    return Catalog(tuple(doses), choices, findings, once, twice, later, intervals, activity)


def _offered(base: KnowledgeBase, understood: Understood) -> tuple[list[Dose], list[tuple[str, tuple[int, ...]]]]:
    """Doses on offer, and the products that hold several of them."""
    offered = understood.situation.catalog
    if offered == "shelf":
        what = "no shelf is kept here; use 'actives', or list the products in the situation"
        raise InputError([FieldFault("catalog", what)])
    doses: list[Dose] = []
    products: list[tuple[str, tuple[int, ...]]] = []
    if offered == "actives":
        seen = set()
        for dose in single_doses(base, understood):
            if (dose.key, dose.level) not in seen:
                seen.add((dose.key, dose.level))
                doses.append(dose)
        groups = list(mixture_doses(base, understood))
    else:
        groups = [(offer.product.name, offer.doses) for offer in product_doses(base, understood, offered)]
    for label, parts in groups:
        start = len(doses)
        doses.extend(parts)
        products.append((label, tuple(range(start, start + len(parts)))))
    return doses, products


def adjuvants_offered(understood: Understood) -> tuple[str, ...]:
    """Adjuvants to try; the first is none."""
    return ("none", "nis", "mso", "coc") if understood.situation.options.adjuvants else ("none",)


def _activity(base: KnowledgeBase, understood: Understood, facts: ControlFacts, timing: Timing, dose: Dose) -> float:
    """Best likely control [percent] of a dose on any target, at any of its uses and adjuvants."""
    best = 0.0
    for column in columns_of(understood):
        asked = moments(column, understood, base, timing)
        for view in ("single", "escape"):
            if view in asked:
                for adjuvant in adjuvants_offered(understood):
                    cell = facts.cell(dose, column.target, asked[view], adjuvant)
                    best = max(best, _PERCENT * float(expit(cell.mean)))
    return best


def screen(
    base: KnowledgeBase, understood: Understood, timing: Timing | None = None, only: frozenset[str] | None = None
) -> Screened:
    """Enumerate, stop, judge and rank every program of a situation.

    Parameters
    ----------
    only : frozenset of str, optional
        Consider only programs made of exactly these actives, without dropping the inactive.
    """
    timing = timing or usual_timing(base)
    facts = ControlFacts(base, understood)
    catalog = build_catalog(base, understood, facts, timing, only)
    floor = base.parameter("activity-floor") if only is None else 0.0
    programs, tables, considered = _programs(base, understood, facts, catalog, timing, floor, only)
    get = base.parameter
    injury = program_injury(
        dose_injury(base, understood, catalog.doses), programs, get("partner-injury"), get("second-application-injury")
    ).max(axis=1)
    bearable = np.flatnonzero(injury <= get("injury-unacceptable"))
    too_much = float(injury.min()) if len(programs) and not len(bearable) else None
    programs, considered = programs.take(bearable), len(bearable)
    whole = program_control(tables, programs, get("site-correlation"))
    band, columns = hardest_stage(tables, whole, len(understood.targets))
    scores = score(base, understood, catalog.doses, tables, programs, band, columns, injury[bearable])
    # Scores closer than a billionth are equal; then what the program is made of decides.
    keys = (*programs.second.T[::-1], *programs.first.T[::-1], programs.first_adjuvant, -np.round(scores.total, 9))
    order = np.lexsort(keys)
    return Screened(
        base, understood, timing, facts, catalog, tables, programs, band, columns, scores, order, considered, too_much
    )


def _programs(
    base: KnowledgeBase,
    understood: Understood,
    facts: ControlFacts,
    catalog: Catalog,
    timing: Timing,
    floor: float,
    only: frozenset[str] | None,
) -> tuple[Programs, Tables, int]:
    options = understood.situation.options
    live = np.asarray([not catalog.stopped(i) for i in range(len(catalog.doses))], dtype=bool)
    active = catalog.activity >= floor
    choices = [c for c in catalog.choices if any(active[i] for i in (*c.alone, *c.partner))]
    most = options.max_products if only is None else max(len(only), 1)
    usable = [bool(ok and (only is not None or strong)) for ok, strong in zip(live, active, strict=True)]
    usable = [ok or (bool(live[i]) and catalog.doses[i].level in ("mixture", "product")) for i, ok in enumerate(usable)]
    partners = _partners(base, understood, catalog, list(live)) if only is None else only
    tanks = enumerate_tanks(catalog.doses, choices, usable, most, partners)
    if only is not None:
        exact = [{catalog.doses[d].active.id for d in row if d != NO_DOSE} == only for row in tanks.doses]
        tanks = tanks.take(np.flatnonzero(exact))
    elif isinstance(understood.situation.catalog, tuple):
        tanks = tanks.take(np.flatnonzero(tanks.products <= options.max_products))
    adjuvants = adjuvants_offered(understood)
    useful, barred = _adjuvant_masks(base, understood, catalog, adjuvants)
    apart = _pair_stops(base, understood, catalog)
    parted = apart[tanks.doses[:, :, None], tanks.doses[:, None, :]].any(axis=(1, 2))
    tanks = tanks.take(np.flatnonzero(~parted))
    once = _with_adjuvants(tanks, useful, barred)
    parts = [once]
    if options.max_applications > 1:
        again = np.asarray([*(not stops_in(f) for f in catalog.twice), True], dtype=bool)
        chosen = once.take(np.all(again[once.first], axis=1))
        parts.append(
            Programs(chosen.first, chosen.first, chosen.first_adjuvant, chosen.first_adjuvant, chosen.products)
        )
        if only is None:
            parts.append(_pre_then_post(understood, catalog, once, facts, base, timing, floor))
    programs = join(parts)
    tables = build_tables(base, understood, facts, catalog.doses, adjuvants, timing, _used(programs))
    return programs, tables, len(programs)


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


def _used(programs: Programs) -> frozenset[int]:
    return frozenset(np.unique(np.concatenate([programs.first.ravel(), programs.second.ravel()])).tolist()) - {NO_DOSE}


def _adjuvant_masks(
    base: KnowledgeBase, understood: Understood, catalog: Catalog, adjuvants: tuple[str, ...]
) -> tuple[Bools, Bools]:
    """Which adjuvants help each dose, and which are barred with it; arrays (adjuvants, doses + 1)."""
    shape = (len(adjuvants), len(catalog.doses) + 1)
    useful, barred = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    for a, adjuvant in enumerate(adjuvants):
        for d, dose in enumerate(catalog.doses):
            barred[a, d] = bool(stops_in(ask(Question(base, understood, dose, adjuvant), "adjuvant")))
            useful[a, d] = any(r.id == adjuvant and r.use in ("required", "recommended") for r in dose.active.adjuvants)
    return useful, barred


def _pair_stops(base: KnowledgeBase, understood: Understood, catalog: Catalog) -> Bools:
    """Which doses may not share a tank, as array (doses + 1, doses + 1)."""
    count = len(catalog.doses) + 1
    apart = np.zeros((count, count), dtype=bool)
    for i, first in enumerate(catalog.doses):
        for j, second in enumerate(catalog.doses[:i]):
            if interactions_between(base, first.active.id, second.active.id):
                found = ask(Question(base, understood, first, partner=second), "pair")
                apart[i, j] = apart[j, i] = bool(stops_in(found))
    return apart


def _with_adjuvants(tanks: Tanks, useful: Bools, barred: Bools) -> Programs:
    """Each tank with no adjuvant and with each one that helps a part of it, where not barred."""
    parts = []
    empty = np.full(tanks.doses.shape, NO_DOSE, dtype=np.int64)
    for a in range(len(useful)):
        wanted = np.ones(len(tanks), dtype=bool) if a == 0 else useful[a][tanks.doses].any(axis=1)
        place = np.flatnonzero(wanted & ~barred[a][tanks.doses].any(axis=1))
        adjuvant = np.full(len(place), a, dtype=np.int64)
        parts.append(
            Programs(tanks.doses[place], empty[place], adjuvant, np.zeros_like(adjuvant), tanks.products[place])
        )
    return join(parts)


def _pre_then_post(
    understood: Understood,
    catalog: Catalog,
    once: Programs,
    facts: ControlFacts,
    base: KnowledgeBase,
    timing: Timing,
    floor: float,
) -> Programs:
    """A single active before emergence, then another on what came up through it."""
    alone = once.take((once.first != NO_DOSE).sum(axis=1) == 1)
    waiting = [c for c in columns_of(understood) if c.stage == NOT_EMERGED]
    before, after = np.zeros(len(alone), dtype=bool), np.zeros(len(alone), dtype=bool)
    adjuvants = adjuvants_offered(understood)
    for place in range(len(alone)):
        dose = catalog.doses[int(alone.first[place, 0])]
        adjuvant = adjuvants[int(alone.first_adjuvant[place])]
        for column in waiting:
            asked = moments(column, understood, base, timing)
            pre = _PERCENT * float(expit(facts.cell(dose, column.target, asked["single"], adjuvant).mean))
            post = _PERCENT * float(expit(facts.cell(dose, column.target, asked["escape"], adjuvant).mean))
            before[place] |= pre >= floor
            after[place] |= post >= floor
        after[place] &= not stops_in(catalog.later[int(alone.first[place, 0])])
    pre_at, post_at = np.flatnonzero(before), np.flatnonzero(after)
    i, j = (grid.ravel() for grid in np.meshgrid(pre_at, post_at, indexing="ij"))
    actives = np.asarray([active_number(catalog, int(d)) for d in alone.first[:, 0]], dtype=np.int64)
    differ = actives[i] != actives[j] if len(i) else np.zeros(0, dtype=bool)
    i, j = i[differ], j[differ]
    return Programs(
        alone.first[i],
        alone.first[j],
        alone.first_adjuvant[i],
        alone.first_adjuvant[j],
        np.ones(len(i), dtype=np.int64),
    )


def active_number(catalog: Catalog, index: int) -> int:
    """Number of the dose's active, equal for equal actives."""
    names = [dose.active.id for dose in catalog.doses]
    return names.index(names[index])
