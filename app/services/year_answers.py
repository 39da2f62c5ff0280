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


class YearListed(Output):
    """A property and its chosen plan of a season in a line; without a plan the headline is empty."""

    property: str
    name: str
    headline: str
    objective: float | None
    cost_per_1000_ft2: float | None
    currency: str


class YearsListed(Output):
    """A page of properties with their plans of a season."""

    season: int
    planned: int
    kept: int
    found: int
    page: int
    pages: int
    years: tuple[YearListed, ...]


def listing(store: Store, season: int, search: str = "", page: int = 1) -> YearsListed:
    """A page of properties with their chosen plans of a season; raises InputError."""
    found = years.listing(store, years.checked_season(season), search, None, page)
    return YearsListed(
        season=season,
        planned=found.planned,
        kept=found.kept,
        found=found.found,
        page=found.number,
        pages=found.pages,
        years=tuple(
            YearListed(
                property=item.slug,
                name=item.property.name,
                headline=brief.headline if brief is not None else "",
                objective=brief.objective if brief is not None else None,
                cost_per_1000_ft2=brief.cost if brief is not None else None,
                currency=brief.currency if brief is not None else "",
            )
            for item, brief in found.items
        ),
    )


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
