"""Checks of the sentences for the customer: their actives exist, and every brace is filled in each case."""

from __future__ import annotations

from collections.abc import Iterator
from string import Formatter

from knowledge.base import KnowledgeBase
from knowledge.models.customer import CASE_VALUES, CUSTOMER_CASES
from knowledge.reader import Problem

_PLACE = "customer.yaml"


def customer_problems(base: KnowledgeBase) -> Iterator[Problem]:
    """What is wrong with the sentences for the customer."""
    for key, said in base.customer.items():
        for active in said.actives:
            if active not in base.actives:
                yield Problem(_PLACE, f"{key}.actives", f"'{active}' is no active of the knowledge base")
        braces = {name for _, name, _, _ in Formatter().parse(said.text) if name is not None}
        for case in said.when:
            empty = braces - set(said.figures) - CASE_VALUES.get(case, frozenset())
            if empty:
                what = f"nothing fills {{{sorted(empty)[0]}}} in the case '{case}'; give it under figures"
                yield Problem(_PLACE, f"{key}.text", what)
        for name in said.figures:
            if name not in braces:
                yield Problem(_PLACE, f"{key}.figures.{name}", "is not named in the text")
    told: set[str] = {case for said in base.customer.values() for case in said.when}
    for name in CUSTOMER_CASES:
        if name not in told:
            yield Problem(_PLACE, "", f"no sentence is said in the case '{name}'")
