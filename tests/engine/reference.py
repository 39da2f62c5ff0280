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
from app.engine.injury import injury_alone
from app.engine.record_shifts import Moment
from app.engine.responses import ControlFacts
from app.engine.rules import Finding, Question, ask
from app.engine.rules.limits import least_interval
from app.engine.screening import Screened
from app.engine.understood import Understood, UnderstoodTarget
from knowledge.base import KnowledgeBase, tolerance_for
from knowledge.models import Interaction

WAITING = "not-emerged"
ESCAPED = {"grass": "4-5-leaf", "sedge": "2-4-leaf", "broadleaf": "seedling", "lily": "seedling", "moss": "seedling"}
ADJUVANTS = ("none", "nis", "mso", "coc")
Part = tuple[float, float, str, float]


def sigmoid(x: float) -> float:
    """Share for a log-odds."""
    return 1 / (1 + math.exp(-x)) if x > -700 else 0.0


def _leaders(parts: Sequence[Part]) -> dict[str, int]:
    """For each mechanism the part that does most; the first of equals."""
    leaders: dict[str, int] = {}
    for i, (mean, _, group, _) in enumerate(parts):
        if group not in leaders or mean > parts[leaders[group]][0]:
            leaders[group] = i
    return leaders


def _log_survivors(parts: Sequence[Part], leaders: dict[str, int]) -> float:
    total = 0.0
    for group, leader in leaders.items():
        left = [1 - sigmoid(mean) for mean, _, own, _ in parts if own == group]
        rho = parts[leader][3]
        total += math.log(rho * (1 - sigmoid(parts[leader][0])) + (1 - rho) * math.prod(left))
    return total


@dataclass(frozen=True)
class Tank:
    """Logarithm of the survivors of one tank, and by how much each part's error moves it."""

    log_share: float
    spreads: tuple[float, ...]


def _tank(parts: Sequence[Part]) -> Tank:
    step, leaders = 1e-5, _leaders(parts)
    spreads = []
    for i, (mean, sd, group, rho) in enumerate(parts):
        up, down = (
            _log_survivors([*parts[:i], (mean + move, sd, group, rho), *parts[i + 1 :]], leaders)
            for move in (step, -step)
        )
        spreads.append((down - up) / (2 * step) * sd)
    return Tank(_log_survivors(parts, leaders), tuple(spreads))


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

    def _speaks(self, item: Interaction, dose: Dose, partner: Dose, target: UnderstoodTarget, stage: str) -> bool:
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
        share = 1 - math.exp(-math.log(2) * self.gap / self.base.parameter("half-emergence-days"))
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
        """The unweighted parts of the score that follow from what is sprayed on what."""
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
            "off_target": 1 - max(self._risk(dose) for dose in doses),
        }

    def _injury(self, sprays: Sequence[Spray]) -> float:
        get, site = self.base.parameter, self.understood.situation.site_use
        usual = {"T": "tolerant", "I": "intermediate", "S": "sensitive", "unknown": "unknown"}
        worst = 0.0
        for turf in self.understood.turf:
            whole = 0.0
            for number, spray in enumerate(sprays):
                each = []
                for dose in spray.doses:
                    record = tolerance_for(turf, dose.active.id, site)
                    kind = record.tolerance if record is not None else "unknown"
                    own = record.injury[1] if record is not None and record.injury is not None else None
                    percent = own if own is not None else get(f"injury-{usual[kind]}")
                    share = dose.rate.base / dose.usual.usual.base if dose.usual is not None else 1.0
                    each.append(min(100.0, percent * share))
                tank = max(each) + get("partner-injury") * (sum(each) - max(each))
                whole += tank * (get("second-application-injury") if number else 1)
            worst = max(worst, min(100.0, whole))
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
        share = dose.rate.base / dose.usual.usual.base if dose.usual is not None else 1.0
        return float(min(max(risks) * share, 1.0))

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


def stops(base: KnowledgeBase, understood: Understood, sprays: Sequence[Spray]) -> list[Finding]:
    """What stops a program: every rule asked of every dose and pair, each on its own day."""
    found: list[Finding] = []
    for number, spray in enumerate(sprays):
        for dose in spray.doses:
            repeats = sum(dose.active.id in {d.active.id for d in s.doses} for s in sprays[: number + 1])
            found += ask(Question(base, understood, dose), "dose")
            found += ask(Question(base, understood, dose, repeats=repeats, last_day=spray.day), "repeat")
            found += ask(Question(base, understood, dose, adjuvant=spray.adjuvant), "adjuvant")
            for partner in spray.doses:
                if partner is not dose:
                    found += ask(Question(base, understood, dose, partner=partner), "pair")
    return [finding for finding in found if finding.outcome == "stop"]


