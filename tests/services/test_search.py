"""Names people use, and slips of the pen."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.engine.errors import InputError
from app.services.knowledge_service import knowledge_base
from app.services.search import LIKE_ENOUGH, find_weed, suggest
from knowledge.base import KnowledgeBase, names_of


@pytest.mark.parametrize(
    ("asked", "weed"),
    [
        ("wild violet", "wild-violet"),
        ("wild voilet", "wild-violet"),
        ("Wild Violets", "wild-violet"),
        ("violet, wild", "wild-violet"),
        ("creeping charlie", "ground-ivy"),
        ("creeping charley", "ground-ivy"),
        ("nutgrass", "yellow-nutsedge"),
        ("crabgrass", "smooth-crabgrass"),
        ("crab grass", "smooth-crabgrass"),
        ("Taraxacum officinale", "dandelion"),
        ("dandelions", "dandelion"),
        ("  DANDELION!  ", "dandelion"),
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


@pytest.mark.parametrize("asked", ["zzzz", "tomato soup", "12345", "!!", "x" * 5000])
def test_what_is_no_weed_names_three(base: KnowledgeBase, asked: str) -> None:
    with pytest.raises(InputError) as caught:
        find_weed(base, asked)
    (fault,) = caught.value.faults
    assert fault.path == "weed"
    near = fault.message.rsplit("nearest: ", 1)[1].split(", ")
    assert len(set(near) & {weed.name for weed in base.weeds.values()}) == 3
    assert len(fault.message) < 300


def test_suggestions_are_ordered_and_bounded(base: KnowledgeBase) -> None:
    found = suggest(base, "plantain", limit=3)
    assert found[0].id == "broadleaf-plantain"
    assert len(found) <= 3
    assert [item.score for item in found] == sorted((item.score for item in found), reverse=True)
    assert suggest(base, "  !! ") == []


def test_every_weed_is_found_by_each_of_its_names(base: KnowledgeBase) -> None:
    """Or it is offered beside the weed that a shared name usually means."""
    for weed in base.weeds.values():
        for name in names_of(weed):
            found, _, others = find_weed(base, name)
            assert weed.id in (found.id, *others), (weed.id, name, found.id)
        assert find_weed(base, weed.name)[0].id == weed.id
        for name in weed.usually_meant_by:
            assert find_weed(base, name)[0].id == weed.id


def test_how_it_was_matched_is_told(base: KnowledgeBase) -> None:
    weed, how, others = find_weed(base, "creeping charlie")
    assert how.matched.lower() == "creeping charlie"
    assert how.matched in names_of(weed)
    assert how.score >= LIKE_ENOUGH
    assert weed.id not in others


@given(st.sampled_from(sorted(knowledge_base().weeds)), st.data())
def test_one_slip_of_the_pen_still_finds_it_or_offers_it(key: str, data: st.DataObject) -> None:
    base = knowledge_base()
    name = base.weeds[key].name
    place = data.draw(st.integers(1, len(name) - 2))
    slip = data.draw(st.sampled_from(["drop", "double", "swap"]))
    if slip == "drop":
        typed = name[:place] + name[place + 1 :]
    elif slip == "double":
        typed = name[:place] + name[place] + name[place:]
    else:
        typed = name[: place - 1] + name[place] + name[place - 1] + name[place + 1 :]
    found = [item.id for item in suggest(base, typed)]
    assert key in found
    assert found.index(key) < 4


@given(st.text(max_size=60))
def test_any_text_finds_a_weed_or_says_so(text: str) -> None:
    base = knowledge_base()
    try:
        weed, how, _ = find_weed(base, text)
        told = (weed.id, how.score >= LIKE_ENOUGH)
    except InputError as error:
        told = (error.faults[0].path, len(error.faults) == 1)
    assert told[0] in (*base.weeds, "weed")
    assert told[1]
