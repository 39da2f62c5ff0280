"""A weed: what it is, when it is vulnerable, and what each active does to it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowledge.models.active import Movement
from knowledge.models.common import (
    AdjuvantId,
    Amount,
    Fact,
    LifeForm,
    MonthDay,
    Season,
    Sentence,
    Slug,
    Sourced,
    Span,
    Zone,
)

Organ = Literal["taproot", "fibrous-root", "stolon", "rhizome", "tuber", "bulb", "crown", "creeping-root", "seed"]
LifeCycle = Literal["summer-annual", "winter-annual", "biennial", "perennial"]


class LookAlike(Fact):
    """Another plant taken for this weed, and how to tell them apart."""

    name: str
    difference: str


class StageWindow(Span):
    """When a stage is usually seen in these zones; windows of a weed may overlap."""

    zones: tuple[Zone, ...] = Field(min_length=1)
    stage: str


class SeasonWindow(Sourced, Span):
    """A span in which spraying pays (`best`) or is wasted (`wasted`)."""

    kind: Literal["best", "wasted"]
    purpose: Literal["preemergence", "postemergence"]
    zones: tuple[Zone, ...] = Field(min_length=1)
    text: str


class Response(Sourced):
    """Percent control of this weed by one active at a reference rate.

    Attributes
    ----------
    rate : Quantity
        Reference rate [lb ae/acre or lb ai/acre, per application].
    stages, seasons : tuple of str
        Where the figure holds; no stages means every emerged stage, no seasons means all.
    adjuvant : str
        The adjuvant under which the figure was taken.
    applications : int
        1, or 2 when the figure is for a program of two at `interval_days`.
    days : int
        Days after the last application at which control was rated.
    band : tuple of float
        Low, likely and high percent control, central 80 % of sites.
    """

    active: Slug
    rate: Amount
    stages: tuple[str, ...] = ()
    seasons: tuple[Season, ...] = ()
    form: Slug | None = None
    adjuvant: AdjuvantId = "none"
    applications: Literal[1, 2] = 1
    interval_days: int | None = Field(default=None, ge=1)
    days: int = Field(ge=1, le=400)
    band: tuple[float, float, float]
    note: str = ""


class MixtureCorrelation(Sourced):
    """How alike this weed's susceptibilities to actives of one mechanism group are, 0 to 1."""

    group: str
    rho: float = Field(ge=0, le=1)


class SeasonShift(Sourced):
    """A shift on the log-odds of control in a season, for actives that move as stated."""

    seasons: tuple[Season, ...] = Field(min_length=1)
    movement: tuple[Movement, ...] = Field(min_length=1)
    shift: float
    sd: float = Field(ge=0)


class Traits(Sourced):
    """What can be seen of the plant: for each trait of `traits.yaml`, the values it may show."""

    shows: dict[Slug, tuple[Slug, ...]] = Field(min_length=3)


class EmergencePoint(Fact):
    """A share of the year's seedlings and the sum or temperature at which it is up."""

    event: Literal["first", "main", "half", "most", "end", "treat-before"]
    low: float
    high: float


class Emergence(Sourced):
    """When seedlings emerge, by degree-days or by soil temperature.

    Attributes
    ----------
    kind : str
        `air-degree-days` and `soil-degree-days` are sums above `base_f` from `start`
        [F degree-days]; `soil-temperature` is the temperature itself [F].
    depth_in : float
        Depth at which the soil temperature is taken [in].
    falling : bool
        Whether seed waits for the soil to cool below the temperature, counted from `start`.
    """

    kind: Literal["air-degree-days", "soil-degree-days", "soil-temperature"]
    base_f: float | None = None
    start: MonthDay | None = Field(default=None, alias="from")
    depth_in: float | None = Field(default=None, gt=0)
    falling: bool = False
    points: tuple[EmergencePoint, ...] = Field(min_length=1)
    text: str


class Plan(Sourced):
    """How many applications to plan for from the start, because one rarely finishes it."""

    applications: Literal[2]
    text: str


class KnownResistance(Sourced):
    """A resistant biotype of this weed known in turf."""

    groups: tuple[str, ...] = Field(min_length=1)
    text: str


class Weed(Fact):
    """One weed of the knowledge base.

    `usually_meant_by` lists names that several weeds share and that usually mean this one.
    """

    id: Slug
    name: str
    scientific_name: str
    eppo: str = Field(pattern=r"^[A-Z0-9]{5,6}$")
    family: str
    life_form: LifeForm
    life_cycle: LifeCycle
    organs: tuple[Organ, ...] = Field(min_length=1)
    synonyms: tuple[str, ...]
    usually_meant_by: tuple[str, ...] = ()
    recognise: Sentence
    look_alikes: tuple[LookAlike, ...] = ()
    same_species_turf: tuple[Slug, ...] = ()
    treatable_stages: tuple[str, ...] = Field(min_length=1)
    unknown_stages: tuple[str, ...] = ()
    calendar: tuple[StageWindow, ...] = Field(min_length=1)
    windows: tuple[SeasonWindow, ...] = ()
    culture: tuple[Sentence, ...] = ()
    notes: tuple[Sentence, ...] = ()
    responses: tuple[Response, ...] = Field(min_length=1)
    mixture_rho: tuple[MixtureCorrelation, ...] = ()
    season_shifts: tuple[SeasonShift, ...] = ()
    resistance: tuple[KnownResistance, ...] = ()
    plan: Plan | None = None
    traits: Traits | None = None
    emergence: tuple[Emergence, ...] = ()
