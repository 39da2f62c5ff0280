"""Which records of a weed the house's trials speak of, and what becomes of them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from app.engine.control import Z90, band_sd
from app.engine.doses import Dose, counted_rate, form_named
from app.engine.house import SOURCE_PREFIX, Observed, Shrunk, between_sites, percent, shrink
from app.engine.record_shifts import Moment, RecordShifts
from app.engine.responses import matching_response
from app.engine.understood import NOT_EMERGED
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM, Citation, Response, Weed
from knowledge.models.common import AdjuvantId
from knowledge.quantities import Quantity

_PERCENT = 100.0
# A record speaks of no later day.
_LATEST = 400


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
    errors : tuple of float
        Variance of each trial's figure by what it is itself: its plots, and the missing check of lawns.
    """

    index: int | None
    beside: bool
    stage: str
    prior: Response | None
    response: Response
    trials: tuple[OfTrial, ...]
    shrunk: Shrunk
    between: float
    errors: tuple[float, ...]


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
    groups: dict[tuple[int, str, str, str], list[tuple[Response, Used]]] = {}
    fresh: dict[tuple[str, str, str], list[tuple[Observed, Dose]]] = {}
    unused: list[Unused] = []
    # In an order of their own, so that the answer hangs on no order in which they were kept.
    for item in sorted(observed, key=_order):
        told = _dose(base, weed, item)
        if isinstance(told, str):
            unused.append(Unused(item, told))
            continue
        record, other_season = matching_response(
            weed, item.active, told.form.id, item.stage, item.season, adjuvant=item.adjuvant
        )
        if record is None:
            fresh.setdefault((item.active, item.stage, item.adjuvant), []).append((item, told))
            continue
        if other_season:
            when = (
                "the season of the trial is not told" if item.season is None else f"none is recorded in {item.season}"
            )
            here = f"what is recorded of {told.active.name} here holds in its own season alone"
            unused.append(Unused(item, f"{here}, and {when}"))
            continue
        index = next(i for i, response in enumerate(weed.responses) if response is record)
        shifts = RecordShifts(base).adjuvant(told, weed, record, _moment(item), item.adjuvant)
        prior = _under(shifts, record, item.adjuvant)
        used = _brought(base, weed, item, told, prior, "recorded")
        if isinstance(used, str):
            unused.append(Unused(item, used))
        else:
            groups.setdefault((index, item.active, item.stage, prior.adjuvant), []).append((prior, used))
    moves = []
    for (index, _, stage, adjuvant), pairs in groups.items():
        recorded = pairs[0][0]
        kept, spare = _one_date_each(recorded.days, [used for _, used in pairs])
        unused += spare
        beside = weed.responses[index].adjuvant != adjuvant
        moves.append(_move(base, (index, beside, stage), recorded, recorded, kept))
    for (_, stage, _), seen in fresh.items():
        reference = _reference(seen)
        found = [(item, _brought(base, weed, item, dose, reference, "trials' usual")) for item, dose in seen]
        unused += [Unused(item, used) for item, used in found if isinstance(used, str)]
        kept, spare = _one_date_each(reference.days, [used for _, used in found if not isinstance(used, str)])
        unused += spare
        moves.append(_move(base, (None, True, stage), None, reference, kept))
    return tuple(moves), tuple(unused)


def _order(item: Observed) -> tuple[str, str, int, str]:
    return item.trial, item.treatment, item.days_after, item.active


def _moment(item: Observed) -> Moment:
    return Moment(item.stage, item.season, item.days_after)


def _dose(base: KnowledgeBase, weed: Weed, item: Observed) -> Dose | str:
    """What was sprayed; or why it cannot be told."""
    active = base.actives.get(item.active)
    if active is None:
        return f"the knowledge base holds no active {item.active}"
    if item.stage not in STAGES_BY_LIFE_FORM[weed.life_form]:
        return f"'{item.stage}' is no stage of {weed.name}"
    form = form_named(active, item.form)
    rate = counted_rate(item.rate.quantity, active, form) if form is not None else None
    if form is None or rate is None:
        return f"its rate cannot be counted as {active.rate_basis} of {active.name}"
    return Dose(active, form, rate, None, "stated", None)


def _brought(base: KnowledgeBase, weed: Weed, item: Observed, dose: Dose, record: Response, what: str) -> Used | str:
    """A figure under the rate, days, adjuvant and season of a record; or why it lies too far from it."""
    if not _within(dose.rate.base, record.rate.base, base.parameter("evidence-rate-factor")):
        return f"its rate, {dose.rate}, lies too far from the {what} {record.rate}"
    if not _within(item.days_after, record.days, base.parameter("evidence-days-factor")):
        return f"{item.days_after} days after application lie too far from the {what} {record.days}"
    shifts = RecordShifts(base).of(dose, weed, record, _moment(item), record.adjuvant)
    size = math.fsum(size for size, _, _ in shifts)
    variance = item.variance + math.fsum(sd**2 for _, sd, _ in shifts)
    return Used(item, item.log_odds - size, variance)


