"""Which records of a weed the house's trials speak of, and what becomes of them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from app.engine.control import Z90, band_sd
from app.engine.doses import Dose, counted_rate, form_named
from app.engine.house import SOURCE_PREFIX, Observed, Shrunk, between_trials, percent, shrink
from app.engine.record_shifts import Moment, RecordShifts
from app.engine.responses import matching_response
from app.engine.understood import NOT_EMERGED
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM, Citation, Response, Weed
from knowledge.quantities import Quantity

_PERCENT = 100.0


@dataclass(frozen=True)
class Used:
    """A figure of a trial, brought to the conditions of the record that it speaks of.

    Attributes
    ----------
    log_odds, variance : float
        Under the record's rate, days and adjuvant; the variance is that of the plots alone.
    """

    observed: Observed
    log_odds: float
    variance: float


@dataclass(frozen=True)
class OfTrial:
    """What one trial says of a record: its figures as one."""

    used: tuple[Used, ...]
    log_odds: float
    variance: float

    @property
    def kind(self) -> str:
        """`plots` or `lawns`."""
        return self.used[0].observed.kind


@dataclass(frozen=True)
class Move:
    """A record that trials move, at one stage.

    Attributes
    ----------
    index : int
        Place of the record among those of the weed; None where nothing was recorded.
    prior : Response, optional
        The record as the knowledge base holds it.
    response : Response
        What stands in its place.
    between : float
        Variance between sites, on the log-odds.
    """

    index: int | None
    stage: str
    prior: Response | None
    response: Response
    trials: tuple[OfTrial, ...]
    shrunk: Shrunk
    between: float


@dataclass(frozen=True)
class Unused:
    """A figure that moves no record, and why."""

    observed: Observed
    why: str


def moved_weed(base: KnowledgeBase, weed: Weed, observed: Sequence[Observed]) -> Weed:
    """The weed with its records moved."""
    moves, _ = moves_of(base, weed, observed)
    by_index: dict[int | None, list[Move]] = {}
    for move in moves:
        by_index.setdefault(move.index, []).append(move)
    responses: list[Response] = []
    for index, record in enumerate(weed.responses):
        own = by_index.get(index, [])
        responses += [move.response for move in own]
        rest = _elsewhere(weed, record, [move.stage for move in own]) if own else record
        responses += [rest] if rest is not None else []
    responses += [move.response for move in by_index.get(None, [])]
    return weed.model_copy(update={"responses": tuple(responses)})


def _elsewhere(weed: Weed, record: Response, taken: Sequence[str]) -> Response | None:
    """The record at its other stages, None where no other is left."""
    emerged = tuple(stage for stage in STAGES_BY_LIFE_FORM[weed.life_form] if stage != NOT_EMERGED)
    left = tuple(stage for stage in record.stages or emerged if stage not in taken)
    return record.model_copy(update={"stages": left}) if left else None


def moves_of(
    base: KnowledgeBase, weed: Weed, observed: Sequence[Observed]
) -> tuple[tuple[Move, ...], tuple[Unused, ...]]:
    """Every record of a weed that the house's trials move, and the figures that move none."""
    groups: dict[tuple[int | None, str, str], list[Used]] = {}
    unused: list[Unused] = []
    for item in observed:
        place = _placed(base, weed, item)
        if isinstance(place, str):
            unused.append(Unused(item, place))
        else:
            groups.setdefault((place[0], item.active, item.stage), []).append(place[1])
    moves = []
    for (index, _, stage), used in groups.items():
        kept = _one_date_each(weed.responses[index].days if index is not None else None, used)
        dropped = {id(u) for u in used} - {id(u) for u in kept}
        unused += [Unused(u.observed, "another date of the same plots lies nearer") for u in used if id(u) in dropped]
        moves.append(_move(base, weed, index, stage, kept))
    return tuple(moves), tuple(unused)


def _placed(base: KnowledgeBase, weed: Weed, item: Observed) -> tuple[int | None, Used] | str:
    """The record that a figure speaks of, with the figure under its conditions; or why it moves none."""
    active = base.actives.get(item.active)
    if active is None:
        return f"the knowledge base holds no active {item.active}"
    if item.stage not in STAGES_BY_LIFE_FORM[weed.life_form]:
        return f"'{item.stage}' is no stage of {weed.name}"
    form = form_named(active, item.form)
    rate = counted_rate(item.rate.quantity, active, form) if form is not None else None
    if form is None or rate is None:
        return f"its rate cannot be counted as {active.rate_basis} of {active.name}"
    record, other_season = matching_response(weed, active.id, form.id, item.stage, item.season)
    if record is None:
        return None, Used(item, item.log_odds, item.variance)
    if other_season:
        when = "the season of the trial is not told" if item.season is None else f"none is recorded in {item.season}"
        return f"what is recorded of {active.name} here holds in its own season alone, and {when}"
    if not _within(rate.base, record.rate.base, base.parameter("evidence-rate-factor")):
        return f"its rate, {rate}, lies too far from the recorded {record.rate}"
    if not _within(item.days_after, record.days, base.parameter("evidence-days-factor")):
        return f"{item.days_after} days after application lie too far from the recorded {record.days}"
    dose = Dose(active, form, rate, None, "stated", None)
    moment = Moment(item.stage, item.season, item.days_after)
    shifts = RecordShifts(base).of(dose, weed, record, moment, item.adjuvant)
    size = math.fsum(size for size, _, _ in shifts)
    variance = item.variance + math.fsum(sd**2 for _, sd, _ in shifts)
    index = next(i for i, response in enumerate(weed.responses) if response is record)
    return index, Used(item, item.log_odds - size, variance)