class Listing:
    """Every program that passes the rules, found one by one with loops.

    `floor` is the control [percent] that an active must give by itself on some target to be
    listed alone, `partner_floor` the one to be listed beside others.
    """

    def __init__(self, base: KnowledgeBase, understood: Understood, floor: float, partner_floor: float) -> None:
        self.base, self.understood = base, understood
        self.floor, self.partner_floor = floor, partner_floor
        self.facts = ControlFacts(base, understood)
        self.gap = round(base.parameter("second-interval"))
        self.options = understood.situation.options
        self.adjuvants = ADJUVANTS if self.options.adjuvants else ("none",)
        self.doses = list(single_doses(base, understood))

    def programs(self) -> Iterator[tuple[Spray, ...]]:
        """The programs, each as its applications."""
        singles = []
        for tank in self._tanks():
            for spray in self._sprays(tank):
                if stops(self.base, self.understood, (spray,)) or not self._bearable(spray):
                    continue
                yield (spray,)
                if len(tank) == 1:
                    singles.append(spray)
                waits = [least_interval(Question(self.base, self.understood, dose))[0] for dose in tank]
                twice = (spray, replace(spray, day=max(self.gap, *waits)))
                again = self.options.max_applications > 1 and self._bearable(*twice)
                if again and not stops(self.base, self.understood, twice):
                    yield twice
        if self.options.max_applications > 1:
            yield from self._before_and_after(singles)

    def _bearable(self, *sprays: Spray) -> bool:
        """Whether every turf stays acceptable: the worst dose in full, the others and a second spray in part."""
        known, site = self.base.parameters, self.understood.situation.site_use
        for turf in self.understood.turf:
            total = 0.0
            for number, spray in enumerate(sprays):
                alone = sorted((injury_alone(self.base, dose, turf, site) for dose in spray.doses), reverse=True)
                tank = alone[0] + known["partner-injury"].value * sum(alone[1:])
                total += tank * (known["second-application-injury"].value if number else 1)
            if min(total, 100) > known["injury-unacceptable"].value:
                return False
        return True

    def _sprays(self, tank: tuple[Dose, ...]) -> Iterator[Spray]:
        rules = [rule for dose in tank for rule in dose.active.adjuvants]
        for adjuvant in self.adjuvants:
            helped = any(r.id == adjuvant and r.use in ("required", "recommended") for r in rules)
            if adjuvant == "none" or helped:
                yield Spray(0, tank, adjuvant)

    def _tanks(self) -> list[tuple[Dose, ...]]:
        live = [d for d in self.doses if self._live(d) and self.activity(d) >= self.floor]
        alone = [d for d in live if d.active.mixture_only is None]
        best = {key: max(self.activity(d) for d in live if d.active.id == key) for key in {d.active.id for d in live}}
        sharing = [d for d in alone if best[d.active.id] >= self.partner_floor]
        found = {spray_key(Spray(0, (d,), "none")): (d,) for d in alone if d.level in ("alone", "high")}
        for size in range(2, self.options.max_products + 1):
            for tank in combinations(sharing, size):
                if self._fits(tank):
                    found.setdefault(spray_key(Spray(0, tank, "none")), tank)
        for _, parts in mixture_doses(self.base, self.understood):
            if not all(map(self._live, parts)) or max(map(self.activity, parts)) < self.floor:
                continue
            found.setdefault(spray_key(Spray(0, parts, "none")), parts)
            for dose in sharing if self.options.max_products > 1 else []:
                if self._fits((*parts, dose)):
                    found.setdefault(spray_key(Spray(0, (*parts, dose), "none")), (*parts, dose))
        return list(found.values())

    def _fits(self, tank: Sequence[Dose]) -> bool:
        """No active twice; a single at its partner rate beside its mechanism, else at its usual one."""
        if len({dose.active.id for dose in tank}) < len(tank):
            return False
        for dose in tank:
            if dose.level == "mixture":
                continue
            mate = any(d is not dose and d.active.mechanism.group == dose.active.mechanism.group for d in tank)
            own = (dose.active.id, dose.form.id, dose.timing)
            lower = any(d.level == "partner" and (d.active.id, d.form.id, d.timing) == own for d in self.doses)
            if dose.level != ("partner" if mate and lower else "alone"):
                return False
        return True

    def _live(self, dose: Dose) -> bool:
        question = Question(self.base, self.understood, dose)
        return not any(f.outcome == "stop" for f in (*ask(question, "dose"), *ask(question, "repeat")))

    def activity(self, dose: Dose) -> float:
        """Best likely control [percent] of a dose by itself on any target."""
        return max(
            100 * sigmoid(self.facts.cell(dose, target, moment, adjuvant).mean)
            for target in self.understood.targets
            for stage in target.stages
            for moment in (self._now(stage), *([self._escaped(target)] if stage == WAITING else []))
            for adjuvant in self.adjuvants
        )

    def _now(self, stage: str) -> Moment:
        days = self.base.parameter("horizon-not-emerged" if stage == WAITING else "horizon-emerged")
        return Moment(stage, self.understood.season, days)

    def _escaped(self, target: UnderstoodTarget) -> Moment:
        later = self.understood.season_after(self.gap, self.base)
        days = self.base.parameter("horizon-emerged")
        return Moment(ESCAPED[target.weed.life_form], later, days, weather_known=False)

    def _before_and_after(self, singles: Sequence[Spray]) -> Iterator[tuple[Spray, ...]]:
        waiting = [target for target in self.understood.targets if WAITING in target.stages]

        def best(spray: Spray, moments: Sequence[Moment]) -> float:
            dose = spray.doses[0]
            cells = [
                self.facts.cell(dose, target, moment, spray.adjuvant)
                for target, moment in zip(waiting, moments, strict=True)
            ]
            return max((100 * sigmoid(cell.mean) for cell in cells), default=0.0)

        before = [s for s in singles if best(s, [self._now(WAITING)] * len(waiting)) >= self.floor]
        after = [s for s in singles if best(s, [self._escaped(t) for t in waiting]) >= self.floor]
        for first in before:
            for second in after:
                if first.doses[0].active.id == second.doses[0].active.id:
                    continue
                wait = least_interval(Question(self.base, self.understood, second.doses[0]))[0]
                program = (first, replace(second, day=max(self.gap, wait)))
                if not stops(self.base, self.understood, program) and self._bearable(*program):
                    yield program
