"""The ranking with and without the house's trials; the demo's trials stand for the house's."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from app.engine.house import Observed, house_sources
from app.engine.output import Recommendation, as_json
from app.services import advice, house, trials
from app.store.opening import Store, open_in_memory
from tests.conftest import plain

HARD_STAGE = {
    "date": "2027-07-05",
    "turf": ["kentucky-bluegrass"],
    "targets": [{"weed": "smooth-crabgrass", "stage": "1-3-tiller"}],
}


@pytest.fixture(scope="module")
def demo() -> Iterator[Store]:
    """A store with the invented trials of the demo."""
    store = open_in_memory()
    assert trials.fill_demo(store) == 6
    yield store
    store.close()


@pytest.fixture(scope="module")
def seen(demo: Store) -> tuple[Observed, ...]:
    """What they saw."""
    return house.evidence_of(demo)


def _ranked(observed: tuple[Observed, ...] | None, **changes: Any) -> Recommendation:
    asked = plain(**{**HARD_STAGE, **changes})
    return advice.recommend(asked, house=(lambda _: observed) if observed is not None else None)


def test_a_trial_moves_the_ranking_and_says_what_changed(seen: tuple[Observed, ...]) -> None:
    with_them, without = _ranked(seen), _ranked(None)
    told = with_them.house_evidence
    assert told is not None
    assert told.used
    assert without.house_evidence is None
    assert with_them.ranked[0].id != without.ranked[0].id
    assert "leads; without the house's trials" in told.changed[0]
    assert without.ranked[0].name in told.changed[0]
    quinclorac = next(r for r in told.records if r.adjuvant == "mso")
    assert quinclorac.prior is not None
    assert quinclorac.posterior.likely > quinclorac.prior.likely + 10
    assert quinclorac.prior_weight_pct + sum(t.weight_pct for t in quinclorac.trials) == pytest.approx(100)
    assert quinclorac.text.endswith("with 1 trial of the house.")


def test_the_answer_cites_the_trial(seen: tuple[Observed, ...]) -> None:
    answer = _ranked(seen)
    key = next(item.source for item in seen if item.weed == "smooth-crabgrass")
    assert answer.sources[key].kind == answer.sources[key].basis == "house"
    assert any(key in part.sources for program in answer.ranked for c in program.control for part in c.parts)


def test_left_out_the_ranking_is_the_one_of_the_facts(seen: tuple[Observed, ...]) -> None:
    left_out = _ranked(seen, options={"house_evidence": False})
    assert left_out.house_evidence is not None
    assert not left_out.house_evidence.used
    assert "left out" in left_out.house_evidence.text
    plain_answer = _ranked(None)
    assert [p.model_dump() for p in left_out.ranked] == [p.model_dump() for p in plain_answer.ranked]


def test_removing_a_trial_gives_back_the_former_answer_to_the_byte(demo: Store) -> None:
    before = as_json(_ranked(()))
    store = open_in_memory()
    try:
        assert as_json(_ranked(house.evidence_of(store))) == before
        trials.fill_demo(store)
        moved = as_json(_ranked(house.evidence_of(store)))
        assert moved != before
        for item in trials.listing(store):
            if "smooth crabgrass" in item.weeds:
                trials.remove(store, item.slug, item.version)
        assert as_json(_ranked(house.evidence_of(store))) == before
    finally:
        store.close()


def test_trials_of_other_weeds_are_not_spoken_of(seen: tuple[Observed, ...]) -> None:
    henbit = _ranked(seen, targets=[{"weed": "henbit", "stage": "flowering"}], date="2027-04-10")
    assert henbit.house_evidence is None


def test_a_trial_at_another_stage_is_told_and_changes_nothing(seen: tuple[Observed, ...]) -> None:
    heading = {"targets": [{"weed": "smooth-crabgrass", "stage": "heading"}], "date": "2027-08-20"}
    answer, without = _ranked(seen, **heading), _ranked(None, **heading)
    assert answer.house_evidence is not None
    assert "none speaks of this stage" in answer.house_evidence.text
    assert [p.model_dump() for p in answer.ranked] == [p.model_dump() for p in without.ranked]


def test_why_not_and_expect_count_them_too(seen: tuple[Observed, ...]) -> None:
    asked = {"situation": plain(**HARD_STAGE), "actives": ["quinclorac"]}
    with_them, without = advice.why_not(asked, house=lambda _: seen), advice.why_not(asked)
    assert with_them.best is not None
    assert without.best is not None
    assert (with_them.best.control[0].likely or 0) > (without.best.control[0].likely or 0) + 5
    program = {
        "applications": [
            {
                "actives": [{"active": "quinclorac", "rate": {"value": 0.75, "unit": "lb ai/acre"}}],
                "adjuvant": {"id": "mso", "rate": {"value": 1.0, "unit": "% v/v"}},
            }
        ]
    }
    question = {"situation": plain(**HARD_STAGE), "program": program, "days_after": 28}
    more, less = advice.expect(question, house=lambda _: seen), advice.expect(question)
    assert (more.control[0].likely or 0) > (less.control[0].likely or 0) + 10
    assert more.control[0].basis == "house"


def test_a_stop_is_not_moved_by_a_trial(seen: tuple[Observed, ...]) -> None:
    splendid = [item.model_copy(update={"log_odds": 6.0, "variance": 0.001}) for item in seen]
    bermuda = {"turf": ["st-augustinegrass"], "zone": "warm-humid"}
    answer, without = _ranked(tuple(splendid), **bermuda), _ranked(None, **bermuda)
    barred = {item.actives for item in without.turned_down}
    assert ("quinclorac",) in barred
    assert barred <= {item.actives for item in answer.turned_down}
    assert not any("quinclorac" in program.actives for program in answer.ranked)


def test_records_are_shown_by_weed_and_by_active(seen: tuple[Observed, ...]) -> None:
    by_weed, _ = house.moved_records(seen, weed="smooth-crabgrass")
    assert {record.active for record in by_weed} == {"quinclorac"}
    by_active, _ = house.moved_records(seen, active="triclopyr")
    assert {record.weed for record in by_active} >= {"wild-violet", "ground-ivy"}
    assert house.moved_records(seen, weed="henbit") == ((), ())
    assert set(house_sources(seen)) == {item.source for item in seen}
