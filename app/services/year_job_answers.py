"""What the API and the command line take and answer about planning a branch in one go."""

from __future__ import annotations

import secrets
from datetime import datetime
from typing import Any

from pydantic import Field

from app.engine.measures import Input
from app.engine.output import Output
from app.season.year_load import YearLoad
from app.season.year_output import YearPlan
from app.services import year_job, year_job_sums, year_job_use
from app.services.validation import validated
from app.services.year_job import Progress
from app.services.year_job_lease import utc_now
from app.services.year_job_shapes import BranchYear, State
from app.services.year_job_sums import YearOrder, YearSummary, read_place
from app.store import year_jobs as kept
from app.store.opening import Store
from knowledge.models.common import Slug


class BranchYearToStart(BranchYear):
    """What is planned, and the key under which the same is started once; one is made where it is not told."""

    key: str | None = Field(default=None, pattern=r"^[a-z0-9-]{8,64}$")


class PlansToUse(Input):
    """Whose plan is taken over into its year; that of every property where none is named."""

    property: Slug | None = None


class BranchYearTold(Output):
    """A job and how far it is.

    Attributes
    ----------
    stopped : bool
        Whether it says that it runs while nobody works on it.
    stopping : bool
        Whether it was told to stop, and what is being worked on comes to its end.
    properties, plannable : int
        Properties looked at so far, and those of them that can be planned.
    situations, waiting, planned, failed : int
        What the properties fold into, and how far these are.
    worked_s : float
        How long was worked on it [seconds].
    """

    id: str
    version: int
    season: int
    state: State
    stopped: bool
    stopping: bool
    going: bool
    can_go_on: bool
    properties: int
    plannable: int
    situations: int
    waiting: int
    planned: int
    failed: int
    reason: str
    text: str
    asked: BranchYear
    started_at: datetime
    ended_at: datetime | None
    worked_s: float


class BranchYearListing(Output):
    """The jobs that are kept, the latest first; `damaged` holds a sentence for each that cannot be read."""

    jobs: tuple[BranchYearTold, ...]
    damaged: tuple[str, ...]


class BranchYearRemoved(Output):
    """What was removed."""

    removed: str


class PlaceTold(Output):
    """A property of a job; `situations` name those that it stands for, `reasons` why it, or a part, has no plan."""

    property: str
    name: str
    technician: str
    situations: tuple[str, ...]
    reasons: tuple[str, ...]


class PlacePage(Output):
    """A page of the properties of a job: first those with a plan or waiting for one, by id."""

    places: tuple[PlaceTold, ...]
    number: int
    pages: int


class PlansOfPlace(Output):
    """What was planned for a property, one plan for each use of its turf, the largest first."""

    property: str
    name: str
    plans: tuple[YearPlan, ...]


class PlansUsed(Output):
    """Properties whose year holds the plan now, and why others' does not, by property."""

    used: tuple[str, ...]
    left: dict[str, str]


def start(store: Store, payload: Any) -> tuple[BranchYearTold, bool]:
    """Keep a job, given as plain data, and begin to work on it; True beside it where it is new; raises InputError."""
    told = validated(BranchYearToStart, payload)
    year_job.reached(store)
    plain = told.model_dump(mode="json", by_alias=True, exclude={"key"})
    job, new = year_job.start(store, told.key or secrets.token_hex(8), plain)
    if new:
        year_job.begin(store, job.key)
    return one(store, job.key), new


def listing(store: Store) -> BranchYearListing:
    """The latest jobs."""
    found = year_job.listing(store)
    return BranchYearListing(
        jobs=tuple(told_of(item) for item in found if isinstance(item, Progress)),
        damaged=tuple(item for item in found if isinstance(item, str)),
    )


def one(store: Store, key: str) -> BranchYearTold:
    """A job; raises UnknownId and InputError."""
    return told_of(year_job.progress(store, key))


def cancel(store: Store, key: str) -> BranchYearTold:
    """Have a job stop; raises UnknownId and InputError."""
    return told_of(year_job.cancel(store, key))


