"""Folding: near-duplicates go under the better one, and nothing else does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from app.engine.control import Band
from app.engine.scoring import PARTS, Scores
from app.engine.screening import Screened, screen
from app.engine.shortlist import dominated_by, shortlist
from app.engine.situation import Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase
from tests.conftest import plain


@pytest.fixture(scope="module")
def screened(base: KnowledgeBase) -> Screened:
    return screen(base, understand(Situation.model_validate(plain(targets=[{"weed": "dandelion"}])), base))


class _Made(Screened):
    """Programs with made-up sets of actives."""

    sets: Sequence[frozenset[str]]

    def actives_of(self, place: int) -> frozenset[str]:
        return self.sets[place]


def _made(screened: Screened, *programs: tuple[str, float]) -> Screened:
    """Programs in order of rank, each of its actives (letters) with its likely control."""
    likely = np.asarray([[control] for _, control in programs])
    fields = {name: getattr(screened, name) for name in Screened.__dataclass_fields__}
    made = _Made(**{**fields, "band": Band(likely, likely, likely), "order": np.arange(len(programs))})
    object.__setattr__(made, "sets", [frozenset(letters) for letters, _ in programs])
    return made


NEAR = 4.0


@pytest.fixture(autouse=True)
def _near_is_as_stated(base: KnowledgeBase) -> None:
    assert base.parameter("fold-points") == NEAR


@pytest.mark.parametrize(
    ("programs", "kept"),
    [
        ([("a", 80), ("a", 60)], {0: [1]}),
        ([("a", 80), ("b", 80)], {0: [], 1: []}),
        ([("a", 80), ("ab", 83.9)], {0: [1]}),
        ([("a", 80), ("ab", 84)], {0: [], 1: []}),
        ([("a", 80), ("ab", 30)], {0: [1]}),
        ([("ab", 80), ("a", 76.1)], {0: [1]}),
        ([("ab", 80), ("a", 76)], {0: [], 1: []}),
        ([("ab", 80), ("bc", 80)], {0: [], 1: []}),
        ([("a", 80), ("b", 79), ("ab", 81), ("a", 50), ("b", 50)], {0: [2, 3], 1: [4]}),
    ],
)
def test_what_folds(screened: Screened, programs: list[tuple[str, float]], kept: dict[int, list[int]]) -> None:
    found = shortlist(_made(screened, *programs), 10)
    assert {item.place: item.folded for item in found} == kept


def test_every_target_must_be_near(screened: Screened) -> None:
    made = _made(screened, ("a", 80), ("ab", 80))
    two = np.asarray([[80.0, 10.0], [80.0, 20.0]])
    apart = replace(made, band=Band(two, two, two))
    object.__setattr__(apart, "sets", made.sets)  # type: ignore[attr-defined]
    assert [item.place for item in shortlist(apart, 10)] == [0, 1]


def test_the_list_is_as_long_as_asked(screened: Screened) -> None:
    for top in (1, 3, 8):
        found = shortlist(screened, top)
        assert len(found) == top
        assert found[0].place == screened.order[0]
        assert [k.place for k in found] == [k.place for k in shortlist(screened, 8)[:top]]


def test_the_places_of_the_list_are_in_order_and_folded_under_one_home(screened: Screened) -> None:
    rank = {int(place): number for number, place in enumerate(screened.order)}
    found = shortlist(screened, 8)
    ranks = [rank[item.place] for item in found]
    assert ranks == sorted(ranks)
    folded = [place for item in found for place in item.folded]
    assert len(set(folded)) == len(folded)
    assert all(rank[place] > rank[item.place] for item in found for place in item.folded)


def _scored(screened: Screened, *rows: tuple[float, ...]) -> Screened:
    parts = {part: np.asarray([row[i] for row in rows]) for i, part in enumerate(PARTS)}
    made = _made(screened, *((letter, 50.0) for letter in "abcdef"[: len(rows)]))
    fields = {name: getattr(made, name) for name in Screened.__dataclass_fields__}
    scored = _Made(**{**fields, "scores": Scores(parts, {}, np.zeros(len(rows)))})
    object.__setattr__(scored, "sets", made.sets)  # type: ignore[attr-defined]
    return scored


@pytest.mark.parametrize(
    ("first", "second", "dominated"),
    [
        ((0.9, 0.5, 0.5, 0.5, 0.5, 0.5), (0.8, 0.5, 0.5, 0.5, 0.5, 0.5), 0),
        ((0.9, 0.5, 0.5, 0.5, 0.5, 0.5), (0.8, 0.5, 0.5, 0.6, 0.5, 0.5), None),
        ((0.9, 0.5, 0.5, 0.5, 0.5, 0.5), (0.9, 0.5, 0.5, 0.5, 0.5, 0.5), None),
    ],
)
def test_what_another_does_as_well_on_every_part_is_dominated(
    screened: Screened, first: tuple[float, ...], second: tuple[float, ...], dominated: int | None
) -> None:
    made = _scored(screened, first, second)
    kept = shortlist(made, 10)
    assert len(kept) == 2
    assert dominated_by(made, kept, 1) == dominated
    assert dominated_by(made, kept, 0) is None
