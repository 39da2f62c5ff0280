"""What a planned round holds: its tanks, its stops, and what was given up by sharing a tank."""

from __future__ import annotations

from datetime import date as Date
from typing import Literal

from app.engine.measures import Area
from app.engine.output import (
    AdjuvantInTank,
    Amount,
    Caution,
    CitedSource,
    Control,
    Output,
    ProductInTank,
    Statement,
    TurfInjury,
)
from app.season.record import Method

# What becomes of a stop: sprayed, put off, nothing to spray on it, or not to be planned for want of a fact.
Status = Literal["spray", "wait", "nothing", "unknown"]


class AgedTarget(Output):
    """A weed of a stop at the stage it is expected to have on the day.

    `seen_stage` and `seen` are the note's; `text` says how the one became the other.
    """

    weed: str
    name: str
    seen_stage: str | None
    seen: Date
    stage: str | None
    stages: tuple[str, ...]
    cover_pct: float | None
    priority: float
    text: str
    sources: tuple[str, ...] = ()


class PlannedTank(Output):
    """One mix of the day.

    Attributes
    ----------
    label : str
        `A`, `B`, ... in the order of the area they serve.
    key : str
        What it is made of, as a stable hash.
    treated : Amount
        What is sprayed from it on all its stops.
    carrier : Amount or None
        Spray per area.
    max_air_f : float or None
        The warmest air in which every part of it may be sprayed [F].
    rainfast_hours : float or None
        Dry hours that it needs afterwards.
    open_hours : str
        When the weather lets it be sprayed, in words; empty where no forecast was given.
    closed : tuple of Statement
        Why the other hours are closed.
    """

    label: str
    key: str
    name: str
    products: tuple[ProductInTank, ...]
    adjuvant: AdjuvantInTank | None
    carrier: Amount | None
    treated: Amount
    stops: int
    max_air_f: float | None
    rainfast_hours: float | None
    open_hours: str = ""
    closed: tuple[Statement, ...] = ()


class PlannedStop(Output):
    """One area of the day, with what becomes of it and why.

    Attributes
    ----------
    tank : str or None
        Label of its tank where it is sprayed.
    wait_until : date or None
        The first day on which something passes every stop, as far as can be told.
    why : tuple of Statement
        Why it waits, or why it is in this tank and not in another.
    own_best : str
        The tank it would get by itself.
    given_up_pct : float or None
        What sharing costs it in expected control [percentage points], over its weeds by their priority.
    again : date or None
        When its second application is due, where it gets two.
    """

    property: str
    property_name: str
    customer: str
    address: str
    area: str
    area_name: str
    turf: tuple[str, ...]
    turf_names: tuple[str, ...]
    site_use: str | None
    ground: Area | None
    treated: Amount | None
    method: Method
    method_text: str
    targets: tuple[AgedTarget, ...]
    status: Status
    tank: str | None
    wait_until: Date | None
    why: tuple[Statement, ...]
    control: tuple[Control, ...]
    turf_injury: tuple[TurfInjury, ...]
    own_best: str
    own_control: tuple[Control, ...]
    given_up_pct: float | None
    given_up_text: str
    again: Date | None
    cautions: tuple[Caution, ...]
    surroundings: tuple[str, ...]


class Tradeoff(Output):
    """What so many tanks at most come to.

    `loss_pct` is the mean of what the served stops give up [percentage points]; `cost` is of the materials.
    `bound` and `gap` are of the last stage of the optimisation, as the solver proved them.
    """

    tanks: int
    used: int
    served: int
    unserved: int
    loss_pct: float
    cost: float | None
    currency: str
    proven: bool
    bound: float
    gap: float
    text: str


class RoundPlan(Output):
    """The plan of a round on a day."""

    date: Date
    headline: str
    tanks: tuple[PlannedTank, ...]
    stops: tuple[PlannedStop, ...]
    at_most: int
    tradeoffs: tuple[Tradeoff, ...]
    proven: bool
    weather_text: str
    notices: tuple[str, ...]
    sources: dict[str, CitedSource]
    knowledge_version: str
