"""Rules on the situation as a whole: is this a time to spray at all?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from app.engine.output import NoTreatment, Statement
from app.engine.rules import Finding
from app.engine.understood import NOT_EMERGED, Understood, UnderstoodTarget, month_day
from knowledge.base import KnowledgeBase
from knowledge.models.weed import SeasonWindow

_MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]


@dataclass(frozen=True)
class Best:
    """The best program as the timing rules need it: its control by target and its rain-free hours."""

    likely: tuple[float, ...]
    rainfast_hours: float | None


def situation_findings(base: KnowledgeBase, understood: Understood) -> tuple[Finding, ...]:
    """What holds whatever is sprayed."""
    return tuple(
        finding
        for rule in (_stage_assumed, _stress_unknown, _wind, _near_by, _open_flowers, _known_resistance)
        for finding in rule(base, understood)
    )


def _stage_assumed(_: KnowledgeBase, understood: Understood) -> Iterator[Finding]:
    for target in understood.targets:
        if target.assumed:
            values = {"weed": target.weed.name, "stages": " or ".join(target.stages)}
            yield Finding("stage-assumed", "unknown", values, (), f"targets.{target.index}.stage")


def _wind(base: KnowledgeBase, understood: Understood) -> Iterator[Finding]:
    told, limits = understood.situation.forecast.wind_mph, base.rules["wind"].thresholds
    sources = base.rules["wind"].sources
    if told is None:
        span = {key: f"{limits[key].value:g}" for key in ("least", "careful")}
        yield Finding("wind", "unknown", span, sources, "forecast.wind_mph")
        return
    values = {"wind": f"{told:g}", "most": f"{limits['most'].value:g}"}
    if told > limits["most"].value:
        yield Finding("wind", "warning", values, sources)
    elif told > limits["careful"].value:
        yield Finding("wind", "caution", values, sources)
    elif told < limits["least"].value:
        yield Finding("wind", "info", values, sources)


def _stress_unknown(base: KnowledgeBase, understood: Understood) -> Iterator[Finding]:
    if understood.situation.turf_condition.stress is None:
        sources = base.rules["turf-stress"].sources
        yield Finding("turf-stress", "unknown", {}, sources, "turf_condition.stress")


def _near_by(base: KnowledgeBase, understood: Understood) -> Iterator[Finding]:
    if "surroundings" not in understood.situation.model_fields_set:
        yield Finding("near-by", "unknown", {}, base.rules["near-by"].sources, "surroundings")
    for key in understood.situation.surroundings:
        fact = base.surroundings[key]
        name = fact.name[0].upper() + fact.name[1:]
        yield Finding("near-by", "caution", {"near": name, "why": fact.text}, fact.sources)


def _open_flowers(base: KnowledgeBase, understood: Understood) -> Iterator[Finding]:
    for target in understood.targets:
        if "flowering" in target.stages and target.weed.life_form in ("broadleaf", "lily"):
            yield Finding("open-flowers", "caution", {"weed": target.weed.name}, base.rules["open-flowers"].sources)


def _known_resistance(_: KnowledgeBase, understood: Understood) -> Iterator[Finding]:
    for target in understood.targets:
        for item in target.weed.resistance:
            values = {"weed": target.weed.name, "groups": ", ".join(item.groups), "why": item.text}
            yield Finding("known-resistance", "caution", values, item.sources)


def _purpose(target: UnderstoodTarget) -> str:
    return "preemergence" if target.stage == NOT_EMERGED else "postemergence"


def wasted_window(target: UnderstoodTarget, understood: Understood) -> SeasonWindow | None:
    """The dead-end season this target is in, or None."""
    key, zone = month_day(understood.situation.date), understood.situation.zone
    return next(
        (
            w
            for w in target.weed.windows
            if w.kind == "wasted" and w.purpose == _purpose(target) and zone in w.zones and w.holds(key)
        ),
        None,
    )


def come_back(target: UnderstoodTarget, understood: Understood) -> str:
    """When the next window that pays opens for this weed in this zone, in words."""
    key, zone = month_day(understood.situation.date), understood.situation.zone
    windows = [w for w in target.weed.windows if w.kind == "best" and zone in w.zones]
    if not windows:
        return f"No best window is recorded for {target.weed.name} in this zone; scout again when it grows."
    # The first that opens after the date, counting round the year.
    coming = min(windows, key=lambda w: (w.start <= key, w.start))
    if any(w.holds(key) for w in windows):
        coming = next(w for w in windows if w.holds(key))
    how = "before it emerges" if coming.purpose == "preemergence" else "on growing plants"
    return f"{target.weed.name}: {_day(coming.start)} to {_day(coming.end)}, {how}."


def _day(key: str) -> str:
    month, day = key.split("-")
    return f"{int(day)} {_MONTHS[int(month) - 1]}"


def no_treatment(base: KnowledgeBase, understood: Understood, best: Best | None) -> NoTreatment | None:
    """The advice not to spray now, with its reasons, or None where spraying is sound."""
    findings = [*_dead_ends(understood), *_stress(base, understood), *_weather(base, understood, best)]
    if best is None:
        findings.append(Finding("nothing-fits", "warning", {}, base.rules["nothing-fits"].sources))
    else:
        findings += _too_weak(base, understood, best)
    if not findings:
        return None
    reasons = tuple(
        Statement(code=f.code, text=f.sentence(base), sources=tuple(dict.fromkeys(c.id for c in f.sources)))
        for f in findings
    )
    back = " ".join(come_back(target, understood) for target in understood.targets)
    return NoTreatment(text=f"Better not to spray now. {reasons[0].text}", reasons=reasons, come_back=back)


def _dead_ends(understood: Understood) -> list[Finding]:
    """Findings where every target is in a season in which spraying is wasted."""
    windows = [(target, wasted_window(target, understood)) for target in understood.targets]
    if not all(window is not None for _, window in windows):
        return []
    return [
        Finding("wasted-window", "warning", {"weed": target.weed.name, "why": window.text}, window.sources)
        for target, window in windows
        if window is not None
    ]


def _stress(base: KnowledgeBase, understood: Understood) -> list[Finding]:
    stress = understood.situation.turf_condition.stress
    if stress not in ("drought", "heat"):
        return []
    return [Finding("turf-stress", "warning", {"stress": stress}, base.rules["turf-stress"].sources)]


def _weather(base: KnowledgeBase, understood: Understood, best: Best | None) -> list[Finding]:
    found = [f for f in _wind(base, understood) if f.outcome == "warning"]
    told = understood.situation.forecast.rain_free_hours
    needed = best.rainfast_hours if best is not None else None
    if told is not None and needed is not None and told < needed:
        values = {"told": f"{told:g}", "hours": f"{needed:g}"}
        found.append(Finding("rain-soon", "warning", values, base.rules["rain-soon"].sources))
    return found


def _too_weak(base: KnowledgeBase, understood: Understood, best: Best) -> list[Finding]:
    floor = base.parameter("worthwhile-control")
    if any(likely >= floor for likely in best.likely):
        return []
    place = max(range(len(best.likely)), key=lambda t: best.likely[t])
    values = {"likely": f"{best.likely[place]:.0f}", "weed": understood.targets[place].weed.name}
    return [Finding("weak-control", "warning", values, base.rules["weak-control"].sources)]
