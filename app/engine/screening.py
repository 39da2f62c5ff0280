"""Candidates of one situation: which doses pass, which programs they make, and how they score."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from app.engine.catalog import NO_DOSE, Tanks, active_bits
from app.engine.considered import Catalog, build_catalog, stops_in, tanks_considered
from app.engine.control import Band, Ints, expit
from app.engine.offers import adjuvants_offered, required_by, spread_dry
from app.engine.responses import ControlFacts
from app.engine.rules import Question, ask
from app.engine.rules.tank import interactions_between
from app.engine.scoring import Scores, dose_injury, program_injury, score
from app.engine.screen import Programs, hardest_stage, join, program_control
from app.engine.tables import Tables, Timing, build_tables, columns_of, moments, usual_timing
from app.engine.understood import NOT_EMERGED, Understood
from knowledge.base import KnowledgeBase

Bools = NDArray[np.bool_]
_PERCENT = 100


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
    programs, tables = _programs(base, understood, facts, catalog, timing, floor, only)
    return judged(base, understood, timing, facts, catalog, tables, programs)[0]


def judged(
    base: KnowledgeBase,
    understood: Understood,
    timing: Timing,
    facts: ControlFacts,
    catalog: Catalog,
    tables: Tables,
    programs: Programs,
) -> tuple[Screened, Ints]:
    """Programs that pass every stop, but for those that would injure the turf too much, with all their figures.

    Returns
    -------
    tuple
        The screened programs, and their places among those given.
    """
    get = base.parameter
    injury = program_injury(
        dose_injury(base, understood, catalog.doses), programs, get("partner-injury"), get("second-application-injury")
    ).max(axis=1)
    bearable = np.flatnonzero(injury <= get("injury-unacceptable"))
    too_much = float(injury.min()) if len(programs) and not len(bearable) else None
    programs = programs.take(bearable)
    whole = program_control(tables, programs, get("site-correlation"))
    band, columns = hardest_stage(tables, whole, len(understood.targets))
    scores = score(base, understood, catalog.doses, tables, programs, band, columns, injury[bearable])
    # Scores closer than a billionth are equal; then what the program is made of decides.
    keys = (*programs.second.T[::-1], *programs.first.T[::-1], programs.first_adjuvant, -np.round(scores.total, 9))
    order = np.lexsort(keys)
    count = len(programs)
    screened = Screened(
        base, understood, timing, facts, catalog, tables, programs, band, columns, scores, order, count, too_much
    )
    return screened, bearable


def _programs(
    base: KnowledgeBase,
    understood: Understood,
    facts: ControlFacts,
    catalog: Catalog,
    timing: Timing,
    floor: float,
    only: frozenset[str] | None,
) -> tuple[Programs, Tables]:
    options = understood.situation.options
    tanks = tanks_considered(base, understood, catalog, floor, only)
    adjuvants = adjuvants_offered(understood)
    useful, barred = adjuvant_masks(base, understood, catalog, adjuvants)
    apart = pair_stops(base, understood, catalog)
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
    return programs, build_tables(base, understood, facts, catalog.doses, adjuvants, timing, used(programs))


def used(programs: Programs) -> frozenset[int]:
    """Places of the doses that any program holds."""
    return frozenset(np.unique(np.concatenate([programs.first.ravel(), programs.second.ravel()])).tolist()) - {NO_DOSE}


def adjuvant_masks(
    base: KnowledgeBase, understood: Understood, catalog: Catalog, adjuvants: tuple[str, ...]
) -> tuple[Bools, Bools]:
    """Which adjuvants help each dose, and which are barred with it; arrays (adjuvants, doses + 1)."""
    shape = (len(adjuvants), len(catalog.doses) + 1)
    useful, barred = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    for a, adjuvant in enumerate(adjuvants):
        for d, dose in enumerate(catalog.doses):
            barred[a, d] = bool(stops_in(ask(Question(base, understood, dose, adjuvant), "adjuvant")))
            barred[a, d] |= spread_dry(dose) and adjuvant != "none"
            useful[a, d] = any(r.id == adjuvant and r.use in ("required", "recommended") for r in dose.active.adjuvants)
            useful[a, d] |= adjuvant in required_by(dose)
    return useful, barred


def pair_stops(base: KnowledgeBase, understood: Understood, catalog: Catalog) -> Bools:
    """Which doses may not share a tank, as array (doses + 1, doses + 1)."""
    count = len(catalog.doses) + 1
    apart = np.zeros((count, count), dtype=bool)
    places: dict[str, list[int]] = {}
    for place, dose in enumerate(catalog.doses):
        places.setdefault(dose.active.id, []).append(place)
    for first_active, second_active in combinations(sorted(places), 2):
        if not interactions_between(base, first_active, second_active):
            continue
        for i, j in product(places[first_active], places[second_active]):
            first, second = (catalog.doses[max(i, j)], catalog.doses[min(i, j)])
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
    # A single active, or one product of whatever it holds; a standard mixture is no preemergence choice.
    whole = once.products == 1 if understood.products is not None else (once.first != NO_DOSE).sum(axis=1) == 1
    alone = once.take(whole)
    waiting = [c for c in columns_of(understood) if c.stage == NOT_EMERGED]
    before, after = np.zeros(len(alone), dtype=bool), np.zeros(len(alone), dtype=bool)
    adjuvants = adjuvants_offered(understood)
    for place in range(len(alone)):
        doses = [int(d) for d in alone.first[place] if d != NO_DOSE]
        adjuvant = adjuvants[int(alone.first_adjuvant[place])]
        for dose in (catalog.doses[d] for d in doses):
            for column in waiting:
                asked = moments(column, understood, base, timing)
                pre = _PERCENT * float(expit(facts.cell(dose, column.target, asked["single"], adjuvant).mean))
                post = _PERCENT * float(expit(facts.cell(dose, column.target, asked["escape"], adjuvant).mean))
                before[place] |= pre >= floor
                after[place] |= post >= floor
        after[place] &= not any(stops_in(catalog.later[d]) for d in doses)
    pre_at, post_at = np.flatnonzero(before), np.flatnonzero(after)
    i, j = (grid.ravel() for grid in np.meshgrid(pre_at, post_at, indexing="ij"))
    held = active_bits(catalog.doses, alone.first)
    differ = ~(held[i] & held[j]).any(axis=-1)
    i, j = i[differ], j[differ]
    return Programs(
        alone.first[i],
        alone.first[j],
        alone.first_adjuvant[i],
        alone.first_adjuvant[j],
        np.ones(len(i), dtype=np.int64),
    )
