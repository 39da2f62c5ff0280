"""Use cases around the growth of weeds: the stage on a date, and when seedlings come up."""

from __future__ import annotations

from datetime import date as Date
from typing import Any

from pydantic import Field

from app.engine.measures import Day as CalendarDay
from app.engine.measures import Input
from app.season.ageing import Aged, aged
from app.season.emergence import EmergenceForecast
from app.season.emergence import emergence as season_emergence
from app.season.forecast import MOST_DAYS, Day
from app.services.knowledge_service import knowledge_base
from app.services.validation import validated
from knowledge.models.common import Slug, Zone


class StageOnRequest(Input):
    """A scouted stage and the day for which it is asked.

    `daily` holds lowest and highest air temperatures [F]; where they cover the days between, growth of the grasses
    whose warmth is recorded is reckoned by them.
    """

    weed: Slug
    stage: Slug
    scouted: CalendarDay
    on: CalendarDay
    zone: Zone
    daily: tuple[Day, ...] = Field(default=(), max_length=MOST_DAYS)


class EmergenceRequest(Input):
    """Temperatures day by day, in order, and the weeds asked for; all with recorded events where none is named.

    `today` parts what is past from what is ahead, the last day where it is absent; `soil_depth_in` is how deep the
    soil temperatures were taken [inches]; `zone` adds what its calendar says.
    """

    daily: tuple[Day, ...] = Field(min_length=1, max_length=MOST_DAYS)
    weeds: tuple[Slug, ...] = Field(default=(), max_length=200)
    zone: Zone | None = None
    today: CalendarDay | None = None
    soil_depth_in: float | None = Field(default=None, gt=0, le=40)


def stage_on(payload: Any) -> Aged:
    """The stage to expect on a day of a weed that was scouted earlier, given as plain data.

    Raises
    ------
    InputError
        With every field that cannot be used.
    """
    asked = validated(StageOnRequest, payload)
    told: list[tuple[Date, float, float]] = [
        (day.date, day.min_f, day.max_f) for day in asked.daily if day.min_f is not None and day.max_f is not None
    ]
    return aged(knowledge_base(), asked.weed, asked.stage, asked.scouted, asked.on, asked.zone, told)


def emergence(payload: Any) -> EmergenceForecast:
    """When seedlings come up by temperatures day by day, given as plain data.

    Raises
    ------
    InputError
        With every field that cannot be used.
    """
    asked = validated(EmergenceRequest, payload)
    return season_emergence(knowledge_base(), asked.daily, asked.weeds, asked.zone, asked.today, asked.soil_depth_in)
