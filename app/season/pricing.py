"""How a branch makes the price of a year: its labour, its travel, its overhead and the margin it wants."""

from __future__ import annotations

import re
from decimal import Decimal

from pydantic import Field, field_validator

from app.engine.measures import Input
from app.engine.product import OneLine

_CENT = Decimal("0.01")


class Pricing(Input):
    """What the branch sets for its prices, in `currency`.

    Attributes
    ----------
    labour_per_hour : float
        What an hour of whoever sprays costs, wages and what comes on top of them.
    minutes_per_visit, minutes_per_1000_ft2 : float
        Minutes on the property whatever its size, and for every 1000 ft2 that is treated.
    travel_minutes : float
        Minutes of driving that a visit costs, counted at the same rate.
    overhead_pct : float
        Added to products, labour and travel [percent of them].
    margin_pct : float
        What shall be left of the price after all cost [percent of the price].
    least_per_visit : float
        No visit is sold for less.
    round_to : float
        Prices of visits are rounded up to a multiple of it, so that rounding never takes from the margin.
    stand_in_per_1000_ft2 : float or None
        Taken for each product without a price, per 1000 ft2; without it such a price is unknown.
    valid_days : int
        How long a proposal can be signed [days].
    payment : str
        How it is paid, as the proposal says it.
    """

    currency: str = "USD"
    labour_per_hour: float = Field(gt=0, le=10_000)
    minutes_per_visit: float = Field(ge=0, le=1440)
    minutes_per_1000_ft2: float = Field(ge=0, le=240)
    travel_minutes: float = Field(default=0, ge=0, le=1440)
    overhead_pct: float = Field(default=0, ge=0, le=1000)
    margin_pct: float = Field(ge=0, le=95)
    least_per_visit: float = Field(default=0, ge=0, le=1e6)
    round_to: float = Field(default=1, ge=0.01, le=100)
    stand_in_per_1000_ft2: float | None = Field(default=None, ge=0, le=10_000)
    valid_days: int = Field(default=30, ge=1, le=365)
    payment: OneLine = Field(default="", max_length=200)

    @field_validator("currency")
    @classmethod
    def _three_letters(cls, value: str) -> str:
        if re.fullmatch("[A-Z]{3}", value) is None:
            raise ValueError("must be the three capital letters of a currency, for example USD")
        return value

    @field_validator("round_to")
    @classmethod
    def _whole_cents(cls, value: float) -> float:
        told = Decimal(str(value))
        if told != told.quantize(_CENT):
            raise ValueError(f"{value:g} is no whole number of cents; for example 0.5, 1 or 5")
        return value
