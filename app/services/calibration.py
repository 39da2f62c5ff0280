"""How near the engine comes to what publications print: mean error, share inside the band, worst misses."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from statistics import fmean
from typing import Any

from app.engine.expect import expect
from app.engine.situation import ExpectRequest
from app.services.knowledge_service import knowledge_base
from knowledge.base import KnowledgeBase, rate_for
from knowledge.models import PublishedResult, Weed
from knowledge.models.result import ResultPart
from knowledge.quantities import Quantity

# Only the day of the year counts in a printed trial; any year will do, but always the same.
YEAR = 2027
# Usual mowing heights [in], where a trial names only the use of the turf.
_CUT_IN = {"golf-green": 0.125, "golf-tee": 0.4, "golf-fairway": 0.5}
_LAWN_CUT_IN = 3.0
WORST = 10
_NOT_YET_UP = "not-emerged"


@dataclass(frozen=True)
class Miss:
    """One printed result beside what the engine expects of the same program [percent control]."""

    id: str
    weed: str
    group: str
    stage: str
    program: str
    days_after: int
    printed: tuple[float, float]
    low: float
    likely: float
    high: float
    error: float
    inside: bool
    assumed: tuple[str, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True)
class Tally:
    """Results of one group: how many, mean absolute error [points], share inside the band [0 to 1]."""

    group: str
    results: int
    mean_absolute_error: float
    inside_share: float


@dataclass(frozen=True)
class Calibration:
    """The whole comparison.

    The error of one result is the distance from the likely control to the nearest point of the
    printed range; it is inside when that point lies within low to high.
    """

    results: int
    mean_absolute_error: float
    inside_share: float
    groups: tuple[Tally, ...]
    timings: tuple[Tally, ...]
    worst: tuple[Miss, ...]
    unanswered: tuple[str, ...]


def group_of(weed: Weed) -> str:
    """The group a weed is counted under, for example `perennial broadleaf weeds`."""
    kind = {"grass": "grasses", "sedge": "sedges", "lily": "bulbs and dayflowers", "moss": "mosses"}.get(weed.life_form)
    if kind in ("sedges", "bulbs and dayflowers", "mosses"):
        return kind
    lasting = "perennial" if weed.life_cycle in ("perennial", "biennial") else "annual"
    return f"{lasting} {kind or 'broadleaf weeds'}"


def calibrate(worst: int = WORST, base: KnowledgeBase | None = None) -> Calibration:
    """Hold the engine against every published result of the knowledge base.

    Parameters
    ----------
    worst : int
        How many of the largest misses to name.
    """
    known = base or knowledge_base()
    compared = {key: compare(known, result) for key, result in known.results.items()}
    found = [miss for miss in compared.values() if miss is not None]
    return Calibration(
        results=len(found),
        mean_absolute_error=_mean(miss.error for miss in found),
        inside_share=_mean(float(miss.inside) for miss in found),
        groups=_tallies(found, lambda miss: miss.group),
        timings=_tallies(found, lambda miss: "preemergence" if miss.stage == _NOT_YET_UP else "postemergence"),
        worst=tuple(sorted(found, key=lambda miss: (-miss.error, miss.id))[:worst]),
        unanswered=tuple(sorted(key for key, miss in compared.items() if miss is None)),
    )


@functools.cache
def shipped() -> Calibration:
    """The comparison of the facts as shipped; they do not change in a process, and it takes seconds."""
    return calibrate()


def as_document(found: Calibration) -> dict[str, Any]:
    """The comparison as plain data."""
    return asdict(found)


def _mean(values: Iterable[float]) -> float:
    told = list(values)
    return round(fmean(told), 3) if told else 0.0


def _tallies(found: Sequence[Miss], group: Callable[[Miss], str]) -> tuple[Tally, ...]:
    names = sorted({group(miss) for miss in found})
    parts = [(name, [miss for miss in found if group(miss) == name]) for name in names]
    return tuple(
        Tally(name, len(part), _mean(m.error for m in part), _mean(float(m.inside) for m in part))
        for name, part in parts
    )


def compare(base: KnowledgeBase, result: PublishedResult) -> Miss | None:
    """One printed result beside the engine's expectation; None where the engine has no figure for it."""
    if any(_rate(base, result, part) is None for spray in result.sprays for part in spray.parts):
        return None
    control = expect(base, ExpectRequest.model_validate(request_of(base, result))).control[0]
    if control.low is None or control.likely is None or control.high is None:
        return None
    nearest = min(max(control.likely, result.printed[0]), result.printed[1])
    return Miss(
        id=result.id,
        weed=result.weed,
        group=group_of(base.weeds[result.weed]),
        stage=control.stage,
        program=_in_words(base, result),
        days_after=result.days,
        printed=result.printed,
        low=control.low,
        likely=control.likely,
        high=control.high,
        error=round(abs(nearest - control.likely), 1),
        inside=control.low <= nearest <= control.high,
        assumed=result.assumed,
        sources=tuple(citation.id for citation in result.sources),
    )


