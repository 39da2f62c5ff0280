"""A round as it is kept: a day, who sprays, with how many tanks, and the stops."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from app.engine.measures import Day, FieldError, Input
from app.engine.product import Lines, OneLine
from app.season.record import Method
from knowledge.models.common import Slug

MOST_TANKS = 6
MOST_STOPS = 200


class RoundStop(Input):
    """An area to be sprayed; `method` is None where the cover of its weeds decides."""

    property: Slug
    area: Slug
    method: Method | None = None


class Round(Input):
    """A day's round.

    `tanks` is how many different mixes may be filled; `sprayer` and `forecast` are ids of what is kept.
    """

    name: OneLine = Field(min_length=1, max_length=120)
    date: Day
    technician: OneLine = Field(default="", max_length=80)
    tanks: int = Field(default=2, ge=1, le=MOST_TANKS)
    sprayer: Slug | None = None
    catalog: Literal["shelf", "actives"] = "shelf"
    max_applications: int = Field(default=2, ge=1, le=2)
    forecast: Slug | None = None
    stops: tuple[RoundStop, ...] = Field(default=(), max_length=MOST_STOPS)
    notes: Lines = Field(default="", max_length=2000)

    @model_validator(mode="after")
    def _stops_differ(self) -> Round:
        seen = [(stop.property, stop.area) for stop in self.stops]
        for number, pair in enumerate(seen):
            if pair in seen[:number]:
                raise FieldError(f"stops.{number}", f"{pair[0]}, {pair[1]} stands twice; name each area once")
        return self
