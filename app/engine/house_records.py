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
from knowledge.models.common import AdjuvantId
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
        The record as the knowledge base holds it; where it was taken under another adjuvant than the
        trial, shifted to that of the trial.
    response : Response
        What stands in its place, or beside it (`beside`) where the adjuvant is another.
    between : float
        Variance between sites, on the log-odds.
    """

    index: int | None
    beside: bool
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
        by_index.setdefault(None if move.beside else move.index, []).append(move)
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
    groups: dict[tuple[int | None, str, str, str], list[tuple[Response | None, Used]]] = {}
    unused: list[Unused] = []
    for item in observed:
        place = _placed(base, weed, item)
        if isinstance(place, str):
            unused.append(Unused(item, place))
        else:
            index, prior, used = place
            adjuvant: str = prior.adjuvant if prior is not None else item.adjuvant
            groups.setdefault((index, item.active, item.stage, adjuvant), []).append((prior, used))
    moves = []
    for (index, _, stage, adjuvant), pairs in groups.items():
        prior = pairs[0][0]
        kept = _one_date_each(prior.days if prior is not None else None, [used for _, used in pairs])
        chosen = {id(used) for used in kept}
        spare = [used.observed for _, used in pairs if id(used) not in chosen]
        unused += [Unused(item, "another date of the same plots lies nearer") for item in spare]
        beside = index is None or weed.responses[index].adjuvant != adjuvant
        moves.append(_move(base, (index, beside, stage), prior, kept))
    return tuple(moves), tuple(unused)


def _placed(base: KnowledgeBase, weed: Weed, item: Observed) -> tuple[int | None, Response | None, Used] | str:
    """The record that a figure speaks of and the figure under its conditions; or why it moves none."""
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
        return None, None, Used(item, item.log_odds, item.variance)
    if other_season:
        when = "the season of the trial is not told" if item.season is None else f"none is recorded in {item.season}"
        return f"what is recorded of {active.name} here holds in its own season alone, and {when}"
    if not _within(rate.base, record.rate.base, base.parameter("evidence-rate-factor")):
        return f"its rate, {rate}, lies too far from the recorded {record.rate}"
    if not _within(item.days_after, record.days, base.parameter("evidence-days-factor")):
        return f"{item.days_after} days after application lie too far from the recorded {record.days}"
    dose = Dose(active, form, rate, None, "stated", None)
    moment = Moment(item.stage, item.season, item.days_after)
    index = next(i for i, response in enumerate(weed.responses) if response is record)
    record = _under(RecordShifts(base).adjuvant(dose, weed, record, moment, item.adjuvant), record, item.adjuvant)
    shifts = RecordShifts(base).of(dose, weed, record, moment, record.adjuvant)
    size = math.fsum(size for size, _, _ in shifts)
    variance = item.variance + math.fsum(sd**2 for _, sd, _ in shifts)
    return index, record, Used(item, item.log_odds - size, variance)


def _under(shifts: Sequence[tuple[float, float, object]], record: Response, adjuvant: AdjuvantId) -> Response:
    """A record shifted to another adjuvant; itself where the adjuvant makes no difference that is recorded.

    The adjuvant's effect in the trial itself is better known than the recorded one, so what was seen
    under it makes a record of its own, and says nothing of the active without it.
    """
    if not shifts:
        return record
    low, likely, high = (value / _PERCENT for value in record.band)
    mean = math.log(likely / (1 - likely)) + math.fsum(size for size, _, _ in shifts)
    spread = math.sqrt(band_sd(low, high) ** 2 + math.fsum(sd**2 for _, sd, _ in shifts))
    return record.model_copy(update={"adjuvant": adjuvant, "band": _band(mean, spread)})


def _band(mean: float, spread: float) -> tuple[float, float, float]:
    return percent(mean - Z90 * spread), percent(mean), percent(mean + Z90 * spread)


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


def _move(
    base: KnowledgeBase, place: tuple[int | None, bool, str], prior: Response | None, used: Sequence[Used]
) -> Move:
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
    response = _response(base, prior, place[2], _band(shrunk.mean, spread), trials)
    return Move(*place, prior, response, trials, shrunk, between)


def _prior(base: KnowledgeBase, record: Response | None) -> tuple[float, float, float]:
    """Middle of a record, variance between sites, and variance of the middle."""
    if record is None:
        return 0.0, base.parameter("evidence-between-sd") ** 2, math.inf
    low, likely, high = (value / _PERCENT for value in record.band)
    variance = band_sd(low, high) ** 2
    share = base.parameter("evidence-site-share")
    return math.log(likely / (1 - likely)), variance * share, variance * (1 - share)


def _response(
    base: KnowledgeBase, prior: Response | None, stage: str, band: tuple[float, float, float], trials: Sequence[OfTrial]
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
        band=band,
        basis="house",
        sources=cited,
        note="The house's trials alone; the knowledge base holds no record.",
    )
