"""Rules on rates, yearly totals, counts and intervals."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from app.engine.doses import counted_rate
from app.engine.rules.registry import ROUNDING, Finding, Question, rule
from knowledge.base import applies_to_turf, tolerance_for
from knowledge.models import Active, Citation, Limit, Turf
from knowledge.quantities import Quantity


def limits_on(active: Active, turf: Sequence[Turf], site_use: str | None) -> tuple[Limit, ...]:
    """Every ceiling of an active that speaks of one of these turfs and of the site; all of them bind.

    Where the site is not told, those of every site do.
    """
    return tuple(
        limit
        for limit in active.limits
        if any(applies_to_turf(limit.turf, grass) >= 0 for grass in turf)
        and (not limit.site_uses or site_use is None or site_use in limit.site_uses)
    )


def _limits(question: Question) -> tuple[Limit, ...]:
    understood = question.understood
    return limits_on(question.dose.active, understood.turf, understood.situation.site_use)


def _past(question: Question, *, this_year: bool = True) -> list[tuple[int, float]]:
    """Earlier applications of this active: days ago and rate [g/ha]."""
    situation = question.understood.situation
    found = []
    for past in situation.applied_this_year:
        if past.active == question.dose.active.id:
            if this_year and past.date.year != situation.date.year:
                continue
            counted = counted_rate(past.rate.quantity, question.dose.active, question.dose.active.forms[0])
            amount = counted.base if counted is not None else past.rate.quantity.base
            found.append(((situation.date - past.date).days, amount))
    return found


@rule("single-rate", "dose")
def single_rate(question: Question) -> Iterator[Finding]:
    """One application never exceeds the ceiling for one application."""
    rate = question.dose.rate
    for limit in _limits(question):
        if limit.single_max is not None and rate.base > limit.single_max.base * ROUNDING:
            values = {**question.named, "ceiling": str(limit.single_max)}
            yield Finding("single-rate", "stop", values, limit.sources)
    usual = question.dose.usual
    if usual is not None and rate.base > usual.high.base * ROUNDING:
        values = {**question.named, "ceiling": str(usual.high)}
        yield Finding("single-rate", "stop", values, usual.sources)
    elif usual is not None and question.dose.level == "stated" and rate.base * ROUNDING < usual.low.base:
        values = {**question.named, "ceiling": str(usual.low)}
        yield Finding("single-rate", "caution", values, usual.sources)


@rule("annual-rate", "repeat")
def annual_rate(question: Question) -> Iterator[Finding]:
    """The year's total, with what was applied already, stays within its ceiling."""
    used = sum(amount for _, amount in _past(question))
    for limit in _limits(question):
        if limit.annual_max is None:
            continue
        coming = question.planned if question.planned is not None else question.repeats * question.dose.rate.base
        planned = used + coming
        if planned > limit.annual_max.base * ROUNDING:
            per_unit = limit.annual_max.base / limit.annual_max.value
            values = {
                **question.named,
                "ceiling": str(limit.annual_max),
                "used": f"{used / per_unit:.3g} {limit.annual_max.unit}",
                "planned": f"{planned / per_unit:.3g} {limit.annual_max.unit}",
            }
            yield Finding("annual-rate", "stop", values, limit.sources)


@rule("annual-unknown", "repeat")
def annual_unknown(question: Question) -> Iterator[Finding]:
    """Where no yearly ceiling is recorded, an active is sprayed once a year and no more."""
    situation = question.understood.situation
    records = [tolerance_for(turf, question.dose.active.id, situation.site_use) for turf in question.understood.turf]
    told = any(limit.annual_max is not None or limit.max_applications is not None for limit in _limits(question))
    told = told or any(record is not None and record.max_applications is not None for record in records)
    done = len(_past(question))
    if not told and done + question.repeats > 1:
        yield Finding("annual-unknown", "stop", {**question.named, "done": str(done)})


@rule("annual-count", "repeat")
def annual_count(question: Question) -> Iterator[Finding]:
    """The number of applications in a year stays within its ceiling."""
    done = len(_past(question))
    ceilings: list[tuple[int, tuple[Citation, ...]]] = [
        (limit.max_applications, limit.sources) for limit in _limits(question) if limit.max_applications is not None
    ]
    for turf in question.understood.turf:
        record = tolerance_for(turf, question.dose.active.id, question.understood.situation.site_use)
        if record is not None and record.max_applications is not None:
            ceilings.append((record.max_applications, record.sources))
    for ceiling, sources in ceilings:
        if done + question.repeats > ceiling:
            values = {**question.named, "ceiling": str(ceiling), "done": str(done), "more": str(question.repeats)}
            yield Finding("annual-count", "stop", values, sources)


def least_interval(question: Question) -> tuple[int, tuple[Citation, ...]]:
    """Longest of the least intervals between two applications of this dose [days], its product's label included."""
    known = [recorded_interval(question)]
    use = question.dose.product
    if use is not None and use.product.min_interval_days is not None:
        known.append((use.product.min_interval_days, ()))
    return max(known, key=lambda pair: pair[0])


def recorded_interval(question: Question) -> tuple[int, tuple[Citation, ...]]:
    """Longest of the least intervals between two applications of this active that are recorded [days]."""
    known: list[tuple[int, tuple[Citation, ...]]] = [
        (limit.min_interval_days, limit.sources) for limit in _limits(question) if limit.min_interval_days is not None
    ]
    for turf in question.understood.turf:
        record = tolerance_for(turf, question.dose.active.id, question.understood.situation.site_use)
        if record is not None and record.min_interval_days is not None:
            known.append((record.min_interval_days, record.sources))
    return max(known, key=lambda pair: pair[0], default=(0, ()))


@rule("retreat-interval", "dose")
def retreat_interval(question: Question) -> Iterator[Finding]:
    """An active is not sprayed again before its interval has passed."""
    days, sources = recorded_interval(question)
    # An interval runs over the turn of the year; yearly totals do not.
    since = min((ago for ago, _ in _past(question, this_year=False)), default=None)
    if since is not None and since < days:
        values = {**question.named, "days": str(days), "since": str(since)}
        yield Finding("retreat-interval", "stop", values, sources)


@rule("carrier-volume", "dose")
def carrier_volume(question: Question) -> Iterator[Finding]:
    """Too little water leaves the leaf half covered and the spray too strong."""
    use = question.dose.product
    if use is not None and use.product.granular:
        return
    floor, told = question.dose.active.carrier_floor, question.understood.situation.carrier
    # Where an active has no floor of its own, the usual one of a broadcast boom holds.
    usual = question.base.parameters["carrier-floor-usual"]
    least = floor.value if floor is not None else Quantity(usual.value, usual.unit)
    sources = floor.sources if floor is not None else usual.sources
    if told is not None and told.quantity.base * ROUNDING < least.base:
        values = {**question.named, "floor": str(least), "told": str(told.quantity)}
        yield Finding("carrier-volume", "stop", values, sources)
