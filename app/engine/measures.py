"""Measures as the interfaces write them: a value and its unit, strict and frozen."""

from __future__ import annotations

from datetime import date as Date
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from knowledge.quantities import (
    AREA_UNITS,
    CARRIER_UNITS,
    MASS_RATE_UNITS,
    MASS_UNITS,
    RATE_UNITS,
    SPRAY_SHARE_UNITS,
    UNITS,
    VOLUME_RATE_UNITS,
    VOLUME_UNITS,
    Quantity,
)

EARLIEST_YEAR, LATEST_YEAR = 2000, 2100


class FieldError(ValueError):
    """A fault that a model finds in one of its fields when it looks at the whole.

    `field` is the path of that field inside the model, with dots.
    """

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


class Input(BaseModel):
    """Base of all input: frozen; unknown keys are an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


def _year_in_range(value: Any) -> Any:
    # Only the ISO text of a day: a number would be read as seconds since 1970.
    if isinstance(value, Date):
        return value
    if not isinstance(value, str) or len(value) != 10:
        raise ValueError("must be a day written YYYY-MM-DD")
    try:
        day = Date.fromisoformat(value)
    except ValueError as error:
        raise ValueError(f"'{value}' is no day of the calendar; write YYYY-MM-DD") from error
    if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        raise ValueError(f"the year must lie between {EARLIEST_YEAR} and {LATEST_YEAR}")
    return day


Day = Annotated[Date, BeforeValidator(_year_in_range)]


class Measure(Input):
    """A value with its unit, as the interfaces write it."""

    value: float = Field(ge=0, le=1e12)
    unit: str

    @model_validator(mode="after")
    def _unit_is_known(self) -> Measure:
        if self.unit not in UNITS:
            raise ValueError(f"unit '{self.unit}' is not known; use one of {', '.join(self.allowed())}")
        if self.unit not in self.allowed():
            raise ValueError(f"unit '{self.unit}' does not belong here; use one of {', '.join(self.allowed())}")
        return self

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        """Units this kind of measure may carry."""
        return tuple(UNITS)

    @property
    def quantity(self) -> Quantity:
        """The same as a quantity of the knowledge base."""
        return Quantity(self.value, self.unit)


class Area(Measure):
    """An area, more than zero."""

    value: float = Field(gt=0, le=1e9)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return AREA_UNITS


class Rate(Measure):
    """A rate of an active or product per area, more than zero."""

    value: float = Field(gt=0, le=1e6)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return RATE_UNITS


class Carrier(Measure):
    """Volume of spray per area, more than zero."""

    value: float = Field(gt=0, le=1e6)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return CARRIER_UNITS


class AdjuvantRate(Measure):
    """A rate of adjuvant, as a share of the spray or per area."""

    value: float = Field(gt=0, le=1e6)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return ("% v/v", *RATE_UNITS)


class Content(Measure):
    """Content of an active in a product."""

    value: float = Field(gt=0, le=2000)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return ("lb ae/gal", "lb ai/gal", "g ae/L", "g ai/L", "% w/w")

    @model_validator(mode="after")
    def _not_over_the_whole(self) -> Content:
        if self.unit == "% w/w" and self.value > 100:
            raise ValueError("a content by weight cannot exceed 100 % w/w")
        return self


class Density(Measure):
    """Density of a liquid product, more than zero."""

    value: float = Field(gt=0, le=30)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return ("lb/gal", "kg/L")


class ProductRate(Measure):
    """A rate of product by volume or weight per area, more than zero."""

    value: float = Field(gt=0, le=1e6)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return (*VOLUME_RATE_UNITS, *MASS_RATE_UNITS)


class StatedRate(Measure):
    """A rate stated for one product: of active or product per area, or in the spray of a spot treatment."""

    value: float = Field(gt=0, le=1e6)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return (*RATE_UNITS, *SPRAY_SHARE_UNITS)


class LabelRateAmount(Measure):
    """A rate as labels print it: product per area, or in the spray of a spot treatment; more than zero."""

    value: float = Field(gt=0, le=1e6)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return (*VOLUME_RATE_UNITS, *MASS_RATE_UNITS, *SPRAY_SHARE_UNITS)


class Amount(Measure):
    """An amount of product, by volume or weight, zero or more."""

    value: float = Field(ge=0, le=1e9)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return (*VOLUME_UNITS, *MASS_UNITS)


class Volume(Measure):
    """A volume of spray or water, more than zero."""

    value: float = Field(gt=0, le=1e9)

    @classmethod
    def allowed(cls) -> tuple[str, ...]:
        return VOLUME_UNITS
