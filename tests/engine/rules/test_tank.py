"""Rules on the tank: adjuvants and partners."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from knowledge.base import KnowledgeBase
from knowledge.models import Interaction
from tests.engine.made import dose, fact, outcomes, question, with_active, with_tolerance


@pytest.mark.parametrize(("adjuvant", "found"), [("mso", ["stop"]), ("nis", []), ("none", [])])
@pytest.mark.parametrize("where", ["active", "turf"])
def test_an_adjuvant_that_injures_is_a_stop(base: KnowledgeBase, where: str, adjuvant: str, found: list[str]) -> None:
    if where == "active":
        made = with_tolerance(with_active(base, adjuvants=[fact(id="mso", use="forbidden")]), {})
    else:
        made = with_tolerance(with_active(base), {"adjuvants_barred": ["mso"]})
    assert outcomes("adjuvant-injury", question(made, adjuvant=adjuvant)) == found


@pytest.mark.parametrize(
    ("adjuvant", "found"), [("none", ["stop"]), ("nis", []), ("coc", []), ("mso", ["stop"]), ("ams", ["stop"])]
)
def test_a_required_adjuvant_is_not_left_out(base: KnowledgeBase, adjuvant: str, found: list[str]) -> None:
    rules = [fact(id="nis", use="required"), fact(id="coc", use="allowed"), fact(id="mso", use="forbidden")]
    made = with_active(base, adjuvants=rules)
    assert outcomes("adjuvant-required", question(made, adjuvant=adjuvant)) == found


def test_a_recommended_adjuvant_may_be_left_out(base: KnowledgeBase) -> None:
    made = with_active(base, adjuvants=[fact(id="nis", use="recommended")])
    assert outcomes("adjuvant-required", question(made, adjuvant="none")) == []


def _interacting(base: KnowledgeBase, **changes: Any) -> KnowledgeBase:
    told = fact(id="made", kind="incompatible", actives=["2-4-d"], partners=["mcpa"], text="They clot.", **changes)
    return replace(base, interactions={"made": Interaction.model_validate(told)})


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"outcome": "stop"}, ["stop"]),
        ({"outcome": "caution"}, ["caution"]),
        ({"outcome": None}, []),
        ({"outcome": "stop", "turf": ["tall-fescue"]}, ["stop"]),
        ({"outcome": "stop", "turf": ["warm-season"]}, []),
    ],
)
def test_partners_that_do_not_go_together(base: KnowledgeBase, changes: dict[str, Any], found: list[str]) -> None:
    made = _interacting(base, **changes)
    first, second, other = (dose(made, key=key) for key in ("2-4-d", "mcpa", "dicamba"))
    assert outcomes("incompatible-mix", question(made, of=first, partner=second)) == found
    assert outcomes("incompatible-mix", question(made, of=second, partner=first)) == found
    assert outcomes("incompatible-mix", question(made, of=first, partner=other)) == []
    assert outcomes("incompatible-mix", question(made, of=first)) == []
