"""Side by side: what is asked, and the shapes of what is answered."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from pydantic import Field, model_validator

from app.engine.measures import FieldError, Input, ProductRate
from app.engine.output import (
    ActiveInProduct,
    AdjuvantInTank,
    Amount,
    Caution,
    CitedSource,
    Control,
    Cost,
    Output,
    SituationUnderstood,
    Statement,
    TurfInjury,
)
from app.engine.product import OneLine, Product
from app.engine.situation import ProgramActive, ProgramAdjuvant, Situation
from knowledge.models.active import Level
from knowledge.models.common import Slug

RateOnLabel = Literal["low", "middle", "high"]
StatedBy = Literal["form", "active", "turf", "label", "usual", "mixture"]
Standing = Literal["apart", "likely", "equal", "unknown"]
MAX_SIDES = 4


class SideProduct(Input):
    """A product of a side, given inline or by its id on the shelf, and its rate.

    The rate is told, or `at` takes the low, the middle or the high end of what the label gives for this
    turf; without either a product given inline is compared at its own rate.
    """

    product: Product | None = None
    id: Slug | None = None
    rate: ProductRate | None = None
    at: RateOnLabel | None = None

    @model_validator(mode="after")
    def _names_one_product(self) -> SideProduct:
        if (self.product is None) == (self.id is None):
            raise FieldError("product", "give either a product, or the id of one on the shelf")
        if self.rate is not None and self.at is not None:
            raise FieldError("at", "give either a rate, or the end of the label's rates")
        if self.product is not None:
            self._fits(self.product)
        elif self.rate is None and self.at is None:
            raise FieldError("rate", "is required, or 'at' with low, middle or high for the rates of the label")
        return self

    def _fits(self, product: Product) -> None:
        if product.kind != "herbicide":
            raise FieldError("product.kind", "only herbicides are compared; name an adjuvant under 'adjuvant'")
        if self.rate is not None:
            product.check_measure("rate", self.rate)
        elif self.at is not None and not product.rates:
            raise FieldError("at", "needs the label's table of 'rates'; give a rate instead")
        elif self.at is None and product.rate is None:
            raise FieldError("rate", "is required, or 'at' with low, middle or high for the rates of the label")


class SideAsked(Input):
    """One side: products, single actives with their rates, or a standard mixture; sprayed once or twice."""

    name: OneLine = Field(default="", max_length=60)
    products: tuple[SideProduct, ...] = Field(default=(), max_length=3)
    actives: tuple[ProgramActive, ...] = Field(default=(), max_length=5)
    mixture: Slug | None = None
    adjuvant: ProgramAdjuvant | None = None
    applications: Literal[1, 2] = 1
    interval_days: int | None = Field(default=None, ge=1, le=365)

    @model_validator(mode="after")
    def _made_of_one_kind(self) -> SideAsked:
        given = sum((bool(self.products), bool(self.actives), self.mixture is not None))
        if given != 1:
            what = "a side is made of 'products', of 'actives' or of one 'mixture'"
            raise ValueError(f"{what}; give one of them" + (", not several" if given else ""))
        if self.interval_days is not None and self.applications == 1:
            raise FieldError("interval_days", "belongs to two applications; give applications 2")
        names = [part.active for part in self.actives]
        if len(set(names)) != len(names):
            raise FieldError("actives", "names an active twice; give each active once")
        return self


class SideBySideRequest(Input):
    """Two to four sides in one situation, and when they are judged."""

    situation: Situation
    sides: tuple[SideAsked, ...] = Field(min_length=2, max_length=MAX_SIDES)
    days_after: int | None = Field(default=None, ge=1, le=365)


class ActiveCompared(ActiveInProduct):
    """An active of a side with how it works; `content` is null where it is not bought in a product."""

    content: Amount | None
    mechanism: str
    family: str
    movement: str


class ProductCompared(Output):
    """A product of a side with its actives; `product`, `id`, `formulation` and `rate` are null for generic actives."""

    product: str | None
    id: str | None
    formulation: str | None
    rate: Amount | None
    actives: tuple[ActiveCompared, ...]


class TemperatureLimit(Output):
    """Air temperature [degF] that a form, an active, a turf or a label sets, and what lies beyond it."""

    bound: Literal["max", "min"]
    degrees_f: float
    outcome: Literal["stop", "caution"]
    of: str
    by: StatedBy
    text: str
    sources: tuple[str, ...]


class AdjuvantRuleSaid(Output):
    """What an active, a turf or a label says of an adjuvant."""

    adjuvant: str
    name: str
    use: Literal["required", "recommended", "forbidden"]
    of: str
    by: StatedBy
    text: str
    sources: tuple[str, ...]


class Strictest(Output):
    """The strictest of what the parts of a side state of one thing.

    `amount` is null where nothing is recorded; `unknown_of` names the parts of which nothing is.
    """

    amount: Amount | None
    of: tuple[str, ...]
    by: StatedBy | None
    unknown_of: tuple[str, ...]
    text: str
    sources: tuple[str, ...]


class Speed(Output):
    """Days to first symptoms of the quickest active and to the full effect of the slowest; null where unknown."""

    first_days: tuple[float, float] | None
    first_of: tuple[str, ...]
    full_days: tuple[float, float] | None
    full_of: tuple[str, ...]
    unknown_of: tuple[str, ...]
    sources: tuple[str, ...]


class Risk(Output):
    """The highest level among the parts of a side and whose it is; null where nothing is recorded."""

    level: Level | None
    of: tuple[str, ...]
    unknown_of: tuple[str, ...]
    sources: tuple[str, ...]


class SitesBarred(Output):
    """Sites where a part of the side may not be used."""

    sites: tuple[str, ...]
    of: str
    by: StatedBy
    text: str
    sources: tuple[str, ...]


class YoungStand(Output):
    """From when a seedling stand of a turf takes the side, by its strictest active."""

    turf: str
    text: str
    of: tuple[str, ...]
    sources: tuple[str, ...]


class ComparedSide(Output):
    """One side with its figures, limits and properties; `label` is what the sentences call it."""

    number: int
    name: str
    label: str
    composition: tuple[ProductCompared, ...]
    adjuvant: AdjuvantInTank | None
    passes: int
    interval_days: int | None
    actives: tuple[str, ...]
    groups: tuple[int, ...]
    control: tuple[Control, ...]
    turf_injury: tuple[TurfInjury, ...]
    stops: tuple[Statement, ...]
    cautions: tuple[Caution, ...]
    temperature: tuple[TemperatureLimit, ...]
    adjuvant_rules: tuple[AdjuvantRuleSaid, ...]
    carrier_floor: Strictest
    rainfast: Strictest
    seeding_wait: Strictest
    seedlings: tuple[YoungStand, ...]
    symptoms: Speed
    soil_movement: Risk
    tree_root_risk: Risk
    vapour: Risk
    sites_barred: tuple[SitesBarred, ...]
    cost: Cost

    def warmest(self, outcome: str = "stop") -> TemperatureLimit | None:
        """The lowest ceiling of air temperature of this outcome."""
        found = [limit for limit in self.temperature if limit.bound == "max" and limit.outcome == outcome]
        return min(found, key=lambda limit: limit.degrees_f, default=None)

    def parts(self) -> Iterator[ActiveCompared]:
        """Every active of the side."""
        for product in self.composition:
            yield from product.actives


class Overlap(Output):
    """How the bands of two sides lie on one weed; null where one of them has no figure.

    `difference` is likely control of the first less that of the second, in points. `standing` is `apart`
    where the bands do not overlap, `likely` where they do but the difference is larger than its own 80 %
    band, `equal` where it is not, and `unknown`.
    """

    weed: str
    first: int
    second: int
    overlap: bool | None
    difference: float | None
    standing: Standing
    text: str


class Difference(Statement):
    """One difference that matters, with the weeds and the sides (by number) that it is of."""

    weeds: tuple[str, ...]
    sides: tuple[int, ...]


class SideBySide(Output):
    """Sides in one situation: what is equal, what is not, and on what it rests."""

    situation: SituationUnderstood
    verdict: str
    sides: tuple[ComparedSide, ...]
    overlaps: tuple[Overlap, ...]
    differences: tuple[Difference, ...]
    notices: tuple[str, ...]
    sources: dict[str, CitedSource]
    knowledge_version: str
