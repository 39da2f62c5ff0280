"""What stands against a mix on this turf and site, with this adjuvant and these partners: the engine's own rules."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Any

from app.engine.doses import Dose, ProductUse
from app.engine.rules import Finding, Question, ask, registered
from app.engine.situation import Forecast, Situation, TurfCondition
from app.engine.understood import Understood
from app.mixing.allowance import Part
from app.mixing.amounts import rate_per_area
from app.mixing.plan import MixPlan
from knowledge.base import KnowledgeBase, applies_to_turf
from knowledge.quantities import Quantity

# A mix tells no date, weed or weather: of the rules on a dose, those that ask for none of them.
_OF_TURF = ("turf-sensitive", "turf-unknown", "turf-injury", "turf-condition", "label-turf")
_OF_SITE = ("site-use", "label-site")
_OF_LABEL = ("label-reentry",)
# Of these the rate decides, so that they are not asked where it is not known.
_OF_RATE = ("turf-injury", "turf-condition")


def findings_here(base: KnowledgeBase, plan: MixPlan, parts: Sequence[Part]) -> tuple[Finding, ...]:
    """What the rules of turf, site, adjuvant and partners find of a mix, stops included.

    What is not told is not asked: without a turf only what holds on every turf is found.

    Parameters
    ----------
    parts : sequence of Part
        Every active of every product of the plan.

    Returns
    -------
    tuple of Finding
        In the order of the products; one that says the same as another is still there.
    """
    understood = _understood(base, plan)
    doses = [_dose(plan, part) for part in parts]
    found = list(_without_a_line(base, plan))
    for dose in doses:
        found += _of_dose(base, plan, understood, dose)
    if plan.method != "granular":
        adjuvant = plan.adjuvant.id if plan.adjuvant is not None else "none"
        for dose in doses:
            found += ask(Question(base, understood, dose, adjuvant=adjuvant), "adjuvant")
        for first, second in combinations(sorted(doses, key=lambda dose: dose.active.id, reverse=True), 2):
            found += ask(Question(base, understood, first, partner=second), "pair")
    return tuple(found)


def _understood(base: KnowledgeBase, plan: MixPlan) -> Understood:
    # A plan tells turf and site alone; the rules asked here look at nothing else of a situation.
    told: dict[str, Any] = {
        "site_use": plan.site_use or "",
        "turf": plan.turf,
        "turf_condition": TurfCondition(),
        "forecast": Forecast(),
        "carrier": plan.carrier,
    }
    situation = Situation.model_construct(**told)
    turf = tuple(base.turf[key] for key in plan.turf)
    return Understood(situation, turf, (), "summer", (None,) * len(turf), ())


def _dose(plan: MixPlan, part: Part) -> Dose:
    rate = rate_per_area(plan, part.product)
    brought = part.brought(rate) if rate is not None else Quantity(0.0, part.unit)
    use = ProductUse(part.product, rate if rate is not None else Quantity(0.0, "L/ha"))
    return Dose(part.active, part.form, brought, None, "product", None, product=use)


def _of_dose(base: KnowledgeBase, plan: MixPlan, understood: Understood, dose: Dose) -> Iterator[Finding]:
    asked = (*_OF_LABEL, *(_OF_TURF if plan.turf else ()), *(_OF_SITE if plan.site_use is not None else ()))
    if not dose.rate.base:
        asked = tuple(code for code in asked if code not in _OF_RATE)
    for rule in registered("dose"):
        if rule.code in asked:
            yield from rule.function(Question(base, understood, dose))


def _without_a_line(base: KnowledgeBase, plan: MixPlan) -> Iterator[Finding]:
    """Products whose label gives rates, but none for a turf told."""
    for product in plan.products:
        for turf in (base.turf[key] for key in plan.turf):
            if product.rates and all(applies_to_turf(line.turf, turf) < 0 for line in product.rates):
                told = {"product": product.name, "rate": str(product.rate.quantity if product.rate else "")}
                yield Finding("label-rate", "stop", {**told, "why": f"no rate for {turf.name}"})
