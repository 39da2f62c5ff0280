"""The load of a season: sums made in another way, and both sides of the week."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.season.pricing import Pricing
from app.season.year_load import Stop, year_load

PRICING = Pricing(labour_per_hour=40, minutes_per_visit=12, minutes_per_1000_ft2=1.5, travel_minutes=10, margin_pct=30)


def _stop(day: date, who: str = "", treated: float | None = 1000, before: int = 0, after: int = 0) -> Stop:
    return Stop(day, who, treated, day - timedelta(days=before), day + timedelta(days=after))


_STOPS = st.lists(
    st.builds(
        _stop,
        st.dates(date(2027, 3, 1), date(2027, 11, 30)),
        st.sampled_from(("Ada Holm", "Ben Rusk", "")),
        st.one_of(st.none(), st.floats(500, 90_000)),
        st.integers(0, 20),
        st.integers(0, 20),
    ),
    max_size=40,
)


@given(_STOPS)
def test_weeks_and_technicians_add_up_to_the_season(stops: list[Stop]) -> None:
    found = year_load(stops, PRICING, 8.0)
    for rows in (found.weeks, found.technicians):
        assert sum(row.visits for row in rows) == len(stops)
        assert sum(row.treated_ft2 for row in rows) == pytest.approx(sum(s.treated_ft2 or 0 for s in stops), abs=20)
        # 12 + 10 minutes for each visit, and 1.5 for every 1000 ft2 (computed here).
        minutes = 22 * len(stops) + 1.5 * sum(s.treated_ft2 or 0 for s in stops) / 1000
        assert sum(row.minutes or 0 for row in rows) == pytest.approx(minutes, abs=3)
        assert sum(row.spread_visits for row in rows) == len(stops)
        assert sum(row.spread_minutes or 0 for row in rows) == pytest.approx(minutes, abs=3)
        assert sum(row.unmeasured for row in rows) == sum(s.treated_ft2 is None for s in stops)
    for row in found.weeks:
        days = {row.week + timedelta(days=n) for n in range(7)}
        assert row.week.weekday() == 0
        assert row.visits == sum(stop.day in days for stop in stops)


def test_a_sunday_belongs_to_the_week_before_the_monday_after() -> None:
    found = year_load([_stop(date(2027, 4, 11)), _stop(date(2027, 4, 12))], None, None)
    assert [row.week for row in found.weeks] == [date(2027, 4, 5), date(2027, 4, 12)]


def test_minutes_are_held_against_the_hours_of_work_of_those_who_are_named() -> None:
    stops = [_stop(date(2027, 4, 12), who, 20_000) for who in ("Ada Holm", "Ada Holm", "Ben Rusk")]
    found = year_load(stops, PRICING, 8.0)
    # 52 minutes a visit; a week of one technician holds 40 hours (computed by hand).
    assert [(row.technician, row.minutes, row.hours_of_work) for row in found.technicians] == [
        ("Ada Holm", 104.0, 40.0),
        ("Ben Rusk", 52.0, 40.0),
    ]
    (week,) = found.weeks
    assert (week.minutes, week.hours_of_work, week.busy) == (156.0, 80.0, round(156 / 4800, 4))


def test_what_is_not_told_stays_unknown_and_is_said() -> None:
    found = year_load([_stop(date(2027, 4, 12), "", None)], None, None)
    (week,) = found.weeks
    assert (week.minutes, week.hours_of_work, week.busy, week.unmeasured) == (None, None, None, 1)
    assert any("has not said" in note for note in found.notes)
    assert any("size of an area is not told" in note for note in found.notes)


@given(_STOPS)
def test_spread_no_visit_leaves_its_window_and_what_cannot_move_stays(stops: list[Stop]) -> None:
    found = year_load(stops, None, None)
    for who in {stop.technician for stop in stops}:
        rows = {row.week: row for row in found.technicians if row.technician == who}
        mine = [stop for stop in stops if stop.technician == who]
        for week, row in rows.items():
            sunday = week + timedelta(days=6)
            could = sum(stop.first <= sunday and stop.last >= week for stop in mine)
            must = sum(week <= stop.first and stop.last <= sunday for stop in mine)
            assert must <= row.spread_visits <= could
        # Every run of weeks holds at least what lies wholly in it, and at most what reaches into it (Hall's condition).
        for first in rows:
            for last in (week for week in rows if week >= first):
                end = last + timedelta(days=6)
                held = sum(rows[week].spread_visits for week in rows if first <= week <= last)
                assert held >= sum(first <= stop.first and stop.last <= end for stop in mine)
                assert held <= sum(stop.first <= end and stop.last >= first for stop in mine)


def test_a_full_week_is_spread_over_the_window() -> None:
    stops = [_stop(date(2027, 4, 14), "Ada Holm", 20_000, 14, 14) for _ in range(50)]
    found = year_load(stops, PRICING, 8.0)
    assert [row.spread_visits for row in found.weeks] == [10] * 5
    assert [row.visits for row in found.weeks] == [0, 0, 50, 0, 0]
    # 52 minutes a visit in a week of 40 hours (computed by hand).
    assert [row.busy for row in found.weeks] == [0, 0, round(50 * 52 / 2400, 4), 0, 0]
    assert {row.spread_busy for row in found.weeks} == {round(10 * 52 / 2400, 4)}
