"""A slow reckoning, written apart from the engine: one program at a time, in plain numbers.

It takes single responses from the engine (`ControlFacts.cell`, tested by itself) and works out
mixtures, sequences, bands, scores and the list of candidates with loops alone. Derivatives are
differences, not formulas.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from app.engine.describe import Spray
from app.engine.doses import Dose, mixture_doses, single_doses
from app.engine.responses import ControlFacts, Moment
from app.engine.rules import Question, ask
from app.engine.rules.limits import least_interval
from app.engine.screening import Screened
from app.engine.understood import Understood, UnderstoodTarget
from knowledge.base import KnowledgeBase, tolerance_for

WAITING = "not-emerged"
ESCAPED = {"grass": "4-5-leaf", "sedge": "2-4-leaf", "broadleaf": "seedling", "lily": "seedling", "moss": "seedling"}
ADJUVANTS = ("none", "nis", "mso", "coc")
Part = tuple[float, float, str, float]


def sigmoid(x: float) -> float:
    """Share for a log-odds."""
    return 1 / (1 + math.exp(-x)) if x > -700 else 0.0


def _log_survivors(parts: Sequence[Part]) -> float:
    by_group: dict[str, list[tuple[float, float]]] = {}
    for mean, _, group, rho in parts:
        by_group.setdefault(group, []).append((1 - sigmoid(mean), rho))
    total = 0.0
    for alone in by_group.values():
        left = [share for share, _ in alone]
        rho = alone[0][1]
        total += math.log(rho * min(left) + (1 - rho) * math.prod(left))
    return total


@dataclass(frozen=True)
class Tank:
    """Logarithm of the survivors of one tank, and by how much each part's error moves it."""

    log_share: float
    spreads: tuple[float, ...]


def _tank(parts: Sequence[Part]) -> Tank:
    step = 1e-5
    spreads = []
    for i, (mean, sd, group, rho) in enumerate(parts):
        moved = [
            _log_survivors([*parts[:i], (mean + sign * step, sd, group, rho), *parts[i + 1 :]]) for sign in (1, -1)
        ]
        spreads.append((moved[1] - moved[0]) / (2 * step) * sd)
    return Tank(_log_survivors(parts), tuple(spreads))


