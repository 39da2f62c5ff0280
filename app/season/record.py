"""The record of an application: what was sprayed, where, when, by whom and in which weather."""

from __future__ import annotations

import builtins
import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from app.engine.measures import AdjuvantRate, Amount, Area, Carrier, Day, FieldError, Input, Rate, StatedRate
from app.engine.product import Lines, OneLine
from app.season.pricing import Pricing
from knowledge.models.common import AdjuvantId, SiteUse, Slug, Zone

Method = Literal["spot", "broadcast"]


def _clock(text: str) -> str:
    if text and re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", text) is None:
        raise ValueError(f"'{text}' is no time of the day; write HH:MM, 24 hours, for example 07:45")
    return text


Clock = Annotated[str, AfterValidator(_clock)]


class AppliedActive(Input):
    """An active of a product as it was applied."""

    active: Slug
    form: Slug | None = None
    rate: Rate


class AppliedProduct(Input):
    """A product of the tank: its name and registration number as typed, its rate, and its total amount here."""

    name: OneLine = Field(min_length=1, max_length=120)
    registration: OneLine = Field(default="", max_length=60)
    rate: StatedRate | None = None
    amount: Amount | None = None
    actives: tuple[AppliedActive, ...] = Field(default=(), max_length=5)


class AppliedAdjuvant(Input):
    """The adjuvant of the tank; `name` is the product, where one of the shelf was used."""

    id: AdjuvantId
    name: OneLine = Field(default="", max_length=120)
    registration: OneLine = Field(default="", max_length=60)
    rate: AdjuvantRate | None = None
    amount: Amount | None = None


class WeatherThen(Input):
    """The weather while it was applied, as read or as forecast; `basis` says which."""

    temp_f: float | None = Field(default=None, ge=-60, le=140)
    wind_mph: float | None = Field(default=None, ge=0, le=200)
    wind_from: OneLine = Field(default="", max_length=20)
    rh_pct: float | None = Field(default=None, ge=0, le=100)
    sky: OneLine = Field(default="", max_length=60)
    basis: Literal["read", "forecast"] = "read"


class SprayedWeed(Input):
    """A weed that the application was meant for."""

    weed: Slug
    stage: Slug | None = None


class ApplicationRecord(Input):
    """One application to one area of one property on one day.

    Attributes
    ----------
    customer, customer_address, property_name, place, area_name : str
        As they stood that day: the record does not change when the property does.
    property, area, round : slug
        What it belongs to; the property is None where it is none of those kept.
    treated : Area
        What was sprayed, less than the area where spots were.
    amount of a product : Amount
        In all, on this place.
    zone : str
        Zone of the place, which tells the season that evidence needs.
    application : int
        Which application of its program it was: 2 where an earlier one went before.
    next_due : date
        When the next application of the program is due.
    filled_in : tuple of str
        Paths of the fields that were filled in and not typed, as from a plan, the property or the shelf.
    extra : dict
        Fields that the branch asks for, by their label.
    void : str
        Why the record does not count; empty where it does. A record is never removed.
    """

    date: Day
    started: Clock = ""
    finished: Clock = ""
    customer: OneLine = Field(default="", max_length=120)
    customer_address: OneLine = Field(default="", max_length=200)
    property: Slug | None = None
    property_name: OneLine = Field(default="", max_length=120)
    place: OneLine = Field(default="", max_length=200)
    area: Slug | None = None
    area_name: OneLine = Field(default="", max_length=80)
    site_use: SiteUse | None = None
    zone: Zone | None = None
    turf: tuple[Slug, ...] = Field(default=(), max_length=5)
    treated: Area | None = None
    method: Method = "broadcast"
    products: tuple[AppliedProduct, ...] = Field(min_length=1, max_length=6)
    adjuvant: AppliedAdjuvant | None = None
    carrier: Carrier | None = None
    spray: Amount | None = None
    sprayer: OneLine = Field(default="", max_length=120)
    targets: tuple[SprayedWeed, ...] = Field(default=(), max_length=12)
    applicator: OneLine = Field(default="", max_length=80)
    licence: OneLine = Field(default="", max_length=60)
    supervisor: OneLine = Field(default="", max_length=80)
    supervisor_licence: OneLine = Field(default="", max_length=60)
    weather: WeatherThen = WeatherThen()
    round: Slug | None = None
    application: int = Field(default=1, ge=1, le=12)
    next_due: Day | None = None
    extra: dict[OneLine, OneLine] = Field(default_factory=dict, max_length=30)
    filled_in: tuple[OneLine, ...] = Field(default=(), max_length=80)
    notes: Lines = Field(default="", max_length=2000)
    void: OneLine = Field(default="", max_length=300)

    @model_validator(mode="after")
    def _times_rise(self) -> ApplicationRecord:
        if self.started and self.finished and self.finished < self.started:
            raise FieldError("finished", f"{self.finished} lies before the start at {self.started}")
        return self

    @model_validator(mode="after")
    def _each_once(self) -> ApplicationRecord:
        names = [" ".join(item.name.casefold().split()) for item in self.products]
        for number, name in enumerate(names):
            if name in names[:number]:
                raise FieldError(f"products.{number}.name", f"'{name}' stands twice; give each product once")
        weeds = [item.weed for item in self.targets]
        for number, weed in enumerate(weeds):
            if weed in weeds[:number]:
                raise FieldError(f"targets.{number}.weed", f"'{weed}' stands twice; give each weed once")
        if self.next_due is not None and self.next_due <= self.date:
            raise FieldError("next_due", f"{self.next_due} must lie after the application on {self.date}")
        if any(len(label) > 80 or len(told) > 500 for label, told in self.extra.items()):
            raise FieldError("extra", "a label holds at most 80 letters, and what stands under it 500")
        return self

    # A field of this model is called property.
    @builtins.property
    def live(self) -> bool:
        """Whether it counts."""
        return not self.void

    @builtins.property
    def where(self) -> str:
        """The place in words: property or customer, and area."""
        parts = (self.property_name or self.customer or self.place, self.area_name)
        return ", ".join(part for part in parts if part) or "place not told"


