"""Vocabulary and small shared models of the facts."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer, StringConstraints

from knowledge.quantities import Quantity, QuantityError, parse_quantity

Basis = Literal["published", "memory", "common-practice", "house"]
Slug = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
MonthDay = Annotated[
    str,
    StringConstraints(
        pattern=r"^((0[13578]|1[02])-(0[1-9]|[12][0-9]|3[01])|(0[469]|11)-(0[1-9]|[12][0-9]|30)|02-(0[1-9]|[12][0-9]))$"
    ),
]

ZONES = ("cool-humid", "cool-arid", "transition", "warm-humid", "warm-arid")
SEASONS = ("winter", "early-spring", "late-spring", "summer", "early-autumn", "late-autumn")
SITE_USES = (
    "residential-lawn",
    "commercial-grounds",
    "school-grounds",
    "sports-turf",
    "golf-rough",
    "golf-fairway",
    "golf-tee",
    "golf-green",
    "sod-farm",
    "roadside",
    "cemetery-park",
)
SURROUNDINGS = (
    "tree-roots",
    "sensitive-ornamentals",
    "vegetable-garden",
    "surface-water",
    "well-head",
    "slope",
    "children-or-pets",
    "bloom-in-turf",
    "clippings-composted",
    "neighbour-susceptible-crop",
)
GRASS_STAGES = ("not-emerged", "1-3-leaf", "4-5-leaf", "1-3-tiller", "multi-tiller", "heading", "mature")
SEDGE_STAGES = ("not-emerged", "2-4-leaf", "5-8-leaf", "flowering", "mature")
BROADLEAF_STAGES = ("not-emerged", "seedling", "vegetative", "flowering", "seed-set", "overwintering")
STAGES_BY_LIFE_FORM = {
    "grass": GRASS_STAGES,
    "sedge": SEDGE_STAGES,
    "broadleaf": BROADLEAF_STAGES,
    "lily": BROADLEAF_STAGES,
    "moss": BROADLEAF_STAGES,
}
ALL_STAGES = tuple(dict.fromkeys(GRASS_STAGES + SEDGE_STAGES + BROADLEAF_STAGES))

Zone = Literal["cool-humid", "cool-arid", "transition", "warm-humid", "warm-arid"]
Season = Literal["winter", "early-spring", "late-spring", "summer", "early-autumn", "late-autumn"]
SiteUse = Literal[
    "residential-lawn",
    "commercial-grounds",
    "school-grounds",
    "sports-turf",
    "golf-rough",
    "golf-fairway",
    "golf-tee",
    "golf-green",
    "sod-farm",
    "roadside",
    "cemetery-park",
]
SurroundingId = Literal[
    "tree-roots",
    "sensitive-ornamentals",
    "vegetable-garden",
    "surface-water",
    "well-head",
    "slope",
    "children-or-pets",
    "bloom-in-turf",
    "clippings-composted",
    "neighbour-susceptible-crop",
]
AdjuvantId = Literal["nis", "coc", "mso", "ams", "uan", "drift-agent", "none"]
Stand = Literal["established", "seedling", "newly-sodded", "newly-sprigged"]
GreenUp = Literal["dormant", "transition", "active"]
Stress = Literal["none", "drought", "heat", "shade", "disease", "traffic"]
LifeForm = Literal["grass", "sedge", "broadleaf", "lily", "moss"]


class Fact(BaseModel):
    """Base of everything read from the facts: frozen, and strict about unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Citation(Fact):
    """Where a figure stands: a registered source and the place in it."""

    id: Slug
    at: str = ""


def _citation(value: Any) -> Any:
    # The short form `patton-2020@abstract` keeps a record on one reviewable line.
    if isinstance(value, str):
        source, _, place = value.partition("@")
        return {"id": source.strip(), "at": place.strip()}
    return value


def _quantity(value: Any) -> Quantity:
    if isinstance(value, Quantity):
        return value
    if not isinstance(value, str):
        raise ValueError("a quantity is text with its unit, for example '1.0 lb ae/acre'")
    try:
        return parse_quantity(value)
    except QuantityError as error:
        raise ValueError(str(error)) from error


Cite = Annotated[Citation, BeforeValidator(_citation)]
Amount = Annotated[Quantity, BeforeValidator(_quantity), PlainSerializer(str, return_type=str)]


class Sourced(Fact):
    """A record that says what it rests on."""

    basis: Basis
    sources: tuple[Cite, ...] = Field(min_length=1)


class Sentence(Sourced):
    """A statement in words."""

    text: str = Field(min_length=3)


class Figure(Sourced):
    """A figure with its central 80 % band, in the unit that its field names."""

    low: float
    likely: float
    high: float


class Number(Sourced):
    """One figure, in the unit that its field names."""

    value: float


class AmountFact(Sourced):
    """One quantity with its unit."""

    value: Amount


class Span(Fact):
    """A span of days of the year, both ends included; it may run over the turn of the year."""

    start: MonthDay = Field(alias="from")
    end: MonthDay = Field(alias="to")

    def holds(self, month_day: str) -> bool:
        """Whether a day written ``MM-DD`` lies in the span."""
        if self.start <= self.end:
            return self.start <= month_day <= self.end
        return month_day >= self.start or month_day <= self.end
