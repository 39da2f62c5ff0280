"""The situation a program is asked for, as sent by a face: strict and frozen."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from app.engine.measures import AdjuvantRate, Area, Carrier, Day, Input, Rate
from app.engine.product import Product
from knowledge.models.common import AdjuvantId, GreenUp, SiteUse, Slug, Stand, Stress, SurroundingId, Zone


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
    """An active already applied this year on this turf, and by which product where that is known."""

    date: Day
    active: Slug
    rate: Rate
    product: str | None = Field(default=None, max_length=120)


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
    """How far to search, and whether the house's own trials count."""

    max_products: int = Field(default=3, ge=1, le=3)
    max_applications: int = Field(default=2, ge=1, le=2)
    adjuvants: bool = True
    house_evidence: bool = True
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
