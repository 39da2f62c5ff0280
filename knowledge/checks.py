"""Cross-checks of the facts: what no single record can know about itself."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from datetime import date
from typing import Any

from pydantic import BaseModel

from knowledge.base import KnowledgeBase
from knowledge.customer_checks import customer_problems
from knowledge.models import ALL_STAGES, STAGES_BY_LIFE_FORM, Active, Citation, Response, Sourced, Turf, Weed
from knowledge.models.common import SEASONS
from knowledge.proposal_checks import proposal_problems
from knowledge.quantities import ACTIVE_RATE_UNITS
from knowledge.reader import Problem
from knowledge.scopes import link_problems, scope_problems
from knowledge.year_checks import year_problems

Check = Callable[[KnowledgeBase], Iterator[Problem]]
_CHECKS: list[Check] = []
_LEAP_YEAR = date(2024, 1, 1).toordinal()

MIN_BAND_PERCENT, MAX_BAND_PERCENT = 0.0, 100.0


def _registered(function: Check) -> Check:
    _CHECKS.append(function)
    return function


def check(base: KnowledgeBase) -> list[Problem]:
    """Every contradiction and dangling id in a knowledge base."""
    return [problem for function in _CHECKS for problem in function(base)]


def _place(kind: str, key: str) -> str:
    return f"{kind}/{key}.yaml" if kind in ("weeds", "actives", "turf", "rules") else f"{kind}.yaml"


def walk(item: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every model inside a model, with its path."""
    if isinstance(item, BaseModel):
        yield path, item
        for name in type(item).model_fields:
            yield from walk(getattr(item, name), f"{path}.{name}" if path else name)
    elif isinstance(item, tuple):
        for index, part in enumerate(item):
            yield from walk(part, f"{path}.{index}")


def _everything(base: KnowledgeBase) -> Iterator[tuple[str, str, Any]]:
    for kind in (
        *("weeds", "actives", "turf", "rules", "mixtures", "interactions", "adjuvants"),
        *("zones", "surroundings", "shifts", "parameters", "notices", "results"),
        *("formulations", "measures", "steps", "growth", "records", "customer"),
        *("climate", "mechanisms", "likely", "proposal"),
    ):
        for key, item in getattr(base, kind).items():
            yield kind, key, item


@_registered
def sources_exist_and_were_seen(base: KnowledgeBase) -> Iterator[Problem]:
    """Every citation is registered, and `published` only stands on a source that was read."""
    for kind, key, item in _everything(base):
        for path, part in walk(item, key if kind not in ("weeds", "actives", "turf", "rules") else ""):
            if isinstance(part, Citation) and part.id not in base.sources:
                yield Problem(_place(kind, key), path, f"source '{part.id}' is not registered under sources/")
            if isinstance(part, Sourced) and part.basis == "published":
                known = [base.sources[c.id] for c in part.sources if c.id in base.sources]
                if known and not any(source.seen for source in known):
                    yield Problem(
                        _place(kind, key), path, "basis is published but no cited source was seen; use memory"
                    )


@_registered
def traits_are_in_the_vocabulary(base: KnowledgeBase) -> Iterator[Problem]:
    """Each trait a weed shows is a question for its life form, and each value one of its answers."""
    for weed in base.weeds.values():
        for name, values in (weed.traits.shows if weed.traits else {}).items():
            place, path = _place("weeds", weed.id), f"traits.shows.{name}"
            trait = base.traits.get(name)
            if trait is None or weed.life_form not in trait.life_forms:
                known = [key for key, item in base.traits.items() if weed.life_form in item.life_forms]
                yield Problem(place, path, f"is no trait of a {weed.life_form}; use {', '.join(known)}")
                continue
            allowed = [value.id for value in trait.values]
            for value in values:
                if value not in allowed:
                    yield Problem(place, path, f"'{value}' is no answer; use {', '.join(allowed)}")


@_registered
def emergence_points_rise(base: KnowledgeBase) -> Iterator[Problem]:
    """Degree-day sums have a base, and each point runs from low to high."""
    for weed in base.weeds.values():
        for index, item in enumerate(weed.emergence):
            place, path = _place("weeds", weed.id), f"emergence.{index}"
            if item.kind.endswith("degree-days") and item.base_f is None:
                yield Problem(place, f"{path}.base_f", "a degree-day sum needs its base temperature [F]")
            if any(point.low > point.high for point in item.points):
                yield Problem(place, f"{path}.points", "each point must run from low to high")
            if item.falling and (item.start is None or item.kind != "soil-temperature"):
                what = "a falling threshold is one of soil temperature, and `from` says when soil begins to cool"
                yield Problem(place, f"{path}.falling", what)


