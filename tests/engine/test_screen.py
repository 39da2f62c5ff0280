"""The arrays against a slow reckoning of one program at a time, written apart."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from app.engine.catalog import NO_DOSE
from app.engine.describe import sprays_of
from app.engine.screen import CHUNK, Programs, hardest_stage, join, program_control
from app.engine.screening import Screened, screen
from app.engine.situation import Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase
from tests.engine.reference import Reckoning

Make = Callable[..., Situation]
CASES: list[dict[str, Any]] = [
    {"targets": [{"weed": "wild-violet", "stage": "flowering"}]},
    {"targets": [{"weed": "dandelion", "stage": "vegetative"}, {"weed": "white-clover", "stage": "flowering"}]},
    {
        "targets": [{"weed": "smooth-crabgrass", "stage": "1-3-tiller"}],
        "turf": ["kentucky-bluegrass"],
        "date": "2027-06-25",
    },
    {"targets": [{"weed": "smooth-crabgrass", "stage": "not-emerged"}], "date": "2027-04-10"},
    {
        "targets": [{"weed": "yellow-nutsedge", "priority": 3}, {"weed": "ground-ivy", "resistant_to": ["triclopyr"]}],
        "forecast": {},
        "turf_condition": {"stand": "established"},
    },
    {
        "targets": [{"weed": "goosegrass", "stage": "not-emerged"}, {"weed": "dandelion"}],
        "turf": ["common-bermudagrass"],
        "zone": "warm-humid",
        "date": "2027-03-20",
        "surroundings": ["tree-roots"],
        "applied_this_year": [{"date": "2027-02-01", "active": "2-4-d", "rate": {"value": 0.5, "unit": "lb ae/acre"}}],
    },
]


@pytest.fixture(params=range(len(CASES)), scope="module")
def screened(request: pytest.FixtureRequest, base: KnowledgeBase) -> Screened:
    from tests.conftest import plain

    return screen(base, understand(Situation.model_validate(plain(**CASES[request.param])), base))


def _places(screened: Screened, count: int) -> list[int]:
    """Some programs of each kind: once, twice the same, and two different ones; long tanks and short."""
    random_ = random.Random(count)
    kinds: dict[tuple[bool, bool, int], list[int]] = {}
    programs = screened.programs
    length = (programs.first != NO_DOSE).sum(axis=1).tolist()
    for place, kind in enumerate(zip(programs.twice.tolist(), programs.repeated.tolist(), length, strict=True)):
        kinds.setdefault(kind, []).append(place)
    each = max(1, count // len(kinds))
    return [place for places in kinds.values() for place in random_.sample(places, min(each, len(places)))]


def test_bands_agree_with_a_slow_reckoning(screened: Screened) -> None:
    slow = Reckoning(screened)
    for place in _places(screened, 120):
        sprays = sprays_of(screened, place)
        for t, target in enumerate(screened.understood.targets):
            stage, (low, likely, high) = slow.band(sprays, target)
            assert screened.band.likely[place, t] == pytest.approx(likely, abs=1e-6)
            assert screened.band.low[place, t] == pytest.approx(low, abs=1e-3)
            assert screened.band.high[place, t] == pytest.approx(high, abs=1e-3)
            chosen = screened.tables.columns[int(screened.columns[place, t])]
            assert chosen.target.index == t
            assert slow.column_band(sprays, target, chosen.stage)[1] == pytest.approx(likely, abs=1e-6), stage


def test_parts_of_the_score_agree_with_a_slow_reckoning(screened: Screened) -> None:
    slow = Reckoning(screened)
    for place in _places(screened, 60):
        parts = slow.parts(sprays_of(screened, place))
        for name, value in parts.items():
            found = screened.scores.unweighted[name][place]
            assert found == pytest.approx(value, abs=1e-6), (name, sprays_of(screened, place))


def test_a_second_application_is_seen_in_its_views(screened: Screened) -> None:
    programs = screened.programs
    assert len(programs.take(programs.twice)) + len(programs.take(~programs.twice)) == len(programs)
    assert not (programs.repeated & ~programs.twice).any()
    for place in np.flatnonzero(programs.twice)[:40].tolist():
        first, second = sprays_of(screened, place)
        assert second.day == screened.interval_of(place) >= round(screened.timing.interval)
        assert (first.doses == second.doses) == bool(programs.repeated[place])


def test_chunks_of_rows_do_not_change_the_figures(screened: Screened, monkeypatch: pytest.MonkeyPatch) -> None:
    some = screened.programs.take(np.asarray(_places(screened, 60)))
    get = screened.base.parameter
    rest = (get("site-correlation"),)
    whole = program_control(screened.tables, some, *rest)
    assert len(some) < CHUNK
    monkeypatch.setattr("app.engine.screen.CHUNK", 7)
    parts = program_control(screened.tables, some, *rest)
    for name in ("low", "likely", "high"):
        np.testing.assert_allclose(getattr(parts, name), getattr(whole, name), rtol=1e-6, atol=1e-9)


def test_the_hardest_stage_is_the_least_controlled(screened: Screened) -> None:
    get = screened.base.parameter
    some = screened.programs.take(slice(0, 200))
    whole = program_control(screened.tables, some, get("site-correlation"))
    band, _ = hardest_stage(screened.tables, whole, len(screened.understood.targets))
    for t, target in enumerate(screened.understood.targets):
        own = [c for c, column in enumerate(screened.tables.columns) if column.target.index == t]
        assert len(own) == len(target.stages)
        np.testing.assert_array_equal(band.likely[:, t], whole.likely[:, own].min(axis=1))


def test_joining_keeps_every_row_in_order(screened: Screened) -> None:
    programs = screened.programs
    joined = join([programs.take(slice(0, 10)), programs.take(slice(10, 25))])
    for name in Programs.__dataclass_fields__:
        np.testing.assert_array_equal(getattr(joined, name), getattr(programs, name)[:25])


def test_no_program_is_there_twice(screened: Screened) -> None:
    programs = screened.programs
    rows = {
        (tuple(sorted(first)), tuple(sorted(second)), a, b)
        for first, second, a, b in zip(
            programs.first.tolist(),
            programs.second.tolist(),
            programs.first_adjuvant.tolist(),
            programs.second_adjuvant.tolist(),
            strict=True,
        )
    }
    assert len(rows) == len(programs) == screened.considered
    for row in (*programs.first.tolist(), *programs.second.tolist()):
        actives = [screened.catalog.doses[d].active.id for d in row if d != NO_DOSE]
        assert len(actives) == len(set(actives))


def test_the_best_stands_first_and_ties_are_settled(screened: Screened) -> None:
    totals = screened.scores.total[screened.order]
    assert sorted(screened.order.tolist()) == list(range(len(screened.programs)))
    assert (np.diff(totals) <= 1e-8).all()


def test_fewer_products_give_a_part_of_the_programs(base: KnowledgeBase, situation: Make) -> None:
    def sets(most: int) -> set[frozenset[str]]:
        told = situation(targets=CASES[1]["targets"], options={"max_products": most})
        made = screen(base, understand(told, base))
        return {made.actives_of(place) for place in range(len(made.programs))}

    assert sets(1) < sets(2) < sets(3)
