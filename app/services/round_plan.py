"""Planning a kept round: what is known of its stops, the weather of its day, and the plan kept beside it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date as Date
from datetime import datetime

from app.engine.errors import FieldFault, InputError
from app.engine.house import with_evidence
from app.engine.measures import Carrier
from app.engine.product import Product
from app.engine.situation import Forecast as Known
from app.season.daily import AirDay
from app.season.forecast import Forecast, coolest, day_weather, gaps, warmest
from app.season.planning import plan_round
from app.season.property import Property
from app.season.record import Branch
from app.season.round import Round
from app.season.round_output import RoundPlan
from app.season.round_stops import Day, Stop
from app.season.tank_weather import Weather
from app.services import house
from app.services.branch import branch
from app.services.forecasts import one as forecast_of
from app.services.knowledge_service import knowledge_base
from app.services.record_year import applied_this_year
from app.services.rounds import KeptRound, one, planned
from app.services.scouting import of_stored
from app.services.shelf import shelf_products
from app.services.sprayers import sprayer_named
from app.store import properties as kept
from app.store.opening import Store
from knowledge.base import KnowledgeBase

# Seconds for each aim of the optimisation; a round that takes longer is told as not proved.
TIME_LIMIT = 20.0


def plan(store: Store, slug: str, version: int, now: datetime | None = None) -> KeptRound:
    """Plan a kept round that stands at a version, and keep the plan.

    Raises
    ------
    UnknownId
        When there is none of that id.
    InputError
        Where it has no stops, the shelf is empty, or stops of it are recorded already.
    Changed
        When somebody else changed or removed it meanwhile.
    """
    return planned(store, slug, plan_of(store, one(store, slug).round), version, now)


def plan_of(store: Store, told: Round, time_limit: float = TIME_LIMIT) -> RoundPlan:
    """The plan of a round by what is kept now; nothing is stored."""
    if not told.stops:
        raise InputError([FieldFault("stops", "must name at least one area; choose the stops of the round first")])
    people, _ = branch(store)
    base = with_evidence(knowledge_base(), house.evidence_of(store))
    stops = _stops(store, told, base)
    weather = _Skies(base, forecast_of(store, told.forecast).forecast if told.forecast else None, people)
    products = tuple(shelf_products(store)) if told.catalog == "shelf" else None
    days = _days(weather, _carrier(store, told), products, told.max_applications)
    return plan_round(base, stops, days, told.date, told.tanks, weather.tanks_on, weather.text(told.date), time_limit)


def _stops(store: Store, told: Round, base: KnowledgeBase) -> tuple[Stop, ...]:
    """The stops with all that is kept of them; one whose property or area is gone is left out."""
    slugs = [stop.property for stop in told.stops]
    with store.reading() as session:
        places = {
            slug: Property.model_validate({**item.document, "name": item.name})
            for slug, item in kept.PROPERTIES.by_slugs(session, slugs).items()
        }
        billed = [place.customer for place in places.values() if place.customer is not None]
        people = {slug: item.name for slug, item in kept.CUSTOMERS.by_slugs(session, billed).items()}
        seen = kept.notes_of(session, slugs)
    notes = {slug: [of_stored(item).note for item in found] for slug, found in seen.items()}
    return tuple(
        Stop(
            stop.property,
            places[stop.property],
            area,
            people.get(places[stop.property].customer or "", ""),
            tuple(note for note in notes.get(stop.property, ()) if note.area == stop.area),
            applied_this_year(store, stop.property, stop.area, told.date, base),
            stop.method,
        )
        for stop in told.stops
        if stop.property in places and (area := places[stop.property].area_of(stop.area)) is not None
    )


def _carrier(store: Store, told: Round) -> Carrier | None:
    if told.sprayer is None:
        return None
    found = sprayer_named(store, told.sprayer).document.get("carrier")
    return Carrier.model_validate(found) if found is not None else None


def _days(
    weather: _Skies, carrier: Carrier | None, products: tuple[Product, ...] | None, most: int
) -> Callable[[Date], Day]:
    def on(day: Date) -> Day:
        return Day(day, weather.known(day), weather.daily, carrier, products, most)

    return on


class _Skies:
    """The weather of a round's days, by the forecast that was chosen for it."""

    def __init__(self, base: KnowledgeBase, forecast: Forecast | None, people: Branch) -> None:
        self.base, self.forecast = base, forecast
        self.work = int(people.work_from[:2]), int(people.work_to[:2])
        self._tanks: dict[Date, Weather] = {}
        dates = sorted({hour.start.astimezone(forecast.zone).date() for hour in forecast.hours}) if forecast else []
        told = {day.date for day in forecast.daily} if forecast else set()
        self.dates = sorted({*dates, *told})

    @property
    def daily(self) -> tuple[AirDay, ...]:
        """Lowest and highest air of each day that is told [F]."""
        if self.forecast is None:
            return ()
        found = ((day, coolest(self.forecast, day), warmest(self.forecast, day)) for day in self.dates)
        return tuple((day, low, high) for day, low, high in found if low is not None and high is not None)

    def known(self, day: Date) -> Known:
        """What the engine is told of a day's weather; nothing beyond the forecast."""
        if self.forecast is None or day not in self.dates:
            return Known()
        return day_weather(self.forecast, day, *self.work, self.base)

    def tanks_on(self, day: Date) -> Weather:
        """When tanks may be sprayed on a day."""
        if day not in self._tanks:
            self._tanks[day] = Weather(self.forecast, day, *self.work)
        return self._tanks[day]

    def text(self, day: Date) -> str:
        """The day's weather in a sentence, and what is not known of it."""
        if self.forecast is None:
            return "No forecast was given: heat, wind and rain are not known, and no hour is closed by them."
        if day not in self.dates:
            first, last = self.dates[0], self.dates[-1]
            return f"The forecast of {self.forecast.place} tells {first} to {last}: the weather of this day is unknown."
        told = self.known(day)
        parts = [
            f"{low:.0f} to {high:.0f} F" if (low := told.min_temp_f) is not None and (high := told.max_temp_f) else "",
            f"wind {told.wind_mph:.0f} mph while working" if told.wind_mph is not None else "wind not told",
        ]
        if (later := told.max_temp_next_3_days_f) is not None:
            parts.append(f"up to {later:.0f} F in the next three days")
        missing = [at for at in gaps(self.forecast) if at.astimezone(self.forecast.zone).date() == day]
        if missing:
            parts.append(f"{len(missing)} hours are missing from the forecast")
        return f"{self.forecast.place}: {', '.join(part for part in parts if part)}."
