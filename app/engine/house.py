"""The house's own evidence: what a trial saw, and the knowledge base that has learned from it.

A record of the knowledge base says what to expect over sites: its band holds both how much sites differ
and how unsure its middle is. A trial is one site; it moves the middle and makes it surer, and leaves the
differences between sites where they are. All on the log-odds, by normal-normal shrinkage.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from pydantic import Field

from app.engine.control import Floats
from app.engine.measures import EARLIEST_YEAR, LATEST_YEAR, Input, Rate
from knowledge.base import KnowledgeBase
from knowledge.models import Source, Weed
from knowledge.models.common import AdjuvantId, Season, Slug

SOURCE_PREFIX = "house-"
# No rating lies beyond these; what an archive says that was written by hand is held to them.
MOST_PLOTS, MOST_LOG_ODDS, LEAST_VARIANCE, MOST_VARIANCE = 100_000, 12.0, 1e-6, 1e4
# Ends of a band that still lie inside 0 and 100 % once they are percent.
_ENDS = 30.0


class Observed(Input):
    """What one treatment of a trial did to one weed at one rating date.

    Attributes
    ----------
    trial, name : str
        Id by which the trial is kept, and its name.
    kind : str
        `plots` beside a check, or `lawns` rated without one, which count for less.
    control_pct : float
        Mean control as rated [%].
    log_odds, variance : float
        The same on the log-odds, and the variance of that mean by the error of the plots.
    n : int
        Plots or lawns behind it.
    """

    trial: str = Field(default="", max_length=140)
    name: str = Field(max_length=120)
    kind: str = Field(pattern="^(plots|lawns)$")
    place: str = Field(default="", max_length=120)
    year: int | None = Field(default=None, ge=EARLIEST_YEAR, le=LATEST_YEAR)
    treatment: str = Field(max_length=120)
    weed: Slug
    active: Slug
    form: Slug | None = None
    rate: Rate
    adjuvant: AdjuvantId = "none"
    stage: str = Field(max_length=40)
    season: Season | None = None
    days_after: int = Field(ge=1, le=730)
    n: int = Field(ge=1, le=MOST_PLOTS)
    control_pct: float = Field(ge=0, le=100)
    log_odds: float = Field(ge=-MOST_LOG_ODDS, le=MOST_LOG_ODDS)
    variance: float = Field(ge=LEAST_VARIANCE, le=MOST_VARIANCE)

    @property
    def source(self) -> str:
        """Id under which answers cite the trial."""
        return f"{SOURCE_PREFIX}{self.trial}"


@dataclass(frozen=True)
class Shrunk:
    """A prior and what was seen, weighed by how sure each is.

    Attributes
    ----------
    mean, variance : float
        Of the middle, on the log-odds.
    weights : tuple of float
        Share of the prior, then of each figure seen; they sum to 1.
    """

    mean: float
    variance: float
    weights: tuple[float, ...]


def shrink(prior: tuple[float, float] | None, seen: Sequence[tuple[float, float]]) -> Shrunk:
    """Normal-normal shrinkage: the mean of prior and figures, each by the inverse of its variance.

    Parameters
    ----------
    prior : tuple of float, optional
        Mean and variance; None where nothing is known, so that the figures stand alone.
    seen : sequence of tuple of float
        Figures with their variances, between-trial variance included.

    Examples
    --------
    >>> found = shrink((70, 15**2), [(90, 8**2)])
    >>> round(found.mean, 3), round(found.variance ** 0.5, 3), round(found.weights[0], 4)
    (85.571, 7.059, 0.2215)
    """
    pairs = [*([prior] if prior is not None else []), *seen]
    precision = [1 / variance for _, variance in pairs]
    total = math.fsum(precision)
    mean = math.fsum(value * weight for (value, _), weight in zip(pairs, precision, strict=True)) / total
    shares = tuple(weight / total for weight in precision)
    return Shrunk(mean, 1 / total, shares if prior is not None else (0.0, *shares))


def between_sites(recorded: float, worth: float, values: Floats, variances: Floats) -> float:
    """Variance between sites: the recorded one and that of the trials, weighed by degrees of freedom.

    A handful of trials says little of how much sites differ, and often nothing at all: taken alone it
    makes a band of a point where they happen to agree. Like a scaled inverse chi-square prior.

    Parameters
    ----------
    recorded : float
        Variance between sites by the record.
    worth : float
        How many trials the recorded one is worth.
    values, variances : ndarray, shape (k,)
        Figures of the trials and the variance of each by its own error.
    """
    freedom = len(values) - 1
    if freedom < 1:
        return recorded
    return (worth * recorded + freedom * between_trials(values, variances)) / (worth + freedom)


def between_trials(values: Floats, variances: Floats) -> float:
    """Variance between trials by the method of moments (DerSimonian and Laird 1986, from memory).

    Parameters
    ----------
    values, variances : ndarray, shape (k,)
        Figures and the variance of each by its own error.
    """
    weights = 1 / variances
    centre = float((weights * values).sum() / weights.sum())
    q = float((weights * (values - centre) ** 2).sum())
    scale = float(weights.sum() - (weights**2).sum() / weights.sum())
    return max(0.0, (q - (len(values) - 1)) / scale) if scale > 0 else 0.0


class _WithHouse(Mapping[str, Weed]):
    """The weeds, those that the house has seen with their records moved when they are first asked for."""

    def __init__(self, base: KnowledgeBase, observed: Mapping[str, Sequence[Observed]]) -> None:
        self._base, self._observed = base, observed
        self._made: dict[str, Weed] = {}

    def __getitem__(self, key: str) -> Weed:
        if key not in self._observed:
            return self._base.weeds[key]
        if key not in self._made:
            from app.engine.house_records import moved_weed

            self._made[key] = moved_weed(self._base, self._base.weeds[key], self._observed[key])
        return self._made[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._base.weeds)

    def __len__(self) -> int:
        return len(self._base.weeds)

    def __contains__(self, key: object) -> bool:
        return key in self._base.weeds


def with_evidence(base: KnowledgeBase, observed: Sequence[Observed]) -> KnowledgeBase:
    """The knowledge base that has learned from the house's trials; without any, the same one.

    Nothing of `base` is changed, so leaving a trial out gives back exactly what was there without it.
    """
    by_weed: dict[str, list[Observed]] = {}
    for item in observed:
        if item.weed in base.weeds and item.active in base.actives:
            by_weed.setdefault(item.weed, []).append(item)
    if not by_weed:
        return base
    sources = {**base.sources, **house_sources(observed)}
    return replace(base, weeds=_WithHouse(base, by_weed), sources=sources, kept_names=base.weed_names)


def house_sources(observed: Iterable[Observed]) -> dict[str, Source]:
    """The trials as sources, by the ids under which answers cite them."""
    # Many figures are of one trial, which is told once.
    first: dict[str, Observed] = {}
    for item in observed:
        first.setdefault(item.source, item)
    return {key: _source(item) for key, item in first.items()}


def _source(item: Observed) -> Source:
    kind = "Replicated plots" if item.kind == "plots" else "Treated lawns rated without a check"
    where = ", ".join(str(part) for part in (item.place, item.year) if part)
    return Source(citation=f"{item.name}. {kind}{f', {where}' if where else ''}. House trial.", kind="house", seen=True)


def percent(log_odds: float) -> float:
    """Percent control of a log-odds, always inside 0 and 100."""
    return float(100 / (1 + np.exp(-min(max(log_odds, -_ENDS), _ENDS))))
