"""Use cases of the year of a kept property: planned, kept in versions, one of them chosen."""

from __future__ import annotations

import functools
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from datetime import date as Date
from typing import TYPE_CHECKING

from pydantic import ValidationError

from app.engine.errors import FieldFault, InputError
from app.engine.measures import EARLIEST_YEAR, LATEST_YEAR
from app.season.year import YearAsked
from app.season.year_output import YearPlan
from app.services import house, properties, year
from app.services.knowledge_service import knowledge_base
from app.services.properties import KeptProperty
from app.services.shelf import shelf_products
from app.services.year_question import Question, YearDocument, YearNote, YearWish, document_of, question
from app.store import pending, years
from app.store import properties as places
from app.store.opening import Store
from app.store.years import StoredBrief, StoredYear

if TYPE_CHECKING:
    from app.season.year_planning import YearMemo

# From this month on, whoever plans a year means the next one.
_AUTUMN = 9
# Of one property there are some ten thousand.
_MOST_WORKED_OUT = 200_000


@dataclass(frozen=True)
class KeptYear:
    """One version of the plan of a property's year.

    `at` is the mark of the year as a whole: a change names it, and is refused where it is another by then.
    """

    property: str
    season: int
    number: int
    chosen: bool
    asked: YearAsked
    plan: YearPlan
    note: YearNote
    at: int
    changed_at: datetime


@dataclass(frozen=True)
class Tried:
    """A plan that was made and is not kept yet; `at` is the mark on which it was made."""

    key: str
    property: str
    season: int
    asked: YearAsked
    plan: YearPlan
    note: YearNote
    at: int


@dataclass(frozen=True)
class YearListing:
    """A page of properties with what is chosen for a season.

    `planned` counts the properties with a plan of the season, `seasons` those of every season.
    """

    season: int
    items: tuple[tuple[KeptProperty, StoredBrief | None], ...]
    customers: dict[str, str]
    planned: int
    seasons: dict[int, int]
    found: int
    kept: int
    number: int
    pages: int


def listing(store: Store, season: int, search: str = "", technician: str | None = None, page: int = 1) -> YearListing:
    """A page of what a search of properties finds, each with its chosen plan of a season, or none."""
    found = properties.listing(store, search, technician, page)
    with store.reading() as session:
        briefs = years.chosen_briefs(session, season, [item.slug for item in found.items])
        seasons = years.seasons(session)
    return YearListing(
        season,
        tuple((item, briefs.get(item.slug)) for item in found.items),
        found.customers,
        seasons.get(season, 0),
        seasons,
        found.found,
        found.kept,
        found.number,
        found.pages,
    )


def season_meant(store: Store, today: Date) -> int:
    """The season that a list opens with: the latest that is planned, else this year, from autumn on the next."""
    with store.reading() as session:
        seasons = years.seasons(session)
    return max(seasons, default=today.year + (today.month >= _AUTUMN))


def checked_season(season: int) -> int:
    """A season that can be planned.

    Raises
    ------
    InputError
        For one out of range.
    """
    if not EARLIEST_YEAR <= season <= LATEST_YEAR:
        raise InputError([FieldFault("season", f"{season} must lie between {EARLIEST_YEAR} and {LATEST_YEAR}")])
    return season


def chosen(store: Store, slug: str, season: int) -> KeptYear | None:
    """The chosen plan of a property's year, None where it is not planned."""
    with store.reading() as session:
        held = years.chosen(session, slug, season)
        return _of(held, years.mark(session, slug, season)) if held is not None else None


def version(store: Store, slug: str, season: int, number: int) -> KeptYear:
    """A version by its number.

    Raises
    ------
    UnknownId
        When there is none of that number.
    """
    with store.reading() as session:
        return _of(years.one(session, slug, season, number), years.mark(session, slug, season))


def versions(store: Store, slug: str, season: int) -> tuple[StoredBrief, ...]:
    """What every version is in a line, the first one first."""
    with store.reading() as session:
        return years.versions(session, slug, season)


def every_chosen(store: Store, season: int, slugs: Sequence[str]) -> dict[str, StoredBrief]:
    """What the chosen plans of these properties are in a line, by property."""
    with store.reading() as session:
        return years.chosen_briefs(session, season, slugs)


def planned(store: Store, asked: YearAsked) -> YearPlan:
    """The plan that answers a question, by the shelf and the house's evidence as they stand; nothing is kept."""
    evidence = house.evidence_of(store)
    shelf = shelf_products(store) if asked.catalog == "shelf" else None
    told = [knowledge_base().version, *(item.model_dump_json() for item in (*evidence, *(shelf or ())))]
    memo = _worked_out("\n".join(told if shelf is None else ["shelf", *told]))
    payload = asked.model_dump(mode="json", by_alias=True)
    plan = year.plan(payload, lambda: shelf or (), lambda _: evidence, memo)
    if len(memo.cells) > _MOST_WORKED_OUT:
        _worked_out.cache_clear()
    return plan