@_registered
def growth_leads_from_stage_to_stage(base: KnowledgeBase) -> Iterator[Problem]:
    """Each record of growth names known weeds, two stages that follow each other, and a rising span, once."""
    told: set[tuple[str, str]] = set()
    for key, item in base.growth.items():
        if item.low > item.high:
            yield Problem("growth.yaml", f"{key}.low", "must not exceed high")
        for name in item.weeds:
            weed = base.weeds.get(name)
            if weed is None:
                yield Problem("growth.yaml", f"{key}.weeds", f"'{name}' is no weed")
                continue
            stages = STAGES_BY_LIFE_FORM[weed.life_form]
            if (item.start, item.end) not in itertools.pairwise(stages):
                what = f"'{item.start}' to '{item.end}' are no two stages in turn of a {weed.life_form}"
                yield Problem("growth.yaml", key, what)
            if (name, item.start) in told:
                yield Problem("growth.yaml", key, f"tells {name} at '{item.start}' again; keep one record")
            told.add((name, item.start))


@_registered
def bands_hold_their_likely(base: KnowledgeBase) -> Iterator[Problem]:
    """Each band runs low <= likely <= high inside 0 to 100 percent."""
    for weed in base.weeds.values():
        for index, response in enumerate(weed.responses):
            low, likely, high = response.band
            if not MIN_BAND_PERCENT < low <= likely <= high < MAX_BAND_PERCENT or low == high:
                yield Problem(
                    _place("weeds", weed.id),
                    f"responses.{index}.band",
                    f"{list(response.band)} must rise from low to high between 0 and 100, both excluded",
                )
    for turf in base.turf.values():
        for index, record in enumerate(turf.tolerance):
            if record.injury is not None and not 0 <= record.injury[0] <= record.injury[1] <= record.injury[2] <= 100:
                yield Problem(_place("turf", turf.id), f"tolerance.{index}.injury", "must rise from low to high")


@_registered
def weeds_speak_of_known_things(base: KnowledgeBase) -> Iterator[Problem]:
    """Actives, forms, stages, seasons and turf named in a weed's file exist and suit the weed."""
    for weed in base.weeds.values():
        place = _place("weeds", weed.id)
        stages = STAGES_BY_LIFE_FORM[weed.life_form]
        for name in (*weed.treatable_stages, *weed.unknown_stages, *(w.stage for w in weed.calendar)):
            if name not in stages:
                yield Problem(place, "stages", f"'{name}' is no stage of a {weed.life_form}; use {', '.join(stages)}")
        for turf in weed.same_species_turf:
            if turf not in base.turf:
                yield Problem(place, "same_species_turf", f"'{turf}' is no turf")
        for index, response in enumerate(weed.responses):
            yield from _response_problems(base, weed, stages, response, f"responses.{index}", place)


def _response_problems(
    base: KnowledgeBase, weed: Weed, stages: tuple[str, ...], response: Response, path: str, place: str
) -> Iterator[Problem]:
    active = base.actives.get(response.active)
    if active is None:
        yield Problem(place, f"{path}.active", f"'{response.active}' is no active of the knowledge base")
        return
    if response.form is not None and response.form not in {form.id for form in active.forms}:
        yield Problem(place, f"{path}.form", f"'{response.form}' is no form of {active.id}")
    for stage in response.stages:
        if stage not in stages:
            yield Problem(place, f"{path}.stages", f"'{stage}' is no stage of a {weed.life_form}")
    if response.rate.unit not in ACTIVE_RATE_UNITS:
        yield Problem(place, f"{path}.rate", f"'{response.rate.unit}' is no rate of active per area")
    elif response.rate.dimension != f"{active.rate_basis}-rate":
        yield Problem(place, f"{path}.rate", f"{active.id} is counted as {active.rate_basis}, not {response.rate.unit}")
    elif active.rates:
        lowest = min(rate.low.base for rate in active.rates)
        highest = max(rate.high.base for rate in active.rates)
        if not lowest / 4 <= response.rate.base <= highest * 4:
            yield Problem(
                place, f"{path}.rate", f"{response.rate} lies far outside the turf rates of {active.id}; a unit slip?"
            )