def resume(store: Store, key: str) -> BranchYearTold:
    """Go on with a job; raises UnknownId and InputError."""
    year_job.reached(store)
    told = year_job.make_ready(store, key)
    year_job.begin(store, key)
    return told_of(told)


def remove(store: Store, key: str) -> BranchYearRemoved:
    """Forget a job; raises UnknownId and InputError."""
    year_job.remove(store, key)
    return BranchYearRemoved(removed=key)


def summary(store: Store, key: str) -> YearSummary:
    """What a job adds up to; raises UnknownId and InputError."""
    return year_job_sums.summary(store, key)


def order(store: Store, key: str) -> YearOrder:
    """The season's order; raises UnknownId and InputError."""
    return year_job_sums.order(store, key)


def load(store: Store, key: str) -> YearLoad:
    """The load by week; raises UnknownId and InputError."""
    return year_job_sums.load(store, key)


def places(store: Store, key: str, page: int = 1) -> PlacePage:
    """A page of the properties of a job; raises UnknownId and InputError."""
    with store.reading() as session:
        kept.one(session, key)
        found, number, pages = kept.page_of_places(session, key, page)
    told = [(item, read_place(item)) for item in found]
    return PlacePage(
        places=tuple(
            PlaceTold(
                property=item.property,
                name=place.name,
                technician=place.technician,
                situations=tuple(part.fold for part in place.parts),
                reasons=place.reasons,
            )
            for item, place in told
        ),
        number=number,
        pages=pages,
    )


def plans(store: Store, key: str, slug: str) -> PlansOfPlace:
    """What was planned for a property; raises UnknownId and InputError."""
    found = year_job_use.plans_of(store, key, slug)
    return PlansOfPlace(property=slug, name=found[0].name, plans=tuple(item.plan for item in found))


def use(store: Store, key: str, payload: Any) -> PlansUsed:
    """Take plans over into the years of their properties; raises UnknownId, InputError and Changed."""
    told = validated(PlansToUse, payload)
    if told.property is not None:
        year_job_use.use_one(store, key, told.property)
        return PlansUsed(used=(told.property,), left={})
    done = year_job_use.use_all(store, key)
    return PlansUsed(used=done.taken, left=done.left)


def told_of(found: Progress) -> BranchYearTold:
    """A job as it is answered."""
    job = found.job
    return BranchYearTold(
        id=job.key,
        version=job.version,
        season=job.told.asked.season,
        state=found.state,
        stopped=found.stopped,
        stopping=found.stopping,
        going=found.going,
        can_go_on=found.can_go_on,
        properties=found.places,
        plannable=found.plannable,
        situations=found.folds,
        waiting=found.waiting,
        planned=found.planned,
        failed=found.failed,
        reason=job.told.reason,
        text=_said(found),
        asked=job.told.asked,
        started_at=job.told.started_at,
        ended_at=job.told.ended_at,
        worked_s=round(job.told.worked_s + _since(found), 1),
    )


def _since(found: Progress) -> float:
    lease = found.job.told.lease
    if lease is None or not found.going:
        return 0.0
    return max((utc_now() - lease.beat).total_seconds(), 0.0)


def _said(found: Progress) -> str:
    """How far it is, in a sentence."""
    done, whole = found.planned + found.failed, found.folds
    far = f"{done} of {whole}" if found.job.told.folded else "folding the properties"
    if found.stopped:
        return f"Stopped at {far}: go on."
    if found.stopping:
        return f"Stopping at {far}: what is being planned comes to its end."
    if found.starting:
        return "About to begin."
    if found.state == "running":
        if not found.job.told.folded:
            return f"Folding: {found.places} properties so far, {whole} situations."
        return f"{far} situations planned."
    if found.state == "waiting":
        return f"Not begun, or left at {far}: go on."
    if found.state == "cancelled":
        return f"Cancelled at {far}: go on, or leave it."
    if found.state == "failed":
        return f"Failed at {far}: {found.job.told.reason}"
    lacking = f"; {found.failed} could not be planned" if found.failed else ""
    return f"Done: {found.plannable} properties in {whole} situations{lacking}."
