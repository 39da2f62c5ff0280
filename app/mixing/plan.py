"""What is to be mixed: the area, the equipment, the products with their rates."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from app.engine.measures import Area, Carrier, Day, FieldError, Input, Volume
from app.engine.product import Product
from app.engine.situation import PastApplication, ProgramAdjuvant
from knowledge.models.common import SiteUse, Slug

Method = Literal["broadcast", "spot", "granular"]
System = Literal["us", "metric"]
MOST_PRODUCTS = 6


class MixAdjuvant(ProgramAdjuvant):
    """The adjuvant of a load; `product` is the one of the shelf that is used, where one is named."""

    product: Product | None = None

    @model_validator(mode="after")
    def _product_is_of_its_kind(self) -> MixAdjuvant:
        if self.product is not None and self.product.adjuvant != self.id:
            raise FieldError("product", f"is no {self.id}; name an adjuvant of that kind")
        return self


class MixPlan(Input):
    """A load to be mixed.

    `broadcast` fills tanks for an area at a carrier volume; `spot` fills a hand-can or backpack with
    so much `spray`, at rates in the spray or, by the carrier volume, per area; `granular` spreads dry
    product over an area. `turf`, `site_use`, `date` and `applied_this_year` tell what a product may
    still bring this year. `tank` is what one filling holds; without it everything goes into one.
    """

    method: Method = "broadcast"
    area: Area | None = None
    carrier: Carrier | None = None
    tank: Volume | None = None
    spray: Volume | None = None
    products: tuple[Product, ...] = Field(min_length=1, max_length=MOST_PRODUCTS)
    adjuvant: MixAdjuvant | None = None
    turf: tuple[Slug, ...] = Field(default=(), max_length=5)
    site_use: SiteUse | None = None
    date: Day | None = None
    applied_this_year: tuple[PastApplication, ...] = Field(default=(), max_length=200)
    units: System = "us"

    @model_validator(mode="after")
    def _has_what_its_method_needs(self) -> MixPlan:
        if self.method != "spot" and self.area is None:
            raise FieldError("area", "is required, for example 12000 ft2")
        if self.method == "broadcast" and self.carrier is None:
            raise FieldError("carrier", "is required: the calibrated volume of spray, for example 1 gal/1000 ft2")
        if self.method == "spot" and self.spray is None and (self.area is None or self.carrier is None):
            raise FieldError("spray", "is required: how much spray to mix, for example 2 gal (or area and carrier)")
        if self.method == "granular" and (self.carrier is not None or self.tank is not None):
            raise FieldError("carrier", "belongs to a spray; granules are spread dry")
        return self

    @model_validator(mode="after")
    def _products_fit_the_method(self) -> MixPlan:
        for number, product in enumerate(self.products):
            path = f"products.{number}"
            if product.kind == "adjuvant":
                raise FieldError(f"{path}.kind", "is an adjuvant; name it under 'adjuvant'")
            if product.rate is None:
                raise FieldError(f"{path}.rate", "is required: the rate to mix")
            if product.granular != (self.method == "granular"):
                what = "a granule is spread dry: use method granular" if product.granular else "is no granule"
                raise FieldError(f"{path}.formulation", what)
            self._rate_fits(f"{path}.rate.unit", product)
        names = [product.name.casefold() for product in self.products]
        if len(set(names)) < len(names):
            raise FieldError("products", "names a product twice; give each once")
        return self

    def _rate_fits(self, path: str, product: Product) -> None:
        assert product.rate is not None
        dimension = product.rate.quantity.dimension
        if dimension in ("ae-rate", "ai-rate"):
            raise FieldError(path, f"'{product.rate.unit}' is a rate of active; give the rate of product")
        if dimension in ("volume-share", "mass-share"):
            if self.method != "spot":
                raise FieldError(path, f"'{product.rate.unit}' is a share of the spray; use method spot, or per area")
        elif self.method == "spot" and self.carrier is None:
            raise FieldError("carrier", "is required to turn a rate per area into one in the spray")