@_registered
def every_treatable_stage_is_answered(base: KnowledgeBase) -> Iterator[Problem]:
    """A weed has a response for each treatable stage, or says that it is unknown."""
    for weed in base.weeds.values():
        emerged = {stage for stage in weed.treatable_stages if stage != "not-emerged"}
        told: set[str] = set(weed.unknown_stages)
        for response in weed.responses:
            told |= set(response.stages) if response.stages else emerged
        for stage in weed.treatable_stages:
            if stage not in told:
                yield Problem(
                    _place("weeds", weed.id), "treatable_stages", f"no response at '{stage}', nor an explicit unknown"
                )


@_registered
def responses_do_not_collide(base: KnowledgeBase) -> Iterator[Problem]:
    """No two responses of one weed and active claim the same stage, season, form and count."""
    for weed in base.weeds.values():
        emerged = tuple(stage for stage in weed.treatable_stages if stage != "not-emerged")
        seen: dict[tuple[Any, ...], int] = {}
        for index, r in enumerate(weed.responses):
            for stage in r.stages or emerged:
                for season in r.seasons or ("any",):
                    key = (r.active, stage, season, r.form, r.applications, r.adjuvant)
                    if key in seen:
                        yield Problem(
                            _place("weeds", weed.id),
                            f"responses.{index}",
                            f"says {r.active} at {stage} again (first responses.{seen[key]}); merge the two",
                        )
                    seen.setdefault(key, index)


@_registered
def actives_are_consistent(base: KnowledgeBase) -> Iterator[Problem]:
    """Rates rise, use the active's own basis, and keep within its single maximum."""
    forms: dict[str, str] = {}
    for active in base.actives.values():
        place = _place("actives", active.id)
        for form in active.forms:
            if form.id in forms:
                yield Problem(place, "forms", f"'{form.id}' is also a form of {forms[form.id]}")
            forms[form.id] = active.id
            if not form.id.startswith(active.id):
                yield Problem(place, "forms", f"'{form.id}' must start with '{active.id}'")
        yield from _rate_problems(active, place)


def _rate_problems(active: Active, place: str) -> Iterator[Problem]:
    for index, rate in enumerate(active.rates):
        path = f"rates.{index}"
        if rate.timing not in active.timing:
            yield Problem(place, f"{path}.timing", f"'{rate.timing}' is not among the active's timings")
        amounts = [rate.low, rate.usual, rate.high]
        wrong = [a for a in amounts if a.dimension != f"{active.rate_basis}-rate"]
        if wrong:
            yield Problem(place, path, f"{wrong[0]} must be given as {active.rate_basis}")
        elif not rate.low.base <= rate.usual.base <= rate.high.base:
            yield Problem(place, path, "must rise from low over usual to high")
        elif rate.partner is not None and rate.partner.base > rate.usual.base:
            yield Problem(place, f"{path}.partner", "must not exceed the usual rate")
    top = max((rate.high.base for rate in active.rates), default=0.0)
    for index, limit in enumerate(active.limits):
        if limit.single_max and limit.turf == ("all",) and not limit.site_uses and limit.single_max.base < top * 0.999:
            yield Problem(place, f"limits.{index}.single_max", "is below a rate given above")
        if limit.single_max and limit.annual_max and limit.annual_max.base < limit.single_max.base:
            yield Problem(place, f"limits.{index}.annual_max", "is below the single maximum")


@_registered
def tolerance_agrees_with_rates(base: KnowledgeBase) -> Iterator[Problem]:
    """No sensitive turf stands beside a rate that names it; no turf tells an active twice."""
    for turf in base.turf.values():
        yield from _tolerance_problems(base, turf)


def _tolerance_problems(base: KnowledgeBase, turf: Turf) -> Iterator[Problem]:
    place = _place("turf", turf.id)
    general: set[str] = set()
    for index, record in enumerate(turf.tolerance):
        path = f"tolerance.{index}"
        active = base.actives.get(record.active)
        if active is None:
            yield Problem(place, f"{path}.active", f"'{record.active}' is no active of the knowledge base")
            continue
        if not record.site_uses:
            if record.active in general:
                yield Problem(place, path, f"{record.active} stands twice without a site use")
            general.add(record.active)
            named = any(turf.id in rate.turf for rate in active.rates)
            if record.tolerance == "S" and named:
                yield Problem(place, path, f"is S, but {record.active} has a rate for {turf.id}")
        if record.tolerance == "I" and not record.condition:
            yield Problem(place, f"{path}.condition", "an intermediate tolerance needs its condition in words")
        if record.max_rate is not None and record.max_rate.dimension != f"{active.rate_basis}-rate":
            yield Problem(place, f"{path}.max_rate", f"must be given as {active.rate_basis}")


