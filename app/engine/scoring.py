"""The utility of a program in visible parts, each between nothing and its full weight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.engine.catalog import NO_DOSE
from app.engine.control import Band, Floats, Ints, expit
from app.engine.cost import dose_costs
from app.engine.doses import Dose
from app.engine.injury import injury_alone
from app.engine.screen import Programs
from app.engine.situation import Priorities
from app.engine.tables import Tables
from app.engine.understood import NOT_EMERGED, Understood
from knowledge.base import KnowledgeBase

PARTS = ("control", "turf_safety", "resistance", "cost", "passes", "off_target")
FULL_SCORE = 100.0


@dataclass(frozen=True)
class Scores:
    """Parts of the score, unweighted (0 to 1) and weighted.

    Attributes
    ----------
    unweighted : dict of str to array (programs,)
        Each part before its weight.
    weights : dict of str to float
        Weights, summing to 100.
    total : array (programs,)
        Sum of the weighted parts, 0 to 100.
    """

    unweighted: dict[str, Floats]
    weights: dict[str, float]
    total: Floats


def weights_of(priorities: Priorities) -> dict[str, float]:
    """The priorities scaled to sum to 100."""
    told = priorities.model_dump()
    whole = sum(told.values())
    return {part: FULL_SCORE * told[part] / whole for part in PARTS}


def dose_injury(base: KnowledgeBase, understood: Understood, doses: Sequence[Dose]) -> Floats:
    """Likely injury [percent] of each dose on each turf, as array (doses + 1, turfs).

    An injury recorded for the pair is used as it stands; otherwise the usual figure of its class.
    """
    site = understood.situation.site_use
    table = np.zeros((len(doses) + 1, len(understood.turf)))
    for t, turf in enumerate(understood.turf):
        for d, dose in enumerate(doses):
            table[d, t] = injury_alone(base, dose, turf, site)
    return table


def program_injury(injury: Floats, programs: Programs, partner: float, again: float) -> Floats:
    """Likely injury [percent] of each program on each turf.

    Parameters
    ----------
    injury : array (doses + 1, turfs)
        Injury of each dose by itself.
    partner : float
        Share of its own injury that each active beside the most injurious one of a tank adds.
    again : float
        Share of its own injury that a second application adds.
    """
    first, second = (_tank_injury(injury[tanks], partner) for tanks in (programs.first, programs.second))
    return np.clip(first + again * second, 0, 100)


def _tank_injury(injury: Floats, partner: float) -> Floats:
    worst = injury.max(axis=1)
    return np.asarray(worst + partner * (injury.sum(axis=1) - worst))


def off_target_risk(base: KnowledgeBase, understood: Understood, doses: Sequence[Dose]) -> Floats:
    """Risk of each dose to what stands around, 0 to 1: vapour, roots of trees, movement in soil."""
    situation = understood.situation
    heat = situation.forecast.max_temp_f
    # Where the air is not told, only the seasons in which esters are usual count as cool.
    cool = understood.season in base.shifts["ester-cool"].seasons
    warm = not cool if heat is None else heat >= base.parameter("warm-air-f")
    vapour_share = 1.0 if warm else base.parameter("cool-vapour-share")
    root_share = 1.0 if "tree-roots" in situation.surroundings else base.parameter("unseen-tree-share")
    risk = np.zeros(len(doses) + 1)
    for d, dose in enumerate(doses):
        found = [vapour_share * base.parameter(f"risk-{dose.form.volatility}")]
        if dose.active.soil is not None:
            found.append(root_share * base.parameter(f"risk-{dose.active.soil.tree_root_risk}"))
            found.append(base.parameter("mobility-share") * base.parameter(f"risk-{dose.active.soil.mobility}"))
        # Twice the usual rate is twice the vapour and twice the residue.
        share = dose.rate.base / dose.usual.usual.base if dose.usual is not None else 1.0
        risk[d] = min(max(found) * share, 1.0)
    return risk


def effective_groups(tables: Tables, programs: Programs, columns: Ints, enough: float) -> Ints:
    """How many mechanisms of a program are effective by themselves on each target.

    Parameters
    ----------
    columns : array (programs, targets)
        The column in which each target is judged.
    enough : float
        Control [percent] from which an active counts as effective.
    """
    count = np.zeros(columns.shape, dtype=np.int64)
    tanks = np.concatenate([programs.first, programs.second], axis=1)
    half = programs.first.shape[1]
    adjuvants = np.concatenate(
        [
            np.repeat(programs.first_adjuvant[:, None], half, axis=1),
            np.repeat(programs.second_adjuvant[:, None], half, axis=1),
        ],
        axis=1,
    )
    groups = np.where(tanks == NO_DOSE, np.iinfo(np.int64).min, tables.groups[tanks])
    for target in range(columns.shape[1]):
        mean = tables.mean["single"][adjuvants, tanks, columns[:, target : target + 1]]
        effective = (100 * expit(mean) >= enough) & (tanks != NO_DOSE)
        for i in range(tanks.shape[1]):
            earlier = (groups[:, :i] == groups[:, i : i + 1]) & effective[:, :i]
            count[:, target] += effective[:, i] & ~earlier.any(axis=1)
    return count


def score(
    base: KnowledgeBase,
    understood: Understood,
    doses: Sequence[Dose],
    tables: Tables,
    programs: Programs,
    band: Band,
    columns: Ints,
    injury: Floats,
) -> Scores:
    """Score every program; `band` and `columns` are those of the hardest stages.

    `injury` is the likely injury [percent] of each program on the turf that bears it worst.
    """
    get = base.parameter
    importance = np.asarray([target.priority for target in understood.targets])
    importance = importance / importance.sum()
    cautious = get("cautious-share")
    control = (cautious * band.low + (1 - cautious) * band.likely) / 100
    twice = programs.twice
    risk = off_target_risk(base, understood, doses)
    # A standard mixture is bought as one product, whatever it holds.
    # Where two applications are planned from the start, a program of one saves nothing: the second comes anyway.
    planned = any(target.weed.plan is not None and target.stage != NOT_EMERGED for target in understood.targets)
    again = np.ones_like(twice) if planned else twice
    sprayed = programs.products * (1 + again)
    unweighted = {
        "control": control @ importance,
        "turf_safety": 1 - np.clip(injury / get("injury-unacceptable"), 0, 1),
        "resistance": _resistance(base, understood, doses, tables, programs, columns) @ importance,
        "cost": _cost(doses, programs, 1 - np.clip((sprayed - 1) / get("cost-span"), 0, 1)),
        "passes": np.where(again, get("passes-second"), 1.0),
        "off_target": 1 - np.maximum(risk[programs.first].max(axis=1), risk[programs.second].max(axis=1)),
    }
    weights = weights_of(understood.situation.priorities)
    total = sum((weights[part] * unweighted[part] for part in PARTS), np.zeros(len(programs)))
    return Scores(unweighted, weights, np.asarray(total))


def _cost(doses: Sequence[Dose], programs: Programs, counted: Floats) -> Floats:
    """The cost part: the cheapest program's cost as a share of each one's.

    A program whose price is not known has nothing of it; where no price is known at all, `counted`,
    which counts the products sprayed, stands for the cost.
    """
    costs = dose_costs(doses)
    whole = costs[programs.first].sum(axis=1) + costs[programs.second].sum(axis=1)
    known = np.isfinite(whole) & (whole > 0)
    if not known.any():
        return counted
    return np.where(known, whole[known].min() / np.where(known, whole, 1.0), 0.0)


def _resistance(
    base: KnowledgeBase,
    understood: Understood,
    doses: Sequence[Dose],
    tables: Tables,
    programs: Programs,
    columns: Ints,
) -> Floats:
    get = base.parameter
    count = effective_groups(tables, programs, columns, get("effective-control"))
    credit = np.where(count >= 2, 1.0, np.where(count == 1, get("single-mechanism-credit"), 0.0))
    used = {base.actives[past.active].mechanism.group for past in understood.situation.applied_this_year}
    again = np.asarray([*(dose.active.mechanism.group in used for dose in doses), True], dtype=bool)
    repeated = again[programs.first].all(axis=1) & again[programs.second].all(axis=1)
    return np.asarray(credit * np.where(repeated, get("repeated-mechanism-credit"), 1.0)[:, None])
