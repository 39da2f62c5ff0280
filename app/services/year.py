"""The use case of a planned year: each face calls it and shows what it answers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from app.engine.product import Product
from app.engine.understood import catalog_products
from app.season.year import YearAsked
from app.season.year_output import YearPlan, YearScenarios
from app.season.year_planning import YearMemo, plan_year
from app.season.year_scenarios import scenarios
from app.services.advice import Shelf
from app.services.knowledge_service import knowledge_base
from app.services.validation import validated


def plan(payload: Any, shelf: Shelf | None = None, memo: YearMemo | None = None) -> YearPlan:
    """The best program of a year for one property, given as plain data.

    Parameters
    ----------
    shelf : callable, optional
        Gives the products, where the year asks for those of the shelf.
    memo : YearMemo, optional
        Shared by years on the same knowledge base and products.

    Raises
    ------
    InputError
        With one fault for each field that cannot be used.
    """
    asked = validated(YearAsked, payload)
    return plan_year(knowledge_base(), asked, catalog_products(asked.catalog, _held(asked, shelf)), memo)


def plan_with_scenarios(payload: Any, shelf: Shelf | None = None) -> YearScenarios:
    """The best program of a year, and what it does in a late spring, in a drought, and where a visit falls out.

    Raises
    ------
    InputError
        With one fault for each field that cannot be used.
    """
    asked = validated(YearAsked, payload)
    base, products, memo = knowledge_base(), catalog_products(asked.catalog, _held(asked, shelf)), YearMemo()
    planned = plan_year(base, asked, products, memo)
    found = scenarios(base, asked, planned, lambda then: plan_year(base, then, products, memo))
    return YearScenarios(plan=planned, scenarios=found)


def _held(asked: YearAsked, shelf: Shelf | None) -> Sequence[Product] | None:
    """The products of the shelf, read only where the year asks for them."""
    return shelf() if asked.catalog == "shelf" and shelf is not None else None
