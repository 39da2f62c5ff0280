"""Real years solved again by another solver: the same optimum within what both leave open."""

from __future__ import annotations

from typing import Any

import pytest

from app.season.year_candidates import YearMemo
from app.season.year_rows import in_a_row_rows
from app.season.year_solving import Solved, broken, solved
from tests.engine.strategies import BASE
from tests.season.test_year_promises import asked_for
from tests.season.year_problem_by_cbc import solved_by_cbc, value_of

GAP = 0.05
LONG = 120.0
WARM: dict[str, Any] = {
    "zone": "warm-humid",
    "areas": [{"id": "front", "turf": ["hybrid-bermudagrass"], "turf_condition": {"stand": "established"}}],
    "weeds": [{"weed": "large-crabgrass"}, {"weed": "annual-bluegrass", "pressure": "high"}, {"weed": "henbit"}],
    "visits": {"dates": ["2027-02-20", "2027-05-20", "2027-09-10", "2027-12-10"]},
}


def faultless(held: Solved, chosen: tuple[int, ...]) -> bool:
    """Whether a choice passes what is only looked at once a choice is found."""
    return not in_a_row_rows(held.rows, chosen) and not broken(BASE, held.builder, held.dates, chosen)


@pytest.mark.parametrize("told", [{}, WARM], ids=["cool", "warm"])
def test_another_solver_finds_the_same_year(told: dict[str, Any]) -> None:
    # Computed with CBC, tangents added until its bound and its best choice meet.
    held = solved(BASE, asked_for(**told), None, YearMemo())
    solution = held.solution
    assert solution.chosen is not None
    assert solution.proven
    assert value_of(held.problem, solution.chosen) == pytest.approx(solution.value, abs=1e-9)
    reached, bound, chosen = solved_by_cbc(held.problem, GAP, LONG)
    open_ = (solution.bound - solution.value) + (bound - reached)
    # Without those rules it may reach more, never less.
    assert bound >= solution.value - 1e-6
    if faultless(held, chosen):
        assert abs(reached - solution.value) <= open_ + 1e-6
