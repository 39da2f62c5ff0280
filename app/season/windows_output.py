"""What is answered on spray windows: hours, spans and days, each with its reasons."""

from __future__ import annotations

from datetime import date as Date
from datetime import datetime
from typing import Literal

from app.engine.output import CitedSource, Output, Statement
from app.season.limits import Limits
from app.season.sun import Course

State = Literal["open", "closed", "unknown"]
ReasonSeverity = Literal["stop", "caution", "unknown"]


class Reason(Statement):
    """Why an hour is closed, left open with a caution, or not known.

    `value` is what the forecast tells and `limit` what it is held against, both in `unit`; `settled_by` names the
    field that would settle an unknown. `about` is what in the tank asks for it, empty where every spray does.
    """

    severity: ReasonSeverity
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    settled_by: str | None = None
    about: str = ""


class WindowHour(Output):
    """One hour of a day: `start` with the offset of the place, `label` as people say it."""

    start: datetime
    label: str
    state: State
    temp_f: float | None
    rh_pct: float | None
    wind_mph: float | None
    gust_mph: float | None
    rain_in: float | None
    rain_chance_pct: float | None
    cloud_pct: float | None
    delta_t_c: float | None
    reasons: tuple[Reason, ...]


class WindowSpan(Output):
    """Hours in a row with one state and the same reasons; `words` says when, as people do."""

    start: datetime
    end: datetime
    words: str
    state: State
    hours: int
    reasons: tuple[Reason, ...]


class Heat(Output):
    """How warm the day and the next three get [degF]; null where it is not told."""

    max_temp_f: float | None
    max_temp_next_3_days_f: float | None
    cautions: tuple[Reason, ...]


class WindowDay(Output):
    """One local day: its hours, when they are open, and why the others are not.

    `shut` groups the hours that are not open by what stops them (of closed ones the stops alone), `careful` the open
    ones that carry cautions; each hour holds all of its reasons.
    """

    date: Date
    day: str
    sunrise: datetime | None
    sunset: datetime | None
    sun: Course
    sun_words: str
    hours: tuple[WindowHour, ...]
    open: tuple[WindowSpan, ...]
    shut: tuple[WindowSpan, ...]
    careful: tuple[WindowSpan, ...]
    first: datetime | None
    last: datetime | None
    open_hours: int
    unknown_hours: int
    words: str
    mostly: str
    heat: Heat
    notices: tuple[str, ...]


class Windows(Output):
    """When a tank can be sprayed at one place, day by day."""

    place: str
    timezone: str
    limits: Limits
    headline: str
    days: tuple[WindowDay, ...]
    notices: tuple[str, ...]
    sources: dict[str, CitedSource]
    knowledge_version: str
