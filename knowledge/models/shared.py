"""Facts that belong to no single weed, active or turf."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowledge.models.active import Movement
from knowledge.models.common import (
    AdjuvantId,
    Amount,
    Fact,
    LifeForm,
    Season,
    Sentence,
    SiteUse,
    Slug,
    Sourced,
    Span,
    Stress,
    SurroundingId,
    Zone,
)
from knowledge.models.weed import LifeCycle


class Source(Fact):
    """A publication, registered once. `seen` is true only where its text was read.

    A trial of the house is of kind `house`; the facts hold none.
    """

    citation: str = Field(min_length=5)
    kind: Literal[
        "journal", "proceedings", "extension", "government", "standard", "book", "common-practice", "other", "house"
    ]
    seen: bool


class SeasonSpan(Span):
    """A season of the spraying year in one zone."""

    season: Season


class ZoneFact(Sourced):
    """A turf adaptation zone with its seasons, which cover the year without overlap."""

    id: Zone
    name: str
    where: str
    seasons: tuple[SeasonSpan, ...] = Field(min_length=6)


class Adjuvant(Sourced):
    """A spray adjuvant and its usual rate."""

    id: AdjuvantId
    name: str
    rate: Amount | None
    text: str


class Surrounding(Sourced):
    """Something near the turf that matters to the choice, and what it asks of everyone."""

    id: SurroundingId
    name: str
    text: str


class Site(Fact):
    """A use of the turf, with the name people read."""

    id: SiteUse
    name: str


class TraitValue(Fact):
    """One thing a trait may show, in words that someone on the lawn understands."""

    id: Slug
    text: str


class Trait(Fact):
    """A question about a plant that can be answered by looking at it."""

    id: Slug
    question: str
    life_forms: tuple[LifeForm, ...] = Field(min_length=1)
    values: tuple[TraitValue, ...] = Field(min_length=2)


class Interaction(Sourced):
    """Two actives in one tank whose joint effect is not the sum of its parts.

    The shift is on the log-odds of control of the listed weeds or life forms; an outcome bars
    the mix or cautions. `separation_days` is how far apart the two are sprayed instead.
    """

    id: Slug
    kind: Literal["antagonism", "synergism", "incompatible", "turf-injury", "safening"]
    actives: tuple[Slug, ...] = Field(min_length=1, max_length=1)
    partners: tuple[Slug, ...] = Field(min_length=1)
    weeds: tuple[Slug, ...] = ()
    life_forms: tuple[LifeForm, ...] = ()
    stages: tuple[str, ...] = ()
    turf: tuple[str, ...] = ()
    shift: float = 0.0
    sd: float = Field(default=0.0, ge=0)
    separation_days: int | None = None
    outcome: Literal["stop", "caution"] | None = None
    text: str


class MixturePart(Fact):
    """One active of a standard mixture, at its share of the usual rate of the mixture."""

    active: Slug
    form: Slug | None = None
    rate: Amount


class MixtureRate(Sourced):
    """Composition of a standard mixture per acre on these turfs."""

    turf: tuple[str, ...] = Field(min_length=1)
    parts: tuple[MixturePart, ...] = Field(min_length=2, max_length=4)


class Mixture(Fact):
    """A standard mixture, named by its composition."""

    id: Slug
    timing: Literal["preemergence", "postemergence"]
    text: str
    rates: tuple[MixtureRate, ...] = Field(min_length=1)
    sites_barred: tuple[SiteUse, ...] = ()


class Rule(Sourced):
    """The text of a stop or caution; its predicate of the same id is in the engine."""

    id: Slug
    scope: Literal["dose", "adjuvant", "pair", "repeat", "situation"]
    question: str
    statement: str
    sentences: dict[Literal["stop", "warning", "caution", "info", "unknown"], str]
    thresholds: dict[str, Amount] = Field(default_factory=dict)


class ShiftFact(Sourced):
    """A shift on the log-odds of control with its standard deviation."""

    id: Slug
    text: str
    shift: float
    sd: float = Field(ge=0)
    seasons: tuple[Season, ...] = ()
    movement: tuple[Movement, ...] = ()
    life_cycles: tuple[LifeCycle, ...] = ()
    stress: tuple[Stress, ...] = ()
    soil_moisture: tuple[Literal["dry", "adequate", "wet"], ...] = ()
    form_kinds: tuple[str, ...] = ()
    stages: Literal["emerged", "not-emerged", "any"] = "emerged"


class Parameter(Sourced):
    """A parameter of the control model; unit in words."""

    id: Slug
    text: str
    value: float
    unit: str


class Notice(Sentence):
    """A caution that stands on every answer."""

    id: Slug
