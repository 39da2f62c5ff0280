"""Rules on the tank: adjuvants and partners."""

from __future__ import annotations

from collections.abc import Iterator

from app.engine.rules.registry import Finding, Question, rule
from knowledge.base import KnowledgeBase, applies_to_turf, tolerance_for
from knowledge.models import Interaction


@rule("adjuvant-injury", "adjuvant")
def adjuvant_injury(question: Question) -> Iterator[Finding]:
    """Some adjuvants make an active hurt the turf."""
    adjuvant = question.base.adjuvants[question.adjuvant].name
    for record in question.dose.active.adjuvants:
        if record.id == question.adjuvant and record.use == "forbidden":
            values = {**question.named, "adjuvant": adjuvant, "why": record.text or "it injures the turf"}
            yield Finding("adjuvant-injury", "stop", values, record.sources)
    site = question.understood.situation.site_use
    for turf in question.understood.turf:
        tolerance = tolerance_for(turf, question.dose.active.id, site)
        if tolerance is not None and question.adjuvant in tolerance.adjuvants_barred:
            values = {**question.named, "adjuvant": adjuvant, "why": f"{turf.name} is injured by it"}
            yield Finding("adjuvant-injury", "stop", values, tolerance.sources)


@rule("adjuvant-required", "adjuvant")
def adjuvant_required(question: Question) -> Iterator[Finding]:
    """Some actives do not work without their adjuvant."""
    needed = [record for record in question.dose.active.adjuvants if record.use == "required"]
    usable = [record for record in question.dose.active.adjuvants if record.use != "forbidden"]
    if needed and question.adjuvant not in {record.id for record in usable}:
        names = " or ".join(dict.fromkeys(question.base.adjuvants[record.id].name for record in needed))
        yield Finding("adjuvant-required", "stop", {**question.named, "adjuvant": names}, needed[0].sources)


def interactions_between(base: KnowledgeBase, first: str, second: str) -> tuple[Interaction, ...]:
    """Every recorded interaction of the two actives, in either order."""
    return base.interacting.get(frozenset((first, second)), ())


@rule("incompatible-mix", "pair")
def incompatible_mix(question: Question) -> Iterator[Finding]:
    """Some actives are not put into one tank."""
    partner = question.partner
    if partner is None:
        return
    turfs = question.understood.turf
    for item in interactions_between(question.base, question.dose.active.id, partner.active.id):
        if item.turf and not any(applies_to_turf(item.turf, turf) >= 0 for turf in turfs):
            continue
        values = {**question.named, "partner": partner.active.name, "why": item.text}
        if item.outcome == "stop":
            yield Finding("incompatible-mix", "stop", values, item.sources)
        elif item.outcome == "caution":
            yield Finding("incompatible-mix", "caution", values, item.sources)


@rule("mixture-only", "dose")
def mixture_only(question: Question) -> Iterator[Finding]:
    """What turf has in standard mixtures alone is not proposed by itself."""
    told = question.dose.active.mixture_only
    if told is not None and question.dose.level in ("alone", "high", "partner"):
        yield Finding("mixture-only", "stop", {**question.named, "why": told.text}, told.sources)