class Reckoning:
    """Bands and scores of single programs in one screened situation."""

    def __init__(self, screened: Screened) -> None:
        self.screened = screened
        self.base: KnowledgeBase = screened.base
        self.understood: Understood = screened.understood
        self.facts = ControlFacts(self.base, self.understood)
        self.gap = self.base.parameter("second-interval")

    def _days(self, stage: str) -> float:
        return self.base.parameter("horizon-not-emerged" if stage == WAITING else "horizon-emerged")

    def _parts(
        self,
        target: UnderstoodTarget,
        column_stage: str,
        spray: Spray,
        moment: Moment,
        after: Spray | None = None,
    ) -> list[Part]:
        parts = []
        own = {item.group: item.rho for item in target.weed.mixture_rho}
        for dose in spray.doses:
            cell = self.facts.cell(dose, target, moment, spray.adjuvant)
            mean, sd = cell.mean, cell.sd
            if after is not None:
                mean, sd = self._second(dose, target, moment, spray.adjuvant, mean, sd)
            variance = sd**2
            for partner in spray.doses:
                for item in self.base.interactions.values():
                    if self._speaks(item, dose, partner, target, column_stage):
                        mean += item.shift
                        variance += item.sd**2
            group = dose.active.mechanism.group
            name = group if int(group) else f"unknown {dose.active.id}"
            parts.append((mean, math.sqrt(variance), name, own.get(group, self.base.parameter("rho-default"))))
        return parts

    def _speaks(self, item, dose, partner, target, stage) -> bool:  # type: ignore[no-untyped-def]
        named = bool(item.weeds or item.life_forms)
        turfs = {name for t in self.understood.turf for name in (t.id, t.rate_class, t.season, "all")}
        return (
            bool(item.shift)
            and dose.active.id in item.actives
            and partner.active.id in item.partners
            and (not named or target.weed.id in item.weeds or target.weed.life_form in item.life_forms)
            and (not item.stages or stage in item.stages)
            and (not item.turf or bool(turfs & set(item.turf)))
        )

    def _second(
        self, dose: Dose, target: UnderstoodTarget, moment: Moment, adjuvant: str, mean: float, sd: float
    ) -> tuple[float, float]:
        """A record of the whole sequence replaces the reckoning of the second application."""
        asked = Moment(moment.stage, self.understood.season, moment.days, weather_known=False)
        whole = self.facts.cell(dose, target, asked, adjuvant, applications=2)
        if whole.response is None or moment.stage == WAITING:
            return mean, sd
        first = self.facts.cell(dose, target, Moment(moment.stage, self.understood.season, self.gap), adjuvant)
        left = min(1.0, (1 - sigmoid(first.mean)) * self._regrowth(target))
        share = (1 - sigmoid(whole.mean)) / left if left > 0 else 1.0
        return (-30.0 if share >= 1 else math.log((1 - share) / share)), whole.sd

    def _regrowth(self, target: UnderstoodTarget) -> float:
        known = self.base.parameters
        rates = [known[f"regrowth-{o}"].value for o in target.weed.organs if f"regrowth-{o}" in known]
        return 1 + max(rates, default=0.0) * self.gap / 28

    def column_band(self, sprays: Sequence[Spray], target: UnderstoodTarget, stage: str) -> tuple[float, float, float]:
        """Low, likely and high control [percent] at one stage."""
        now = self.understood.season
        later = self.understood.season_after(round(self.gap), self.base)
        days = self._days(stage)
        if len(sprays) == 1:
            tank = _tank(self._parts(target, stage, sprays[0], Moment(stage, now, days)))
            return self._banded([(1.0, tank.log_share, tank.spreads)])
        first = _tank(self._parts(target, stage, sprays[0], Moment(stage, now, self.gap)))
        again = Moment(stage, later, days, weather_known=False, survivors=stage != WAITING)
        second = _tank(self._parts(target, stage, sprays[1], again, after=sprays[0]))
        if stage != WAITING:
            grown = min(0.0, first.log_share + math.log(self._regrowth(target)))
            return self._banded([(1.0, grown + second.log_share, (*first.spreads, *second.spreads))])
        escaped = Moment(ESCAPED[target.weed.life_form], later, self._days("any"), weather_known=False)
        escapes = _tank(self._parts(target, stage, sprays[1], escaped))
        last = _tank(self._parts(target, stage, sprays[0], Moment(stage, now, self.gap + days)))
        share = self.base.parameter("share-emerged-between")
        return self._banded(
            [
                (share, first.log_share + escapes.log_share, (*first.spreads, *escapes.spreads)),
                (1 - share, last.log_share + second.log_share, (*last.spreads, *second.spreads)),
            ]
        )

    def _banded(self, branches: Sequence[tuple[float, float, tuple[float, ...]]]) -> tuple[float, float, float]:
        surviving = min(max(sum(share * math.exp(log) for share, log, _ in branches), 1e-12), 1 - 1e-12)
        scale = surviving * (1 - surviving)
        moves = [share * math.exp(log) * spread / scale for share, log, spreads in branches for spread in spreads]
        linear = sum(share * math.exp(log) * sum(spreads) / scale for share, log, spreads in branches)
        correlation = self.base.parameter("site-correlation")
        sd = math.sqrt((1 - correlation) * sum(m**2 for m in moves) + correlation * linear**2)
        centre = math.log((1 - surviving) / surviving)
        low, likely, high = (100 * sigmoid(centre + step * 1.2815515655446004 * sd) for step in (-1, 0, 1))
        return low, likely, high

    def band(self, sprays: Sequence[Spray], target: UnderstoodTarget) -> tuple[str, tuple[float, float, float]]:
        """The band at the hardest plausible stage, and that stage."""
        found = [(stage, self.column_band(sprays, target, stage)) for stage in target.stages]
        return min(found, key=lambda item: item[1][1])

    def parts(self, sprays: Sequence[Spray]) -> dict[str, float]:
        """The unweighted parts of the score."""
        get, targets = self.base.parameter, self.understood.targets
        bands = [self.band(sprays, target) for target in targets]
        whole = sum(target.priority for target in targets)
        shares = [target.priority / whole for target in targets]
        cautious = get("cautious-share")
        doses = [dose for spray in sprays for dose in spray.doses]
        control = sum(s * (cautious * b[0] + (1 - cautious) * b[1]) for s, (_, b) in zip(shares, bands, strict=True))
        resistance = sum(
            s * self._credit(sprays, target, stage)
            for s, target, (stage, _) in zip(shares, targets, bands, strict=True)
        )
        return {
            "control": control / 100,
            "turf_safety": 1 - min(1.0, self._injury(sprays) / get("injury-unacceptable")),
            "resistance": resistance,
            "cost": 1 - min(1.0, (len(doses) - 1) / get("cost-span")),
            "passes": 1.0 if len(sprays) == 1 else get("passes-second"),
            "off_target": 1 - max(self._risk(dose) for dose in doses),
        }

    def _injury(self, sprays: Sequence[Spray]) -> float:
        get, site = self.base.parameter, self.understood.situation.site_use
        usual = {"T": "tolerant", "I": "intermediate", "S": "sensitive", "unknown": "unknown"}
        worst = 0.0
        for turf in self.understood.turf:
            unhurt = 1.0
            for number, spray in enumerate(sprays):
                for dose in spray.doses:
                    record = tolerance_for(turf, dose.active.id, site)
                    kind = record.tolerance if record is not None else "unknown"
                    own = record.injury[1] if record is not None and record.injury is not None else None
                    percent = own if own is not None else get(f"injury-{usual[kind]}")
                    unhurt *= 1 - (get("second-application-injury") if number else 1) * percent / 100
            worst = max(worst, 100 * (1 - unhurt))
        return worst

    def _risk(self, dose: Dose) -> float:
        get, situation = self.base.parameter, self.understood.situation
        heat = situation.forecast.max_temp_f
        if heat is None:
            warm = self.understood.season not in self.base.shifts["ester-cool"].seasons
        else:
            warm = heat >= get("warm-air-f")
        risks = [(1.0 if warm else get("cool-vapour-share")) * get(f"risk-{dose.form.volatility}")]
        soil = dose.active.soil
        if soil is not None:
            near = "tree-roots" in situation.surroundings
            risks.append((1.0 if near else get("unseen-tree-share")) * get(f"risk-{soil.tree_root_risk}"))
            risks.append(get("mobility-share") * get(f"risk-{soil.mobility}"))
        return max(risks)

    def _credit(self, sprays: Sequence[Spray], target: UnderstoodTarget, stage: str) -> float:
        get = self.base.parameter
        moment = Moment(stage, self.understood.season, self._days(stage))
        effective = set()
        for spray in sprays:
            for dose in spray.doses:
                likely = 100 * sigmoid(self.facts.cell(dose, target, moment, spray.adjuvant).mean)
                if likely >= get("effective-control"):
                    group = dose.active.mechanism.group
                    effective.add(group if int(group) else f"unknown {dose.active.id}")
        credit = 1.0 if len(effective) >= 2 else get("single-mechanism-credit") if effective else 0.0
        past = {self.base.actives[p.active].mechanism.group for p in self.understood.situation.applied_this_year}
        sprayed = {dose.active.mechanism.group for spray in sprays for dose in spray.doses}
        return credit * (get("repeated-mechanism-credit") if sprayed <= past else 1.0)


