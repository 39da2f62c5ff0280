"""Runs of days: the total, the start and what is missing."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from app.season.degree_days import METHODS, average, degree_days, modified_average, single_sine
from app.season.forecast import Day

FIRST = date(2027, 3, 1)
TEMPERATURES = st.floats(-20, 120)


def days(*extremes: tuple[float, float] | None) -> list[Day]:
    """Days in a row; None leaves one out."""
    return [
        Day(date=FIRST + timedelta(days=n), min_f=told[0], max_f=told[1])
        for n, told in enumerate(extremes)
        if told is not None
    ]


def test_the_total_runs() -> None:
    found = degree_days(days((50, 80), (60, 90), (30, 50)), 50, method="average")
    assert [(day.degree_days, day.total) for day in found.days] == [(15, 15), (25, 40), (0, 40)]
    assert found.total == 40
    assert found.text == "2027-03-01 to 2027-03-03: 40 degree-days F (22 degree-days C) above 50 F."


def test_missing_days_are_named_and_bring_nothing() -> None:
    found = degree_days(days((50, 80), None, (60, 90)), 50)
    assert found.missing == (date(2027, 3, 2),)
    assert [day.degree_days for day in found.days] == [15, None, 25]
    assert "at least 40" in found.text
    assert "2027-03-02" in found.notices[0]


def test_days_are_counted_from_a_date_on() -> None:
    told = days((50, 80), (60, 90))
    assert degree_days(told, 50, start=date(2027, 3, 2)).total == 25
    before = degree_days(told, 50, start=date(2027, 2, 27))
    assert before.missing == (date(2027, 2, 27), date(2027, 2, 28))
    assert degree_days(told, 50, start=date(2027, 4, 1)).days == ()


def test_the_simple_average_says_that_it_knows_no_cut_off() -> None:
    assert degree_days(days((45, 95)), 50, 88, "average").notices
    assert not degree_days(days((45, 95)), 50, 88, "modified").notices


@given(TEMPERATURES, TEMPERATURES, TEMPERATURES, st.floats(0, 60))
def test_bounds_of_every_method(one: float, other: float, base: float, span: float) -> None:
    low, high, upper = min(one, other), max(one, other), base + span
    for found in (average(low, high, base), modified_average(low, high, base), single_sine(low, high, base)):
        assert -1e-9 <= found <= max(high - base, 0) + 1e-9
    for cut in (modified_average(low, high, base, upper), single_sine(low, high, base, upper)):
        assert -1e-9 <= cut <= span + 1e-9
    # The sine lies between the two averages: it sees the warm hours of a cool day, and not more than its mean.
    assert average(low, high, base) - 1e-9 <= single_sine(low, high, base) <= modified_average(low, high, base) + 1e-9


def test_every_method_is_reached() -> None:
    totals = {
        method: degree_days(days((40, 70)), 50, method=method).total for method in ("average", "modified", "sine")
    }
    assert set(totals) == set(METHODS)
    assert len(set(totals.values())) == 3
