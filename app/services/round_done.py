"""A stop that was sprayed becomes a record: one tap, everything that the plan knows filled in."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from app.engine.errors import FieldFault, InputError
from app.engine.output import Amount
from app.season.load_output import SheetStop, SheetTotal
from app.season.record import ApplicationRecord
from app.season.round_output import PlannedStop, PlannedTank
from app.season.round_stops import SQUARE_METRES
from app.services.branch import branch
from app.services.forecasts import one as forecast_of
from app.services.record_filling import filled_in
from app.services.record_year import last_applications
from app.services.records import KeptRecord, keep
from app.services.round_papers import Head, papers
from app.services.rounds import KeptRound, not_planned, one
from app.services.validation import validated
from app.store import records
from app.store.opening import Store
from knowledge.quantities import Quantity


def done(
    store: Store, slug: str, property: str, area: str, now: datetime | None = None, applicator: str = ""
) -> KeptRecord:
    """Keep the record of a stop of a planned round; the same stop twice keeps it once.

    The day is that of the round, the time that of the tap where it is tapped on that day, the weather that of the
    forecast at that hour. What is not known stays empty, and the record says what is still to be filled.

    Raises
    ------
    UnknownId
        When there is no such round.
    InputError
        Where the round is not planned, or the stop is none of it that is sprayed.
    """
    found, moment = one(store, slug), now or datetime.now(UTC)
    stop, tank = _planned(found, property, area)
    head = Head(slug, found.round.name, found.version, found.round.technician, found.round.sprayer or "")
    assert found.plan is not None, "a stop was found in it"
    paper = papers(store, head, found.plan, "us")
    line = next((s for s in paper.sheet.stops if (s.property, s.area) == (property, area)), None)
    told = {
        **_where(stop),
        **_what(stop, tank, line),
        **_when(store, found, moment),
        "applicator": applicator or found.round.technician,
        "sprayer": paper.sheet.sprayer,
        "round": slug,
        "next_due": stop.again,
        "application": _which(store, stop, found),
    }
    record = filled_in(store, validated(ApplicationRecord, {**told, "filled_in": _BY_PLAN}))
    with store.reading() as session:
        void = records.void_in_round(session, slug, property, area)
    return keep(store, key_of(slug, property, area, void), record, moment)


# What the plan, its forecast and the clock fill in, for the reader to look over.
_BY_PLAN = ("treated", "method", "products", "adjuvant", "spray", "finished", "weather", "applicator", "next_due")


def key_of(slug: str, property: str, area: str, void: int = 0) -> str:
    """The key of a stop's record: the same for every tap, so that none doubles it, and another once one is void."""
    told = (slug, property, area, *((str(void),) if void else ()))
    return hashlib.sha256("\n".join(told).encode()).hexdigest()[:32]


def _which(store: Store, stop: PlannedStop, found: KeptRound) -> int:
    """Which application of its program it is: one after the record whose next application it is."""
    last = last_applications(store, [stop.property])
    earlier = last.get((stop.property, stop.area)) or last.get((stop.property, None))
    if earlier is None or earlier.record.next_due is None or earlier.record.round == found.slug:
        return 1
    late = (found.round.date - earlier.record.next_due).days
    return earlier.record.application + 1 if abs(late) <= _ABOUT_DUE else 1


# Days around the day on which a second application is due in which a spray counts as it.
_ABOUT_DUE = 14


def _planned(found: KeptRound, property: str, area: str) -> tuple[PlannedStop, PlannedTank]:
    if found.plan is None:
        raise not_planned()
    for stop in found.plan.stops:
        if (stop.property, stop.area) == (property, area) and stop.status == "spray":
            return stop, next(tank for tank in found.plan.tanks if tank.label == stop.tank)
    what = f"'{property}', '{area}' is no stop that this round sprays"
    raise InputError([FieldFault("stop", what)])


def _where(stop: PlannedStop) -> dict[str, Any]:
    return {
        "customer": stop.customer,
        "property": stop.property,
        "property_name": stop.property_name,
        "place": stop.address,
        "area": stop.area,
        "area_name": stop.area_name,
        "site_use": stop.site_use,
        "turf": stop.turf,
        "treated": stop.treated.model_dump() if stop.treated is not None else None,
        "method": stop.method,
        "targets": [{"weed": target.weed, "stage": target.stage} for target in stop.targets],
    }


def _what(stop: PlannedStop, tank: PlannedTank, line: SheetStop | None) -> dict[str, Any]:
    amounts = {total.name: total for total in line.amounts} if line is not None else {}
    products = []
    for item in tank.products:
        name = item.product or " + ".join(active.name for active in item.actives)
        products.append(
            {
                "name": name,
                "rate": item.rate.model_dump() if item.rate is not None else None,
                "amount": _amount(amounts.get(name)) or _by_rate(item.rate, stop.treated),
                "actives": [{"active": a.active, "form": a.form, "rate": a.rate.model_dump()} for a in item.actives],
            }
        )
    adjuvant = None
    if tank.adjuvant is not None:
        rate = tank.adjuvant.rate.model_dump() if tank.adjuvant.rate is not None else None
        used = amounts.get(tank.adjuvant.product or tank.adjuvant.name)
        adjuvant = {"id": tank.adjuvant.id, "rate": rate, "amount": _amount(used)}
    spray = line.spray.model_dump() if line is not None and line.spray is not None else None
    carrier = tank.carrier.model_dump() if tank.carrier is not None else None
    return {"products": products, "adjuvant": adjuvant, "carrier": carrier, "spray": spray}


def _amount(total: SheetTotal | None) -> dict[str, Any] | None:
    return total.amount.model_dump() if total is not None else None


def _by_rate(rate: Amount | None, treated: Amount | None) -> dict[str, Any] | None:
    """What a rate of product comes to on the ground, where no tank was told to fill; None where that is not known."""
    if rate is None or treated is None:
        return None
    per, ground = Quantity(rate.value, rate.unit), Quantity(treated.value, treated.unit)
    used = {"volume-rate": "L", "mass-rate": "g"}.get(per.dimension)
    if used is None:
        return None
    amount = Quantity(per.base * ground.base / SQUARE_METRES, used).to(rate.unit.split("/")[0])
    return {"value": float(f"{amount.value:.4g}"), "unit": amount.unit}


def _when(store: Store, found: KeptRound, moment: datetime) -> dict[str, Any]:
    people, _ = branch(store)
    here = moment.astimezone(ZoneInfo(people.timezone))
    told: dict[str, Any] = {"date": found.round.date}
    if here.date() != found.round.date:
        # Written down on another day: when it was sprayed is for its technician to say.
        return told
    told["finished"] = f"{here:%H:%M}"
    if found.round.forecast is None:
        return told
    hours = forecast_of(store, found.round.forecast).forecast.hours
    hour = next((hour for hour in hours if hour.start <= moment < hour.end), None)
    if hour is not None:
        told["weather"] = {
            "temp_f": hour.temp_f,
            "wind_mph": hour.wind_mph,
            "rh_pct": hour.rh_pct,
            "basis": "forecast",
        }
    return told
