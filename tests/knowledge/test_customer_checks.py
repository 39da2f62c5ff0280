"""The sentences for the customer: a brace that nothing fills, an unknown active, a case without a sentence."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from knowledge.base import KnowledgeBase
from knowledge.customer_checks import customer_problems
from knowledge.quantities import Quantity


def _changed(base: KnowledgeBase, key: str, **changes: Any) -> KnowledgeBase:
    said = base.customer[key].model_copy(update=changes)
    return replace(base, customer={**base.customer, key: said})


@pytest.mark.parametrize(
    ("key", "changes", "said"),
    [
        ("no-mowing", {"figures": {}}, "nothing fills {wait}"),
        ("keep-off", {"text": "Keep off for {hours}."}, "nothing fills {hours} in the case 'always'"),
        ("keep-off", {"figures": {"spare": Quantity(2, "days")}}, "is not named in the text"),
        ("whitening", {"actives": ("salt",)}, "'salt' is no active"),
        ("toys", {"when": ("always",)}, "no sentence is said in the case 'children-or-pets'"),
    ],
)
def test_a_fault_is_found(base: KnowledgeBase, key: str, changes: dict[str, Any], said: str) -> None:
    assert not list(customer_problems(base))
    found = [problem.message for problem in customer_problems(_changed(base, key, **changes))]
    assert any(said in message for message in found)
