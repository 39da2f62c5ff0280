"""The order in which a page shows what the services answer."""

from __future__ import annotations

import pytest

from app.engine.output import Control
from app.services.advice import recommend
from app.web import arrange
from knowledge.base import KnowledgeBase
from tests.conftest import plain


def _control(low: float, likely: float, high: float) -> Control:
    return Control(
        **{"weed": "dandelion", "name": "dandelion", "stage": "flowering", "days_after": 42, "basis": "memory"},
        **{"low": low, "likely": likely, "high": high, "parts": (), "sources": (), "text": ""},
    )


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [(10, 39, "lies below"), (10, 40, "overlaps, 40 to 40"), (60, 95, "overlaps, 60 to 80"), (81, 95, "lies above")],
)
def test_overlap_of_bands_is_said(low: float, high: float, words: str) -> None:
    assert arrange.overlap_words(_control(40, 60, 80), _control(low, (low + high) / 2, high)) == words


def test_equal_applications_stand_together() -> None:
    for program in recommend(plain()).ranked:
        tanks = arrange.tanks_of(program)
        assert sum(len(tank.days) for tank in tanks) == len(program.applications)


def test_parts_of_the_score_are_held_against_their_most() -> None:
    found = recommend(plain(priorities={"control": 30, "cost": 10}))
    rows = arrange.score_rows(found.ranked[0], found.situation.priorities)
    assert sum(most for _, _, most in rows) == pytest.approx(100)
    assert all(points <= most + 0.01 for _, points, most in rows)


def test_every_record_of_a_weed_stands_under_a_stage(base: KnowledgeBase) -> None:
    for weed in base.weeds.values():
        shown = {id(record) for _, records in arrange.responses_by_stage(weed) for record in records}
        assert {id(record) for record in weed.responses} == shown, weed.id


def test_every_entry_is_listed_once(base: KnowledgeBase) -> None:
    for kind in ("weeds", "actives", "turf", "sources"):
        listed = [key for rows in arrange.listing(kind, base).values() for key, _, _ in rows]
        assert sorted(listed) == sorted(getattr(base, kind))
