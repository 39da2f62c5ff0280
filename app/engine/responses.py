"""From recorded responses to the log-odds of control of a dose in this situation."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from app.engine.control import NO_ACTIVITY, Z90, band_sd, exposed_days, rate_shift
from app.engine.doses import Dose
from app.engine.understood import NOT_EMERGED, Understood, UnderstoodTarget
from knowledge.base import KnowledgeBase
from knowledge.models import Active, AdjuvantRule, Citation, Response, ShiftFact, Weed
from knowledge.models.common import Season

_PERCENT = 100.0
ESCAPE_STAGE = {
    "grass": "4-5-leaf",
    "sedge": "2-4-leaf",
    "broadleaf": "seedling",
    "lily": "seedling",
    "moss": "seedling",
}


@dataclass(frozen=True)
class Moment:
    """When and on what a dose is judged.

    Attributes
    ----------
    stage : str
        Stage of the weed when it is sprayed.
    season : str
        Season when it is sprayed.
    days : float
        Days after this application at which control is judged.
    weather_known : bool
        Whether the forecast speaks of this application (it does of the first alone).
    survivors : bool
        Whether the weed has already survived one application.
    """

    stage: str
    season: Season
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


@dataclass(frozen=True)
class Cell:
    """Log-odds of control of one dose on one weed at one moment.

    `response` is None where nothing is recorded, `resisted` is true where this population is
    told to resist the active; both count as no activity.
    """

    mean: float
    sd: float
    response: Response | None
    shifts: tuple[Shift, ...] = ()
    resisted: bool = False
    widened: tuple[str, ...] = ()

    @cached_property
    def sources(self) -> tuple[Citation, ...]:
        """What the figure rests on."""
        if self.response is None:
            return ()
        own = self.response.sources
        return tuple(dict.fromkeys((*own, *(c for shift in self.shifts for c in shift.sources))))


def matching_response(
    weed: Weed, active: str, form: str, stage: str, season: Season, applications: int = 1
) -> tuple[Response | None, bool]:
    """The recorded response that speaks of this stage and season.

    Returns
    -------
    tuple
        The record, or None where none speaks of this stage; and whether it was taken in
        another season, which widens it. Among those the weakest is taken.
    """
    emerged = stage != NOT_EMERGED
    fit = [
        r
        for r in weed.responses
        if r.active == active
        and r.applications == applications
        and (stage in r.stages if r.stages else emerged)
        and r.form in (None, form)
    ]
    if not fit:
        return None, False
    best_form = [r for r in fit if r.form == form] or fit
    in_season = [r for r in best_form if season in r.seasons]
    any_season = [r for r in best_form if not r.seasons]
    chosen = in_season or any_season
    if chosen:
        return chosen[0], False
    return min(best_form, key=lambda r: r.band[1]), True


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


class ControlFacts:
    """Log-odds of control of doses in one situation, from the knowledge base.

    Pure: holds its two arguments and remembers what it has worked out from them, nothing else.
    """

    def __init__(self, base: KnowledgeBase, understood: Understood) -> None:
        self.base = base
        self.understood = understood
        self._cells: dict[tuple[int, int, Moment, str, int], tuple[Dose, Cell]] = {}
        self._matches: dict[tuple[str, str, str, str, str, int], tuple[Response | None, bool]] = {}

    def _match(
        self, weed: Weed, dose: Dose, stage: str, season: Season, applications: int
    ) -> tuple[Response | None, bool]:
        key = (weed.id, dose.active.id, dose.form.id, stage, season, applications)
        if key not in self._matches:
            found = matching_response(weed, dose.active.id, dose.form.id, stage, season, applications)
            self._matches[key] = found
        return self._matches[key]

    def cell(self, dose: Dose, target: UnderstoodTarget, moment: Moment, adjuvant: str, applications: int = 1) -> Cell:
        """Log-odds of control of one dose at one moment under one adjuvant.

        `applications` 2 asks for a record of the whole sequence of two.
        """
        key = (id(dose), target.index, moment, adjuvant, applications)
        if key not in self._cells:
            # The dose is kept beside its cell, so that its identity is not given to another.
            self._cells[key] = (dose, self._worked_out(dose, target, moment, adjuvant, applications))
        return self._cells[key][1]

    def _worked_out(
        self, dose: Dose, target: UnderstoodTarget, moment: Moment, adjuvant: str, applications: int
    ) -> Cell:
        weed, active = target.weed, dose.active
        if active.id in target.resistant_to or active.mechanism.group in target.resistant_to:
            return Cell(NO_ACTIVITY, 0.0, None, resisted=True)
        response, other_season = self._match(weed, dose, moment.stage, moment.season, applications)
        if response is None:
            return Cell(NO_ACTIVITY, 0.0, None)
        low, likely, high = (value / _PERCENT for value in response.band)
        spread = band_sd(low, high)
        widened = []
        if other_season:
            spread *= self.base.parameter("widening-other-season")
            widened.append("other-season")
        if self._extrapolated(dose, response):
            spread *= self.base.parameter("widening-extrapolated-rate")
            widened.append("rate")
        shifts = [*self._shifts(dose, weed, response, moment, adjuvant)]
        mean = math.log(likely / (1 - likely)) + sum(size for size, _, _ in shifts)
        variance = spread**2 + sum(sd**2 for _, sd, _ in shifts)
        told = tuple(shift for size, _, shift in shifts if shift is not None and size)
        return Cell(mean, math.sqrt(variance), response, told, False, tuple(widened))

    def _extrapolated(self, dose: Dose, response: Response) -> bool:
        rate, reference = dose.rate.base, response.rate.base
        below_half = rate < reference / 2
        beyond = dose.usual is not None and not dose.usual.low.base <= rate <= dose.usual.high.base
        return below_half or (beyond and rate != reference)

    def _slope(self, active: Active) -> float:
        return active.slope.likely if active.slope is not None else self.base.parameter("slope-default")

    def _shifts(
        self, dose: Dose, weed: Weed, response: Response, moment: Moment, adjuvant: str
    ) -> list[tuple[float, float, Shift | None]]:
        shifts = [self._rate(dose, response), self._time(dose.active, weed, response, moment)]
        shifts += self._adjuvant(dose, weed, response, moment, adjuvant)
        shifts += self._season(dose, weed, response, moment)
        if moment.weather_known:
            shifts += self._weather(dose, moment)
        else:
            shifts.append((0.0, self.base.parameter("unknown-weather-sd"), None))
        if moment.survivors:
            fact = self.base.parameters["survivor-shift"]
            shifts.append((fact.value, 0.0, Shift("survivors", fact.text, fact.value, fact.sources)))
        return shifts

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

    def _adjuvant(
        self, dose: Dose, weed: Weed, response: Response, moment: Moment, adjuvant: str
    ) -> list[tuple[float, float, Shift | None]]:
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

    def _weather(self, dose: Dose, moment: Moment) -> list[tuple[float, float, Shift | None]]:
        situation = self.understood.situation
        stress, moisture = situation.turf_condition.stress, situation.forecast.soil_moisture
        found: list[tuple[float, float, Shift | None]] = []
        emerged = moment.stage != NOT_EMERGED
        worst: ShiftFact | None = None
        for fact in self.base.shifts.values():
            if fact.seasons or not (fact.stages == "any" or (fact.stages == "emerged") == emerged):
                continue
            told = stress in fact.stress or moisture in fact.soil_moisture
            # Drought named twice, as stress and as dry soil, is one drought.
            if told and (worst is None or fact.shift < worst.shift):
                worst = fact
        if worst is not None:
            found.append((worst.shift, worst.sd, Shift("stress", worst.text, worst.shift, worst.sources)))
        return found + self._temperature(dose, emerged)

    def _temperature(self, dose: Dose, emerged: bool) -> list[tuple[float, float, Shift | None]]:
        if not emerged:
            return []
        warmest = self.understood.situation.forecast.max_temp_f
        if warmest is None:
            return [(0.0, self.base.parameter("unknown-weather-sd"), None)]
        found: list[tuple[float, float, Shift | None]] = []
        for rule in dose.active.temperature_shifts:
            cold = rule.below_f is not None and warmest < rule.below_f
            hot = rule.above_f is not None and warmest > rule.above_f
            if cold or hot:
                text = f"{'cool' if cold else 'hot'} air, {warmest:.0f} F"
                found.append((rule.shift, rule.sd, Shift("temperature", text, rule.shift, rule.sources)))
        return found
