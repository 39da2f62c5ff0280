"""The main job: the shape and the promises of an answer."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest

from app.engine.errors import InputError
from app.engine.output import Recommendation, as_json
from app.engine.recommend import recommend
from app.engine.situation import Situation
from knowledge.base import KnowledgeBase

Make = Callable[..., Situation]


def _cited(answer: Recommendation) -> set[str]:
    found: set[str] = set()

    def walk(item: object) -> None:
        if isinstance(item, dict):
            for key, value in item.items():
                if key == "sources" and isinstance(value, list):
                    found.update(value)
                else:
                    walk(value)
        elif isinstance(item, list):
            for value in item:
                walk(value)

    data = as_json(answer)
    data.pop("sources")
    walk(data)
    return found


def test_every_source_cited_is_listed_and_none_besides(base: KnowledgeBase, situation: Make) -> None:
    answer = recommend(base, situation())
    assert _cited(answer) == set(answer.sources)


def test_ranks_count_up_and_scores_sink(base: KnowledgeBase, situation: Make) -> None:
    answer = recommend(base, situation(options={"top": 8}))
    assert [p.rank for p in answer.ranked] == list(range(1, len(answer.ranked) + 1))
    scores = [p.score for p in answer.ranked]
    assert all(a >= b - 0.05 for a, b in itertools.pairwise(scores))
    for program in answer.ranked:
        assert program.score == pytest.approx(sum(program.score_parts.values()), abs=1e-6)


def test_near_duplicates_fold(base: KnowledgeBase, situation: Make) -> None:
    answer = recommend(base, situation(options={"top": 10}))
    sets = [frozenset(p.actives) for p in answer.ranked]
    assert len(sets) == len(set(sets))
    assert answer.ranked[0].folded


def test_each_program_says_why_it_stands_above_the_next(base: KnowledgeBase, situation: Make) -> None:
    answer = recommend(base, situation())
    for program in answer.ranked[:-1]:
        codes = {reason.code for reason in program.reasons}
        assert {"above-next", "would-change", "lead-active", "mechanisms"} <= codes


def test_turned_down_actives_are_in_no_program(base: KnowledgeBase, situation: Make) -> None:
    answer = recommend(base, situation(options={"top": 50}))
    ranked = {active for program in answer.ranked for active in program.actives}
    down = {active for item in answer.turned_down for active in item.actives}
    assert down
    assert not ranked & down
    assert all(item.stops for item in answer.turned_down)


def test_the_headline_says_what_how_much_and_how_often(base: KnowledgeBase, situation: Make) -> None:
    answer = recommend(base, situation())
    first = answer.ranked[0]
    assert first.applications[0].products[0].actives[0].name in answer.headline
    assert "lb" in answer.headline
    assert ("twice" in answer.headline) == (len(first.applications) == 2)


def test_priorities_move_the_parts(base: KnowledgeBase, situation: Make) -> None:
    alone = {"control": 1, "turf_safety": 0, "resistance": 0, "cost": 0, "passes": 0, "off_target": 0}
    answer = recommend(base, situation(priorities=alone))
    assert answer.ranked[0].score_parts["cost"] == 0
    assert answer.ranked[0].score == pytest.approx(answer.ranked[0].score_parts["control"])


def test_products_given_inline_are_ranked(base: KnowledgeBase, situation: Make) -> None:
    product = {
        "name": "Larkmere Triad",
        "formulation": "SL",
        "actives": [{"active": "triclopyr", "form": "triclopyr-tea", "content": {"value": 3.0, "unit": "lb ae/gal"}}],
        "rate": {"value": 1.0, "unit": "qt/acre"},
    }
    answer = recommend(base, situation(catalog=[product]))
    rate = answer.ranked[0].applications[0].products[0].actives[0].rate
    assert (rate.value, rate.unit) == (0.75, "lb ae/acre")
    assert {active for p in answer.ranked for active in p.actives} == {"triclopyr"}


def test_a_shelf_that_is_not_there_is_said(base: KnowledgeBase, situation: Make) -> None:
    with pytest.raises(InputError, match="catalog"):
        recommend(base, situation(catalog="shelf"))


def test_a_resisting_population_is_told(base: KnowledgeBase, situation: Make) -> None:
    target = {"weed": "buckhorn-plantain", "stage": "vegetative", "resistant_to": ["2-4-d"]}
    answer = recommend(base, situation(targets=[target], options={"top": 20}))
    for program in answer.ranked:
        for part in program.control[0].parts:
            if part.active == "2-4-d":
                assert part.likely == 0


def test_a_whole_group_can_be_resisted(base: KnowledgeBase, situation: Make) -> None:
    target = {"weed": "dandelion", "stage": "vegetative", "resistant_to": ["4"]}
    answer = recommend(base, situation(targets=[target], options={"top": 20}))
    assert all(set(p.groups) != {4} for p in answer.ranked)


def test_notices_stand_on_every_answer(base: KnowledgeBase, situation: Make) -> None:
    text = " ".join(recommend(base, situation()).notices).lower()
    for word in ("label is the law", "local codes", "protective equipment", "drift", "water", "bees", "dried"):
        assert word in text or (word == "drift" and "wind" in text)
