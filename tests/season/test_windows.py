"""Spray windows: both sides of every limit, spans in words, gaps, changed clocks, and the sun near the pole."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from app.engine.errors import InputError
from app.season.forecast import Day
from app.season.limits import AirLimit, DryLimit, Limits
from app.season.windows import window_day, windows
from app.season.windows_output import WindowDay, WindowHour
from knowledge.base import KnowledgeBase
from tests.season.weather import DAY, fair

NOON = 12


def day_of(base: KnowledgeBase, limits: Limits | None = None, **changes: Any) -> WindowDay:
    """The first day of fair weather with the same changes in every hour."""
    return windows(base, fair(2, lambda *_: changes), limits).days[0]


def at_hour(day: WindowDay, hour: int) -> WindowHour:
    return next(item for item in day.hours if item.start.hour == hour)


def codes(hour: WindowHour) -> set[tuple[str, str]]:
    return {(reason.code, reason.severity) for reason in hour.reasons}


def test_fair_hours_of_the_day_are_open(base: KnowledgeBase) -> None:
    day = day_of(base)
    assert [hour.start.hour for hour in day.hours if hour.state == "open"] == list(range(6, 20))
    assert day.words == "open 6 am to 8 pm"
    assert (day.first, day.last) == (at_hour(day, 6).start, at_hour(day, 20).start)
    assert (day.open_hours, day.unknown_hours) == (14, 0)
    assert day.mostly.startswith("10 hours for this reason: It is dark")
    assert [(span.words, span.state) for span in day.shut] == [
        ("midnight to 6 am", "closed"),
        ("8 pm to midnight", "closed"),
    ]


# Field, value that is well, value beyond its limit, code, severity at noon in fair weather.
# Wind: rule `wind` of the facts. Delta T at 72 F is 1.9 C at 84 %, 3.8 at 70, 9.4 at 32 and 10.1 at 28 (computed with
# psychrolib).
LIMITS = [
    ("wind_mph", 15, 15.1, "wind", "stop"),
    ("wind_mph", 10, 10.1, "wind", "caution"),
    ("wind_mph", 3, 2.9, "calm", "caution"),
    ("gust_mph", 20, 20.1, "gusts", "stop"),
    ("gust_mph", 15, 15.1, "gusts", "caution"),
    ("rh_pct", 32, 28, "delta-t", "stop"),
    ("rh_pct", 70, 32, "delta-t", "caution"),
    ("rh_pct", 70, 84, "delta-t-low", "caution"),
    ("rain_in", 0.009, 0.01, "rain", "stop"),
    ("rain_chance_pct", 39, 40, "rain", "stop"),
    ("temp_f", 40, 39.9, "air-cold", "stop"),
    ("temp_f", 50, 49.9, "air-cool", "caution"),
]


@pytest.mark.parametrize(("field", "well", "beyond", "code", "severity"), LIMITS)
def test_both_sides_of_a_limit(
    base: KnowledgeBase, field: str, well: float, beyond: float, code: str, severity: str
) -> None:
    inside, outside = (at_hour(day_of(base, **{field: value}), NOON) for value in (well, beyond))
    assert (code, severity) not in codes(inside)
    assert (code, severity) in codes(outside)
    assert outside.state == ("closed" if severity == "stop" else "open")
    reason = next(item for item in outside.reasons if item.code == code)
    assert reason.value is not None
    assert reason.limit is not None
    assert reason.unit
    assert set(reason.sources) <= set(base.sources)
    assert reason.sources


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"wind_mph": None}, "forecast.hours.wind_mph"),
        ({"rh_pct": None}, "forecast.hours.rh_pct"),
        ({"rain_in": None, "rain_chance_pct": None}, "forecast.hours.rain_chance_pct"),
    ],
)
def test_what_is_not_told_never_opens(base: KnowledgeBase, changes: dict[str, Any], field: str) -> None:
    day = day_of(base, **changes)
    assert {hour.state for hour in day.hours} == {"closed", "unknown"}
    assert field in {reason.settled_by for reason in at_hour(day, NOON).reasons}
    assert day.words == "no hour is known to be open"


def test_rain_by_amount_or_chance_alone_is_told(base: KnowledgeBase) -> None:
    for changes in ({"rain_in": None}, {"rain_chance_pct": None}):
        assert at_hour(day_of(base, **changes), NOON).state == "open"


def test_gusts_that_are_not_told_are_said(base: KnowledgeBase) -> None:
    day = day_of(base, gust_mph=None)
    assert at_hour(day, NOON).state == "open"
    assert any("Gusts" in notice for notice in day.notices)


def test_still_clear_air_is_an_inversion_early_and_late(base: KnowledgeBase) -> None:
    # On July 14 near New York the sun rises at 5:37 and sets at 8:26 pm (ephem): two hours from there.
    day = day_of(base, wind_mph=2, cloud_pct=10)
    found = [hour.start.hour for hour in day.hours if ("inversion", "stop") in codes(hour)]
    assert found == [*range(0, 8), *range(18, 24)]
    assert at_hour(day, 8).state == at_hour(day, 17).state == "open"
    assert day.words == "open 8 am to 6 pm"


def test_clouds_keep_an_inversion_away_and_unknown_ones_do_not(base: KnowledgeBase) -> None:
    assert ("calm", "caution") in codes(at_hour(day_of(base, wind_mph=2, cloud_pct=50), 7))
    assert ("inversion", "stop") in codes(at_hour(day_of(base, wind_mph=2, cloud_pct=49), 7))
    unknown = at_hour(day_of(base, wind_mph=2, cloud_pct=None), 7)
    assert unknown.state == "unknown"
    assert "forecast.hours.cloud_pct" in {reason.settled_by for reason in unknown.reasons}


def test_a_ceiling_closes_warmer_hours_and_a_caution_leaves_them_open(base: KnowledgeBase) -> None:
    stop = Limits(air=(AirLimit(max_f=85, why="the label stops at 85 F"),))
    assert at_hour(day_of(base, stop, temp_f=85), NOON).state == "open"
    warm = at_hour(day_of(base, stop, temp_f=85.1), NOON)
    assert warm.state == "closed"
    assert "85.1 F is above 85 F: the label stops at 85 F." in {reason.text for reason in warm.reasons}
    careful = Limits(air=(AirLimit(max_f=85, weight="caution"),))
    assert at_hour(day_of(base, careful, temp_f=86), NOON).state == "open"
    unsure = Limits(air=(AirLimit(max_f=85, weight="unknown", settled_by="tank.actives.form"),))
    assert at_hour(day_of(base, unsure, temp_f=86), NOON).state == "unknown"
    floor = Limits(air=(AirLimit(min_f=60),))
    assert [at_hour(day_of(base, floor, temp_f=t), NOON).state for t in (60, 59)] == ["open", "closed"]


def test_a_wind_ceiling_of_the_tank(base: KnowledgeBase) -> None:
    tank = Limits(name="Tank A", max_wind_mph=8)
    assert [at_hour(day_of(base, tank, wind_mph=w), NOON).state for w in (8, 8.1)] == ["open", "closed"]


def test_rain_within_the_dry_hours_closes(base: KnowledgeBase) -> None:
    forecast = fair(2, lambda _, hour: {"rain_in": 0.2} if hour == 16 else {})
    day = window_day(base, forecast, Limits(dry=(DryLimit(hours=4),)), DAY)
    # Sprayed from 11 to 12 it has the four hours to 16; sprayed from 12 to 13, three.
    assert at_hour(day, 11).state == "open"
    assert ("rainfast", "stop") in codes(at_hour(day, 12))
    assert ("rain", "stop") in codes(at_hour(day, 16))
    assert at_hour(day, 17).state == "open"
    assert day.words == "open 6 am to noon and 5 to 8 pm"


def test_dry_hours_beyond_the_forecast_are_unknown(base: KnowledgeBase) -> None:
    day = window_day(base, fair(1), Limits(dry=(DryLimit(hours=6),)), DAY)
    assert at_hour(day, 17).state == "open"
    late = at_hour(day, 18)
    assert late.state == "unknown"
    assert late.reasons[0].settled_by == "forecast.hours"


def test_a_gap_is_unknown_and_named(base: KnowledgeBase) -> None:
    found = windows(base, fair(1, lambda _, hour: None if hour in (10, 23) else {}), Limits(dry=(DryLimit(hours=2),)))
    day = found.days[0]
    assert len(day.hours) == 24
    assert [at_hour(day, h).state for h in (7, 8, 9, 10, 11)] == ["open", "unknown", "unknown", "unknown", "open"]
    assert "1 hour is missing" in found.notices[0]
    assert "2027-07-14 10 am" in found.notices[0]
    assert "22 of the 24 hours" in " ".join(day.notices)
    # Of an untold hour of the night the dark is known all the same.
    assert at_hour(day, 23).state == "closed"


@pytest.mark.parametrize(
    ("day", "count", "span"),
    [(date(2027, 3, 14), 23, "open 7 am to 7 pm"), (date(2027, 11, 7), 25, "open 7 am to 5 pm")],
)
def test_days_on_which_clocks_are_changed(base: KnowledgeBase, day: date, count: int, span: str) -> None:
    # Near New York: sunrise 7:10, sunset 7:01 pm on March 14; 6:31 and 4:47 pm on November 7 (ephem).
    found = window_day(base, fair(2, first=day), Limits(), day)
    assert len(found.hours) == count
    assert found.words == span
    assert f"has {count} hours" in " ".join(found.notices)
    labels = [hour.label for hour in found.hours]
    assert len(set(labels)) == count
    assert ("1 am EST" in labels) == (count == 25)


def test_the_sun_that_does_not_set_or_rise(base: KnowledgeBase) -> None:
    north = {"latitude": 69.6, "longitude": 18.9, "zone": "Europe/Oslo"}
    summer = window_day(base, fair(1, first=date(2027, 6, 21), **north), Limits(), date(2027, 6, 21))
    assert (summer.open_hours, summer.words, summer.sun_words) == (24, "open all day", "The sun does not set.")
    winter = window_day(base, fair(1, first=date(2027, 12, 21), **north), Limits(), date(2027, 12, 21))
    assert (winter.open_hours, winter.sunrise, winter.sun_words) == (0, None, "The sun does not rise.")
    assert winter.words == "no hour is open"
    assert (winter.first, winter.last) == (None, None)


def test_the_heat_of_the_next_days_is_said(base: KnowledgeBase) -> None:
    ester = Limits(air=(AirLimit(max_f=85, code="volatility", why="an ester gives off vapour above 85 F"),))
    daily = tuple(Day(date=DAY + timedelta(days=n), max_f=80 + 4 * n) for n in range(1, 4))
    day = window_day(base, fair(1, daily=daily), ester, DAY)
    assert (day.heat.max_temp_f, day.heat.max_temp_next_3_days_f) == (72, 92)
    assert [(r.code, r.severity) for r in day.heat.cautions] == [("volatility", "caution")]
    assert "92 F in the next three days" in day.heat.cautions[0].text
    short = window_day(base, fair(1, daily=daily[:2]), ester, DAY)
    assert short.heat.cautions[-1].settled_by == "forecast.max_temp_next_3_days_f"


def test_what_closes_most_hours_is_said(base: KnowledgeBase) -> None:
    forecast = fair(1, lambda _, hour: {"wind_mph": 20} if hour < 12 else {"rain_in": 0.3} if hour < 15 else {})
    day = window_day(base, forecast, Limits(), DAY)
    assert day.mostly == "6 hours by day for this reason: 20 mph is too windy to spray; wait for less than 15 mph."


def test_the_answer_holds_together(base: KnowledgeBase) -> None:
    found = windows(base, fair(2, lambda _, hour: {"wind_mph": float(hour)}))
    used = {s for day in found.days for hour in day.hours for reason in hour.reasons for s in reason.sources}
    assert set(found.sources) == used
    assert found.headline.startswith("Wednesday, July 14: open ")
    assert found.knowledge_version == base.version
    asked = windows(base, fair(3), dates=[DAY + timedelta(days=1), DAY + timedelta(days=9)])
    assert [day.open_hours for day in asked.days] == [14, 0]
    with pytest.raises(InputError, match="at least one hour"):
        windows(base, fair(0))