class FollowUp(Input):
    """What was seen on an area some days after an application; `ratings` are percent control by weed."""

    date: Day
    by: OneLine = Field(default="", max_length=80)
    ratings: dict[Slug, Annotated[float, Field(ge=0, le=100)]] = Field(default_factory=dict, max_length=12)
    injury_pct: float | None = Field(default=None, ge=0, le=100)
    text: Lines = Field(default="", max_length=1000)


class Technician(Input):
    """Who sprays, with the number of the licence."""

    name: OneLine = Field(min_length=1, max_length=80)
    licence: OneLine = Field(default="", max_length=60)
    supervisor: OneLine = Field(default="", max_length=80)
    supervisor_licence: OneLine = Field(default="", max_length=60)


class Branch(Input):
    """What holds for the whole branch: where it is, who sprays, when, and what its records must hold.

    `required` names fields of a record (dotted, as in `weather.wind_mph`) that must be filled beyond the usual
    ones, `extra` the labels of fields of its own; `pricing` says how it makes its prices, None where it has not told.
    """

    name: OneLine = Field(default="", max_length=120)
    address: OneLine = Field(default="", max_length=200)
    phone: OneLine = Field(default="", max_length=40)
    licence: OneLine = Field(default="", max_length=60)
    zone: Zone | None = None
    timezone: OneLine = Field(default="America/New_York", max_length=60)
    latitude: float | None = Field(default=None, ge=-90, le=90)
    longitude: float | None = Field(default=None, ge=-180, le=180)
    work_from: Clock = "07:00"
    work_to: Clock = "18:00"
    technicians: tuple[Technician, ...] = Field(default=(), max_length=200)
    required: tuple[OneLine, ...] = Field(default=(), max_length=40)
    extra: tuple[OneLine, ...] = Field(default=(), max_length=30)
    keep_years: int = Field(default=2, ge=2, le=30)
    pricing: Pricing | None = None

    @model_validator(mode="after")
    def _the_day_has_hours(self) -> Branch:
        if self.work_from and self.work_to and self.work_to <= self.work_from:
            raise FieldError("work_to", f"{self.work_to} does not lie after the start of work at {self.work_from}")
        names = [person.name.casefold() for person in self.technicians]
        for number, name in enumerate(names):
            if name in names[:number]:
                what = f"'{self.technicians[number].name}' stands twice; name each technician once"
                raise FieldError(f"technicians.{number}.name", what)
        return self
