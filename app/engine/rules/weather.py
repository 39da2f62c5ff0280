"""Rules on weather: heat, cold, vapour and rain."""

from __future__ import annotations

from collections.abc import Iterator

from app.engine.rules.registry import Finding, Question, rule
from knowledge.base import applies_to_turf, tolerance_for
from knowledge.models import Citation

_TODAY, _LATER = "forecast.max_temp_f", "forecast.max_temp_next_3_days_f"


def _heat(question: Question) -> tuple[float | None, str | None]:
    """The warmest air told of today and the next days, and the field that is still missing."""
    forecast = question.understood.situation.forecast
    known = [t for t in (forecast.max_temp_f, forecast.max_temp_next_3_days_f) if t is not None]
    missing = _TODAY if forecast.max_temp_f is None else _LATER if forecast.max_temp_next_3_days_f is None else None
    return max(known, default=None), missing


@rule("volatility", "dose")
def volatility(question: Question) -> Iterator[Finding]:
    """A form that gives off vapour is not sprayed into heat."""
    if question.dose.form_assumed:
        yield from _other_forms(question)
    ceiling = question.dose.form.max_air_f
    if ceiling is None:
        return
    warmest, missing = _heat(question)
    values = {**question.named, "ceiling": f"{ceiling:g}"}
    if warmest is not None and warmest > ceiling:
        values["warmest"] = f"{warmest:g}"
        yield Finding("volatility", "stop", values, question.dose.form.sources)
    elif missing is not None:
        yield Finding("volatility", "unknown", values, question.dose.form.sources, missing)


def _other_forms(question: Question) -> Iterator[Finding]:
    """Another form than the one assumed might be barred; which one it is has to be told."""
    warmest, missing = _heat(question)
    for form in question.dose.active.forms:
        if form.id == question.dose.form.id or form.max_air_f is None:
            continue
        if missing is not None or (warmest is not None and warmest > form.max_air_f):
            values = {**question.named, "form": form.name, "ceiling": f"{form.max_air_f:g}"}
            yield Finding("volatility", "unknown", values, form.sources, "program.applications.actives.form")


@rule("temperature", "dose")
def temperature(question: Question) -> Iterator[Finding]:
    """Outside a range of air temperature the turf is hurt or the active does little."""
    site = question.understood.situation.site_use
    for turf in question.understood.turf:
        record = tolerance_for(turf, question.dose.active.id, site)
        if record is not None and record.tolerance != "S":
            low, high = record.min_air_f, record.max_air_f
            yield from _range(question, turf.name, low, high, "stop", "", record.sources)
        for item in question.dose.active.air_temperature:
            if applies_to_turf(item.turf, turf) >= 0:
                yield from _range(question, turf.name, item.min_f, item.max_f, item.outcome, item.text, item.sources)


def _range(
    question: Question,
    turf: str,
    low: float | None,
    high: float | None,
    outcome: str,
    why: str,
    sources: tuple[Citation, ...],
) -> Iterator[Finding]:
    today = question.understood.situation.forecast.max_temp_f
    warmest, missing = _heat(question)
    said = f": {why.rstrip('.')}" if why else ""
    values = {**question.named, "turf": turf, "why": said}
    limits = " and ".join(
        part
        for part in (f"above {low:g} F" if low is not None else "", f"below {high:g} F" if high is not None else "")
        if part
    )
    values["limit"] = limits
    if high is not None and warmest is not None and warmest > high:
        values["told"] = f"{warmest:g} F"
        yield Finding("temperature", "stop" if outcome == "stop" else "warning", values, sources)
    elif low is not None and today is not None and today < low:
        values["told"] = f"{today:g} F"
        yield Finding("temperature", "stop" if outcome == "stop" else "warning", values, sources)
    elif (high is not None and missing) or (low is not None and today is None):
        yield Finding("temperature", "unknown", values, sources, missing or _TODAY)


@rule("rainfast", "dose")
def rainfast(question: Question) -> Iterator[Finding]:
    """Rain too soon washes a leaf-applied active off."""
    fact, told = question.dose.active.rainfast_hours, question.understood.situation.forecast.rain_free_hours
    if fact is None or question.dose.timing == "preemergence":
        return
    values = {**question.named, "hours": f"{fact.value:g}"}
    if told is None:
        yield Finding("rainfast", "unknown", values, fact.sources, "forecast.rain_free_hours")
    elif told < fact.value:
        yield Finding("rainfast", "warning", {**values, "told": f"{told:g}"}, fact.sources)
