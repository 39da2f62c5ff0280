"""From recorded responses to the log-odds of control of a dose in this situation."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from app.engine.control import NO_ACTIVITY, band_sd
from app.engine.doses import Dose
from app.engine.record_shifts import Moment, RecordShifts, Shift
from app.engine.understood import NOT_EMERGED, Understood, UnderstoodTarget
from knowledge.base import KnowledgeBase
from knowledge.models import Citation, Response, ShiftFact, Weed
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
    weed: Weed,
    active: str,
    form: str,
    stage: str,
    season: Season | None,
    applications: int = 1,
    adjuvant: str | None = None,
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
        # A record of this very adjuvant speaks before one that has to be shifted to it.
        return next((r for r in chosen if r.adjuvant == adjuvant), chosen[0]), False
    return min(best_form, key=lambda r: r.band[1]), True


class ControlFacts:
    """Log-odds of control of doses in one situation, from the knowledge base.

    Pure: holds its arguments and remembers what it has worked out from them, nothing else.

    Parameters
    ----------
    memo : dict, optional
        What was worked out in other situations on the same base; of the situation itself only its weather and
        stress count, so lawns of one day share most of it.
    """

    def __init__(self, base: KnowledgeBase, understood: Understood, memo: dict[object, Cell] | None = None) -> None:
        self.base = base
        self.understood = understood
        self._memo = memo
        self._record = RecordShifts(base)
        self._cells: dict[tuple[int, int, Moment, str, int], tuple[Dose, Cell]] = {}
        self._matches: dict[tuple[str, str, str, str, str | None, int, str], tuple[Response | None, bool]] = {}

    def _match(
        self, weed: Weed, dose: Dose, stage: str, season: Season | None, applications: int, adjuvant: str
    ) -> tuple[Response | None, bool]:
        key = (weed.id, dose.active.id, dose.form.id, stage, season, applications, adjuvant)
        if key not in self._matches:
            found = matching_response(weed, dose.active.id, dose.form.id, stage, season, applications, adjuvant)
            self._matches[key] = found
        return self._matches[key]

    def cell(self, dose: Dose, target: UnderstoodTarget, moment: Moment, adjuvant: str, applications: int = 1) -> Cell:
        """Log-odds of control of one dose at one moment under one adjuvant.

        `applications` 2 asks for a record of the whole sequence of two.
        """
        key = (id(dose), target.index, moment, adjuvant, applications)
        if key not in self._cells:
            # The dose is kept beside its cell, so that its identity is not given to another.
            self._cells[key] = (dose, self._recalled(dose, target, moment, adjuvant, applications))
        return self._cells[key][1]

    def _recalled(self, dose: Dose, target: UnderstoodTarget, moment: Moment, adjuvant: str, applications: int) -> Cell:
        if self._memo is None:
            return self._worked_out(dose, target, moment, adjuvant, applications)
        told = self.understood.situation
        usual = (dose.usual.low.base, dose.usual.high.base) if dose.usual is not None else None
        weather = (told.turf_condition.stress, told.forecast.soil_moisture, told.forecast.max_temp_f)
        asked = (target.weed.id, target.resistant_to, moment, adjuvant, applications)
        key = (dose.active.id, dose.form.id, dose.rate.base, dose.rate.unit, usual, weather, asked)
        if key not in self._memo:
            self._memo[key] = self._worked_out(dose, target, moment, adjuvant, applications)
        return self._memo[key]

    def _worked_out(
        self, dose: Dose, target: UnderstoodTarget, moment: Moment, adjuvant: str, applications: int
    ) -> Cell:
        weed, active = target.weed, dose.active
        if active.id in target.resistant_to or active.mechanism.group in target.resistant_to:
            return Cell(NO_ACTIVITY, 0.0, None, resisted=True)
        response, other_season = self._match(weed, dose, moment.stage, moment.season, applications, adjuvant)
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

    def _shifts(
        self, dose: Dose, weed: Weed, response: Response, moment: Moment, adjuvant: str
    ) -> list[tuple[float, float, Shift | None]]:
        shifts = self._record.of(dose, weed, response, moment, adjuvant)
        if moment.weather_known:
            shifts += self._weather(dose, moment)
        else:
            shifts.append((0.0, self.base.parameter("unknown-weather-sd"), None))
        if moment.survivors:
            fact = self.base.parameters["survivor-shift"]
            shifts.append((fact.value, 0.0, Shift("survivors", fact.text, fact.value, fact.sources)))
        return shifts

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
