"""The shapes that the API and the command line take and answer about application records."""

from __future__ import annotations

from datetime import date, datetime

from pydantic import Field

from app.engine.measures import Input
from app.engine.output import Output
from app.engine.product import OneLine
from app.season.record import ApplicationRecord, FollowUp

_VERSION_MOST = 2**31 - 1
_KEY = r"^[a-z0-9-]{8,64}$"


class RecordNew(Input):
    """A record to keep; the same `key` twice keeps it once. With `fill_in` what it leaves empty is filled in.

    Filled in are customer and place from the property, licences from the branch, registration numbers and actives
    from the shelf; `filled_in` of the record names them.
    """

    key: str = Field(pattern=_KEY)
    record: ApplicationRecord
    fill_in: bool = False


class RecordChange(Input):
    """A changed record, the version that it changes, who changes it and why."""

    version: int = Field(ge=1, le=_VERSION_MOST)
    record: ApplicationRecord
    by: OneLine = Field(default="", max_length=80)
    why: OneLine = Field(default="", max_length=300)


class RecordVoid(Input):
    """Why a record does not count, and the version at which it was seen."""

    version: int = Field(ge=1, le=_VERSION_MOST)
    why: OneLine = Field(min_length=1, max_length=300)
    by: OneLine = Field(default="", max_length=80)


class FollowUpNew(Input):
    """What was seen after an application; the same `key` twice keeps it once."""

    key: str = Field(pattern=_KEY)
    follow_up: FollowUp


class FollowUpChange(Input):
    """A changed follow-up and the version that it changes."""

    version: int = Field(ge=1, le=_VERSION_MOST)
    follow_up: FollowUp


class GapTold(Output):
    """A field that is still to be filled: its path, and what it is called."""

    path: str
    name: str


class RecordKept(Output):
    """A kept record.

    `unfinished` says whether something is still to be filled (`gaps`), `stock` in sentences what has to be told
    of the shelf's stock.
    """

    key: str
    version: int
    changed_at: datetime
    unfinished: bool
    gaps: tuple[GapTold, ...]
    stock: tuple[str, ...]
    record: ApplicationRecord


class RecordListing(Output):
    """A page of the log, the latest day first; `unfinished` counts those to be filled of all that are found."""

    records: tuple[RecordKept, ...]
    total: int
    unfinished: int
    page: int
    pages: int


class DifferenceTold(Output):
    """What one change did to one field, in words."""

    field: str
    before: str
    after: str


class ChangeTold(Output):
    """A change of a record: who made it, when and why, what stood before, and what differs."""

    at: datetime
    by: str
    why: str
    before: ApplicationRecord
    differences: tuple[DifferenceTold, ...]


class FollowUpKept(Output):
    """A kept follow-up; `trials` are those that it stands in, `said` why something of it moves nothing."""

    key: str
    application: str
    version: int
    changed_at: datetime
    days_after: int
    trials: tuple[str, ...]
    said: tuple[str, ...]
    follow_up: FollowUp


class FollowUpRemoved(Output):
    """The key of the follow-up that was removed."""

    removed: str


class RecordReading(RecordKept):
    """A record with its history, the latest change first, and what was seen after it."""

    history: tuple[ChangeTold, ...]
    follow_ups: tuple[FollowUpKept, ...]


class DueTold(Output):
    """What is due of a record: its `rating`, or the next `application` of its program, between two days."""

    kind: str
    key: str
    first: date
    last: date
    record: ApplicationRecord


class DueListing(Output):
    """What is due on a day, the earliest first."""

    on: date
    due: tuple[DueTold, ...]
