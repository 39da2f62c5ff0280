"""From a kept property and what is wished to the question of its year."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date as Date
from typing import Any, Literal

from pydantic import Field

from app.engine.errors import FieldFault, InputError
from app.engine.measures import Day, Input
from app.engine.product import Lines, OneLine
from app.season.property import Property, ScoutingNote
from app.season.record import ApplicationRecord
from app.season.year import Forbid, Lock, YearAsked, YearLimits, YearVisits, YearWeed
from app.season.year_output import YearPlan
from app.services import forecasts, year_facts
from app.services.knowledge_service import knowledge_base
from app.services.properties import one as property_of
from app.services.shelf import shelf_products
from app.services.validation import validated
from app.services.year_facts import FoundWeed, Ground
from app.store import records
from app.store.opening import Store
from knowledge.models.common import SiteUse, Slug

How = Literal["planned", "edited", "planned-again", "carried-over"]
HOW_WORDS: dict[How, str] = {
    "planned": "planned anew",
    "edited": "edited",
    "planned-again": "planned again from a day",
    "carried-over": "carried over from the year before",
}
# Records of this season and of so many before tell which weeds a property has had.
_SEASONS_BACK = 2


class YearWish(Input):
    """What is wished for the year of a kept property; what is not told comes from what is kept of it.

    Attributes
    ----------
    site_use : str, optional
        Which areas are planned, where those of a property differ in their use.
    start : date, optional
        The first day that may be planned (`from`); what the records tell up to it counts as applied.
    weeds : tuple of YearWeed, optional
        Instead of those of the property's notes and records.
    forecast : slug, optional
        A kept forecast whose temperatures are read.
    """

    site_use: SiteUse | None = None
    start: Day | None = Field(default=None, alias="from")
    visits: YearVisits | None = None
    weeds: tuple[YearWeed, ...] | None = Field(default=None, min_length=1, max_length=year_facts.MOST_WEEDS)
    catalog: Literal["actives", "shelf"] = "actives"
    limits: YearLimits = YearLimits()
    locks: tuple[Lock, ...] = Field(default=(), max_length=60)
    forbid: tuple[Forbid, ...] = Field(default=(), max_length=60)
    forecast: Slug | None = None


class YearNote(Input):
    """How a version came about, beside its question and its plan.

    Attributes
    ----------
    how : str
        Planned anew, edited, planned again from a day, or carried over.
    after : int, optional
        The version that it was made from.
    said : tuple of str
        What changed against that version, or what was counted, in sentences.
    weeds : dict
        Whence each weed comes, in words, by its id.
    left_out : tuple of str
        Which areas are not planned, and why.
    forecast : slug, optional
        The forecast whose temperatures were read.
    """

    how: How = "planned"
    after: int | None = None
    said: tuple[Lines, ...] = Field(default=(), max_length=200)
    weeds: dict[Slug, OneLine] = Field(default_factory=dict)
    left_out: tuple[OneLine, ...] = ()
    forecast: Slug | None = None


class YearDocument(Input):
    """A version as it is kept: what was asked, the plan that answers it, and how it came about."""

    asked: YearAsked
    plan: YearPlan
    note: YearNote = YearNote()


@dataclass(frozen=True)
class Question:
    """The question of a property's year, and what has to be told of how it was made."""

    asked: YearAsked
    note: YearNote


@dataclass(frozen=True)
class Known:
    """What is kept of a property for a season, before anything is wished."""

    slug: str
    property: Property
    ground: Ground
    weeds: tuple[FoundWeed, ...]


def known(store: Store, slug: str, season: int, start: Date | None = None, site_use: SiteUse | None = None) -> Known:
    """The areas and weeds of a property as a year takes them.

    Raises
    ------
    UnknownId
        When there is no such property.
    InputError
        Where nothing of it can be planned, or the use is none of its own.
    """
    reading = property_of(store, slug)
    with store.reading() as session:
        kept = records.of_properties(session, [slug], first_record(season))
    sprayed = [ApplicationRecord.model_validate(item.document) for item in kept]
    notes = [item.note for item in reading.notes]
    return known_of(slug, reading.property, notes, sprayed, season, start, site_use)


def first_record(season: int) -> Date:
    """The day from which on records tell which weeds a property has had."""
    return Date(season - _SEASONS_BACK, 1, 1)


def known_of(
    slug: str,
    told: Property,
    notes: Sequence[ScoutingNote],
    sprayed: Sequence[ApplicationRecord],
    season: int,
    start: Date | None = None,
    site_use: SiteUse | None = None,
) -> Known:
    """The same from what was read already; raises InputError as `known` does."""
    base = knowledge_base()
    ground = year_facts.ground_of(base, told, start or Date(season, 1, 1), site_use)
    return Known(slug, told, ground, year_facts.weeds_of(base, ground, notes, sprayed, told.zone or ""))


