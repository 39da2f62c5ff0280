"""What the trade says of one active against another, held against the sentences of a comparison.

Each case names its source, or says that it is common practice without one.
"""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.side_by_side import side_by_side
from app.engine.sides import SideBySide, SideBySideRequest
from knowledge.base import KnowledgeBase
from tests.conftest import plain


def _tank(name: str, *actives: tuple[str, float, str, str | None]) -> dict[str, Any]:
    parts = [{"active": a, "rate": {"value": v, "unit": u}, "form": f} for a, v, u, f in actives]
    return {"name": name, "actives": parts}


AE, AI = "lb ae/acre", "lb ai/acre"
DICAMBA = _tank("Dicamba", ("dicamba", 0.25, AE, "dicamba-dma"))
TRICLOPYR = _tank("Triclopyr", ("triclopyr", 0.75, AE, "triclopyr-tea"))
QUINCLORAC = _tank("Quinclorac", ("quinclorac", 0.75, AE, None))
SULFENTRAZONE = _tank("Sulfentrazone", ("sulfentrazone", 0.25, AI, None))
HALOSULFURON = _tank("Halosulfuron", ("halosulfuron-methyl", 0.062, AI, None))
CARFENTRAZONE = _tank("Carfentrazone", ("carfentrazone-ethyl", 0.031, AI, None))
ESTER = _tank("Ester", ("triclopyr", 0.75, AE, "triclopyr-bee"))


def _compared(base: KnowledgeBase, one: Any, other: Any, weed: str, stage: str, **changes: Any) -> SideBySide:
    told = plain(targets=[{"weed": weed, "stage": stage}], **changes)
    return side_by_side(base, SideBySideRequest.model_validate({"situation": told, "sides": [one, other]}))


def _text(answer: SideBySide, code: str) -> str:
    return " ".join(difference.text for difference in answer.differences if difference.code == code)


# Ground ivy: triclopyr leads among the auxins (Kohler, Throssell and Reicher 2004, Weed Technology, seen as
# an abstract). Wild violet: triclopyr is the standard (Patton, Weisenberger and Liu 2020, Weed Technology 34(4),
# abstract). Plantain: common practice, no source.
@pytest.mark.parametrize("weed", ["ground-ivy", "wild-violet", "broadleaf-plantain"])
def test_triclopyr_does_more_than_dicamba(base: KnowledgeBase, weed: str) -> None:
    answer = _compared(base, TRICLOPYR, DICAMBA, weed, "vegetative")
    assert answer.overlaps[0].difference > 0  # type: ignore[operator]
    assert f"better on {base.weeds[weed].name}" in _text(answer, "carries")


# Knotweed: dicamba is the standard (Hoyle 2017, Kansas State University turf blog).
@pytest.mark.parametrize("weed", ["prostrate-knotweed"])
def test_dicamba_does_more_than_triclopyr(base: KnowledgeBase, weed: str) -> None:
    answer = _compared(base, DICAMBA, TRICLOPYR, weed, "vegetative")
    assert answer.overlaps[0].difference > 0  # type: ignore[operator]
    assert f"better on {base.weeds[weed].name}" in _text(answer, "carries")


# Dicamba moves in soil to roots of trees and shrubs (Kent County, Delaware, Cooperative Extension 2008; Allgeier 2004).
def test_triclopyr_is_less_of_a_risk_to_tree_roots_than_dicamba(base: KnowledgeBase) -> None:
    answer = _compared(base, TRICLOPYR, DICAMBA, "ground-ivy", "vegetative")
    assert "less risk to tree roots through the soil" in _text(answer, "carries")
    assert _text(answer, "soil-movement").startswith("Less movement in soil with Triclopyr")
    beside = _compared(base, TRICLOPYR, DICAMBA, "ground-ivy", "vegetative", surroundings=["tree-roots"])
    assert "Dicamba may not be used here" in beside.verdict


# Contact actives of group 14 burn within days, sulfonylureas take weeks: common practice, no source.
def test_sulfentrazone_shows_symptoms_sooner_than_halosulfuron(base: KnowledgeBase) -> None:
    answer = _compared(base, HALOSULFURON, SULFENTRAZONE, "yellow-nutsedge", "5-8-leaf", date="2027-06-15")
    assert _text(answer, "symptoms").startswith("Sulfentrazone shows first symptoms sooner")


# Common practice, no source.
def test_carfentrazone_shows_symptoms_sooner_than_an_auxin(base: KnowledgeBase) -> None:
    answer = _compared(base, TRICLOPYR, CARFENTRAZONE, "white-clover", "vegetative")
    assert _text(answer, "symptoms").startswith("Carfentrazone shows first symptoms sooner")


# Quinclorac controls crabgrass, auxins for broadleaf weeds do not: common practice, no source.
def test_quinclorac_does_clearly_more_on_crabgrass_than_triclopyr(base: KnowledgeBase) -> None:
    answer = _compared(base, QUINCLORAC, TRICLOPYR, "smooth-crabgrass", "1-3-leaf", date="2027-06-05")
    assert answer.overlaps[0].standing == "apart"
    assert "Quinclorac does clearly more than Triclopyr" in _text(answer, "control")


# Esters give off more vapour than amine salts (Raudenbush and Keeley 2014: exposed tomato was hurt by
# esters and barely by amines; abstract).
def test_an_ester_gives_off_more_vapour_than_a_salt(base: KnowledgeBase) -> None:
    answer = _compared(base, ESTER, TRICLOPYR, "ground-ivy", "vegetative")
    assert _text(answer, "vapour").startswith("Less vapour loss with Triclopyr")
    assert "triethylamine salt" in _text(answer, "rates")


# Quinclorac works best with methylated seed oil or crop oil: common practice, no source.
def test_quinclorac_gains_by_an_oil(base: KnowledgeBase) -> None:
    answer = _compared(base, QUINCLORAC, TRICLOPYR, "smooth-crabgrass", "1-3-leaf", date="2027-06-05")
    assert "Quinclorac gains by methylated seed oil" in _text(answer, "adjuvants")


# Groups 4 and 14 of the harmonised classification (WSSA and HRAC).
def test_a_partner_of_another_group_is_a_second_mechanism(base: KnowledgeBase) -> None:
    both = _tank("Both", ("2-4-d", 1.0, AE, "2-4-d-dma"), ("sulfentrazone", 0.25, AI, None))
    answer = _compared(base, both, TRICLOPYR, "white-clover", "vegetative")
    assert "Both two mechanisms (groups 4 and 14); Triclopyr one mechanism (group 4)" in _text(answer, "mechanisms")
