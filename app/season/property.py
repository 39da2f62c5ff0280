"""Customers, their properties, and what was seen on them; as they are kept."""

from __future__ import annotations

from datetime import date as Date
from typing import Literal

from pydantic import Field, model_validator

from app.engine.measures import Area, Day, FieldError, Input
from app.engine.product import Lines, OneLine
from app.engine.situation import LocalRule
from knowledge.models.common import GreenUp, SiteUse, Slug, Stand, Stress, SurroundingId, Zone

Irrigation = Literal["none", "by-hand", "system"]
Slope = Literal["flat", "gentle", "steep"]
PlanKind = Literal["seeding", "sodding", "sprigging", "aeration", "event", "other"]
# Plans after which, and shortly before which, seed or sprigs stand in the ground.
SEEDING = frozenset({"seeding", "sodding", "sprigging"})


class Customer(Input):
    """Who is billed, and how to reach them; their id is the store's."""

    name: OneLine = Field(min_length=1, max_length=120)
    address: OneLine = Field(default="", max_length=200)
    phone: OneLine = Field(default="", max_length=40)
    email: OneLine = Field(default="", max_length=120)
    notes: Lines = Field(default="", max_length=2000)


class PropertyArea(Input):
    """A part of a property that is treated alike.

    What is absent is unknown, never assumed favourable; without turf it cannot be planned, and says so.
    `emerged` is when the seedlings of this stand came up, `green_up` how it stands now.
    """

    id: Slug
    name: OneLine = Field(min_length=1, max_length=80)
    turf: tuple[Slug, ...] = Field(default=(), max_length=5)
    area: Area | None = None
    site_use: SiteUse | None = None
    slope: Slope | None = None
    surroundings: tuple[SurroundingId, ...] = ()
    mowing_height_in: float | None = Field(default=None, gt=0, le=24)
    irrigation: Irrigation | None = None
    stand: Stand | None = None
    emerged: Day | None = None
    green_up: GreenUp | None = None
    stress: Stress | None = None
    notes: Lines = Field(default="", max_length=1000)


class PropertyPlan(Input):
    """What is meant to happen: a seeding, a garden party. `area` is None where it is all of the property."""

    kind: PlanKind
    date: Day
    area: Slug | None = None
    text: OneLine = Field(default="", max_length=200)


class Property(Input):
    """A property as it is kept.

    `customer` is the id of who is billed; `ended` the last day of service, None while it is served. A property with
    records cannot be removed, since records are kept, but its service can end.
    """

    name: OneLine = Field(min_length=1, max_length=120)
    customer: Slug | None = None
    address: OneLine = Field(default="", max_length=200)
    zone: Zone | None = None
    latitude: float | None = Field(default=None, ge=-90, le=90)
    longitude: float | None = Field(default=None, ge=-180, le=180)
    technician: OneLine = Field(default="", max_length=80)
    areas: tuple[PropertyArea, ...] = Field(default=(), max_length=40)
    plans: tuple[PropertyPlan, ...] = Field(default=(), max_length=100)
    local_rules: tuple[LocalRule, ...] = Field(default=(), max_length=100)
    ended: Day | None = None
    notes: Lines = Field(default="", max_length=2000)

    @model_validator(mode="after")
    def _areas_differ(self) -> Property:
        ids = [area.id for area in self.areas]
        for number, key in enumerate(ids):
            if key in ids[:number]:
                raise FieldError(f"areas.{number}.id", f"'{key}' stands twice; give each area an id of its own")
        for number, plan in enumerate(self.plans):
            if plan.area is not None and plan.area not in ids:
                raise FieldError(f"plans.{number}.area", f"'{plan.area}' is no area of this property")
        return self

    def area_of(self, key: str) -> PropertyArea | None:
        """The area of an id, or None."""
        return next((area for area in self.areas if area.id == key), None)

    def seeding_after(self, key: str, day: Date) -> Date | None:
        """The next planned seeding of an area on or after a day, or None."""
        planned = [p.date for p in self.plans if p.kind in SEEDING and p.area in (None, key) and p.date >= day]
        return min(planned, default=None)


class SeenWeed(Input):
    """A weed as somebody saw it on an area; `by` is who."""

    area: Slug
    weed: Slug
    date: Day
    stage: Slug | None = None
    tillers: int | None = Field(default=None, ge=0, le=500)
    leaves: int | None = Field(default=None, ge=0, le=500)
    cover_pct: float | None = Field(default=None, ge=0, le=100)
    priority: float = Field(default=1, gt=0, le=100)
    resistant_to: tuple[OneLine, ...] = Field(default=(), max_length=10)
    by: OneLine = Field(default="", max_length=80)
    text: Lines = Field(default="", max_length=1000)
    # A note is closed where the weed is gone, or where what was seen no longer counts.
    closed: Day | None = None


class ScoutingNote(SeenWeed):
    """A weed as it was seen, with the property that the area is of."""

    property: Slug
