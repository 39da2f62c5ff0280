"""What parts of a tank do to the plants of a weed on a day of the year."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date as Date

import numpy as np

from app.engine.considered import stops_in
from app.engine.doses import Dose
from app.engine.offers import spread_dry
from app.engine.record_shifts import Moment
from app.engine.rules import Question, ask
from app.engine.rules.tank import interactions_between
from app.engine.understood import NOT_EMERGED, UnderstoodTarget
from app.season.course import day_of
from app.season.year_candidates import NO_ADJUVANT, DayHere, Effect, Part, Place, YearMemo, group_of
from app.season.year_cohorts import Unit, is_wasted
from knowledge.base import KnowledgeBase, applies_to_turf
from knowledge.models import Weed


def effects(
    base: KnowledgeBase, place: Place, here: DayHere, weed: Weed, resistant_to: tuple[str, ...], units: Sequence[Unit],
    memo: YearMemo,
) -> Effect:  # fmt: skip
    """What every part of a day does to the units of a weed."""
    day, shared = here.understood.situation.date, place.shared
    key = (shared.key, day, weed.id, resistant_to, tuple(unit.key for unit in units))
    if key not in memo.effects:
        whole = memo.days[shared.key, day]
        memo.effects[key] = effect_of(base, whole, whole.parts, weed, resistant_to, units)
    found = memo.effects[key]
    if here.rows is None:
        return found
    rows = list(here.rows)
    return Effect(found.size[rows], found.spread[rows], found.squares[rows])


def effect_of(
    base: KnowledgeBase,
    here: DayHere,
    parts: Sequence[Part],
    weed: Weed,
    resistant_to: tuple[str, ...],
    units: Sequence[Unit],
) -> Effect:
    """What these parts do on the day to the units of a weed."""
    most = max((len(part.groups) for part in parts), default=1)
    size = np.zeros((len(parts), len(units), most))
    spread, squares = np.zeros(size.shape[:2]), np.zeros(size.shape[:2])
    known = frozenset(response.active for response in weed.responses)
    for u, unit in enumerate(units):
        moments = _moments(base, here, unit)
        if not moments:
            continue
        for p, part in enumerate(parts):
            if known.isdisjoint(part.actives):
                continue
            told = (_part(base, here, part, weed, resistant_to, moment, known) for moment in moments)
            found = min(told, key=_killed)
            for g, (taken, sensitive) in enumerate(found):
                size[p, u, g] = taken
                spread[p, u] += sensitive
                squares[p, u] += sensitive**2
    return Effect(size, spread, squares)


def _killed(found: Sequence[tuple[float, float]]) -> float:
    return sum(taken for taken, _ in found)


def _moments(base: KnowledgeBase, here: DayHere, unit: Unit) -> list[Moment]:
    """The moments at which a spray of the day may meet a unit; empty where it does nothing that counts."""
    day, zone = here.understood.situation.date, unit.zone
    left = (unit.judged - day).days
    if left < base.parameter("year-first-days"):
        return []
    found = []
    for stage in unit.stages_on(day):
        if stage == NOT_EMERGED:
            if _too_early_or_late(base, unit, day):
                return []
            if not unit.steps and unit.weed.life_cycle == "perennial":
                # A stand whose tops are down: what holds the soil meets its shoots for as long as a season does.
                days = base.parameter("horizon-not-emerged")
            else:
                days = max((unit.soil_until - day).days, 1)
            wasted = is_wasted(unit.weed, zone, "preemergence", day)
        else:
            days = _regrown(base, unit, day, here.understood.situation.zone)
            wasted = is_wasted(unit.weed, zone, "postemergence", day)
        if not wasted:
            found.append(Moment(stage, here.understood.season, float(days)))
        elif unit.steps:
            return []
    return found


def _too_early_or_late(base: KnowledgeBase, unit: Unit, day: Date) -> bool:
    """Whether a spray of the soil on a day lies long before the best window, or too near to emergence to be watered in.

    One year runs before or behind another, and rain has to carry the active into the soil first.
    """
    first = unit.emerges
    if first is None:
        return False
    if (first - day).days < base.parameter("year-ahead-days"):
        return True
    opens = [
        start
        for window in unit.weed.windows
        if window.kind == "best" and window.purpose == "preemergence" and unit.zone in window.zones
        for year in (first.year - 1, first.year)
        if (start := day_of(year, window.start)) <= first
    ]
    return bool(opens) and (max(opens) - day).days > base.parameter("year-early-days")


def _off_window(base: KnowledgeBase, weed: Weed, zone: str, stage: str, day: Date) -> float:
    """Shift on the log-odds where a day lies in none of the windows in which spraying this weed pays most."""
    purpose = "preemergence" if stage == NOT_EMERGED else "postemergence"
    best = [w for w in weed.windows if w.kind == "best" and w.purpose == purpose and zone in w.zones]
    key = f"{day.month:02d}-{day.day:02d}"
    if not best or any(window.holds(key) for window in best):
        return 0.0
    return base.parameter("year-off-window")


def _regrown(base: KnowledgeBase, unit: Unit, day: Date, zone: str) -> float:
    """Days after which control is judged: what survives regrows until growth ends in autumn, and no longer."""
    span = next(s for s in base.zones[zone].seasons if s.season == "late-autumn")
    ends = min(unit.judged, day_of(unit.judged.year, span.start))
    seen = min((unit.judged - day).days, base.parameter("horizon-emerged"))
    return float(min(max(seen, (ends - day).days), base.parameter("year-regrowth-days")))


def _part(
    base: KnowledgeBase,
    here: DayHere,
    part: Part,
    weed: Weed,
    resistant_to: tuple[str, ...],
    moment: Moment,
    known: frozenset[str],
) -> list[tuple[float, float]]:
    """By mechanism of a part: what it takes off the log of survivors, and its sensitivity times its spread."""
    target = UnderstoodTarget(_index(weed, resistant_to), weed, (moment.stage,), False, 1.0, resistant_to)
    unsure = base.parameter("unknown-weather-sd")
    situation = here.understood.situation
    off = _off_window(base, weed, situation.zone, moment.stage, situation.date)
    found = []
    for group in part.groups:
        log_shares, spreads = [], []
        for dose in part.doses:
            if group_of(base, dose.active) != group or dose.active.id not in known:
                continue
            cell = here.facts.cell(dose, target, moment, part.adjuvant)
            if cell.response is None:
                continue
            shift, more = _shift(base, here, part, dose, weed, moment.stage)
            # log(1 - expit(m)) without loss at either end.
            mean = cell.mean + shift + off
            log_share = -(max(mean, 0.0) + math.log1p(math.exp(-abs(mean))))
            log_shares.append(log_share)
            spreads.append(-math.expm1(log_share) * math.sqrt(cell.sd**2 + more**2 + unsure**2))
        found.append(_mixed(base, weed, part, group, log_shares, spreads))
    return found


def _mixed(
    base: KnowledgeBase, weed: Weed, part: Part, group: str, log_shares: list[float], spreads: list[float]
) -> tuple[float, float]:
    """Actives of one mechanism together, as `engine.control.mix` has them."""
    if not log_shares:
        return 0.0, 0.0
    if len(log_shares) == 1:
        return -log_shares[0], spreads[0]
    number = next(d.active.mechanism.group for d in part.doses if group_of(base, d.active) == group)
    rho = next((item.rho for item in weed.mixture_rho if item.group == number), base.parameter("rho-default"))
    best, product = math.exp(min(log_shares)), math.exp(sum(log_shares))
    survivors = rho * best + (1 - rho) * product
    leader = log_shares.index(min(log_shares))
    sensitive = sum(
        (rho * best * (place == leader) + (1 - rho) * product) / survivors * spread
        for place, spread in enumerate(spreads)
    )
    return max(0.0, -math.log(survivors)), sensitive


def _index(weed: Weed, resistant_to: tuple[str, ...]) -> int:
    # Cells are remembered by the index of their target: one for every weed and what it resists.
    return hash((weed.id, resistant_to))


def _shift(base: KnowledgeBase, here: DayHere, part: Part, dose: Dose, weed: Weed, stage: str) -> tuple[float, float]:
    """What the partners inside one part shift a dose by, and how unsure that is."""
    size = spread = 0.0
    for other in part.doses:
        if other is dose:
            continue
        for item in interactions_between(base, dose.active.id, other.active.id):
            if dose.active.id not in item.actives or not item.shift:
                continue
            named = bool(item.weeds or item.life_forms)
            if (
                (not named or weed.id in item.weeds or weed.life_form in item.life_forms)
                and (not item.stages or stage in item.stages)
                and (not item.turf or any(applies_to_turf(item.turf, t) >= 0 for t in here.understood.turf))
            ):
                size += item.shift
                spread = max(spread, item.sd)
    return size, spread


def apart(base: KnowledgeBase, here: DayHere, first: Part, second: Part) -> bool:
    """Whether two parts may not share a tank here: an active or a mechanism twice, adjuvants, partners, injury."""
    if set(first.groups) & set(second.groups) or set(first.actives) & set(second.actives):
        return True
    dry = [all(map(spread_dry, part.doses)) for part in (first, second)]
    if any(dry):
        return False
    if first.adjuvant != second.adjuvant and NO_ADJUVANT not in (first.adjuvant, second.adjuvant):
        return True
    understood = here.understood
    shared = first.adjuvant if first.adjuvant != NO_ADJUVANT else second.adjuvant
    if shared != NO_ADJUVANT:
        for dose in (*first.doses, *second.doses):
            if stops_in(ask(Question(base, understood, dose, shared), "adjuvant")):
                return True
    for one in first.doses:
        for other in second.doses:
            for item in interactions_between(base, one.active.id, other.active.id):
                if item.outcome == "stop" or item.shift < 0:
                    return True
    ceiling = base.parameter("injury-unacceptable")
    return any(
        max(a, b) + base.parameter("partner-injury") * min(a, b) > ceiling
        for a, b in zip(first.injury, second.injury, strict=True)
    )