@functools.lru_cache(maxsize=1)
def _worked_out(told: str) -> YearMemo:  # noqa: ARG001 - the key
    """What earlier plans worked out on the same facts, evidence and products: planning again takes half the time."""
    from app.season.year_planning import YearMemo

    return YearMemo()


def plan(store: Store, slug: str, season: int, wish: YearWish, at: int, now: datetime | None = None) -> KeptYear:
    """Plan the year of a property as it is wished, and keep and choose the plan.

    Raises
    ------
    UnknownId
        When there is no such property.
    InputError
        With every field at fault, and where no plan is feasible, with what to loosen.
    Changed
        When somebody else kept or chose another plan meanwhile.
    """
    made = question(store, slug, checked_season(season), wish)
    return keep(store, slug, made, planned(store, made.asked), at, now=now)


def keep(
    store: Store,
    slug: str,
    made: Question,
    plan: YearPlan,
    at: int,
    key: str = "",
    now: datetime | None = None,
    *,
    choose: bool = True,
) -> KeptYear:
    """Keep a plan as a further version and choose it.

    Raises
    ------
    InputError
        Where the plan is none since nothing was feasible, and for an unknown property.
    Changed
        When somebody else kept or chose another plan meanwhile.
    """
    if plan.relax is not None:
        told = "; ".join(item.text for item in plan.relax)
        raise InputError([FieldFault("plan", f"nothing fits what was asked, so there is nothing to keep: {told}")])
    season, moment = made.asked.year, now or datetime.now(UTC)
    document = dict(document_of(made.asked, plan, made.note))
    with store.session() as session:
        places.PROPERTIES.by_slug(session, slug)
        held = years.keep(session, key or secrets.token_hex(16), slug, season, document, at, moment, choose=choose)
        return _of(held, years.mark(session, slug, season))


def choose(store: Store, slug: str, season: int, number: int, at: int) -> KeptYear:
    """Choose a version that is kept.

    Raises
    ------
    Changed
        When somebody else kept or chose another meanwhile.
    UnknownId
        When there is none of that number.
    """
    with store.session() as session:
        held = years.choose(session, slug, season, number, at)
        return _of(held, years.mark(session, slug, season))


def mark(store: Store, slug: str, season: int) -> int:
    """The mark of a property's year, 0 where nothing is kept of it."""
    with store.reading() as session:
        return years.mark(session, slug, season)


def try_out(store: Store, slug: str, made: Question, at: int, now: datetime | None = None) -> Tried:
    """Plan and let the plan wait for its confirmation; nothing that is kept changes by it."""
    found = planned(store, made.asked)
    document = YearDocument(asked=made.asked, plan=found, note=made.note)
    text = document.model_dump_json(by_alias=True)
    with store.session() as session:
        key = pending.keep(session, text, {slug: at}, now or datetime.now(UTC), "year")
    return Tried(key, slug, made.asked.year, made.asked, found, made.note, at)


def tried(store: Store, slug: str, season: int, key: str, now: datetime | None = None) -> Tried | None:
    """A plan that waits for its confirmation, None where it waited too long or belongs elsewhere."""
    with store.reading() as session:
        held = pending.found(session, key, now or datetime.now(UTC), "year")
    if held is None or slug not in held.seen:
        return None
    try:
        document = YearDocument.model_validate_json(held.text)
    except ValidationError:
        # It was written by another version of the program within the last hours.
        return None
    if document.asked.year != season:
        return None
    return Tried(key, slug, season, document.asked, document.plan, document.note, held.seen[slug])


def keep_tried(store: Store, waiting: Tried, now: datetime | None = None, *, choose: bool = True) -> KeptYear:
    """Keep a plan that was tried out, once however often it is sent.

    Raises
    ------
    Changed
        When somebody else kept or chose another plan meanwhile.
    """
    key = "".join(sign if sign.isalnum() else "-" for sign in waiting.key.lower())
    made = Question(waiting.asked, waiting.note)
    return keep(store, waiting.property, made, waiting.plan, waiting.at, key, now, choose=choose)


def _of(held: StoredYear, at: int) -> KeptYear:
    document = YearDocument.model_validate(held.document)
    return KeptYear(
        held.property,
        held.season,
        held.number,
        held.chosen,
        document.asked,
        document.plan,
        document.note,
        at,
        held.changed_at,
    )