def _reference(seen: Sequence[tuple[Observed, Dose]]) -> Response:
    """Conditions for what nothing is recorded of: the middle one of the rates, at its latest date.

    Without them, a treatment at a quarter of the rate would stand for the whole rate, and one of a
    good season would be helped by that season once more.
    """
    latest: dict[tuple[str, str], tuple[Observed, Dose]] = {}
    for item, dose in seen:
        before = latest.get((item.trial, item.treatment))
        # Control that lasted.
        if before is None or item.days_after > before[0].days_after:
            latest[item.trial, item.treatment] = (item, dose)
    by_rate = sorted(latest.values(), key=lambda pair: (pair[1].rate.base, *_order(pair[0])))
    item, dose = by_rate[len(by_rate) // 2]
    unit = f"lb {dose.active.rate_basis}/acre"
    cited = dict.fromkeys(Citation(id=f"{SOURCE_PREFIX}{item.trial}") for item, _ in seen)
    return Response(
        active=item.active,
        rate=Quantity(dose.rate.to(unit).value, unit),
        stages=(item.stage,),
        adjuvant=item.adjuvant,
        days=min(item.days_after, _LATEST),
        band=_band(0.0, 1.0),
        basis="house",
        sources=tuple(cited),
        note="The house's trials alone; the knowledge base holds no record.",
    )


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


def _one_date_each(days: int, used: Iterable[Used]) -> tuple[list[Used], list[Unused]]:
    """Of each treatment of a trial the date nearest to the record's, since dates of the same plots are one sample."""
    best: dict[tuple[str, str], Used] = {}
    told = list(used)
    for item in told:
        key = (item.observed.trial, item.observed.treatment)
        if key not in best or _off(days, item) < _off(days, best[key]):
            best[key] = item
    chosen = {id(item) for item in best.values()}
    why = "another date of the same plots lies nearer"
    return list(best.values()), [Unused(item.observed, why) for item in told if id(item) not in chosen]


def _off(days: int, item: Used) -> tuple[float, int]:
    seen = item.observed.days_after
    return abs(math.log(seen / days)), -seen


def _as_one(used: Sequence[Used]) -> tuple[float, float]:
    """Figures of one trial as one, by the inverse of their variances."""
    found = shrink(None, [(item.log_odds, item.variance) for item in used])
    return found.mean, found.variance


def _move(
    base: KnowledgeBase,
    place: tuple[int | None, bool, str],
    prior: Response | None,
    conditions: Response,
    used: Sequence[Used],
) -> Move:
    by_trial: dict[str, list[Used]] = {}
    for item in used:
        by_trial.setdefault(item.observed.trial, []).append(item)
    trials = tuple(OfTrial(tuple(items), *_as_one(items)) for items in by_trial.values())
    middle, recorded, unsure = _prior(base, prior)
    plots = [trial for trial in trials if trial.kind == "plots"]
    values, variances = np.array([t.log_odds for t in plots]), np.array([t.variance for t in plots])
    between = between_sites(recorded, base.parameter("evidence-sites-worth"), values, variances)
    lawns = base.parameter("evidence-lawn-sd") ** 2
    own = tuple(trial.variance + (lawns if trial.kind == "lawns" else 0.0) for trial in trials)
    # Weighed by the recorded differences between sites alone: were the weights to follow from how much the
    # trials differ, one that does better than all others could lower what is expected.
    seen = [(trial.log_odds, variance + recorded) for trial, variance in zip(trials, own, strict=True)]
    shrunk = shrink((middle, unsure) if prior is not None else None, seen)
    before, *shares = shrunk.weights
    known = [before**2 * unsure] if prior is not None else []
    variance = math.fsum([*known, *(w**2 * (v + between) for w, v in zip(shares, own, strict=True))])
    # The middle is surer now; how much sites differ is not.
    band = _band(shrunk.mean, math.sqrt(variance + between))
    moved = _moved(conditions, place[2], band, trials)
    return Move(*place, prior, moved, trials, replace(shrunk, variance=variance), between, own)


def _prior(base: KnowledgeBase, record: Response | None) -> tuple[float, float, float]:
    """Middle of a record, variance between sites, and variance of the middle."""
    if record is None:
        return 0.0, base.parameter("evidence-between-sd") ** 2, math.inf
    low, likely, high = (value / _PERCENT for value in record.band)
    variance = band_sd(low, high) ** 2
    share = base.parameter("evidence-site-share")
    return math.log(likely / (1 - likely)), variance * share, variance * (1 - share)


def _moved(record: Response, stage: str, band: tuple[float, float, float], trials: Sequence[OfTrial]) -> Response:
    cited = [Citation(id=f"{SOURCE_PREFIX}{used.observed.trial}") for trial in trials for used in trial.used]
    sources = tuple(dict.fromkeys([*cited, *(c for c in record.sources if not c.id.startswith(SOURCE_PREFIX))]))
    return record.model_copy(update={"stages": (stage,), "band": band, "basis": "house", "sources": sources})
