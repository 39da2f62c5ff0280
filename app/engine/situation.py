"""The situation a program is asked for, as sent by a face: strict and frozen."""

from __future__ import annotations

from datetime import date as Date
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from knowledge.models.common import AdjuvantId, GreenUp, SiteUse, Slug, Stand, Stress, SurroundingId, Zone
from knowledge.quantities import AREA_UNITS, CARRIER_UNITS, RATE_UNITS, UNITS, Quantity

EARLIEST_YEAR, LATEST_YEAR = 2000, 2100


class Input(BaseModel):
    """Base of all input: frozen; unknown keys are an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


def _year_in_range(value: Any) -> Any:
    # Only the ISO text of a day: a number would be read as seconds since 1970.
    if isinstance(value, Date):
        return value
    if not isinstance(value, str) or len(value) != 10:
        raise ValueError("must be a day written YYYY-MM-DD")
    try:
        day = Date.fromisoformat(value)
    except ValueError as error:
        raise ValueError(f"'{value}' is no day of the calendar; write YYYY-MM-DD") from error
    if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        raise ValueError(f"the year must lie between {EARLIEST_YEAR} and {LATEST_YEAR}")
    return day


Day = Annotated[Date, BeforeValidator(_year_in_range)]


class Measure(Input):
    """A value with its unit, as the interfaces write it."""

    value: float = Field(ge=0, le=1e12)
    unit: str

    @model_validator(mode="after")
    def _unit_is_known(self) -> Measure:
        if self.unit not in UNITS:
            raise ValueError(f"unit '{self.unit}' is not known; use one of {', '.join(self.allowed())}")
        if self.unit not in self.allowed():
            raise ValueError(f"unit '{self.unit}' does not belong here; use one of {', '.join(self.allowed())}")
        return self

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        """Units this kind of measure may carry."""
        return tuple(UNITS)

    @property
    def quantity(self) -> Quantity:
        """The same as a quantity of the knowledge base."""
        return Quantity(self.value, self.unit)


class Area(Measure):
    """An area, more than zero."""

    value: float = Field(gt=0, le=1e9)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return AREA_UNITS


class Rate(Measure):
    """A rate of an active or product per area, more than zero."""

    value: float = Field(gt=0, le=1e6)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return RATE_UNITS


class Carrier(Measure):
    """Volume of spray per area, more than zero."""

    value: float = Field(gt=0, le=1e6)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return CARRIER_UNITS


class AdjuvantRate(Measure):
    """A rate of adjuvant, as a share of the spray or per area."""

    value: float = Field(gt=0, le=1e6)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return ("% v/v", *RATE_UNITS)


class TurfCondition(Input):
    """How the turf stands now; what is absent is unknown."""

    stand: Stand | None = None
    mowings_since_emergence: int | None = Field(default=None, ge=0, le=1000)
    weeks_since_emergence: float | None = Field(default=None, ge=0, le=1000)
    green_up: GreenUp | None = None
    stress: Stress | None = None
    seeding_planned: Day | None = None
    mowing_height_in: float | None = Field(default=None, gt=0, le=24)


class Target(Input):
    """One weed to be controlled."""

    weed: Slug
    stage: str | None = None
    tillers: int | None = Field(default=None, ge=0, le=500)
    leaves: int | None = Field(default=None, ge=0, le=500)
    cover_pct: float | None = Field(default=None, ge=0, le=100)
    priority: float = Field(default=1, gt=0, le=100)
    resistant_to: tuple[str, ...] = ()


class Forecast(Input):
    """Weather at and after the spray; what is absent is unknown."""

    max_temp_f: float | None = Field(default=None, ge=-60, le=140)
    max_temp_next_3_days_f: float | None = Field(default=None, ge=-60, le=140)
    min_temp_f: float | None = Field(default=None, ge=-80, le=120)
    soil_temp_f: float | None = Field(default=None, ge=-20, le=140)
    wind_mph: float | None = Field(default=None, ge=0, le=200)
    rh_pct: float | None = Field(default=None, ge=0, le=100)
    rain_free_hours: float | None = Field(default=None, ge=0, le=1000)
    soil_moisture: Literal["dry", "adequate", "wet"] | None = None

    @model_validator(mode="after")
    def _warmest_is_warmer(self) -> Forecast:
        if self.max_temp_f is not None and self.min_temp_f is not None and self.min_temp_f > self.max_temp_f:
            raise ValueError("min_temp_f must not exceed max_temp_f")
        return self


class PastApplication(Input):
    """An active already applied this year on this turf."""

    date: Day
    active: Slug
    rate: Rate


class LocalRule(Input):
    """A rule of the place: a ban on an active, a form or a mechanism group, or a closed season."""

    kind: Literal["ban-active", "ban-form", "ban-group", "closed-season"]
    active: Slug | None = None
    form: Slug | None = None
    group: str | None = None
    start: Day | None = Field(default=None, alias="from")
    end: Day | None = Field(default=None, alias="to")
    note: str = Field(default="", max_length=500)

    @model_validator(mode="after")
    def _kind_has_its_field(self) -> LocalRule:
        needed = {"ban-active": "active", "ban-form": "form", "ban-group": "group", "closed-season": "start"}[self.kind]
        if getattr(self, needed) is None:
            raise ValueError(f"a rule of kind {self.kind} needs '{'from' if needed == 'start' else needed}'")
        if self.kind == "closed-season" and (self.end is None or self.start is None or self.end < self.start):
            raise ValueError("a closed season needs 'from' and a 'to' that is not earlier")
        return self


class Options(Input):
    """How far to search."""

    max_products: int = Field(default=3, ge=1, le=3)
    max_applications: int = Field(default=2, ge=1, le=2)
    adjuvants: bool = True
    top: int = Field(default=5, ge=1, le=50)


class Priorities(Input):
    """Weights of the score's parts; they are scaled to sum to 100."""

    control: float = Field(default=50, ge=0, le=1e6)
    turf_safety: float = Field(default=20, ge=0, le=1e6)
    resistance: float = Field(default=10, ge=0, le=1e6)
    cost: float = Field(default=10, ge=0, le=1e6)
    passes: float = Field(default=5, ge=0, le=1e6)
    off_target: float = Field(default=5, ge=0, le=1e6)

    @model_validator(mode="after")
    def _something_counts(self) -> Priorities:
        if sum(self.model_dump().values()) <= 0:
            raise ValueError("at least one priority must be more than zero")
        return self


