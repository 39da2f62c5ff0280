"""What is asked of planning a branch in one go, and how a job of it is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from pydantic import Field, ValidationError, model_validator

from app.engine.errors import FieldFault, InputError
from app.engine.measures import EARLIEST_YEAR, LATEST_YEAR, Day, FieldError, Input
from app.engine.product import OneLine
from app.season.year import YearLimits, YearVisits
from app.store.year_jobs import StoredJob
from knowledge.models.common import SiteUse, Slug

State = Literal["waiting", "running", "cancelled", "done", "failed"]


class BranchYear(Input):
    """A season that is planned for the properties of a branch.

    Without `technician` and `search` for all of them; `search` holds words that stand in the name, the address, the
    customer or the technician. `from` is the first day that may be planned, `time_limit_s` bounds each optimisation
    [seconds].
    """

    season: int = Field(ge=EARLIEST_YEAR, le=LATEST_YEAR)
    technician: OneLine = Field(default="", max_length=80)
    search: OneLine = Field(default="", max_length=200)
    visits: YearVisits
    start: Day | None = Field(default=None, alias="from")
    catalog: Literal["actives", "shelf"] = "actives"
    limits: YearLimits = YearLimits()
    time_limit_s: float = Field(default=60, gt=0, le=3600)

    @model_validator(mode="after")
    def _days_lie_in_the_season(self) -> BranchYear:
        for number, day in enumerate(self.visits.dates or ()):
            if day.year != self.season:
                raise FieldError(f"visits.dates.{number}", f"must lie in {self.season}, the season that is planned")
        if self.start is not None and self.start.year != self.season:
            raise FieldError("from", f"must lie in {self.season}, the season that is planned")
        return self


class PlacePart(Input):
    """Areas of a property that are planned together: as which situation, and as which areas of it.

    `sizes` holds what is told of their sizes [ft2], `names` what they are called, both by id.
    """

    fold: str = Field(pattern=r"^[0-9a-f]{64}$")
    site_use: SiteUse
    areas: dict[Slug, Slug]
    names: dict[Slug, str]
    sizes: dict[Slug, float]


class PlaceDocument(Input):
    """What differs between properties of equal situations; `reasons` say why it, or a part of it, is not planned."""

    name: str
    technician: str
    parts: tuple[PlacePart, ...] = ()
    reasons: tuple[str, ...] = ()


class Lease(Input):
    """Who works on a job, and when they last said so."""

    holder: str = Field(max_length=64)
    host: str = Field(max_length=255)
    process: int
    beat: datetime


class JobDocument(Input):
    """A job as it is kept.

    Attributes
    ----------
    products : list or None
        The shelf as it stood when the job was started; None where it plans with actives.
    observed : list
        What the house's trials saw by then, as plain data.
    folded_to : int
        Up to which place in the table of properties they are folded.
    folded : bool
        Whether all of them are.
    cancel : bool
        Whether it is to stop.
    reason : str
        Why it failed.
    worked_s : float
        How long was worked on it in all [seconds].
    """

    asked: BranchYear
    products: list[dict[str, Any]] | None = None
    observed: list[dict[str, Any]] = Field(default_factory=list)
    folded_to: int = Field(default=0, ge=0)
    folded: bool = False
    cancel: bool = False
    reason: str = ""
    lease: Lease | None = None
    started_at: datetime
    ended_at: datetime | None = None
    worked_s: float = Field(default=0, ge=0)


@dataclass(frozen=True)
class KeptJob:
    """A job as it is kept, read."""

    key: str
    state: State
    told: JobDocument
    version: int
    changed_at: datetime


STATES: tuple[State, ...] = ("waiting", "running", "cancelled", "done", "failed")


def kept_job(item: StoredJob) -> KeptJob:
    """A job as it is kept.

    Raises
    ------
    InputError
        Where what is kept of it is damaged.
    """
    state = next((state for state in STATES if state == item.state), None)
    if state is None:
        raise _damaged(item.key, f"its state '{item.state[:20]}' is none")
    return KeptJob(item.key, state, document_of(item.key, item.document), item.version, item.changed_at)


def document_of(key: str, plain: Any) -> JobDocument:
    """What is kept of a job.

    Raises
    ------
    InputError
        Where it is damaged.
    """
    try:
        return JobDocument.model_validate(plain)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise _damaged(key, f"{'.'.join(str(part) for part in first['loc'])}: {first['msg']}") from error


def plain_of(told: Input) -> dict[str, Any]:
    """A document as it is stored."""
    return told.model_dump(mode="json", by_alias=True)


def _damaged(key: str, what: str) -> InputError:
    return InputError([FieldFault("job", f"what is kept of {key} is damaged ({what}); remove it and plan anew")])
