"""What the API takes and answers about the years of kept properties."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from pydantic import Field

from app.engine.output import Output
from app.season.year import YearAsked
from app.season.year_output import YearPlan
from app.services import properties, years
from app.services.validation import validated
from app.services.year_question import How, YearNote, YearWish, question
from app.services.years import KeptYear
from app.store.opening import Store

_VERSION_MOST = 2**31 - 1


class YearToPlan(YearWish):
    """What is wished for a year that is to be planned and kept, and the version at which the year was seen.

    `version` is 0 where nothing is kept of it; without `choose` the plan is kept beside the chosen one.
    """

    version: int = Field(ge=0, le=_VERSION_MOST)
    choose: bool = True


class YearVersion(Output):
    """A version of a plan in a line; `objective` is expected control [points of 100]."""

    number: int
    chosen: bool
    headline: str
    objective: float
    cost_per_1000_ft2: float | None
    currency: str
    kept_at: datetime


class YearChosen(Output):
    """A version with its question and its plan, and how it came about."""

    number: int
    chosen: bool
    asked: YearAsked
    plan: YearPlan
    how: How
    after: int | None
    said: tuple[str, ...]
    weeds: dict[str, str]
    left_out: tuple[str, ...]
    kept_at: datetime


class YearTold(Output):
    """The year of a property: the plan that is chosen, null where it is not planned, and every version.

    `version` counts every change; a call that changes something names it.
    """

    property: str
    name: str
    season: int
    version: int
    plan: YearChosen | None
    versions: tuple[YearVersion, ...]


def one(store: Store, slug: str, season: int) -> YearTold:
    """The year of a property; raises UnknownId and InputError."""
    return _told(store, slug, years.checked_season(season), years.chosen(store, slug, season))


def plan(store: Store, slug: str, season: int, payload: Any) -> YearTold:
    """Plan a year by what is wished and keep the plan; raises InputError, UnknownId and Changed.

    The answer holds the new version, chosen or not.
    """
    told = validated(YearToPlan, payload)
    made = question(store, slug, years.checked_season(season), told, YearNote())
    found = years.planned(store, made.asked)
    kept = years.keep(store, slug, made, found, told.version, choose=told.choose)
    return _told(store, slug, season, kept)


def _told(store: Store, slug: str, season: int, kept: KeptYear | None) -> YearTold:
    name = properties.one(store, slug).property.name
    versions = tuple(
        YearVersion(
            number=item.number,
            chosen=item.chosen,
            headline=item.headline,
            objective=item.objective,
            cost_per_1000_ft2=item.cost,
            currency=item.currency,
            kept_at=item.changed_at,
        )
        for item in years.versions(store, slug, season)
    )
    shown = _chosen(kept) if kept is not None else None
    return YearTold(
        property=slug,
        name=name,
        season=season,
        version=years.mark(store, slug, season),
        plan=shown,
        versions=versions,
    )


def _chosen(kept: KeptYear) -> YearChosen:
    note = kept.note
    return YearChosen(
        number=kept.number,
        chosen=kept.chosen,
        asked=kept.asked,
        plan=kept.plan,
        how=note.how,
        after=note.after,
        said=note.said,
        weeds=dict(note.weeds),
        left_out=note.left_out,
        kept_at=kept.changed_at,
    )
