"""A product as its user reads it from its label; what is typed here binds as hard stops."""

from __future__ import annotations

import unicodedata
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field, model_validator

from app.engine.measures import (
    AdjuvantRate,
    Amount,
    Carrier,
    Content,
    Day,
    Density,
    FieldError,
    Input,
    LabelRateAmount,
    Measure,
    ProductRate,
    StatedRate,
)
from knowledge.models.common import AdjuvantId, SiteUse, Slug

# Codes of the international coding system for pesticide formulations (two letters); G and GR both mean granule.
Formulation = Literal["SL", "EC", "EW", "ME", "SC", "SE", "CS", "OD", "WG", "WP", "SG", "SP", "G"]
FORMULATIONS: tuple[str, ...] = get_args(Formulation)
LIQUIDS = frozenset({"SL", "EC", "EW", "ME", "SC", "SE", "CS", "OD"})
GRANULE = "G"

Purpose = Literal["postemergence", "preemergence", "spot"]
SignalWord = Literal["none", "caution", "warning", "danger"]
AdjuvantUse = Literal["allowed", "required", "forbidden"]

_VOLUMES = ("volume-rate", "volume-share", "volume")
_WEIGHTS = ("mass-rate", "mass-share", "mass")


def _one_line(value: Any) -> Any:
    if isinstance(value, str):
        told = " ".join(value.split())
        if not told.isprintable():
            raise ValueError("holds a sign that cannot be printed; write it in plain letters")
        return told
    return value


def _lines(value: Any) -> Any:
    if isinstance(value, str):
        told = "\n".join(value.splitlines()).strip()
        if any(unicodedata.category(sign) == "Cc" and sign not in "\n\t" for sign in told):
            raise ValueError("holds a sign that cannot be printed; write it in plain letters")
        return told
    return value


OneLine = Annotated[str, BeforeValidator(_one_line)]
Lines = Annotated[str, BeforeValidator(_lines)]


class ProductActive(Input):
    """An active in a product, in which form and how much of it."""

    active: Slug
    form: Slug | None = None
    content: Content


class LabelRate(Input):
    """One line of the label's rates: for these turfs and this purpose, from `low` to `high`.

    `turf` lists turf ids, `cool-season`, `warm-season` or `all`; the most specific line counts. The
    rate of a `spot` line is product in the spray (fl oz/gal, mL/L, oz/gal, g/L, % v/v) or per area.
    """

    turf: tuple[Slug, ...] = Field(default=("all",), min_length=1, max_length=30)
    purpose: Purpose = "postemergence"
    low: LabelRateAmount
    high: LabelRateAmount
    note: OneLine = Field(default="", max_length=300)

    @model_validator(mode="after")
    def _low_is_lower(self) -> LabelRate:
        low, high = self.low.quantity, self.high.quantity
        if low.dimension != high.dimension:
            raise ValueError("low and high must both be by volume or both by weight, per area or in the spray")
        if low.base > high.base:
            raise ValueError(f"low ({low}) must not exceed high ({high})")
        if self.purpose != "spot" and low.dimension in ("volume-share", "mass-share"):
            raise ValueError(f"'{self.low.unit}' is a share of the spray; give it as purpose 'spot', or per area")
        return self


class LabelAdjuvant(Input):
    """What the label says of one adjuvant."""

    id: AdjuvantId
    use: AdjuvantUse


class Pack(Input):
    """A pack in which the product is bought, and its price (null where it is not known)."""

    size: Amount
    price: float | None = Field(default=None, ge=0, le=1e7)

    @model_validator(mode="after")
    def _holds_something(self) -> Pack:
        if self.size.value <= 0:
            raise ValueError("the size of a pack must be more than zero")
        return self