def question(
    store: Store, slug: str, season: int, wish: YearWish, note: YearNote | None = None, found: Known | None = None
) -> Question:
    """The question of a property's year, by what is kept of it now; `found` is that, where it was read already.

    Raises
    ------
    UnknownId
        When there is no such property.
    InputError
        With every field at fault, among them what is missing on the property.
    """
    base = knowledge_base()
    found = found or known(store, slug, season, wish.start, wish.site_use)
    weeds = wish.weeds if wish.weeds is not None else first_weeds(found)
    if not weeds:
        what = f"nothing was noted on {found.property.name} yet; name the weeds it has had"
        raise InputError([FieldFault("weeds", what)])
    areas = [area.id for area in found.ground.areas]
    this, last, untold = year_facts.past_of(store, slug, found.ground.areas, season, wish.start, base)
    payload: dict[str, Any] = {
        "year": season,
        "zone": found.property.zone,
        "site_use": found.ground.site_use,
        "areas": [area.model_dump() for area in found.ground.areas],
        "weeds": [_here(weed, areas).model_dump() for weed in weeds],
        "visits": (wish.visits or usual_visits()).model_dump(),
        "from": wish.start,
        "catalog": wish.catalog,
        "applied_this_year": [past.model_dump() for past in this],
        "applied_last_year": [past.model_dump() for past in last],
        "local_rules": [rule.model_dump(by_alias=True) for rule in found.property.local_rules],
        "limits": wish.limits.model_dump(),
        "locks": [lock.model_dump() for lock in wish.locks if lock.area is None or lock.area in areas],
        "forbid": [item.model_dump() for item in wish.forbid],
    }
    if wish.forecast is not None:
        forecast = forecasts.one(store, wish.forecast).forecast
        payload["weather"] = {"daily": [day.model_dump() for day in year_facts.warm_days(forecast, season)]}
    told = note or YearNote()
    whence = {item.weed.weed: item.text for item in found.weeds}
    note = told.model_copy(
        update={
            "weeds": {weed.weed: whence.get(weed.weed, "named by hand") for weed in weeds},
            "left_out": found.ground.left_out,
            "said": (*told.said, *(f"Not counted: {text}." for text in untold)),
            "forecast": wish.forecast,
        }
    )
    return Question(validated(YearAsked, payload), note)


def usual_visits() -> YearVisits:
    """How many visits a year has where nobody told."""
    return YearVisits(count=round(knowledge_base().parameter("year-visits-usual")))


def usual_catalog(store: Store) -> Literal["actives", "shelf"]:
    """What a year is planned with where nobody told: the shelf where it holds a herbicide, else actives."""
    return "shelf" if any(product.kind == "herbicide" for product in shelf_products(store)) else "actives"


def first_weeds(found: Known) -> tuple[YearWeed, ...]:
    """The weeds that a year is planned for where nobody named any: those it has had, and the worst of those usual."""
    told = [item.weed for item in found.weeds if item.whence != "likely" or item.weed.pressure == "high"]
    return tuple(told or [item.weed for item in found.weeds])[: year_facts.MOST_WEEDS]


def _here(weed: YearWeed, areas: list[str]) -> YearWeed:
    """A weed on those of its areas that are planned; on all where none of them is."""
    left = tuple(key for key in weed.areas if key in areas)
    return weed.model_copy(update={"areas": left if len(left) < len(areas) else ()})


def wish_of(asked: YearAsked, note: YearNote) -> YearWish:
    """What was wished, read from a question that was asked."""
    catalog = asked.catalog if isinstance(asked.catalog, str) else "shelf"
    return YearWish.model_validate(
        {
            "site_use": asked.site_use,
            "from": asked.start,
            "visits": asked.visits.model_dump(),
            "weeds": [weed.model_dump() for weed in asked.weeds],
            "catalog": catalog,
            "limits": asked.limits.model_dump(),
            "locks": [lock.model_dump() for lock in asked.locks],
            "forbid": [item.model_dump() for item in asked.forbid],
            "forecast": note.forecast,
        }
    )


def document_of(asked: YearAsked, plan: YearPlan, note: YearNote) -> Mapping[str, Any]:
    """A version as plain data."""
    return YearDocument(asked=asked, plan=plan, note=note).model_dump(mode="json", by_alias=True)


def read_wish(payload: Any) -> YearWish:
    """A wish given as plain data.

    Raises
    ------
    InputError
        With every field at fault.
    """
    return validated(YearWish, payload)
