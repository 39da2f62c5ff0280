"""Coverage counts add up."""

from __future__ import annotations

from knowledge.base import KnowledgeBase
from knowledge.coverage import count_coverage

REQUIRED_WEEDS = (
    "smooth-crabgrass",
    "large-crabgrass",
    "southern-crabgrass",
    "goosegrass",
    "annual-bluegrass",
    "nimblewill",
    "yellow-nutsedge",
    "purple-nutsedge",
    "green-kyllinga",
    "dandelion",
    "white-clover",
    "broadleaf-plantain",
    "buckhorn-plantain",
    "ground-ivy",
    "wild-violet",
    "black-medic",
    "yellow-woodsorrel",
    "prostrate-spurge",
    "spotted-spurge",
    "prostrate-knotweed",
    "common-purslane",
    "common-chickweed",
    "mouseear-chickweed",
    "henbit",
    "virginia-buttonweed",
    "dollarweed",
    "wild-garlic",
    "canada-thistle",
    "bermudagrass-weed",
    "dallisgrass",
)


def test_the_first_solid_part_is_there(base: KnowledgeBase) -> None:
    assert [weed for weed in REQUIRED_WEEDS if weed not in base.weeds] == []


def test_cells_add_up(base: KnowledgeBase) -> None:
    counts = count_coverage(base)
    told = counts["tolerance"]
    assert told["pairs_told"] + told["pairs_unknown"] + told["pairs_missing"] == told["pairs_possible"]
    assert sum(counts["responses"]["cells_by_basis"].values()) == counts["responses"]["cells_filled"]
    assert counts["responses"]["cells_filled"] <= counts["responses"]["cells_possible"]


def test_every_turf_says_something_of_every_active(base: KnowledgeBase) -> None:
    assert count_coverage(base)["tolerance"]["pairs_missing"] == 0