class Product(Input):
    """A product: what its own label states.

    Given inline it carries the one `rate` to consider; on the shelf it carries the label's `rates`.
    `kind` is `adjuvant` for what is sold to help a spray; then `adjuvant` names what it is and
    `adjuvant_rate` how much of it is used. `site_uses` and `turf` are null where they were not typed:
    that is unknown, not allowed. Times are hours or days after application; `max_air_f` is degF.
    """

    id: Slug | None = None
    name: OneLine = Field(min_length=1, max_length=120)
    kind: Literal["herbicide", "adjuvant"] = "herbicide"
    registration: OneLine = Field(default="", max_length=60)
    formulation: Formulation
    granule_carrier: OneLine = Field(default="", max_length=80)
    actives: tuple[ProductActive, ...] = Field(default=(), max_length=5)
    density: Density | None = None
    adjuvant: AdjuvantId | None = None
    adjuvant_rate: AdjuvantRate | None = None
    rate: StatedRate | None = None
    rates: tuple[LabelRate, ...] = Field(default=(), max_length=60)
    site_uses: tuple[SiteUse, ...] | None = None
    turf: tuple[Slug, ...] | None = Field(default=None, max_length=30)
    max_per_application: ProductRate | None = None
    max_per_year: ProductRate | None = None
    max_applications_per_year: int | None = Field(default=None, ge=1, le=52)
    min_interval_days: int | None = Field(default=None, ge=0, le=730)
    carrier_floor: Carrier | None = None
    max_air_f: float | None = Field(default=None, ge=32, le=140)
    adjuvants: tuple[LabelAdjuvant, ...] = Field(default=(), max_length=10)
    rainfast_hours: float | None = Field(default=None, ge=0, le=168)
    reentry_hours: float | None = Field(default=None, ge=0, le=720)
    reentry_text: OneLine = Field(default="", max_length=200)
    seeding_interval_days: int | None = Field(default=None, ge=0, le=1825)
    signal_word: SignalWord | None = None
    packs: tuple[Pack, ...] = Field(default=(), max_length=20)
    currency: str = Field(default="USD", pattern=r"^[A-Z]{3}$")
    stock: Amount | None = None
    expiry: Day | None = None
    basis: Literal["house", "invented"] = "house"
    notes: Lines = Field(default="", max_length=2000)

    @property
    def liquid(self) -> bool:
        """Whether it is poured; otherwise it is weighed."""
        return self.formulation in LIQUIDS

    @property
    def granular(self) -> bool:
        """Whether it is spread dry."""
        return self.formulation == GRANULE

    @model_validator(mode="after")
    def _kind_has_its_parts(self) -> Product:
        if self.kind == "adjuvant":
            if self.actives or self.rates or self.rate is not None:
                raise ValueError("an adjuvant holds no actives and no rates of its own; give adjuvant_rate")
            if self.adjuvant in (None, "none"):
                raise FieldError("adjuvant", "must say what this adjuvant is, for example nis")
        else:
            if not self.actives:
                raise FieldError("actives", "must name at least one active")
            if self.adjuvant is not None or self.adjuvant_rate is not None:
                raise ValueError("'adjuvant' and 'adjuvant_rate' belong to products of kind adjuvant")
            if self.rate is None and not self.rates:
                raise FieldError("rate", "is required, or the label's table of 'rates'")
        return self

    @model_validator(mode="after")
    def _actives_differ(self) -> Product:
        names = [part.active for part in self.actives]
        if len(set(names)) != len(names):
            raise FieldError("actives", "names an active twice; give each active once")
        shares = [part.content.value for part in self.actives if part.content.unit == "% w/w"]
        if sum(shares) > 100:
            what = f"the contents add up to {sum(shares):g} % w/w; together they cannot exceed 100 %"
            raise FieldError("actives", what)
        return self

    @model_validator(mode="after")
    def _content_fits_the_density(self) -> Product:
        if self.density is None:
            return self
        whole = self.density.quantity.base
        held = sum(p.content.quantity.base for p in self.actives if p.content.unit != "% w/w")
        if held > whole:
            what = f"the contents add up to {held:g} g/L, more than the whole weighs (density {whole:g} g/L)"
            raise FieldError("actives", what)
        return self

    @model_validator(mode="after")
    def _measured_as_it_is(self) -> Product:
        if not self.liquid and any(p.content.unit != "% w/w" for p in self.actives):
            raise FieldError("actives", f"the content of a dry product ({self.formulation}) is given in % w/w")
        for field, measure in self._measures():
            self.check_measure(field, measure)
        return self

    def _measures(self) -> list[tuple[str, Measure]]:
        found: list[tuple[str, Measure | None]] = [
            ("rate", self.rate),
            ("max_per_application", self.max_per_application),
            ("max_per_year", self.max_per_year),
            ("stock", self.stock),
        ]
        for number, line in enumerate(self.rates):
            found += [(f"rates.{number}.low", line.low), (f"rates.{number}.high", line.high)]
        found += [(f"packs.{number}.size", pack.size) for number, pack in enumerate(self.packs)]
        return [(field, measure) for field, measure in found if measure is not None]

    def check_measure(self, field: str, measure: Measure) -> None:
        """Raise FieldError where a measure is not the kind that this product is measured by."""
        dimension = measure.quantity.dimension
        if self.liquid and dimension in _WEIGHTS and measure.unit.startswith("oz"):
            fluid = measure.unit.replace("oz", "fl oz", 1)
            what = f"this product is a liquid ({self.formulation}), so write '{fluid}'"
            raise FieldError(field, f"'{measure.unit}' does not say which ounce: {what}")
        if not self.liquid and dimension in _VOLUMES and measure.unit != "% v/v":
            raise FieldError(field, f"'{measure.unit}' is a volume, but {self.formulation} is dry; give a weight")
        if not self.liquid and measure.unit == "% v/v":
            raise FieldError(field, f"'% v/v' is a share by volume, but {self.formulation} is dry; use oz/gal or g/L")


# Fields of the label that are worth asking for where they were not typed.
LABEL_FIELDS = {
    "site_uses": "the sites it may be used on",
    "turf": "the turf it may be used on",
    "max_per_application": "the most in one application",
    "max_per_year": "the most in a year",
    "max_applications_per_year": "the number of applications in a year",
    "min_interval_days": "the least interval between applications",
    "carrier_floor": "the least carrier volume",
    "max_air_f": "the warmest air",
    "rainfast_hours": "the hours until rain",
    "reentry_hours": "re-entry",
    "seeding_interval_days": "the wait before seeding",
}


def untold(product: Product) -> tuple[str, ...]:
    """Label fields that were not typed, in words; each is unknown, never assumed favourable."""
    return tuple(words for field, words in LABEL_FIELDS.items() if getattr(product, field) is None)