class Content(Measure):
    """Content of an active in a product."""

    value: float = Field(gt=0, le=2000)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return ("lb ae/gal", "lb ai/gal", "g ae/L", "g ai/L", "% w/w")

    @model_validator(mode="after")
    def _not_over_the_whole(self) -> Content:
        if self.unit == "% w/w" and self.value > 100:
            raise ValueError("a content by weight cannot exceed 100 % w/w")
        return self


class Density(Measure):
    """Density of a liquid product."""

    value: float = Field(gt=0, le=30)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return ("lb/gal",)


class ProductActive(Input):
    """An active in a product given inline."""

    active: Slug
    form: Slug | None = None
    content: Content


class Product(Input):
    """A product given inline: what its own label states and the rate to consider."""

    name: str = Field(min_length=1, max_length=120)
    formulation: Literal["SL", "EC", "EW", "SC", "WG", "WP", "G"]
    actives: tuple[ProductActive, ...] = Field(min_length=1, max_length=4)
    rate: Rate
    density: Density | None = None

    @model_validator(mode="after")
    def _actives_differ(self) -> Product:
        names = [part.active for part in self.actives]
        if len(set(names)) != len(names):
            raise ValueError("names an active twice; give each active once")
        return self


class Situation(Input):
    """What is asked: where, when, on which turf, against which weeds.

    Required are `date`, `zone`, `site_use`, `turf` and `targets`; all else is optional, and
    an absent fact is unknown, never assumed favourable.
    """

    date: Day
    zone: Zone
    site_use: SiteUse
    turf: tuple[Slug, ...] = Field(min_length=1, max_length=5)
    turf_condition: TurfCondition = TurfCondition()
    area: Area | None = None
    targets: tuple[Target, ...] = Field(min_length=1, max_length=12)
    forecast: Forecast = Forecast()
    surroundings: tuple[SurroundingId, ...] = ()
    applied_this_year: tuple[PastApplication, ...] = Field(default=(), max_length=200)
    local_rules: tuple[LocalRule, ...] = Field(default=(), max_length=100)
    carrier: Carrier | None = None
    catalog: Literal["actives", "shelf"] | tuple[Product, ...] = "actives"
    options: Options = Options()
    priorities: Priorities = Priorities()


class ProgramActive(Input):
    """An active with its rate in a stated program."""

    active: Slug
    form: Slug | None = None
    rate: Rate


class ProgramAdjuvant(Input):
    """An adjuvant in a stated program."""

    id: AdjuvantId
    rate: AdjuvantRate | None = None


class ProgramApplication(Input):
    """One application of a stated program, on its day after the situation's date."""

    day: int = Field(default=0, ge=0, le=365)
    actives: tuple[ProgramActive, ...] = Field(min_length=1, max_length=5)
    adjuvant: ProgramAdjuvant | None = None
    carrier: Carrier | None = None


class Program(Input):
    """A program as stated by its author: one or two applications."""

    applications: tuple[ProgramApplication, ...] = Field(min_length=1, max_length=2)

    @model_validator(mode="after")
    def _days_rise(self) -> Program:
        days = [application.day for application in self.applications]
        if days != sorted(set(days)):
            raise ValueError("the days of the applications must rise")
        for application in self.applications:
            names = [part.active for part in application.actives]
            if len(set(names)) != len(names):
                raise ValueError("an application names an active twice; give each active once")
        return self


class ExpectRequest(Input):
    """A stated program in its situation, and when it is to be judged."""

    situation: Situation
    program: Program
    days_after: int | None = Field(default=None, ge=1, le=365)


class WhyNotRequest(Input):
    """Which active or mixture is asked after, and in which situation."""

    situation: Situation
    actives: tuple[Slug, ...] = Field(min_length=1, max_length=4)
