"""The shapes that the API and the command line take and answer about trials."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import Field, WithJsonSchema

from app.engine.house import Observed
from app.engine.measures import Input
from app.engine.output import Output
from app.services.csv_text import MAX_BYTES
from app.trials.trial import Design, Kind, TreatedWith, Trial

USUAL_ALPHA = 0.05
_VERSION_MOST = 2**31 - 1

# The least and the most of an analysis are refused here: they answer no question that is asked in earnest.
Alpha = Annotated[float, Field(gt=0.0001, lt=0.5)]
_TRIAL = {
    "type": "object",
    "required": ["name", "treatments"],
    "description": "The trial as GET answers it; without `plots` those that are kept stay.",
}


class TrialsInFile(Input):
    """A file of plots and how it is to be read: one row a plot, weed and rating date.

    `columns` names headings that are not found by themselves, by the known name (`{"days_after": "DAT"}`),
    an empty one leaves a column out;
    `design` is that of every trial of the file, whatever the file says.
    """

    csv: str = Field(max_length=MAX_BYTES)
    columns: dict[str, str] = Field(default={}, max_length=50)
    design: Design | None = None

    @property
    def text(self) -> str:
        """The file without the mark that some programs put before it."""
        return self.csv.removeprefix("\ufeff")


class TrialAnalyseRequest(TrialsInFile):
    """A file of plots to analyse; nothing is stored."""

    alpha: Alpha = USUAL_ALPHA


class TrialImportRequest(TrialsInFile):
    """A file of plots to import: without `confirm` it is only previewed.

    `replace` replaces trials of a name that is kept already; otherwise one of them blocks the whole file.
    `seen` is that of the preview; where it is given, what somebody else changed since is told and kept.
    """

    confirm: bool = False
    replace: bool = False
    seen: dict[str, int] | None = None


class TrialChange(Input):
    """A changed trial, and the version that it changes."""

    version: int = Field(ge=1, le=_VERSION_MOST)
    trial: Annotated[dict[str, Any], WithJsonSchema(_TRIAL)]


class Asked(Input):
    """What an address may ask of an analysis."""

    alpha: Alpha = USUAL_ALPHA


class SilentTold(Output):
    """A treatment that adds nothing to the records of the knowledge base, and why."""

    treatment: str
    weed: str
    why: str


class TrialEntry(Output):
    """A trial in the list; `moves` is how many figures it adds to the records of the knowledge base."""

    id: str
    version: int
    changed_at: datetime
    name: str
    kind: Kind
    place: str
    applied: date | None
    weeds: tuple[str, ...]
    dates: tuple[int, ...]
    treatments: int
    plots: int
    missing: int
    moves: int


class TrialListing(Output):
    """Every kept trial, by name."""

    trials: tuple[TrialEntry, ...]


class TrialKept(Output):
    """A kept trial, the version at which it stands, and what it adds to the records of the knowledge base."""

    id: str
    version: int
    changed_at: datetime
    trial: Trial
    evidence: tuple[Observed, ...]
    silent: tuple[SilentTold, ...]


class TrialRowFault(Output):
    """Why a row cannot be used; `column` is its heading, empty where the row as a whole is at fault."""

    line: int
    column: str
    message: str
    trial: str


class TreatmentTold(Output):
    """What a treatment is understood to be made of; `guessed` where that is from its name alone."""

    name: str
    actives: tuple[TreatedWith, ...]
    adjuvant: str | None
    applications: int
    stages: dict[str, str]
    is_check: bool
    guessed: bool


class WeedTold(Output):
    """A weed as the plots name it, its name, and whether the knowledge base holds it."""

    weed: str
    name: str
    known: bool


class TrialTold(Output):
    """A trial of the file and what importing it does; `fault` says why it cannot be analysed, empty where it can."""

    name: str
    status: Literal["new", "changed", "unchanged", "bad"]
    id: str
    weeds: tuple[WeedTold, ...]
    dates: tuple[int, ...]
    treatments: tuple[TreatmentTold, ...]
    design: str
    plots: int
    missing: int
    moves: tuple[Observed, ...]
    silent: tuple[SilentTold, ...]
    fault: str


class TrialImportAnswer(Output):
    """What importing a file of plots does or, where `stored`, has done.

    `bad` counts trials that cannot be analysed and rows that cannot be used; one blocks the whole file.
    """

    stored: bool
    new: int
    changed: int
    unchanged: int
    bad: int
    trials: tuple[TrialTold, ...]
    faults: tuple[TrialRowFault, ...]
    ignored: tuple[str, ...]
    columns: dict[str, str]
    notices: tuple[str, ...]
    seen: dict[str, int]


class TrialRemoved(Output):
    """The id of the trial that was removed."""

    removed: str
