"""What each line of a label's rates brings of each active."""

from __future__ import annotations

from dataclasses import dataclass

from app.engine.doses import delivered, form_named
from app.engine.product import LabelRate, Product
from knowledge.base import KnowledgeBase
from knowledge.quantities import Quantity


@dataclass(frozen=True, slots=True)
class ActiveAmount:
    """An active and its rate at the low and the high end of a line [lb ae/acre or lb ai/acre]."""

    active: str
    low: Quantity
    high: Quantity


@dataclass(frozen=True, slots=True)
class LineAmounts:
    """A line of the label's rates and what it brings; nothing for a spot treatment, which has no area."""

    line: LabelRate
    actives: tuple[ActiveAmount, ...]


def label_amounts(base: KnowledgeBase, product: Product) -> tuple[LineAmounts, ...]:
    """What each line of a label's rates brings of each active, in the active's own counting.

    Parameters
    ----------
    base : KnowledgeBase
        The facts.
    product : Product
        A product in which `label_faults.faults_of` finds no fault.

    Returns
    -------
    tuple of LineAmounts
        One for each line, in the order of the label.

    Raises
    ------
    InputError
        When the units of rate, content and density do not fit together.
    """
    return tuple(
        LineAmounts(
            line,
            ()
            if line.purpose == "spot"
            else tuple(
                ActiveAmount(
                    part.active,
                    _counted(base, product, number, line.low.quantity),
                    _counted(base, product, number, line.high.quantity),
                )
                for number, part in enumerate(product.actives)
            ),
        )
        for line in product.rates
    )


def _counted(base: KnowledgeBase, product: Product, number: int, rate: Quantity) -> Quantity:
    active = base.actives[product.actives[number].active]
    form = form_named(active, product.actives[number].form)
    assert form is not None, "faults_of finds no fault"
    told = delivered(product, number, rate, active, form)
    assert told is not None, "faults_of finds no fault"
    return told.to(f"lb {active.rate_basis}/acre")
