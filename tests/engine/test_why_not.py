"""Why not this one: the same stops as in the ranking, or its place and what it gives up."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from app.engine.errors import InputError
from app.engine.output import WhyNot, as_json
from app.engine.recommend import recommend
from app.engine.situation import Situation, WhyNotRequest
from app.engine.why_not import why_not
from knowledge.base import KnowledgeBase
from tests.conftest import plain

Make = Callable[..., Situation]
CASES: list[dict[str, Any]] = [
    {},
    {"targets": [{"weed": "dandelion"}, {"weed": "white-clover"}]},
    {"targets": [{"weed": "smooth-crabgrass", "stage": "not-emerged"}], "date": "2027-04-10"},
    {"targets": [{"weed": "smooth-crabgrass", "tillers": 2}], "date": "2027-06-25", "turf": ["kentucky-bluegrass"]},
]


def _ask(base: KnowledgeBase, *actives: str, **changes: Any) -> WhyNot:
    return why_not(base, WhyNotRequest.model_validate({"situation": plain(**changes), "actives": list(actives)}))


@pytest.mark.parametrize("case", CASES)
def test_what_is_ranked_is_allowed_at_its_rank(base: KnowledgeBase, case: dict[str, Any]) -> None:
    ranked = recommend(base, Situation.model_validate(plain(**case))).ranked
    assert ranked
    for program in ranked:
        if len(program.actives) > 4:
            continue
        answer = _ask(base, *program.actives, **case)
        assert answer.allowed
        assert answer.stops == ()
        assert answer.best is not None
        assert answer.best.id == program.id
        assert answer.rank == answer.best.rank == program.rank
        assert bool(answer.behind) == (program.rank > 1)


@pytest.mark.parametrize("case", CASES)
def test_what_is_turned_down_has_the_same_stops(base: KnowledgeBase, case: dict[str, Any]) -> None:
    down = recommend(base, Situation.model_validate(plain(**case))).turned_down
    assert down
    for item in down:
        answer = _ask(base, *item.actives, **case)
        assert not answer.allowed
        assert answer.stops == item.stops
        assert (answer.best, answer.rank, answer.behind) == (None, None, ())


def test_an_active_that_controls_nothing_is_no_activity(base: KnowledgeBase) -> None:
    answer = _ask(base, "fenoxaprop-p", targets=[{"weed": "dandelion", "stage": "vegetative"}])
    assert not answer.allowed
    assert "no-activity" in {stop.code for stop in answer.stops}
    assert "dandelion" in " ".join(stop.text for stop in answer.stops)


def test_one_target_that_it_controls_is_enough(base: KnowledgeBase) -> None:
    targets = [{"weed": "dandelion", "stage": "vegetative"}, {"weed": "smooth-crabgrass", "stage": "1-3-leaf"}]
    answer = _ask(base, "fenoxaprop-p", targets=targets, date="2027-06-10")
    assert "no-activity" not in {stop.code for stop in answer.stops}
    assert answer.allowed


def test_a_resisted_active_is_no_activity_with_that_reason(base: KnowledgeBase) -> None:
    answer = _ask(base, "triclopyr", targets=[{"weed": "wild-violet", "stage": "flowering", "resistant_to": ["4"]}])
    (stop,) = [stop for stop in answer.stops if stop.code == "no-activity"]
    assert "resist" in stop.text


def test_an_inactive_partner_does_not_bar_the_mixture(base: KnowledgeBase) -> None:
    answer = _ask(base, "triclopyr", "carfentrazone-ethyl")
    assert answer.allowed
    assert answer.best is not None
    assert set(answer.best.actives) == {"triclopyr", "carfentrazone-ethyl"}


def test_a_pair_that_does_not_go_together_says_so(base: KnowledgeBase) -> None:
    told = {
        "turf": ["common-bermudagrass"],
        "zone": "warm-humid",
        "date": "2027-01-20",
        "turf_condition": {"stand": "established", "green_up": "dormant", "stress": "none"},
        "targets": [{"weed": "annual-bluegrass"}],
    }
    answer = _ask(base, "glyphosate", "diquat", **told)
    assert not answer.allowed
    assert "incompatible-mix" in {stop.code for stop in answer.stops}


def test_a_local_ban_is_the_stop(base: KnowledgeBase) -> None:
    ban = [{"kind": "ban-active", "active": "triclopyr", "note": "county ordinance"}]
    answer = _ask(base, "triclopyr", local_rules=ban)
    assert [stop.code for stop in answer.stops] == ["local-rule"]
    assert "county ordinance" in answer.stops[0].text
    mixture = _ask(base, "triclopyr", "2-4-d", local_rules=ban)
    assert "local-rule" in {stop.code for stop in mixture.stops}


def test_rank_counts_the_different_programs_above(base: KnowledgeBase, situation: Make) -> None:
    ranked = recommend(base, situation(options={"top": 10})).ranked
    answer = _ask(base, ranked[3].actives[0], *ranked[3].actives[1:])
    assert answer.rank == 4
    assert any(ranked[0].name in sentence for sentence in answer.behind)


@pytest.mark.parametrize(
    ("actives", "path", "said"),
    [
        (["triclopir"], "actives.0", "triclopyr"),
        (["triclopyr", "triclopyr"], "actives.1", "twice"),
        (["triclopyr", "x"], "actives.1", "nearest"),
    ],
)
def test_a_fault_names_its_place(base: KnowledgeBase, actives: list[str], path: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        _ask(base, *actives)
    assert [fault.path for fault in caught.value.faults] == [path]
    assert said in caught.value.faults[0].message


@pytest.mark.parametrize("actives", [["triclopyr"], ["metsulfuron-methyl"], ["prodiamine"]])
def test_the_shape_is_the_agreed_one(base: KnowledgeBase, actives: list[str]) -> None:
    data = as_json(_ask(base, *actives))
    assert {"situation", "actives", "allowed", "stops", "cautions", "best", "rank", "behind"} <= set(data)
    assert data["actives"] == actives
    assert data["allowed"] == (data["best"] is not None) == (data["stops"] == [])
    used = {source for key in ("stops", "cautions") for item in data[key] for source in item["sources"]}
    assert used <= set(data["sources"])


def test_an_active_that_comes_in_mixtures_alone_is_no_candidate_by_itself(base: KnowledgeBase) -> None:
    """The ranking never proposes it alone, so it is not allowed alone, and the reason says so."""
    case = {"targets": [{"weed": "dandelion", "stage": "vegetative"}]}
    keys = [key for key, active in base.actives.items() if active.mixture_only is not None]
    assert keys
    ranked = recommend(base, Situation.model_validate(plain(**case, options={"top": 50}))).ranked
    for key in keys:
        assert (key,) not in {program.actives for program in ranked}
        answer = _ask(base, key, **case)
        assert not answer.allowed
        assert any("mixture" in stop.text for stop in answer.stops)
