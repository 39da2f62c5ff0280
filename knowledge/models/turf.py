"""A turf and what each active does to it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, PrivateAttr

from knowledge.models.common import (
    AdjuvantId,
    Amount,
    Fact,
    GreenUp,
    Sentence,
    SiteUse,
    Slug,
    Sourced,
    Span,
    Stress,
    Zone,
)

ToleranceClass = Literal["T", "I", "S", "unknown"]


class GrowthWindow(Span):
    """When this turf is usually dormant, in transition or active in these zones."""

    zones: tuple[Zone, ...] = Field(min_length=1)
    state: GreenUp


class SeedlingWindow(Fact):
    """From when a young stand of this turf takes this active; meeting either figure suffices."""

    allowed: bool = True
    min_mowings: int | None = Field(default=None, ge=0)
    min_weeks: int | None = Field(default=None, ge=0)


class Tolerance(Sourced):
    """How this turf takes one active, and under which condition.

    T tolerant, I intermediate (safe only under its condition), S sensitive, or unknown.
    Without `site_uses` the record holds everywhere; one with them is more specific and wins.
    `injury` is low, likely and high percent injury of the established turf at the usual rate.
    """

    active: Slug
    tolerance: ToleranceClass = Field(alias="class")
    condition: str = ""
    site_uses: tuple[SiteUse, ...] = ()
    injury: tuple[float, float, float] | None = None
    max_rate: Amount | None = None
    max_air_f: float | None = None
    min_air_f: float | None = None
    min_height_in: float | None = None
    max_applications: int | None = Field(default=None, ge=1)
    min_interval_days: int | None = Field(default=None, ge=1)
    green_up_barred: tuple[GreenUp, ...] = ()
    stress_barred: tuple[Stress, ...] = ()
    adjuvants_barred: tuple[AdjuvantId, ...] = ()
    forms_barred: tuple[Slug, ...] = ()
    seedling: SeedlingWindow | None = None
    sprigged: SeedlingWindow | None = None
    sodded: SeedlingWindow | None = None


# Records as they stand, and the same by active.
_ByActive = tuple[tuple[Tolerance, ...], dict[str, tuple[Tolerance, ...]]]


class Turf(Fact):
    """One turfgrass of the knowledge base."""

    id: Slug
    name: str
    scientific_name: str
    season: Literal["cool-season", "warm-season"]
    rate_class: Slug
    synonyms: tuple[str, ...] = ()
    recognise: Sentence
    growth: tuple[GrowthWindow, ...] = Field(min_length=1)
    tolerance: tuple[Tolerance, ...] = Field(min_length=1)
    notes: tuple[Sentence, ...] = ()
    _by_active: _ByActive = PrivateAttr(default=((), {}))

    def tolerance_to(self, active: str) -> tuple[Tolerance, ...]:
        """The records of an active, in their order; the rules ask for them thousands of times."""
        held, by_active = self._by_active
        # A copy with other records carries the gathered ones of the first along.
        if held is not self.tolerance:
            by_active = {}
            for record in self.tolerance:
                by_active[record.active] = (*by_active.get(record.active, ()), record)
            self._by_active = (self.tolerance, by_active)
        return by_active.get(active, ())
