"""How a situation is planned in a process of its own, and how its plan is kept."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from app.engine.house import Observed, with_evidence
from app.engine.product import Product
from app.season.year import YearAsked
from app.season.year_output import YearPlan
from app.services.knowledge_service import knowledge_base
from app.services.year_job_figures import figures_of
from app.services.year_job_worker import Planned
from app.store.keyed import Document

# How much is remembered of former plans at most: days of a lawn, and what an active does to a weed on one. Beyond it
# all is forgotten and begun anew, so that many unlike lawns never fill the memory; these many take some 400 MB.
MOST_DAYS, MOST_CELLS = 400, 150_000


def planning(products: list[dict[str, Any]] | None, observed: Sequence[dict[str, Any]] = ()) -> Planned:
    """What plans: one knowledge base, with what the house's trials saw, and one memo for all that follows."""
    # Not above: a page that only shows how far a job is would wait for the solver's libraries.
    from app.season.year_planning import YearMemo, plan_year

    base = with_evidence(knowledge_base(), tuple(Observed.model_validate(item) for item in observed))
    memo = YearMemo()
    shelf = tuple(Product.model_validate(item) for item in products) if products is not None else None

    def plan(asked: Document) -> Document:
        nonlocal memo
        if len(memo.days) > MOST_DAYS or len(memo.cells) > MOST_CELLS:
            memo = YearMemo()
        return document_of(plan_year(base, YearAsked.model_validate(asked), shelf, memo))

    return plan


def document_of(plan: YearPlan) -> Document:
    """What is kept of a plan: itself, and its figures beside it."""
    return {
        "plan": plan.model_dump(mode="json", by_alias=True),
        "figures": figures_of(plan).model_dump(mode="json"),
    }
