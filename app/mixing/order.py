"""The order of adding to the tank, the jar test and the rinse, from the facts."""

from __future__ import annotations

from app.engine.citations import source_ids
from app.engine.output import Statement
from app.mixing.plan import MixPlan, System
from knowledge.base import KnowledgeBase
from knowledge.models import MixStep
from knowledge.quantities import Quantity

_JAR = {"us": Quantity(1, "qt"), "metric": Quantity(1, "L")}
_TEASPOON_ML = 5


def filling(base: KnowledgeBase, plan: MixPlan) -> tuple[Statement, ...]:
    """The steps of filling in order: water, conditioner, products by formulation, adjuvant, water."""
    if plan.method == "granular":
        return ()
    adjuvant = plan.adjuvant.id if plan.adjuvant is not None else "none"
    steps = [(step.order, 0, _said(step)) for step in _part(base, "filling", adjuvant)]
    for place, product in enumerate(plan.products):
        fact = base.formulations[product.formulation]
        assert fact.order is not None, "a granule is in no tank"
        text = f"{product.name} ({fact.name}): {fact.text}"
        steps.append((fact.order, place, Statement(code="product", text=text, sources=source_ids(fact.sources))))
    return tuple(step for _, _, step in sorted(steps, key=lambda item: item[:2]))


def jar_test(base: KnowledgeBase, plan: MixPlan, spray_litres: float, amounts: dict[str, Quantity]) -> list[Statement]:
    """How to try a mix of several products in a jar, and how much of each goes into it."""
    if plan.method == "granular" or len(plan.products) + (plan.adjuvant is not None) < 2:
        return []
    jar = _JAR[plan.units]
    shares = "; ".join(f"{name} {_small(q, jar.base / spray_litres, plan.units)}" for name, q in amounts.items())
    said = [_said(step) for step in _part(base, "jar-test", "none")]
    return [*said, Statement(code="jar-amounts", text=f"For a jar of {jar.value:g} {jar.unit}: {shares}.")]


def rinse(base: KnowledgeBase, plan: MixPlan, tank: Quantity | None) -> list[Statement]:
    """How to rinse containers and tank, and with how much water."""
    found = [_said(step) for step in _part(base, "rinse", "none")]
    if plan.method == "granular":
        return [step for step in found if step.code == "rinse-where"]
    if tank is not None:
        once = Quantity(tank.base * base.parameter("rinse-share") / 100, "L")
        shown = once.to("gal") if plan.units == "us" else once
        text = f"One rinse of this tank takes about {shown.value:.2g} {shown.unit} of water."
        found.append(
            Statement(code="rinse-volume", text=text, sources=source_ids(base.parameters["rinse-share"].sources))
        )
    return found


def _part(base: KnowledgeBase, part: str, adjuvant: str) -> list[MixStep]:
    steps = [step for step in base.steps.values() if step.part == part]
    return sorted((s for s in steps if not s.adjuvants or adjuvant in s.adjuvants), key=lambda s: s.order)


def _said(step: MixStep) -> Statement:
    return Statement(code=step.id, text=step.text, sources=source_ids(step.sources))


def _small(amount: Quantity, share: float, system: System) -> str:
    small = amount.base * share
    if amount.dimension == "mass":
        return f"{small:.2g} g"
    millilitres = 1000 * small
    spoons = f" ({millilitres / _TEASPOON_ML:.2g} teaspoons)" if system == "us" else ""
    return f"{millilitres:.2g} mL{spoons}"
