"""Taking over what was planned for a branch: the plan of a situation becomes a version of a property's year."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from pydantic import ValidationError

from app.engine.errors import FieldFault, InputError, UnknownId
from app.season.year_fold import folded, unfolded
from app.season.year_output import YearPlan
from app.services import years
from app.services.properties import KeptProperty, of_stored_property
from app.services.year_job_fold import Asks, asks_of
from app.services.year_job_shapes import KeptJob, PlacePart, kept_job
from app.services.year_job_sums import read_place
from app.services.year_question import Question
from app.store import properties as places
from app.store import year_jobs as kept
from app.store.changed import Changed
from app.store.keyed import Document
from app.store.opening import Store

_SAID = "Planned with the branch in one go."


@dataclass(frozen=True)
class PlanOfPlace:
    """What was planned for the areas of one use of a property, under their own names."""

    property: str
    name: str
    part: PlacePart
    plan: YearPlan


@dataclass(frozen=True)
class TakenOver:
    """Properties whose year holds the plan now, and why others' does not, by property."""

    taken: tuple[str, ...]
    left: dict[str, str]


def plans_of(store: Store, key: str, slug: str) -> tuple[PlanOfPlace, ...]:
    """What a job planned for a property, one plan for each use of its turf, the largest first.

    Raises
    ------
    UnknownId
        When there is no such job, or it does not hold the property.
    InputError
        Where it has no plan, or what is kept is damaged.
    """
    with store.reading() as session:
        kept_job(kept.one(session, key))
        told = read_place(kept.place_of(session, key, slug))
        if not told.parts:
            raise InputError([FieldFault("property", f"{told.name} is not planned: {'; '.join(told.reasons)}")])
        found = [(part, kept.whole_fold(session, key, part.fold)) for part in told.parts]
    made = [_made(slug, told.name, part, document) for part, document in found]
    return tuple(sorted(made, key=lambda item: -sum(item.part.sizes.values())))


def _made(slug: str, name: str, part: PlacePart, document: Document) -> PlanOfPlace:
    if "plan" not in document:
        figures = document.get("figures")
        reason = figures.get("reason") if isinstance(figures, dict) else None
        what = f"{name} has no plan yet: {reason or 'its situation still waits'}"
        raise InputError([FieldFault("property", what)])
    try:
        plan = YearPlan.model_validate(document["plan"])
    except ValidationError as error:
        what = f"the plan for {name} is damaged; remove this plan of the branch and plan anew"
        raise InputError([FieldFault("job", what)]) from error
    return PlanOfPlace(slug, name, part, unfolded(plan, part.areas, part.names))


def use_one(store: Store, key: str, slug: str, asks: Asks = asks_of) -> None:
    """Put what a job planned for a property into its year, as a version that is chosen; twice keeps it once.

    Raises
    ------
    UnknownId
        When there is no such job or property.
    InputError
        Where it has no plan, or the property is no longer what it was when it was planned.
    Changed
        When somebody else kept another plan at the same moment.
    """
    with store.reading() as session:
        job = kept_job(kept.one(session, key))
        place = of_stored_property(places.PROPERTIES.by_slug(session, slug))
    _use(store, job, place, asks)


def use_all(store: Store, key: str, asks: Asks = asks_of) -> TakenOver:
    """Put all that a job planned into the years of its properties; what cannot be is told.

    Raises
    ------
    UnknownId
        When there is no such job.
    """
    with store.reading() as session:
        job = kept_job(kept.one(session, key))
        slugs = [item.property for item in kept.places(session, key)]
    taken: list[str] = []
    left: dict[str, str] = {}
    for slug in slugs:
        try:
            with store.reading() as session:
                place = of_stored_property(places.PROPERTIES.by_slug(session, slug))
            _use(store, job, place, asks)
            taken.append(slug)
        except InputError as error:
            left[slug] = error.faults[0].message
        except (Changed, UnknownId) as error:
            left[slug] = str(error)
    return TakenOver(tuple(taken), left)


def _use(store: Store, job: KeptJob, place: KeptProperty, asks: Asks) -> None:
    found = plans_of(store, job.key, place.slug)
    asked = asks(store, [place], job.told.asked)[place.slug]
    now = {folded(item.asked).fold: item for item in asked if item.asked is not None}
    for number, item in enumerate(found):
        told = now.get(item.part.fold)
        if told is None or told.asked is None or set(item.part.areas) != {area.id for area in told.asked.areas}:
            what = f"{place.property.name} has changed since it was planned; plan it anew"
            raise InputError([FieldFault("property", what)])
        made = Question(told.asked, told.note.model_copy(update={"said": (*told.note.said, _SAID)}))
        mark = years.mark(store, place.slug, told.asked.year)
        # A year holds one use at a time: the largest is chosen, the others are there to be chosen.
        years.keep(store, place.slug, made, item.plan, mark, _key(job.key, item), choose=number == 0)


def _key(job: str, item: PlanOfPlace) -> str:
    """What keeps a plan once, however often it is taken over."""
    return hashlib.sha256(f"{job}/{item.property}/{item.part.fold}".encode()).hexdigest()[:40]