@_registered
def shared_facts_name_known_things(base: KnowledgeBase) -> Iterator[Problem]:
    """Interactions name known actives, weeds and stages."""
    for key, interaction in base.interactions.items():
        for active in (*interaction.actives, *interaction.partners):
            if active not in base.actives:
                yield Problem("interactions.yaml", key, f"'{active}' is no active")
        for weed in interaction.weeds:
            if weed not in base.weeds:
                yield Problem("interactions.yaml", key, f"'{weed}' is no weed")
        for stage in interaction.stages:
            if stage not in ALL_STAGES:
                yield Problem("interactions.yaml", key, f"'{stage}' is no stage")


@_registered
def mixtures_name_known_things(base: KnowledgeBase) -> Iterator[Problem]:
    """Mixtures name known actives and forms, at rates counted as the active is."""
    for key, mixture in base.mixtures.items():
        for rate in mixture.rates:
            for part in rate.parts:
                active_fact = base.actives.get(part.active)
                if active_fact is None:
                    yield Problem("mixtures.yaml", key, f"'{part.active}' is no active")
                elif part.form is not None and part.form not in {f.id for f in active_fact.forms}:
                    yield Problem("mixtures.yaml", key, f"'{part.form}' is no form of {part.active}")
                elif part.rate.dimension != f"{active_fact.rate_basis}-rate":
                    yield Problem("mixtures.yaml", key, f"{part.active} is counted as {active_fact.rate_basis}")


@_registered
def results_name_known_things(base: KnowledgeBase) -> Iterator[Problem]:
    """Published results name known weeds, stages, turf, actives and forms, at rates counted as the active is."""
    for key, result in base.results.items():
        weed = base.weeds.get(result.weed)
        if weed is None:
            yield Problem("results", key, f"'{result.weed}' is no weed")
        elif result.stage is not None and result.stage not in STAGES_BY_LIFE_FORM[weed.life_form]:
            yield Problem("results", key, f"'{result.stage}' is no stage of a {weed.life_form}")
        if result.turf not in base.turf:
            yield Problem("results", key, f"'{result.turf}' is no turf")
        for part in (part for spray in result.sprays for part in spray.parts):
            active = base.actives.get(part.active)
            if active is None:
                yield Problem("results", key, f"'{part.active}' is no active")
            elif part.form is not None and part.form not in {form.id for form in active.forms}:
                yield Problem("results", key, f"'{part.form}' is no form of {part.active}")
            elif part.rate is not None and part.rate.dimension != f"{active.rate_basis}-rate":
                yield Problem("results", key, f"{part.active} is counted as {active.rate_basis}")
            elif part.rate is None and "rate" not in result.assumed:
                yield Problem("results", key, f"{part.active} has no rate; say so under assumed")


@_registered
def scopes_and_links_exist(base: KnowledgeBase) -> Iterator[Problem]:
    """Turf, stages, forms and groups that facts are scoped to exist."""
    for kind, key, item in _everything(base):
        for path, part in walk(item):
            yield from scope_problems(base, kind, key, path, part)
    yield from link_problems(base)


@_registered
def customers_are_told_whole_sentences(base: KnowledgeBase) -> Iterator[Problem]:
    """Every case of a slip and of a proposal has a sentence, and every brace in it is filled."""
    yield from customer_problems(base)
    yield from proposal_problems(base)


@_registered
def a_year_can_be_planned(base: KnowledgeBase) -> Iterator[Problem]:
    """Every zone has its warmth and every group its rotation, and the weeds they name exist."""
    yield from year_problems(base)


@_registered
def zones_cover_the_year(base: KnowledgeBase) -> Iterator[Problem]:
    """Each zone's seasons name every season and cover each day once."""
    # A leap year holds every day there is.
    days = [f"{date.fromordinal(_LEAP_YEAR + n):%m-%d}" for n in range(366)]
    for key, zone in base.zones.items():
        if {span.season for span in zone.seasons} != set(SEASONS):
            yield Problem("zones.yaml", key, "must name every season")
        for day in days:
            if sum(span.holds(day) for span in zone.seasons) != 1:
                yield Problem("zones.yaml", key, f"day {day} must lie in exactly one season")
                break


@_registered
def _no_house_sources(base: KnowledgeBase) -> Iterator[Problem]:
    """A trial of the house is kept beside the facts, never among them."""
    for key, source in base.sources.items():
        if source.kind == "house":
            yield Problem("sources", key, "is of kind house; the house's trials are no facts of the knowledge base")
