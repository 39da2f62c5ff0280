"""Tanks and stops of a plan as they are shown."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date as Date
from datetime import timedelta

import numpy as np

from app.engine.citations import cautions_said
from app.engine.control import expit
from app.engine.describe import (
    Spray,
    applications_of,
    control_of,
    injury_of,
    program_name,
    single_cell,
    sprays_of,
)
from app.engine.output import Amount, Caution, Control, Statement, TurfInjury
from app.engine.recommend import program_findings
from app.engine.scoring import dose_injury, program_injury
from app.engine.shared_tanks import SharedTanks, TanksHere
from app.engine.timing_rules import Best, situation_findings
from app.season.assign import Assigned
from app.season.planned_words import given_up, limb, not_served, open_words, rest_words
from app.season.round_output import PlannedStop, PlannedTank, Status
from app.season.round_stops import SQUARE_METRES, OnDay
from app.season.tank_weather import Weather, tank_limits
from knowledge.base import KnowledgeBase
from knowledge.quantities import Quantity

_LABELS = "ABCDEFGHIJ"


@dataclass(frozen=True)
class Served:
    """A stop with what every tank does on it."""

    asked: OnDay
    here: TanksHere


def best_of(here: TanksHere) -> Best | None:
    """The best tank of a stop as the rules of timing need it."""
    if here.best is None:
        return None
    place = int(here.place[here.best])
    doses = sprays_of(here.screened, place)[0].doses
    hours = [
        d.active.rainfast_hours.value
        for d in doses
        if d.active.rainfast_hours is not None and d.timing != "preemergence"
    ]
    return Best(tuple(float(x) for x in here.screened.band.likely[place]), max(hours, default=None))


def planned_tanks(
    base: KnowledgeBase,
    tanks: SharedTanks | None,
    chosen: Assigned | None,
    served: Sequence[Served],
    weather: Weather,
) -> tuple[dict[int, str], tuple[PlannedTank, ...]]:
    """The tanks to fill, the one that serves most ground first, and their labels."""
    if tanks is None or chosen is None:
        return {}, ()
    ground = dict.fromkeys(chosen.tanks, 0.0)
    for tank, one in zip(chosen.of, served, strict=True):
        if tank is not None:
            ground[tank] += one.asked.hectares
    order = sorted(ground, key=lambda tank: (-ground[tank], tank))
    labels = dict(zip(order, _LABELS, strict=False))
    shown = []
    for tank in order:
        of = [one for given, one in zip(chosen.of, served, strict=True) if given == tank]
        shown.append(_tank(base, labels[tank], tank, of, ground[tank], weather))
    return labels, tuple(shown)


def _tank(
    base: KnowledgeBase, label: str, tank: int, served: Sequence[Served], hectares: float, weather: Weather
) -> PlannedTank:
    first = served[0]
    understood = first.here.screened.understood
    spray = sprays_of(first.here.screened, int(first.here.place[tank]))[0]
    made = applications_of([spray], understood, base)[0]
    turf = {t.id: t for one in served for t in one.here.screened.understood.turf}
    sites = {one.here.screened.understood.situation.site_use for one in served}
    name = program_name([spray], base)
    limits = tank_limits(spray.doses, tuple(turf.values()), sites.pop() if len(sites) == 1 else None, name)
    day = weather.day(base, limits)
    carrier = understood.situation.carrier
    return PlannedTank(
        label=label,
        key=tank_key(spray),
        name=name,
        products=made.products,
        adjuvant=made.adjuvant,
        carrier=Amount(value=carrier.value, unit=carrier.unit) if carrier is not None else None,
        treated=_whole(served, hectares),
        stops=len(served),
        max_air_f=limits.max_temp_f,
        rainfast_hours=limits.rainfast_hours or None,
        open_hours=open_words(day),
        closed=weather.closed(base, limits),
    )


def _whole(served: Sequence[Served], hectares: float) -> Amount:
    units = [one.asked.treated.unit for one in served if one.asked.treated is not None]
    metric = bool(units) and all(unit in ("m2", "ha") for unit in units)
    whole = Quantity(hectares * SQUARE_METRES, "m2").to("m2" if metric else "ft2")
    return Amount(value=float(f"{whole.value:.4g}"), unit=whole.unit)


def tank_key(spray: Spray) -> str:
    """Stable hash of what goes into a tank."""
    doses = sorted(
        [d.active.id, d.form.id, round(d.rate.base, 4), d.product.product.name if d.product is not None else ""]
        for d in spray.doses
    )
    return hashlib.sha256(json.dumps([spray.adjuvant, doses]).encode()).hexdigest()[:12]


def _described(one: OnDay) -> dict[str, object]:
    stop = one.stop
    return {
        "property": stop.slug,
        "property_name": stop.property.name,
        "customer": stop.customer,
        "address": stop.property.address,
        "area": stop.area.id,
        "area_name": stop.area.name,
        "turf": stop.area.turf,
        "site_use": stop.area.site_use,
        "ground": stop.area.area,
        "method": one.method,
        "method_text": one.method_text,
        "targets": one.targets,
        "surroundings": tuple(stop.area.surroundings),
    }


def planned_stop(base: KnowledgeBase, one: OnDay, here: TanksHere, tank: int, labels: Mapping[int, str]) -> PlannedStop:
    """A stop that is sprayed."""
    screened, place = here.screened, int(here.place[tank])
    understood = screened.understood
    sprays = sprays_of(screened, place)
    own = here.best
    assert own is not None, "what is served has a best of its own"
    own_sprays = sprays_of(screened, int(here.place[own]))
    control = control_of(screened, place, sprays)
    own_control = control_of(screened, int(here.place[own]), own_sprays)
    loss = max(0.0, round(float(here.control[own] - here.control[tank])))
    needless = _needless(base, here, place, sprays[0])
    own_name = program_name(own_sprays[:1], base)
    why = [
        Statement(
            code="tank",
            text=given_up(
                (labels[tank], program_name(sprays[:1], base)), tank == own, own_name, loss, control, own_control
            ),
        )
    ]
    if needless:
        why.append(Statement(code="needless", text=f"Its weeds do not need {limb(needless)}, which the tank carries."))
    cautions = (
        *cautions_said(base, program_findings(base, understood, sprays)),
        *cautions_said(base, situation_findings(base, understood)),
    )
    again = understood.situation.date + timedelta(days=sprays[1].day) if len(sprays) > 1 else None
    return PlannedStop.model_validate(
        {
            **_described(one),
            "turf_names": tuple(turf.name for turf in understood.turf),
            "treated": one.treated,
            "status": "spray",
            "tank": labels[tank],
            "wait_until": None,
            "why": tuple(why),
            "control": control,
            "turf_injury": _injury(base, here, place, sprays),
            "own_best": own_name,
            "own_control": own_control,
            "given_up_pct": loss,
            "given_up_text": why[0].text,
            "again": again,
            "cautions": _once_each(cautions),
        }
    )


def _once_each(cautions: Sequence[Caution]) -> tuple[Caution, ...]:
    rank = {"warning": 0, "caution": 1, "info": 2}
    told = {(c.code, c.text): c for c in cautions}
    return tuple(sorted(told.values(), key=lambda c: rank[c.severity]))


def _injury(base: KnowledgeBase, here: TanksHere, place: int, sprays: Sequence[Spray]) -> tuple[TurfInjury, ...]:
    screened = here.screened
    each = dose_injury(base, screened.understood, screened.catalog.doses)
    chosen = screened.programs.take(np.asarray([place]))
    get = base.parameter
    percent = program_injury(each, chosen, get("partner-injury"), get("second-application-injury"))[0]
    return injury_of(screened.understood, sprays, percent.tolist())


def _needless(base: KnowledgeBase, here: TanksHere, place: int, spray: Spray) -> list[str]:
    """Actives of the tank that do next to nothing on any weed of the stop."""
    floor, screened = base.parameter("activity-floor"), here.screened
    found = []
    for dose in spray.doses:
        best = 0.0
        for t, target in enumerate(screened.understood.targets):
            stage = screened.tables.columns[int(screened.columns[place, t])].stage
            cell = single_cell(screened, dose, target, stage, spray.adjuvant)
            best = max(best, 100 * float(expit(cell.mean)) if cell.response is not None else 0.0)
        if best < floor:
            found.append(dose.active.name)
    return found


def resting_stop(
    base: KnowledgeBase,
    one: OnDay,
    here: TanksHere | None,
    rests: Sequence[Statement],
    again: Date | None,
    come_back: str,
    at_most: int,
) -> PlannedStop:
    """A stop that is not sprayed on this day, and why."""
    control: tuple[Control, ...] = ()
    own = ""
    if here is not None and here.best is not None:
        sprays = sprays_of(here.screened, int(here.place[here.best]))
        own, control = program_name(sprays[:1], base), control_of(here.screened, int(here.place[here.best]), sprays)
        rests = [not_served(own, at_most)]
    status: Status = "wait"
    if one.understood is None:
        status = "unknown" if one.missing else "nothing"
    why = [*rests, *rest_words(one, status, again, come_back)]
    names = tuple(base.turf[key].name for key in one.stop.area.turf if key in base.turf)
    return PlannedStop.model_validate(
        {
            **_described(one),
            "turf_names": names,
            "treated": None,
            "status": status,
            "tank": None,
            "wait_until": again,
            "why": tuple(why),
            "control": (),
            "turf_injury": (),
            "own_best": own,
            "own_control": control,
            "given_up_pct": None,
            "given_up_text": "",
            "again": None,
            "cautions": (),
        }
    )
