"""What a year is planned with: usual warmth of a zone, mechanisms and their rotation."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowledge.models.common import Fact, SiteUse, Slug, Sourced, Zone

MonthBand = tuple[float, float]


class Climate(Sourced):
    """Usual warmth of a turf adaptation zone.

    Attributes
    ----------
    max_f : tuple of 12 pairs
        Usual highest air temperature of a day, January first: the coolest and the warmest of the zone's places, each
        as its mean over the days of that month in many years [F].
    """

    id: Zone
    max_f: tuple[MonthBand, ...] = Field(min_length=12, max_length=12)


class DocumentedResistance(Sourced):
    """A weed of which plants in turf were found to withstand actives of a mechanism."""

    weed: Slug
    text: str = Field(min_length=3)


class MechanismUse(Sourced):
    """How often one mechanism may be leaned on before another has to act on the same weed.

    Attributes
    ----------
    id : str
        Harmonised HRAC/WSSA group number, as text.
    name : str
        What it does, in words without a term of biochemistry.
    shared : bool
        Whether the actives of the group share one mechanism; where not, they rotate with each other.
    risk : str
        How readily weeds of turf come to withstand it.
    most_visits : int
        Visits of one season on which it may act on a weed.
    in_a_row : bool
        Whether it may act alone on a weed on two visits running.
    alternate_years : bool
        Whether another mechanism must act on the weed this year if this one did last year.
    alternate_weeds : tuple of str
        Weeds for which that is asked; where empty, every weed.
    documented : tuple of DocumentedResistance
        Weeds of turf found to withstand it.
    """

    id: str = Field(pattern=r"^[0-9]{1,2}$")
    name: str = Field(min_length=3)
    shared: bool = True
    risk: Literal["low", "moderate", "high"]
    most_visits: int = Field(ge=1, le=12)
    in_a_row: bool
    alternate_years: bool
    alternate_weeds: tuple[Slug, ...] = ()
    documented: tuple[DocumentedResistance, ...] = ()
    text: str = Field(min_length=3)


class LikelyWeed(Fact):
    """A weed that usually stands there, how much of it, and why."""

    weed: Slug
    pressure: Literal["low", "moderate", "high"]
    text: str = Field(min_length=3)


class LikelyWeeds(Sourced):
    """What usually stands on turf of a kind where nobody has looked yet.

    `turf` lists turf ids, rate classes, `cool-season`, `warm-season` or `all`; without `site_uses` it holds for
    every use that no other record names.
    """

    id: Slug
    zones: tuple[Zone, ...] = Field(min_length=1)
    turf: tuple[str, ...] = Field(min_length=1)
    site_uses: tuple[SiteUse, ...] = ()
    weeds: tuple[LikelyWeed, ...] = Field(min_length=1)
