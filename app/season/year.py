"""A year that is asked for: a property, its weeds, its visits, and what binds them."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from app.engine.measures import EARLIEST_YEAR, LATEST_YEAR, Area, Day, FieldError, Input
from app.engine.product import OneLine, Product
from app.engine.situation import LocalRule, PastApplication, TurfCondition
from knowledge.models.common import SiteUse, Slug, SurroundingId, Zone

Pressure = Literal["low", "moderate", "high"]
MOST_VISITS = 24


class YearArea(Input):
    """A part of the property that is treated alike.

    In `turf_condition`, `weeks_since_emergence` and `mowings_since_emergence` hold on the first day that is planned;
    `seeding_planned` is the day of a seeding, after which the stand is that of seedlings.
    """

    id: Slug
    name: OneLine = Field(default="", max_length=80)
    turf: tuple[Slug, ...] = Field(min_length=1, max_length=5)
    area: Area | None = None
    turf_condition: TurfCondition = TurfCondition()
    surroundings: tuple[SurroundingId, ...] = ()


class YearWeed(Input):
    """A weed that the property has had or is likely to have; without `areas` on all of them."""

    weed: Slug
    pressure: Pressure = "moderate"
    priority: float = Field(default=1, gt=0, le=100)
    resistant_to: tuple[OneLine, ...] = Field(default=(), max_length=10)
    areas: tuple[Slug, ...] = Field(default=(), max_length=40)


class YearVisits(Input):
    """Either how many visits there may be, or their dates."""

    count: int | None = Field(default=None, ge=0, le=MOST_VISITS)
    dates: tuple[Day, ...] | None = Field(default=None, max_length=MOST_VISITS)

    @model_validator(mode="after")
    def _one_of_both(self) -> YearVisits:
        if self.count is None and self.dates is None:
            raise FieldError("count", "is required, or the 'dates' of the visits")
        if self.dates is not None:
            if self.count is not None and self.count != len(self.dates):
                raise FieldError("count", f"is {self.count}, but {len(self.dates)} dates are told; give one of both")
            for number, day in enumerate(self.dates[1:], start=1):
                if day <= self.dates[number - 1]:
                    raise FieldError(f"dates.{number}", "must lie after the date before it")
        return self


class YearPast(PastApplication):
    """What was applied, and on which area; without `area` on all of them."""

    area: Slug | None = None


class YearLimits(Input):
    """What may be spent and carried.

    `budget_per_1000_ft2` bounds the products of the whole year in the currency of the catalog.
    """

    budget_per_1000_ft2: float | None = Field(default=None, ge=0, le=1e6)
    max_products_per_visit: int = Field(default=3, ge=1, le=5)


class Lock(Input):
    """What a visit must hold, by its number or its date; without actives it must hold nothing."""

    visit: int | None = Field(default=None, ge=1, le=MOST_VISITS)
    date: Day | None = None
    area: Slug | None = None
    actives: tuple[Slug, ...] = Field(default=(), max_length=5)

    @model_validator(mode="after")
    def _names_a_visit(self) -> Lock:
        if (self.visit is None) == (self.date is None):
            raise FieldError("visit", "or 'date' must say which visit is meant, one of the two")
        return self


class Forbid(Input):
    """Actives that never stand in one tank together (one active: never at all), or not on one visit."""

    actives: tuple[Slug, ...] = Field(min_length=1, max_length=5)
    visit: int | None = Field(default=None, ge=1, le=MOST_VISITS)
    date: Day | None = None


class WarmDay(Input):
    """Air temperatures of a day [F]."""

    date: Day
    min_f: float = Field(ge=-80, le=130)
    max_f: float = Field(ge=-80, le=140)

    @model_validator(mode="after")
    def _warmest_is_warmer(self) -> WarmDay:
        if self.min_f > self.max_f:
            raise FieldError("min_f", "must not exceed max_f")
        return self


class YearWeather(Input):
    """Temperatures day by day, as far as they are known."""

    daily: tuple[WarmDay, ...] = Field(default=(), max_length=800)


class DryWeather(Input):
    """Days from one to another, both counted, on which turf and soil suffer drought."""

    start: Day = Field(alias="from")
    end: Day = Field(alias="to")

    @model_validator(mode="after")
    def _ends_after_it_starts(self) -> DryWeather:
        if self.end < self.start:
            raise FieldError("to", "must not lie before 'from'")
        return self


class YearOptions(Input):
    """How far to search.

    `frontier` asks for expected control against cost and number of visits; `time_limit_s` bounds each step of
    each optimisation [seconds], after which the best plan found is told with its gap.
    """

    frontier: bool = True
    time_limit_s: float = Field(default=60, gt=0, le=3600)


class YearAsked(Input):
    """What is asked of a year.

    Required are `year`, `zone`, `site_use`, `areas`, `weeds` and `visits`. `from` is the first day that may be
    planned: what was done before it is told in `applied_this_year`. `spring_shift_days` [days] is by how much
    everything that warmth drives runs late (early where it is negative), and `dry` tells spans of drought.
    """

    year: int = Field(ge=EARLIEST_YEAR, le=LATEST_YEAR)
    zone: Zone
    site_use: SiteUse
    areas: tuple[YearArea, ...] = Field(min_length=1, max_length=40)
    weeds: tuple[YearWeed, ...] = Field(min_length=1, max_length=25)
    visits: YearVisits
    start: Day | None = Field(default=None, alias="from")
    catalog: Literal["actives", "shelf"] | tuple[Product, ...] = "actives"
    applied_this_year: tuple[YearPast, ...] = Field(default=(), max_length=400)
    applied_last_year: tuple[YearPast, ...] = Field(default=(), max_length=400)
    local_rules: tuple[LocalRule, ...] = Field(default=(), max_length=100)
    limits: YearLimits = YearLimits()
    locks: tuple[Lock, ...] = Field(default=(), max_length=60)
    forbid: tuple[Forbid, ...] = Field(default=(), max_length=60)
    weather: YearWeather = YearWeather()
    spring_shift_days: int = Field(default=0, ge=-30, le=30)
    dry: tuple[DryWeather, ...] = Field(default=(), max_length=12)
    options: YearOptions = YearOptions()

    @model_validator(mode="after")
    def _fits_together(self) -> YearAsked:
        areas = [area.id for area in self.areas]
        _differ("areas", "id", areas)
        _differ("weeds", "weed", [weed.weed for weed in self.weeds])
        for number, weed in enumerate(self.weeds):
            for place, key in enumerate(weed.areas):
                _known_area(f"weeds.{number}.areas.{place}", key, areas)
        for name in ("applied_this_year", "applied_last_year", "locks"):
            for number, item in enumerate(getattr(self, name)):
                if item.area is not None:
                    _known_area(f"{name}.{number}.area", item.area, areas)
        self._dates_fit()
        return self

    def _dates_fit(self) -> None:
        for number, day in enumerate(self.visits.dates or ()):
            if day.year != self.year:
                raise FieldError(f"visits.dates.{number}", f"must lie in {self.year}, the year that is planned")
        if self.start is not None and self.start.year != self.year:
            raise FieldError("from", f"must lie in {self.year}, the year that is planned")
        for name, year in (("applied_this_year", self.year), ("applied_last_year", self.year - 1)):
            for number, past in enumerate(getattr(self, name)):
                if past.date.year != year:
                    raise FieldError(f"{name}.{number}.date", f"must lie in {year}")
        for number, span in enumerate(self.dry):
            for name, day in (("from", span.start), ("to", span.end)):
                if day.year != self.year:
                    raise FieldError(f"dry.{number}.{name}", f"must lie in {self.year}, the year that is planned")
        days = [day.date for day in self.weather.daily]
        for number, day in enumerate(days[1:], start=1):
            if day <= days[number - 1]:
                raise FieldError(f"weather.daily.{number}.date", "must lie after the day before it")


def _differ(name: str, field: str, keys: list[str]) -> None:
    for number, key in enumerate(keys):
        if key in keys[:number]:
            raise FieldError(f"{name}.{number}.{field}", f"'{key}' stands twice; name each once")


def _known_area(path: str, key: str, areas: list[str]) -> None:
    if key not in areas:
        raise FieldError(path, f"'{key}' is no area of this property; use {', '.join(areas)}")
