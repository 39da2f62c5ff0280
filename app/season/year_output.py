"""What a planned year answers."""

from __future__ import annotations

from datetime import date as Date
from typing import Literal

from pydantic import ConfigDict, Field

from app.engine.output import Application, Caution, CitedSource, Output, Statement


class Span(Output):
    """Days from one to another, both counted."""

    model_config = ConfigDict(frozen=True, populate_by_name=True)

    start: Date = Field(alias="from", serialization_alias="from")
    end: Date = Field(alias="to", serialization_alias="to")


class VisitWindow(Span):
    """Days on which what a visit holds does about as much, and what opens and closes them, in words."""

    trigger: str


class YearVisit(Output):
    """One visit to one area; without applications `reasons` says why nothing is sprayed.

    `cost_per_1000_ft2` is null where a price is unknown, `gain` what the visit adds to the objective [points],
    `locked` whether a lock holds it as it is.
    """

    model_config = ConfigDict(frozen=True, populate_by_name=True)

    number: int
    date: Date
    window: VisitWindow
    area: str
    name: str
    applications: tuple[Application, ...]
    against: tuple[str, ...] = Field(alias="for", serialization_alias="for")
    groups: tuple[int, ...]
    gain: float
    cost_per_1000_ft2: float | None
    locked: bool
    reasons: tuple[Statement, ...]
    cautions: tuple[Caution, ...]


class YearControl(Output):
    """Expected control of a weed over the season [percent]: the band, and the same without any visit of the plan.

    `area` is null where it speaks of the whole property.
    """

    weed: str
    name: str
    area: str | None
    low: float
    likely: float
    high: float
    visits: tuple[int, ...]
    text: str
    sources: tuple[str, ...]


class Allowance(Output):
    """How much of an active the year uses of its ceiling, what was applied before included.

    `maximum` is null where no ceiling by rate is recorded; `count` and `most` tell applications.
    """

    area: str
    active: str
    name: str
    used: float
    before: float
    maximum: float | None
    unit: str
    count: int
    most: int | None
    sources: tuple[str, ...]


class WeedWindow(Span):
    """A span of a weed's year: `emerging`, `best` or `wasted` for a purpose, `stands` or `seeds`."""

    kind: Literal["emerging", "stands", "seeds", "best", "wasted"]
    purpose: str
    text: str
    told_by: Literal["calendar", "weather"]
    sources: tuple[str, ...]


class WeedYear(Output):
    """The windows of a weed through the year, for the calendar."""

    weed: str
    name: str
    pressure: str
    windows: tuple[WeedWindow, ...]


class FrontierPoint(Output):
    """A plan that nothing beats at its cost and its number of visits.

    `cost` is per 1000 ft2, null where prices are unknown; `control` the objective [points], `knee` the point after
    which more money buys clearly less.
    """

    cost: float | None
    control: float
    visits: int
    knee: bool
    proven: bool


class Relax(Output):
    """A constraint that would have to be loosened: its field, why, and the least that would do."""

    constraint: str
    text: str
    least: float | None = None


class YearPlan(Output):
    """The best program of a year for one property.

    Attributes
    ----------
    objective, bound, gap : float
        Expected control over weeds, areas and season by priority [points of 100], the same with the gap, and the gap:
        by how much another plan may do better once each product has brought the least that makes it worth spraying.
    proven : bool
        Whether the gap is below what the optimum is asked for.
    groups_by_visit : tuple of tuple of int
        Mechanisms by visit, over all areas.
    frontier : tuple of FrontierPoint
        Expected control against cost and visits, least first.
    next_visit : str
        What one more visit would buy.
    proof : str
        In a sentence, what the bound holds for: which days and how many treatments were considered.
    relax : tuple of Relax or None
        Where nothing is feasible, what to loosen, smallest first.
    """

    year: int
    headline: str
    visits: tuple[YearVisit, ...]
    control: tuple[YearControl, ...]
    allowance: tuple[Allowance, ...]
    groups_by_visit: tuple[tuple[int, ...], ...]
    rotation: tuple[Statement, ...]
    weeds: tuple[WeedYear, ...]
    objective: float
    bound: float
    gap: float
    proven: bool
    cost: float | None
    currency: str
    frontier: tuple[FrontierPoint, ...]
    next_visit: str
    relax: tuple[Relax, ...] | None
    considered: int
    notices: tuple[str, ...]
    sources: dict[str, CitedSource]
    knowledge_version: str
    proof: str = ""


class ScenarioControl(Output):
    """Likely control of a weed over the season [percent]: as planned, and as things go with the new plan."""

    weed: str
    name: str
    area: str | None
    before: float
    after: float


class Scenario(Output):
    """What could go otherwise than planned, what it costs, and what had better be done then.

    Attributes
    ----------
    replanned_from : date
        The first day that is planned anew; the visits before it are done as planned.
    missed : int or None
        The visit that falls out, by its number in the plan.
    objective_before, objective_after : float
        Expected control by priority [points of 100].
    visits : tuple of YearVisit
        What is still to be done by the new plan, numbered on from the visits of the plan before that day.
    """

    kind: Literal["late-spring", "drought", "missed-visit"]
    title: str
    text: str
    replanned_from: Date
    missed: int | None
    objective_before: float
    objective_after: float
    control: tuple[ScenarioControl, ...]
    visits: tuple[YearVisit, ...]
    relax: tuple[Relax, ...] | None
    proven: bool
    sources: dict[str, CitedSource]


class YearScenarios(Output):
    """A planned year, and what its plan does when the year goes otherwise."""

    plan: YearPlan
    scenarios: tuple[Scenario, ...]
