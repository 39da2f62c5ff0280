"""Fills and stops: everything is shared out, nothing twice, and no fill is too small to measure."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.season.load_fills import Share, fill_size, mixed, shares

LITRES = st.floats(0.5, 500)


@given(st.lists(LITRES, min_size=1, max_size=15), st.floats(5, 300), st.floats(0.2, 5))
def test_the_stops_take_what_they_need_and_no_fill_gives_more_than_it_holds(
    takes: list[float], holds: float, mark: float
) -> None:
    litres = mixed(sum(takes), mark)
    fills = [holds] * int(litres // holds) + ([litres % holds] if litres % holds > 0 else [])
    found = shares(takes, fills)
    given_out: dict[int, float] = {}
    for take, mine in zip(takes, found, strict=True):
        assert sum(share.litres for share in mine) == pytest.approx(take)
        assert [share.fill for share in mine] == sorted({share.fill for share in mine})
        for share in mine:
            given_out[share.fill] = given_out.get(share.fill, 0.0) + share.litres
    for fill, total in given_out.items():
        assert total <= fills[fill - 1] * (1 + 1e-6) + 1e-6
    # Fills are emptied in turn.
    order = [share.fill for mine in found for share in mine]
    assert order == sorted(order)


def test_a_stop_over_two_fills_takes_the_rest_of_the_first() -> None:
    # By hand: 14 and 22 from fills of 30 and 6.
    assert shares([14, 22], [30, 6]) == [[Share(1, 14)], [Share(1, 16), Share(2, 6)]]


def test_a_stop_that_ends_with_a_fill_is_not_said_to_need_the_next() -> None:
    assert shares([10, 20, 5], [30, 5]) == [[Share(1, 10)], [Share(1, 20)], [Share(2, 5)]]


@given(LITRES, st.floats(0.2, 5))
def test_no_less_is_mixed_than_needed_and_less_than_a_mark_more(needed: float, mark: float) -> None:
    assert needed * (1 - 1e-6) <= mixed(needed, mark) < needed + mark * (1 + 1e-6)


@given(LITRES, st.floats(5, 300))
def test_fills_fit_the_tank_and_none_more_is_needed(litres: float, holds: float) -> None:
    size = fill_size(litres, holds, 0.25, 0.5)
    assert 0 < size <= holds
    # As many fills as full tanks would take.
    assert -(-litres * (1 - 1e-9) // size) == -(-litres * (1 - 1e-9) // holds)


@pytest.mark.parametrize(
    ("litres", "size"),
    [
        (30.0, 30.0),
        (31.0, 15.5),  # one litre in a tank of thirty can neither be measured nor stirred
        (37.4, 19.0),
        (37.5, 30.0),  # just a quarter of the tank
        (61.0, 20.5),
    ],
)
def test_a_small_last_fill_makes_the_fills_equal(litres: float, size: float) -> None:
    assert fill_size(litres, 30.0, 0.25, 0.5) == size
