"""Rules on the turf: may this active be sprayed on this stand at all?"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from app.engine.injury import injury_alone
from app.engine.rules.registry import ROUNDING, Finding, Outcome, Question, rule
from knowledge.base import applies_to_turf, tolerance_for
from knowledge.models import Active, Citation, SeedlingWindow, Tolerance, Turf
from knowledge.models.active import SeedingInterval, SeedlingRule


def _each(question: Question) -> Iterator[tuple[Turf, Tolerance | None]]:
    site = question.understood.situation.site_use
    for turf in question.understood.turf:
        yield turf, tolerance_for(turf, question.dose.active.id, site)


@rule("turf-sensitive", "dose")
def turf_sensitive(question: Question) -> Iterator[Finding]:
    """A turf recorded as sensitive is never sprayed."""
    for turf, record in _each(question):
        if record is not None and record.tolerance == "S":
            why = f" ({record.condition})" if record.condition else ""
            values = {**question.named, "turf": turf.name, "why": why}
            yield Finding("turf-sensitive", "stop", values, record.sources)


@rule("turf-unknown", "dose")
def turf_unknown(question: Question) -> Iterator[Finding]:
    """A turf of which nothing is recorded for this active is not guessed at."""
    for turf, record in _each(question):
        if record is None or record.tolerance == "unknown":
            sources = record.sources if record is not None else ()
            yield Finding("turf-unknown", "stop", {**question.named, "turf": turf.name}, sources)


@rule("turf-injury", "dose")
def turf_injury(question: Question) -> Iterator[Finding]:
    """A dose that would likely injure the turf beyond what is acceptable is never sprayed."""
    site, ceiling = question.understood.situation.site_use, question.base.parameters["injury-unacceptable"]
    for turf, record in _each(question):
        injury = injury_alone(question.base, question.dose, turf, site)
        if record is not None and record.tolerance in ("T", "I") and injury > ceiling.value:
            values = {**question.named, "turf": turf.name, "injury": f"{injury:.0f}", "ceiling": f"{ceiling.value:.0f}"}
            yield Finding("turf-injury", "stop", values, record.sources)


@rule("no-turf-rate", "dose")
def no_turf_rate(question: Question) -> Iterator[Finding]:
    """Without a usual rate on this turf there is nothing to recommend."""
    barred = any(record is not None and record.tolerance == "S" for _, record in _each(question))
    if question.dose.usual is None and not barred:
        names = " and ".join(turf.name for turf in question.understood.turf)
        outcome: Outcome = "caution" if question.dose.level in ("stated", "product") else "stop"
        yield Finding("no-turf-rate", outcome, {**question.named, "turf": names})


@rule("turf-condition", "dose")
def turf_condition(question: Question) -> Iterator[Finding]:
    """An intermediate tolerance holds only under its condition."""
    for turf, record in _each(question):
        if record is None or record.tolerance not in ("T", "I"):
            continue
        values = {**question.named, "turf": turf.name, "why": record.condition}
        if record.max_rate is not None and question.dose.rate.base > record.max_rate.base * ROUNDING:
            yield Finding("turf-condition", "stop", {**values, "why": f"at most {record.max_rate}"}, record.sources)
        if question.dose.form.id in record.forms_barred:
            what = f"not as {question.dose.form.name}"
            yield Finding("turf-condition", "stop", {**values, "why": what}, record.sources)
        yield from _stress_and_height(question, record, values)
        if record.tolerance == "I" and record.condition:
            yield Finding("turf-condition", "caution", values, record.sources)


def _stress_and_height(question: Question, record: Tolerance, values: dict[str, str]) -> Iterator[Finding]:
    condition = question.understood.situation.turf_condition
    if record.stress_barred:
        why = f"not on turf under {' or '.join(record.stress_barred)}"
        if condition.stress in record.stress_barred:
            yield Finding("turf-condition", "stop", {**values, "why": why}, record.sources)
        elif condition.stress is None:
            found = Finding(
                "turf-condition", "unknown", {**values, "why": why}, record.sources, "turf_condition.stress"
            )
            yield found
    if record.min_height_in is not None:
        why = f"only where mown at {record.min_height_in:g} in or higher"
        height = condition.mowing_height_in
        if height is None:
            field = "turf_condition.mowing_height_in"
            yield Finding("turf-condition", "unknown", {**values, "why": why}, record.sources, field)
        elif height < record.min_height_in:
            yield Finding("turf-condition", "stop", {**values, "why": why}, record.sources)


@rule("seedling-turf", "dose")
def seedling_turf(question: Question) -> Iterator[Finding]:
    """A young stand takes an active only from a known age."""
    stand = question.understood.situation.turf_condition.stand
    if stand == "established":
        return
    for turf, record in _each(question):
        if record is not None and record.tolerance == "S":
            continue
        window, text, sources = young_stand(question.dose.active, turf, record, stand or "seedling")
        values = {**question.named, "turf": turf.name, "stand": _STANDS.get(stand or "", "young"), "why": text}
        if stand is None:
            if window is None or window.min_mowings or window.min_weeks or not window.allowed:
                yield Finding("seedling-turf", "unknown", values, sources, "turf_condition.stand")
        else:
            yield from _age(question, window, values, sources)


_STANDS = {"seedling": "seedling", "newly-sodded": "newly sodded", "newly-sprigged": "newly sprigged"}


def young_stand(
    active: Active, turf: Turf, record: Tolerance | None, stand: str
) -> tuple[SeedlingWindow | None, str, tuple[Citation, ...]]:
    """The window that speaks of this young stand: the turf's own record, else the active's rule."""
    own: SeedlingWindow | None = None
    if record is not None:
        by_stand = {"seedling": record.seedling, "newly-sprigged": record.sprigged, "newly-sodded": record.sodded}
        own = by_stand[stand]
        if own is not None:
            return own, _age_text(own), record.sources
    rules: list[tuple[int, SeedlingRule]] = [(applies_to_turf(r.turf, turf), r) for r in active.seedling]
    fit = [pair for pair in rules if pair[0] >= 0]
    if not fit:
        return None, "no record of its safety there", ()
    best = max(fit, key=lambda pair: pair[0])[1]
    window = SeedlingWindow(allowed=best.allowed, min_mowings=best.min_mowings, min_weeks=best.min_weeks)
    return window, _age_text(window), best.sources


def _age_text(window: SeedlingWindow) -> str:
    if not window.allowed:
        return "not on young stands"
    parts = []
    if window.min_mowings:
        parts.append(f"{window.min_mowings} mowings")
    if window.min_weeks:
        parts.append(f"{window.min_weeks} weeks")
    return f"wait {' or '.join(parts)} from emergence" if parts else "safe from emergence"


def _age(
    question: Question, window: SeedlingWindow | None, values: dict[str, str], sources: tuple[Citation, ...]
) -> Iterator[Finding]:
    if window is None or not window.allowed:
        yield Finding("seedling-turf", "stop", values, sources)
        return
    condition = question.understood.situation.turf_condition
    pairs = (
        (window.min_mowings, condition.mowings_since_emergence, "turf_condition.mowings_since_emergence"),
        (window.min_weeks, condition.weeks_since_emergence, "turf_condition.weeks_since_emergence"),
    )
    needed = [(need, have, field) for need, have, field in pairs if need]
    if not needed or any(have is not None and have >= need for need, have, _ in needed):
        return
    if all(have is None for _, have, _ in needed):
        _, _, field = needed[-1]
        yield Finding("seedling-turf", "unknown", values, sources, field)
    else:
        yield Finding("seedling-turf", "stop", values, sources)


def seeding_wait(active: Active, turf: Turf) -> SeedingInterval | None:
    """The record of the wait before seeding this turf, None where there is none."""
    fit = [(applies_to_turf(r.turf, turf), r) for r in active.seeding_interval]
    known = [pair for pair in fit if pair[0] >= 0]
    return max(known, key=lambda pair: pair[0])[1] if known else None


@rule("seeding-interval", "repeat")
def seeding_interval(question: Question) -> Iterator[Finding]:
    """Seed is not sown before the active has let go of the soil."""
    planned = question.understood.situation.turf_condition.seeding_planned
    last = question.understood.situation.date + timedelta(days=question.last_day)
    for turf in question.understood.turf:
        record = seeding_wait(question.dose.active, turf)
        days = record.days if record is not None else None
        sources = record.sources if record is not None else ()
        values = {**question.named, "turf": turf.name, "days": str(days), "last": last.isoformat()}
        if planned is None:
            long_wait = question.base.rules["seeding-interval"].thresholds["worth_saying"].value
            if days is not None and days >= long_wait:
                field = "turf_condition.seeding_planned"
                yield Finding("seeding-interval", "unknown", values, sources, field)
        elif days is None:
            values["days"] = "an unknown number of"
            yield Finding("seeding-interval", "stop", {**values, "planned": planned.isoformat()}, sources)
        elif (planned - last).days < days:
            yield Finding("seeding-interval", "stop", {**values, "planned": planned.isoformat()}, sources)


@rule("green-up", "dose")
def green_up(question: Question) -> Iterator[Finding]:
    """Warm-season turf between dormancy and growth is easily hurt; dormant-only actives wait."""
    told = question.understood.situation.turf_condition.green_up is not None
    for (turf, record), state in zip(_each(question), question.understood.green_up, strict=True):
        barred = record.green_up_barred if record is not None and record.tolerance != "S" else ()
        rules = [r for r in question.dose.active.green_up if applies_to_turf(r.turf, turf) >= 0]
        values = {**question.named, "turf": turf.name, "state": state or "unknown"}
        stops = [r for r in rules if r.outcome == "stop" and r.state == state]
        if state in barred and record is not None:
            yield Finding("green-up", "stop", {**values, "why": record.condition}, record.sources)
        elif stops:
            yield Finding("green-up", "stop", {**values, "why": stops[0].text}, stops[0].sources)
        elif not told and (barred or any(r.outcome == "stop" for r in rules)) and turf.season == "warm-season":
            states = [*barred, *(r.state for r in rules if r.outcome == "stop")]
            why = f"not while {' or '.join(dict.fromkeys(states))}"
            sources = record.sources if barred and record is not None else tuple(c for r in rules for c in r.sources)
            yield Finding("green-up", "unknown", {**values, "why": why}, sources, "turf_condition.green_up")
        for caution in rules:
            if caution.outcome == "caution" and caution.state == state:
                yield Finding("green-up", "caution", {**values, "why": caution.text}, caution.sources)
