"""The use case of a planned year: each face calls it and shows what it answers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from app.engine.house import with_evidence
from app.engine.product import Product
from app.engine.understood import catalog_products
from app.season.year import YearAsked
from app.season.year_output import YearPlan, YearScenarios
from app.season.year_scenarios import scenarios
from app.services.advice import House, Shelf
from app.services.knowledge_service import knowledge_base
from app.services.validation import validated
from knowledge.base import KnowledgeBase

if TYPE_CHECKING:
    from app.season.year_planning import YearMemo


def plan(
    payload: Any, shelf: Shelf | None = None, house: House | None = None, memo: YearMemo | None = None
) -> YearPlan:
    """The best program of a year for one property, given as plain data.

    Parameters
    ----------
    shelf : callable, optional
        Gives the products, where the year asks for those of the shelf.
    house : callable, optional
        Gives what the house's trials saw of its weeds, which then counts.
    memo : YearMemo, optional
        Shared by years on the same knowledge base, products and evidence.

    Raises
    ------
    InputError
        With one fault for each field that cannot be used.
    """
    # Here: the solver costs a second that a start of the app should not pay.
    from app.season.year_planning import plan_year

    asked = validated(YearAsked, payload)
    return plan_year(_learned(asked, house), asked, catalog_products(asked.catalog, _held(asked, shelf)), memo)


def plan_with_scenarios(payload: Any, shelf: Shelf | None = None, house: House | None = None) -> YearScenarios:
    """The best program of a year, and what it does in a late spring, in a drought, and where a visit falls out.

    Raises
    ------
    InputError
        With one fault for each field that cannot be used.
    """
    from app.season.year_planning import YearMemo, plan_year

    asked = validated(YearAsked, payload)
    base, products = _learned(asked, house), catalog_products(asked.catalog, _held(asked, shelf))
    memo = YearMemo()
    planned = plan_year(base, asked, products, memo)
    found = scenarios(base, asked, planned, lambda then: plan_year(base, then, products, memo))
    return YearScenarios(plan=planned, scenarios=found)


def _learned(asked: YearAsked, house: House | None) -> KnowledgeBase:
    """The knowledge base with what the house's trials saw of the weeds of a year."""
    weeds = {told.weed for told in asked.weeds}
    observed = house(weeds) if house is not None else ()
    return with_evidence(knowledge_base(), tuple(item for item in observed if item.weed in weeds))


def _held(asked: YearAsked, shelf: Shelf | None) -> Sequence[Product] | None:
    """The products of the shelf, read only where the year asks for them."""
    return shelf() if asked.catalog == "shelf" and shelf is not None else None
