"""Names people use, and slips of the pen."""

from __future__ import annotations

import pytest

from app.engine.errors import InputError
from app.services.search import find_weed, suggest
from knowledge.base import KnowledgeBase


@pytest.mark.parametrize(
    ("asked", "weed"),
    [
        ("wild violet", "wild-violet"),
        ("wild voilet", "wild-violet"),
        ("Wild Violets", "wild-violet"),
        ("creeping charlie", "ground-ivy"),
        ("creeping charley", "ground-ivy"),
        ("nutgrass", "yellow-nutsedge"),
        ("crabgrass", "smooth-crabgrass"),
        ("crab grass", "smooth-crabgrass"),
        ("Taraxacum officinale", "dandelion"),
        ("dandelions", "dandelion"),
        ("pennywort", "dollarweed"),
        ("poa annua", "annual-bluegrass"),
        ("oxalis", "yellow-woodsorrel"),
        ("canada thisle", "canada-thistle"),
        ("VIOSO", "wild-violet"),
        ("purple nut sedge", "purple-nutsedge"),
    ],
)
def test_a_name_finds_its_weed(base: KnowledgeBase, asked: str, weed: str) -> None:
    assert find_weed(base, asked)[0].id == weed


@pytest.mark.parametrize("asked", ["zzzz", "tomato soup", "12345", "!!"])
def test_what_is_no_weed_names_three(base: KnowledgeBase, asked: str) -> None:
    with pytest.raises(InputError) as caught:
        find_weed(base, asked)
    assert caught.value.faults[0].message.count(",") >= 2


def test_suggestions_are_ordered_and_bounded(base: KnowledgeBase) -> None:
    found = suggest(base, "plantain", limit=3)
    assert found[0].id == "broadleaf-plantain"
    assert len(found) <= 3
    assert [item.score for item in found] == sorted((item.score for item in found), reverse=True)


def test_every_weed_is_found_by_its_own_names(base: KnowledgeBase) -> None:
    for weed in base.weeds.values():
        assert find_weed(base, weed.name)[0].id == weed.id
        assert find_weed(base, " ".join(weed.scientific_name.split()[:2]))[0].id == weed.id
