"""The score: visible parts, weighted as asked, each between nothing and its full weight."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from app.engine.catalog import NO_DOSE
from app.engine.doses import Dose
from app.engine.scoring import PARTS, dose_injury, off_target_risk, weights_of
from app.engine.screening import Screened, screen
from app.engine.situation import Priorities, Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase
from tests.conftest import plain
from tests.engine.made import dose, with_active, with_form, with_tolerance

Make = Callable[..., Situation]


@pytest.fixture(scope="module")
def screened(base: KnowledgeBase) -> Screened:
    told = plain(targets=[{"weed": "dandelion"}, {"weed": "smooth-crabgrass", "stage": "not-emerged"}])
    return screen(base, understand(Situation.model_validate({**told, "date": "2027-04-10"}), base))


def test_the_total_is_the_sum_of_the_weighted_parts(screened: Screened) -> None:
    scores = screened.scores
    whole = sum(scores.weights[part] * scores.unweighted[part] for part in PARTS)
    np.testing.assert_allclose(scores.total, whole, rtol=1e-12)
    assert sum(scores.weights.values()) == pytest.approx(100)
    assert tuple(scores.unweighted) == PARTS


def test_each_part_lies_between_nothing_and_all(screened: Screened) -> None:
    for part in PARTS:
        values = screened.scores.unweighted[part]
        assert values.min() >= 0
        assert values.max() <= 1


def test_more_products_and_passes_are_never_cheaper(screened: Screened) -> None:
    programs, unweighted = screened.programs, screened.scores.unweighted
    sprayed = programs.products * (1 + programs.twice)
    order = np.argsort(sprayed, kind="stable")
    assert (np.diff(unweighted["cost"][order]) <= 1e-12).all()
    assert unweighted["passes"][programs.twice].max() <= unweighted["passes"][~programs.twice].min()


@pytest.mark.parametrize(
    ("told", "weights"),
    [
        ({}, (50, 20, 10, 10, 5, 5)),
        ({"control": 100}, (100 / 1.5, 20 / 1.5, 10 / 1.5, 10 / 1.5, 5 / 1.5, 5 / 1.5)),
        (
            {"control": 3, "turf_safety": 1, "resistance": 0, "cost": 0, "passes": 0, "off_target": 0},
            (75, 25, 0, 0, 0, 0),
        ),
    ],
)
def test_priorities_are_scaled_to_a_hundred(told: dict[str, float], weights: tuple[float, ...]) -> None:
    assert tuple(weights_of(Priorities(**told)).values()) == pytest.approx(weights)


def test_scaling_the_priorities_changes_nothing(base: KnowledgeBase, situation: Make) -> None:
    told = {"control": 5, "turf_safety": 2, "resistance": 1, "cost": 1, "passes": 0.5, "off_target": 0.5}
    one = screen(base, understand(situation(), base))
    other = screen(base, understand(situation(priorities=told), base))
    np.testing.assert_allclose(one.scores.total, other.scores.total, rtol=1e-12)


def _understood(base: KnowledgeBase, **changes: Any) -> Any:
    return understand(Situation.model_validate(plain(**changes)), base)


@pytest.mark.parametrize(
    ("record", "parameter"),
    [
        ({"class": "T"}, "injury-tolerant"),
        ({"class": "I", "condition": "with care"}, "injury-intermediate"),
        ({"class": "S"}, "injury-sensitive"),
        ({"class": "unknown"}, "injury-unknown"),
        (None, "injury-unknown"),
    ],
)
def test_injury_is_that_of_the_class(base: KnowledgeBase, record: dict[str, Any] | None, parameter: str) -> None:
    made = with_tolerance(with_active(base), *([record] if record else []))
    table = dose_injury(made, _understood(made), [dose(made)])
    assert table.tolist() == [[made.parameter(parameter)], [0.0]]


def test_an_injury_recorded_for_the_pair_is_used(base: KnowledgeBase) -> None:
    made = with_tolerance(with_active(base), {"injury": [1, 7, 20]})
    assert dose_injury(made, _understood(made), [dose(made)])[0, 0] == 7


def _risk(base: KnowledgeBase, of: Dose, **changes: Any) -> float:
    return float(off_target_risk(base, _understood(base, **changes), [of])[0])


@pytest.mark.parametrize(("air", "full"), [(80, True), (79.9, False)])
def test_vapour_counts_in_full_from_warm_air(base: KnowledgeBase, air: float, full: bool) -> None:
    made = with_form(base, volatility="high")
    bare = dose(made).active.model_copy(update={"soil": None})
    share = 1.0 if full else made.parameter("cool-vapour-share")
    risk = _risk(made, Dose(bare, bare.forms[0], dose(made).rate, None, "alone", None), forecast={"max_temp_f": air})
    assert risk == pytest.approx(share * made.parameter("risk-high"))


def test_air_that_is_not_told_is_cool_in_the_cool_seasons_alone(base: KnowledgeBase) -> None:
    made = with_form(base, volatility="high")
    spring = _risk(made, dose(made), forecast={}, date="2027-04-05")
    summer = _risk(made, dose(made), forecast={}, date="2027-07-05")
    assert spring < summer


def test_roots_that_are_told_weigh_more_than_unseen_ones(base: KnowledgeBase) -> None:
    dicamba = next(d for d in [dose(base, key="dicamba")] if d.active.soil is not None)
    assert _risk(base, dicamba) < _risk(base, dicamba, surroundings=["tree-roots"])


def test_two_mechanisms_are_worth_more_than_one(base: KnowledgeBase, situation: Make) -> None:
    told = situation(targets=[{"weed": "dandelion", "stage": "vegetative"}])
    made = screen(base, understand(told, base))
    credit: dict[int, set[float]] = {}
    enough = base.parameter("effective-control")
    for place in range(len(made.programs)):
        row = made.programs.first[place]
        strong = {
            made.catalog.doses[d].active.mechanism.group
            for d in row
            if d != NO_DOSE and 100 / (1 + np.exp(-made.tables.mean["single"][0, d, :].min())) >= enough
        }
        if not made.programs.twice[place] and made.programs.first_adjuvant[place] == 0:
            credit.setdefault(len(strong), set()).add(round(float(made.scores.unweighted["resistance"][place]), 6))
    assert credit[1] == {base.parameter("single-mechanism-credit")}
    assert credit[2] == {1.0}


def test_a_mechanism_used_earlier_this_year_counts_for_less(base: KnowledgeBase, situation: Make) -> None:
    past = [{"date": "2027-03-01", "active": "mcpa", "rate": {"value": 0.1, "unit": "lb ae/acre"}}]
    fresh, used = (
        screen(base, understand(situation(applied_this_year=told), base), only=frozenset({"triclopyr"}))
        for told in ([], past)
    )
    factor = base.parameter("repeated-mechanism-credit")
    np.testing.assert_allclose(
        used.scores.unweighted["resistance"], factor * fresh.scores.unweighted["resistance"], rtol=1e-12
    )