Key = tuple[object, ...]


def spray_key(spray: Spray) -> Key:
    """What makes two applications the same."""
    return (spray.adjuvant, frozenset((d.active.id, d.form.id, d.timing, d.level, str(d.rate)) for d in spray.doses))


def program_key(sprays: Sequence[Spray]) -> Key:
    """What makes two programs the same."""
    return tuple(spray_key(spray) for spray in sprays)


def _stopped(base: KnowledgeBase, understood: Understood, sprays: Sequence[Spray]) -> bool:
    """Whether any rule stops a program, asked of every dose and pair on its own day."""
    for number, spray in enumerate(sprays):
        for dose in spray.doses:
            repeats = sum(dose.active.id in {d.active.id for d in s.doses} for s in sprays[: number + 1])
            asked = [
                (Question(base, understood, dose), "dose"),
                (Question(base, understood, dose, repeats=repeats, last_day=spray.day), "repeat"),
                (Question(base, understood, dose, adjuvant=spray.adjuvant), "adjuvant"),
                *((Question(base, understood, dose, partner=p), "pair") for p in spray.doses if p is not dose),
            ]
            if any(f.outcome == "stop" for question, scope in asked for f in ask(question, scope)):  # type: ignore[arg-type]
                return True
    return False


def candidates(base: KnowledgeBase, understood: Understood) -> Iterator[tuple[Spray, ...]]:
    """Every program that the rules let pass, found one by one."""
    options = understood.situation.options
    adjuvants = ADJUVANTS if options.adjuvants else ("none",)
    gap = round(base.parameter("second-interval"))
    facts = ControlFacts(base, understood)
    tanks = _tanks(base, understood, facts, options.max_products)
    singles = []
    for tank in tanks:
        for adjuvant in adjuvants:
            helped = any(
                rule.id == adjuvant and rule.use in ("required", "recommended")
                for dose in tank
                for rule in dose.active.adjuvants
            )
            if adjuvant != "none" and not helped:
                continue
            once = (Spray(0, tank, adjuvant),)
            if _stopped(base, understood, once):
                continue
            yield once
            if len(tank) == 1:
                singles.append(once[0])
            wait = max([gap, *(least_interval(Question(base, understood, dose))[0] for dose in tank)])
            twice = (once[0], replace(once[0], day=wait))
            if options.max_applications > 1 and not _stopped(base, understood, twice):
                yield twice
    if options.max_applications > 1:
        yield from _before_and_after(base, understood, facts, singles, gap)


