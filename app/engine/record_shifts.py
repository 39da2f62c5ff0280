"""What lies between a record and the conditions asked for: rate, days, adjuvant and season, on the log-odds."""

from __future__ import annotations

import math
from dataclasses import dataclass

from app.engine.control import Z90, exposed_days, rate_shift
from app.engine.doses import Dose
from app.engine.understood import NOT_EMERGED
from knowledge.base import KnowledgeBase
from knowledge.models import Active, AdjuvantRule, Citation, Response, ShiftFact, Weed
from knowledge.models.common import Season


@dataclass(frozen=True)
class Moment:
    """When and on what a dose is judged.

    Attributes
    ----------
    stage : str
        Stage of the weed when it is sprayed.
    season : str, optional
        Season when it is sprayed; None where it is not known.
    days : float
        Days after this application at which control is judged.
    weather_known : bool
        Whether the forecast speaks of this application (it does of the first alone).
    survivors : bool
        Whether the weed has already survived one application.
    """

    stage: str
    season: Season | None
    days: float
    weather_known: bool = True
    survivors: bool = False


@dataclass(frozen=True)
class Shift:
    """One shift that was applied: its size on the log-odds, in words, with its sources."""

    code: str
    text: str
    size: float
    sources: tuple[Citation, ...]


def adjuvant_rule(active: Active, adjuvant: str, stage: str, life_form: str) -> AdjuvantRule | None:
    """What an adjuvant does to this active at this stage; a record for the stage wins."""
    fit = [
        rule
        for rule in active.adjuvants
        if rule.id == adjuvant
        and (not rule.stages or stage in rule.stages)
        and (not rule.life_forms or life_form in rule.life_forms)
    ]
    return max(fit, key=lambda rule: (bool(rule.stages), bool(rule.life_forms)), default=None)


class RecordShifts:
    """Shifts from records to other conditions, from the knowledge base.

    Each is a size, its spread (both on the log-odds), and what is told of it, None where nothing is.
    """

    def __init__(self, base: KnowledgeBase) -> None:
        self.base = base

    def of(
        self, dose: Dose, weed: Weed, response: Response, moment: Moment, adjuvant: str
    ) -> list[tuple[float, float, Shift | None]]:
        """Every shift between a record and one dose at one moment under one adjuvant; weather is not in it."""
        shifts = [self._rate(dose, response), self._time(dose.active, weed, response, moment)]
        shifts += self.adjuvant(dose, weed, response, moment, adjuvant)
        return shifts + self._season(dose, weed, response, moment)

    def _slope(self, active: Active) -> float:
        return active.slope.likely if active.slope is not None else self.base.parameter("slope-default")

    def _rate(self, dose: Dose, response: Response) -> tuple[float, float, Shift | None]:
        size = rate_shift(dose.rate.base, response.rate.base, self._slope(dose.active))
        if not size:
            return 0.0, 0.0, None
        sources = dose.active.slope.sources if dose.active.slope else self.base.parameters["slope-default"].sources
        text = f"rate {dose.rate} against {response.rate} in the record"
        return size, 0.0, Shift("rate", text, size, sources)

    def _time(
        self, active: Active, weed: Weed, response: Response, moment: Moment
    ) -> tuple[float, float, Shift | None]:
        """Shift between the day of the record and the day asked for."""
        if moment.days == response.days:
            return 0.0, 0.0, None
        if moment.stage == NOT_EMERGED:
            half_life = active.residual_half_life_days
            days = half_life.likely if half_life is not None else self.base.parameter("half-life-default")
            span = self.base.parameter("emergence-span")
            decayed = exposed_days(moment.days, span) - exposed_days(response.days, span)
            size = -self._slope(active) * math.log(2) * decayed / days
            sources = (half_life or self.base.parameters["half-life-default"]).sources
            # How sure the half-life is bounds how sure the decay is (first derivative in its logarithm).
            unsure = math.log(half_life.high / half_life.low) / (2 * Z90) if half_life is not None else 0.0
            return (
                size,
                abs(size) * unsure,
                Shift("residual", f"{moment.days:.0f} days after application", size, sources),
            )
        size = self._effect_at(active, weed, moment.days) - self._effect_at(active, weed, response.days)
        sources = self.base.parameters["early-slope"].sources
        return size, 0.0, Shift("days-after", f"{moment.days:.0f} days after application", size, sources)

    def _effect_at(self, active: Active, weed: Weed, days: float) -> float:
        """Log-odds relative to full effect: still building before it, regrowing long after it."""
        parameter = self.base.parameter
        full = parameter("full-effect-days")
        if active.symptoms is not None:
            full = sum(active.symptoms.full_days) / 2
        building = -parameter("early-slope") * max(0.0, math.log(full / days))
        contact = active.movement == "contact"
        kind = "perennial" if weed.life_cycle in ("perennial", "biennial") else "annual"
        slope = parameter(f"late-slope-{kind}-{'contact' if contact else 'systemic'}")
        # A burn-down peaks as soon as it is complete; what moves in the plant holds for weeks.
        holds = full if contact else max(full, parameter("full-effect-days"))
        return building - slope * max(0.0, math.log(days / holds))

    def adjuvant(
        self, dose: Dose, weed: Weed, response: Response, moment: Moment, adjuvant: str
    ) -> list[tuple[float, float, Shift | None]]:
        """What the adjuvant adds, and what that of the record takes with it; nothing where they are the same."""
        if adjuvant == response.adjuvant:
            return []
        found: list[tuple[float, float, Shift | None]] = []
        for name, sign in ((adjuvant, 1), (response.adjuvant, -1)):
            rule = adjuvant_rule(dose.active, name, moment.stage, weed.life_form)
            if rule is not None and rule.use != "forbidden" and rule.shift:
                size = sign * rule.shift
                what = self.base.adjuvants[name].name if name in self.base.adjuvants else name
                text = f"{'with' if sign > 0 else 'without'} {what}"
                found.append((size, rule.sd, Shift("adjuvant", text, size, rule.sources)))
        return found

    def _season(
        self, dose: Dose, weed: Weed, response: Response, moment: Moment
    ) -> list[tuple[float, float, Shift | None]]:
        if moment.season in response.seasons:
            return []
        found: list[tuple[float, float, Shift | None]] = []
        own = [s for s in weed.season_shifts if moment.season in s.seasons and dose.active.movement in s.movement]
        for item in own:
            found.append((item.shift, item.sd, Shift("season", f"in {moment.season}", item.shift, item.sources)))
        for fact in self.base.shifts.values():
            if moment.season in fact.seasons and self._suits(fact, dose, weed, moment) and not (own and fact.movement):
                found.append((fact.shift, fact.sd, Shift("season", fact.text, fact.shift, fact.sources)))
        return found

    def _suits(self, fact: ShiftFact, dose: Dose, weed: Weed, moment: Moment) -> bool:
        emerged = moment.stage != NOT_EMERGED
        return (
            (not fact.movement or dose.active.movement in fact.movement)
            and (not fact.life_cycles or weed.life_cycle in fact.life_cycles)
            and (not fact.form_kinds or dose.form.kind in fact.form_kinds)
            and (fact.stages == "any" or (fact.stages == "emerged") == emerged)
        )
