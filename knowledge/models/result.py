"""A result printed in a publication: what was sprayed where, and the percent control that came of it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from knowledge.models.common import AdjuvantId, Amount, Fact, GreenUp, MonthDay, SiteUse, Slug, Sourced, Stand, Zone


class ResultPart(Fact):
    """One active of a spray; no rate means that none is printed and the turf's usual one is taken."""

    active: Slug
    form: Slug | None = None
    rate: Amount | None = None


class ResultSpray(Fact):
    """One spray of a treatment, on a day counted from the first."""

    day: int = Field(ge=0, le=200)
    parts: tuple[ResultPart, ...] = Field(min_length=1)
    adjuvant: AdjuvantId = "none"


class PublishedResult(Sourced):
    """One treatment of a printed trial.

    Attributes
    ----------
    sprayed : str
        Month and day of the first spray.
    stage : str, optional
        Growth stage; where none is printed the calendar tells it.
    max_air_f : float
        Warmest air of the day [F].
    days : int
        Days after the last spray at which control was rated.
    printed : tuple of float
        Lowest and highest percent control that the print allows: "over 90" is 90 to 100.
    assumed : tuple of str
        What the publication does not print; it was set to the usual thing, never to fit.
    """

    id: Slug
    weed: Slug
    stage: str | None
    turf: Slug
    zone: Zone
    site_use: SiteUse
    sprayed: MonthDay
    green_up: GreenUp = "active"
    stand: Stand = "established"
    max_air_f: float
    sprays: tuple[ResultSpray, ...] = Field(min_length=1, max_length=2)
    days: int = Field(ge=1, le=400)
    printed: tuple[float, float]
    assumed: tuple[Literal["rate", "stage", "date", "days", "interval", "turf", "adjuvant", "place"], ...] = ()
    note: str = ""

    @model_validator(mode="after")
    def _is_printed(self) -> PublishedResult:
        if self.basis != "published":
            raise ValueError("a result is here because it was seen in print; its basis is published")
        if not 0 <= self.printed[0] <= self.printed[1] <= 100:
            raise ValueError("printed must rise between 0 and 100")
        if len(self.sprays) > 1 and self.sprays[1].day <= self.sprays[0].day:
            raise ValueError("the second spray must come after the first")
        return self
