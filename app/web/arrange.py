"""Arranges what the services answer in the order a page shows it; nothing is judged here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from app.engine.output import Application, Control, RankedProgram
from app.engine.situation import Priorities, Situation
from app.web.choices import STAGE_WORDS
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM, Response, Tolerance, Turf, Weed


@dataclass(frozen=True)
class Tank:
    """What goes into the sprayer together, and every day it is sprayed."""

    days: tuple[date, ...]
    application: Application


def tanks_of(program: RankedProgram) -> list[Tank]:
    """The applications of a program, equal ones together."""
    found: dict[tuple[Any, ...], Tank] = {}
    for application in program.applications:
        content = (application.products, application.adjuvant, application.carrier)
        days = found[content].days if content in found else ()
        first = found[content].application if content in found else application
        found[content] = Tank((*days, application.date), first)
    return list(found.values())


def mix_address(application: Application, situation: Situation) -> str:
    """The mix card of a tank of products of the shelf, with what the question told of the place."""
    told = {"method": "broadcast", "turf": situation.turf[0], "site_use": situation.site_use}
    for name, measure in (("area", situation.area), ("carrier", situation.carrier)):
        if measure is not None:
            told |= {name: f"{measure.value:g}", f"{name}.unit": measure.unit}
    for row, product in enumerate(application.products, start=1):
        if product.id is not None and product.rate is not None:
            rate = {f"p{row}.rate": f"{product.rate.value:g}", f"p{row}.rate.unit": product.rate.unit}
            told |= {f"p{row}": product.id, **rate}
    if application.adjuvant is not None:
        told["adjuvant"] = application.adjuvant.id
    return f"/mix?{urlencode(told)}"


@dataclass(frozen=True)
class Lane:
    """One program on the rule that all programs share, and how it lies to the first."""

    rank: int
    name: str
    control: Control
    overlap: str


@dataclass(frozen=True)
class Comparison:
    """The bands of every ranked program against one weed."""

    weed: str
    name: str
    stage: str
    first: Control
    lanes: tuple[Lane, ...]


def comparisons_of(ranked: Sequence[RankedProgram]) -> list[Comparison]:
    """Every weed with the bands of all programs; weeds and programs without figures are left to the text."""
    found: list[Comparison] = []
    for index, first in enumerate(ranked[0].control if ranked else ()):
        lanes = tuple(
            Lane(program.rank, program.name, program.control[index], overlap_words(first, program.control[index]))
            for program in ranked
            if index < len(program.control) and program.control[index].likely is not None
        )
        if first.likely is not None and lanes:
            found.append(Comparison(first.weed, first.name, first.stage, first, lanes))
    return found


def overlap_words(first: Control, other: Control) -> str:
    """How a band lies to the first, in words.

    The bands are central 80 % of sites, so those that overlap cannot be told apart with certainty.
    """
    if other is first:
        return "the first"
    bounds = (first.low, first.high, other.low, other.high)
    if None in bounds:
        return "not known"
    low, high, other_low, other_high = (round(bound) for bound in bounds if bound is not None)
    if other_high < low:
        return "lies below"
    if other_low > high:
        return "lies above"
    return f"overlaps, {max(low, other_low)} to {min(high, other_high)}"


def score_rows(program: RankedProgram, priorities: Priorities) -> list[tuple[str, float, float]]:
    """Each part of the score with its points and how many it could have had."""
    weights = priorities.model_dump()
    total = sum(weights.values())
    return [(key, points, 100 * weights[key] / total) for key, points in program.score_parts.items()]


def responses_by_stage(weed: Weed) -> list[tuple[str, list[Response]]]:
    """Every stage with the records of what each active does at it, the best first.

    A record without stages holds for every stage once emerged; one with several stands under each.
    """
    found = []
    for stage in STAGES_BY_LIFE_FORM[weed.life_form]:
        here = [r for r in weed.responses if stage in r.stages or (not r.stages and stage != "not-emerged")]
        if here and (stage in weed.treatable_stages or any(r.stages for r in here)):
            found.append((STAGE_WORDS[stage], sorted(here, key=lambda r: (-r.band[1], r.active, r.days))))
    return found


def best_on_weeds(active: str, base: KnowledgeBase) -> list[tuple[Weed, Response]]:
    """Each weed that the active is recorded on, with its best record, the best first."""
    found = []
    for weed in base.weeds.values():
        records = [response for response in weed.responses if response.active == active]
        if records:
            found.append((weed, max(records, key=lambda r: (r.band[1], r.band[0]))))
    return sorted(found, key=lambda pair: (-pair[1].band[1], pair[0].name.lower()))


def tolerance_by_turf(active: str, base: KnowledgeBase) -> list[tuple[Turf, Tolerance]]:
    """How each turf takes the active."""
    return [(turf, record) for turf in base.turf.values() for record in turf.tolerance if record.active == active]


def cited_beside(active: str, base: KnowledgeBase) -> list[str]:
    """Ids of the sources that the records of turfs and weeds on an active cite."""
    records = [*(t for _, t in tolerance_by_turf(active, base)), *(r for _, r in best_on_weeds(active, base))]
    return sorted({citation.id for record in records for citation in record.sources})


def listing(kind: str, base: KnowledgeBase) -> dict[str, list[tuple[str, str, str]]]:
    """Entries of a kind as id, name and a few words, under headings."""
    groups: dict[str, list[tuple[str, str, str]]] = {}
    if kind == "weeds":
        headings = {"grass": "Grasses", "sedge": "Sedges", "lily": "Bulbs", "broadleaf": "Broadleaf weeds"}
        for form in (*headings, "moss"):
            found = [(w.id, w.name, w.scientific_name) for w in base.weeds.values() if w.life_form == form]
            groups[headings.get(form, "Mosses")] = found
    elif kind == "actives":
        actives = sorted(base.actives.values(), key=lambda a: int(a.mechanism.group))
        for active in actives:
            heading = f"Group {active.mechanism.group}: {active.mechanism.name}"
            groups.setdefault(heading, []).append((active.id, active.name, " and ".join(active.timing)))
    elif kind == "turf":
        for season in ("cool-season", "warm-season"):
            found = [(t.id, t.name, t.scientific_name) for t in base.turf.values() if t.season == season]
            groups[f"{season.capitalize()} turf"] = found
    else:
        for key, source in base.sources.items():
            groups.setdefault(source.kind.replace("-", " ").capitalize(), []).append((key, source.citation, ""))
    return {
        heading: sorted(found, key=lambda row: row[1].lower()) for heading, found in groups.items() if len(found) > 0
    }