def _within(value: float, reference: float, factor: float) -> bool:
    return reference / factor * (1 - 1e-9) <= value <= reference * factor * (1 + 1e-9)


def _one_date_each(days: int | None, used: Iterable[Used]) -> list[Used]:
    """Of each treatment of a trial the date nearest to the record's, since dates of the same plots are one sample."""
    best: dict[tuple[str, str], Used] = {}
    for item in used:
        key = (item.observed.trial, item.observed.treatment)
        if key not in best or _off(days, item) < _off(days, best[key]):
            best[key] = item
    return list(best.values())


def _off(days: int | None, item: Used) -> tuple[float, int]:
    # Where nothing is recorded the latest date speaks: control that lasted.
    seen = item.observed.days_after
    return (abs(math.log(seen / days)) if days is not None else 0.0, -seen)


def _as_one(used: Sequence[Used]) -> tuple[float, float]:
    """Figures of one trial as one, by the inverse of their variances."""
    found = shrink(None, [(item.log_odds, item.variance) for item in used])
    return found.mean, found.variance


def _move(base: KnowledgeBase, weed: Weed, index: int | None, stage: str, used: Sequence[Used]) -> Move:
    prior = weed.responses[index] if index is not None else None
    by_trial: dict[str, list[Used]] = {}
    for item in used:
        by_trial.setdefault(item.observed.trial, []).append(item)
    trials = tuple(OfTrial(tuple(items), *_as_one(items)) for items in by_trial.values())
    middle, between, unsure = _prior(base, prior)
    plots = [trial for trial in trials if trial.kind == "plots"]
    if len(plots) >= base.parameter("evidence-enough-trials"):
        between = between_trials(np.array([t.log_odds for t in plots]), np.array([t.variance for t in plots]))
    lawns = base.parameter("evidence-lawn-sd") ** 2
    seen = [(t.log_odds, t.variance + between + (lawns if t.kind == "lawns" else 0.0)) for t in trials]
    shrunk = shrink((middle, unsure) if prior is not None else None, seen)
    # The middle is surer now; how much sites differ is not.
    spread = math.sqrt(shrunk.variance + between)
    band = tuple(percent(shrunk.mean + step * Z90 * spread) for step in (-1, 0, 1))
    response = _response(base, prior, stage, band, trials)
    return Move(index, stage, prior, response, trials, shrunk, between)


def _prior(base: KnowledgeBase, record: Response | None) -> tuple[float, float, float]:
    """Middle of a record, variance between sites, and variance of the middle."""
    if record is None:
        return 0.0, base.parameter("evidence-between-sd") ** 2, math.inf
    low, likely, high = (value / _PERCENT for value in record.band)
    variance = band_sd(low, high) ** 2
    share = base.parameter("evidence-site-share")
    return math.log(likely / (1 - likely)), variance * share, variance * (1 - share)


def _response(
    base: KnowledgeBase, prior: Response | None, stage: str, band: tuple[float, ...], trials: Sequence[OfTrial]
) -> Response:
    cited = tuple(
        dict.fromkeys(Citation(id=f"{SOURCE_PREFIX}{used.observed.trial}") for t in trials for used in t.used)
    )
    if prior is not None:
        return prior.model_copy(
            update={"stages": (stage,), "band": band, "basis": "house", "sources": (*cited, *prior.sources)}
        )
    first = trials[0].used[0].observed
    active = base.actives[first.active]
    form = form_named(active, first.form)
    assert form is not None, "a figure whose form is unknown moves nothing"
    counted = counted_rate(first.rate.quantity, active, form)
    assert counted is not None, "a figure whose rate cannot be counted moves nothing"
    rate = Quantity(counted.to(f"lb {active.rate_basis}/acre").value, f"lb {active.rate_basis}/acre")
    return Response(
        active=active.id,
        rate=rate,
        stages=(stage,),
        adjuvant=first.adjuvant,
        days=min(first.days_after, 400),
        band=(band[0], band[1], band[2]),
        basis="house",
        sources=cited,
        note="The house's trials alone; the knowledge base holds no record.",
    )
