"""The house's evidence as it is shown: prior, trials and posterior of a record, and what the ranking made of it."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class HouseShown(BaseModel):
    """Base of what is shown: frozen."""

    model_config = ConfigDict(frozen=True)


class Banded(HouseShown):
    """A central 80 % band of control [%]."""

    low: float
    likely: float
    high: float


class TrialSaid(HouseShown):
    """What one trial says of a record.

    Attributes
    ----------
    seen_pct : float
        Mean control as rated in the trial [%].
    band : Banded
        The same under the record's rate, days and adjuvant, as sure as one site can make it.
    weight_pct : float
        Its share in the posterior [%].
    """

    trial: str
    name: str
    kind: str
    place: str
    treatments: tuple[str, ...]
    days_after: tuple[int, ...]
    n: int
    seen_pct: float
    band: Banded
    weight_pct: float
    source: str


class MovedRecord(HouseShown):
    """A record that the house's trials move; `prior` is null where the knowledge base held none."""

    weed: str
    weed_name: str
    active: str
    active_name: str
    stage: str
    adjuvant: str
    rate: str
    days: int
    prior: Banded | None
    prior_weight_pct: float
    trials: tuple[TrialSaid, ...]
    posterior: Banded
    sources: tuple[str, ...]
    text: str


class FigureUnused(HouseShown):
    """A figure of a trial that moves no record, and why."""

    trial: str
    name: str
    weed: str
    treatment: str
    days_after: int
    why: str


class HouseEvidence(HouseShown):
    """What the house's trials did to a ranking.

    Attributes
    ----------
    used : bool
        Whether this ranking rests on them.
    records : tuple of MovedRecord
        Records of the weeds asked after, at the stages asked for.
    changed : tuple of str
        What is different from the ranking without them, in sentences; empty where nothing is.
    """

    used: bool
    text: str
    records: tuple[MovedRecord, ...]
    changed: tuple[str, ...]