def _tanks(base: KnowledgeBase, understood: Understood, facts: ControlFacts, most: int) -> list[tuple[Dose, ...]]:
    floor = base.parameter("activity-floor")
    doses = list(single_doses(base, understood))
    strong = [d for d in doses if activity(base, understood, facts, d) >= floor]
    live = [d for d in strong if not _dose_stopped(base, understood, d)]
    partners = _partners(base, understood, facts, [d for d in doses if not _dose_stopped(base, understood, d)])
    found: dict[Key, tuple[Dose, ...]] = {}

    def keep(tank: Sequence[Dose]) -> None:
        found.setdefault(spray_key(Spray(0, tuple(tank), "none")), tuple(tank))

    for dose in live:
        if dose.level in ("alone", "high"):
            keep([dose])
    sharing = [d for d in live if d.active.id in partners]
    for size in range(2, most + 1):
        for tank in combinations(sharing, size):
            if _fits(doses, tank):
                keep(tank)
    for _, parts in mixture_doses(base, understood):
        if any(_dose_stopped(base, understood, d) for d in parts):
            continue
        if max(activity(base, understood, facts, d) for d in parts) < floor:
            continue
        keep(parts)
        for dose in sharing if most > 1 else []:
            if _fits(doses, (*parts, dose)):
                keep((*parts, dose))
    return list(found.values())


def _fits(doses: Sequence[Dose], tank: Sequence[Dose]) -> bool:
    """No active twice; each single at its partner rate beside its mechanism, else at its usual one."""
    if len({dose.active.id for dose in tank}) < len(tank):
        return False
    for dose in tank:
        if dose.level == "mixture":
            continue
        mate = any(d is not dose and d.active.mechanism.group == dose.active.mechanism.group for d in tank)
        lower = any(
            d.level == "partner" and (d.active.id, d.form.id, d.timing) == (dose.active.id, dose.form.id, dose.timing)
            for d in doses
        )
        if dose.level != ("partner" if mate and lower else "alone"):
            return False
    return True


def _dose_stopped(base: KnowledgeBase, understood: Understood, dose: Dose) -> bool:
    question = Question(base, understood, dose)
    return any(f.outcome == "stop" for scope in ("dose", "repeat") for f in ask(question, scope))  # type: ignore[arg-type]


def _partners(base: KnowledgeBase, understood: Understood, facts: ControlFacts, live: Sequence[Dose]) -> set[str]:
    best: dict[str, float] = {}
    for dose in (*live, *(d for _, parts in mixture_doses(base, understood) for d in parts)):
        if not _dose_stopped(base, understood, dose):
            best[dose.active.id] = max(best.get(dose.active.id, 0.0), activity(base, understood, facts, dose))
    top = sorted(best.values(), reverse=True)
    floor = min([base.parameter("partner-floor"), *top[1:2]])
    return {key for key, value in best.items() if value >= floor}


def activity(base: KnowledgeBase, understood: Understood, facts: ControlFacts, dose: Dose) -> float:
    """Best likely control [percent] of a dose by itself on any target."""
    best = 0.0
    later = understood.season_after(round(base.parameter("second-interval")), base)
    adjuvants = ADJUVANTS if understood.situation.options.adjuvants else ("none",)
    for target in understood.targets:
        for stage in target.stages:
            days = base.parameter("horizon-not-emerged" if stage == WAITING else "horizon-emerged")
            asked = [Moment(stage, understood.season, days)]
            if stage == WAITING:
                escaped = ESCAPED[target.weed.life_form]
                asked.append(Moment(escaped, later, base.parameter("horizon-emerged"), weather_known=False))
            for moment in asked:
                for adjuvant in adjuvants:
                    best = max(best, 100 * sigmoid(facts.cell(dose, target, moment, adjuvant).mean))
    return best


def _before_and_after(
    base: KnowledgeBase, understood: Understood, facts: ControlFacts, singles: Sequence[Spray], gap: int
) -> Iterator[tuple[Spray, ...]]:
    floor = base.parameter("activity-floor")
    later = understood.season_after(gap, base)
    for first in singles:
        for second in singles:
            before, after = first.doses[0], second.doses[0]
            if before.active.id == after.active.id:
                continue
            pre = post = 0.0
            for target in understood.targets:
                if WAITING not in target.stages:
                    continue
                days = base.parameter("horizon-not-emerged")
                at_first = Moment(WAITING, understood.season, days)
                escaped = Moment(
                    ESCAPED[target.weed.life_form], later, base.parameter("horizon-emerged"), weather_known=False
                )
                pre = max(pre, 100 * sigmoid(facts.cell(before, target, at_first, first.adjuvant).mean))
                post = max(post, 100 * sigmoid(facts.cell(after, target, escaped, second.adjuvant).mean))
            if pre < floor or post < floor:
                continue
            wait = max(gap, least_interval(Question(base, understood, after))[0])
            program = (first, replace(second, day=wait))
            if not _stopped(base, understood, program):
                yield program