def request_of(base: KnowledgeBase, result: PublishedResult) -> dict[str, Any]:
    """The question that a printed trial answers, as the engine takes it."""
    condition: dict[str, Any] = {
        "stand": result.stand,
        "stress": "none",
        "green_up": result.green_up,
        "mowing_height_in": _CUT_IN.get(result.site_use, _LAWN_CUT_IN),
    }
    if result.stand == "seedling":
        condition |= {"weeks_since_emergence": 0, "mowings_since_emergence": 0}
    applications = [
        {
            "day": spray.day,
            "actives": [
                {"active": part.active, "form": part.form, "rate": _measure(_rate(base, result, part))}
                for part in spray.parts
            ],
            "adjuvant": None if spray.adjuvant == "none" else {"id": spray.adjuvant},
        }
        for spray in result.sprays
    ]
    return {
        "situation": {
            "date": f"{YEAR}-{result.sprayed}",
            "zone": result.zone,
            "site_use": result.site_use,
            "turf": [result.turf],
            "turf_condition": condition,
            "targets": [{"weed": result.weed, "stage": result.stage}],
            # A trial is sprayed on a fit day; its publication rarely prints more than the season.
            "forecast": {
                "max_temp_f": result.max_air_f,
                "max_temp_next_3_days_f": result.max_air_f,
                "rain_free_hours": 48,
                "soil_moisture": "adequate",
            },
        },
        "program": {"applications": applications},
        "days_after": result.days,
    }


def _rate(base: KnowledgeBase, result: PublishedResult, part: ResultPart) -> Quantity | None:
    if part.rate is not None:
        return part.rate
    active, turf = base.actives[part.active], base.turf[result.turf]
    first, other = "preemergence", "postemergence"
    if result.stage != _NOT_YET_UP:
        first, other = other, first
    usual = rate_for(active, turf, first) or rate_for(active, turf, other)
    if usual is not None:
        return usual.usual
    # An active without a rate on this turf is taken at the rate its record on the weed speaks of.
    return next((r.rate for r in base.weeds[result.weed].responses if r.active == part.active), None)


def _measure(rate: Quantity | None) -> dict[str, Any]:
    assert rate is not None, "a result without any rate is not compared"
    return {"value": rate.value, "unit": rate.unit}


def _in_words(base: KnowledgeBase, result: PublishedResult) -> str:
    sprays = []
    for spray in result.sprays:
        parts = [f"{base.actives[p.active].name} {_rate(base, result, p)}" for p in spray.parts]
        beside = "" if spray.adjuvant == "none" else f" with {base.adjuvants[spray.adjuvant].name}"
        sprays.append(" + ".join(parts) + beside)
    if len(sprays) == 1:
        return sprays[0]
    gap = f"{result.sprays[1].day - result.sprays[0].day} days"
    return f"{sprays[0]}, twice, {gap} apart" if sprays[0] == sprays[1] else f"{sprays[0]}, after {gap} {sprays[1]}"
