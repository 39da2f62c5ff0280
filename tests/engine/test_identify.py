"""Which weed is it: agreement, ruling out, season, and what to look at next."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.engine.errors import InputError
from app.engine.identify import Identification, Seen, identify
from app.services.knowledge_service import knowledge_base
from knowledge.base import KnowledgeBase
from knowledge.models.weed import Traits

SHOWS = {
    "dandelion": {"plant": ("broad-leaved",), "habit": ("rosette",), "flower-colour": ("yellow",)},
    "ground-ivy": {"plant": ("broad-leaved",), "habit": ("mat",), "flower-colour": ("purple",)},
    "henbit": {"plant": ("broad-leaved",), "habit": ("mat", "upright"), "flower-colour": ("purple", "pink")},
}


@pytest.fixture(scope="module")
def base() -> KnowledgeBase:
    whole = knowledge_base()
    weeds = {
        key: whole.weeds[key].model_copy(
            update={
                "traits": Traits.model_validate(
                    {"shows": shows, "basis": "common-practice", "sources": ["common-practice"]}
                )
            }
        )
        for key, shows in SHOWS.items()
    }
    weeds["white-clover"] = whole.weeds["white-clover"].model_copy(update={"traits": None})
    return replace(whole, weeds=weeds)


def names(found: Identification) -> list[str]:
    return [candidate.weed for candidate in found.possible]


def test_nothing_seen_leaves_every_weed(base: KnowledgeBase) -> None:
    found = identify(base, Seen())
    assert sorted(names(found)) == sorted(base.weeds)
    assert found.ruled_out == ()


def test_an_answer_rules_out_what_contradicts_it_and_nothing_else(base: KnowledgeBase) -> None:
    found = identify(base, Seen(traits={"habit": "mat"}))
    assert names(found) == ["ground-ivy", "henbit", "white-clover"]
    assert [c.weed for c in found.ruled_out] == ["dandelion"]
    assert found.ruled_out[0].held[0].outcome == "differs"


def test_what_agrees_stands_before_what_is_not_recorded(base: KnowledgeBase) -> None:
    found = identify(base, Seen(traits={"habit": "upright", "flower-colour": "pink"}))
    assert names(found) == ["henbit", "white-clover"]
    assert [c.agrees for c in found.possible] == [2, 0]
    assert {held.outcome for held in found.possible[1].held} == {"not-recorded"}


def test_a_weed_that_is_not_up_then_is_ruled_out(base: KnowledgeBase) -> None:
    july = {"zone": "cool-humid", "date": "2027-07-20"}
    found = identify(base, Seen.model_validate(july))
    assert "henbit" not in names(found)
    assert "dandelion" in names(found)
    assert next(c for c in found.ruled_out if c.weed == "henbit").out_of_season


def test_more_answers_never_bring_a_weed_back(base: KnowledgeBase) -> None:
    first = set(names(identify(base, Seen(traits={"habit": "mat"}))))
    second = set(names(identify(base, Seen(traits={"habit": "mat", "flower-colour": "purple"}))))
    assert second <= first


def test_the_next_question_splits_what_is_left(base: KnowledgeBase) -> None:
    found = identify(base, Seen())
    asked = [question.trait for question in found.ask_next]
    assert asked[0] in ("habit", "flower-colour")
    assert "plant" not in asked
    assert sum(found.ask_next[0].counts.values()) >= len(SHOWS)


@pytest.mark.parametrize(
    ("seen", "path"),
    [
        ({"traits": {"leef-form": "heart"}}, "traits.leef-form"),
        ({"traits": {"habit": "flying"}}, "traits.habit"),
        ({"zone": "cool-humid"}, "date"),
        ({"date": "2027-07-20"}, "zone"),
    ],
)
def test_what_is_not_in_the_vocabulary_is_named(base: KnowledgeBase, seen: dict[str, object], path: str) -> None:
    with pytest.raises(InputError) as refused:
        identify(base, Seen.model_validate(seen))
    assert [fault.path for fault in refused.value.faults] == [path]
