"""Reasons: each sentence holds against the figures that it speaks of."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest

from app.engine.describe import program_name, sprays_of
from app.engine.reasons import PART_WORDS, above_next, behind, would_change
from app.engine.recommend import recommend
from app.engine.scoring import PARTS
from app.engine.screening import Screened, screen
from app.engine.shortlist import shortlist
from app.engine.situation import Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase
from tests.conftest import plain

CASES = [
    {},
    {"targets": [{"weed": "dandelion"}, {"weed": "white-clover"}]},
    {"targets": [{"weed": "smooth-crabgrass", "stage": "not-emerged"}], "date": "2027-04-10"},
    {"priorities": {"control": 20, "turf_safety": 20, "resistance": 20, "cost": 20, "passes": 10, "off_target": 10}},
]


@pytest.fixture(params=range(len(CASES)), scope="module")
def screened(request: pytest.FixtureRequest, base: KnowledgeBase) -> Screened:
    return screen(base, understand(Situation.model_validate(plain(**CASES[request.param])), base))


def _pairs(screened: Screened) -> list[tuple[int, int]]:
    kept = [item.place for item in shortlist(screened, 10)]
    return list(itertools.pairwise(kept))


def _lead(screened: Screened, upper: int, lower: int, part: str, weight: float) -> float:
    """By how much the upper leads the lower when one part weighs so much and the rest keep their proportions."""
    weights = screened.scores.weights
    rest = 100 - weights[part]
    total = 0.0
    for name in PARTS:
        now = weight if name == part else weights[name] * (100 - weight) / rest
        values = screened.scores.unweighted[name]
        total += now * float(values[upper] - values[lower])
    return total


def test_the_weight_that_would_change_the_order_is_right(screened: Screened) -> None:
    parts = {words: part for part, words in PART_WORDS.items()}
    told = 0
    for upper, lower in _pairs(screened):
        statement = would_change(screened, upper, lower, "the next")
        assert statement is not None
        match = re.search(r"unless (.+) counts (more|less) than (\d+) of 100 \(now (\d+)\)", statement.text)
        if match is None:
            assert statement.text.startswith("No single priority")
            for part in PARTS:
                assert min(_lead(screened, upper, lower, part, w) for w in np.linspace(0, 100, 201)) >= -1e-6
            continue
        told += 1
        words, way, weight, now = match.groups()
        part, weight = parts[words], int(weight)
        assert screened.scores.weights[part] == pytest.approx(int(now), abs=0.51)
        assert (weight >= int(now)) == (way == "more") or weight == int(now)
        beyond = min(100, weight + 1) if way == "more" else max(0, weight - 1)
        before = max(0, weight - 1) if way == "more" else min(100, weight + 1)
        assert _lead(screened, upper, lower, part, beyond) <= 1e-6
        assert _lead(screened, upper, lower, part, before) >= -1e-6
    assert told


def test_no_other_priority_changes_the_order_sooner(screened: Screened) -> None:
    for upper, lower in _pairs(screened):
        statement = would_change(screened, upper, lower, "the next")
        assert statement is not None
        match = re.search(r"than (\d+) of 100 \(now (\d+)\)", statement.text)
        if match is None:
            continue
        least = abs(int(match.group(1)) - int(match.group(2)))
        for part in PARTS:
            now = screened.scores.weights[part]
            for weight in np.arange(max(0.0, now - least + 1.5), min(100.0, now + least - 1.5), 0.5):
                assert _lead(screened, upper, lower, part, float(weight)) >= -1e-6


def test_the_gaps_to_the_next_add_up(screened: Screened) -> None:
    for upper, lower in _pairs(screened):
        text = above_next(screened, upper, lower, "the next").text
        sizes = [float(size) for size in re.findall(r"[+-]\d+\.\d", text)]
        gap = float(screened.scores.total[upper] - screened.scores.total[lower])
        assert sum(sizes) == pytest.approx(gap, abs=0.05 * len(PARTS) + 0.05)


def test_what_it_is_behind_on_is_said(screened: Screened) -> None:
    kept = [item.place for item in shortlist(screened, 10)]
    for place in kept[1:]:
        text = " ".join(behind(screened, place, kept[0], "the first"))
        for part in PARTS:
            values = screened.scores.unweighted[part]
            gap = screened.scores.weights[part] * float(values[kept[0]] - values[place])
            assert (f"{gap:.1f} points behind the first on {PART_WORDS[part]}" in text) == (gap >= 0.05)


def test_the_lead_active_does_most_by_itself(base: KnowledgeBase) -> None:
    for case in CASES[:3]:
        for program in recommend(base, Situation.model_validate(plain(**case))).ranked:
            leads = [reason.text for reason in program.reasons if reason.code == "lead-active"]
            for control in program.control:
                best = max(part.likely or 0.0 for part in control.parts)
                names = {part.name for part in control.parts if part.likely == best}
                said = [text for text in leads if f"on {control.name}:" in text]
                assert control.likely is None or any(
                    text[:3].lower() in {n[:3].lower() for n in names} for text in said
                )


def test_reasons_are_sentences_with_their_sources(base: KnowledgeBase) -> None:
    for case in CASES:
        for program in recommend(base, Situation.model_validate(plain(**case))).ranked:
            for reason in program.reasons:
                assert reason.text[0] == reason.text[0].upper()
                assert reason.text.rstrip()[-1] in ".)"
                assert reason.sources or reason.code in ("above-next", "would-change")


def test_a_neighbour_is_named_as_it_is_listed(screened: Screened) -> None:
    ranked = recommend(screened.base, screened.understood.situation).ranked
    kept = shortlist(screened, len(ranked))
    assert [program.name for program in ranked] == [
        program_name(sprays_of(screened, item.place), screened.base) for item in kept
    ]
