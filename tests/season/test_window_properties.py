"""What must hold of every forecast: no broken limit is ever open, and nothing unfavourable opens an hour."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from app.season.forecast import Forecast, Hour, wetness
from app.season.limits import AirLimit, DryLimit, Limits
from app.season.psychrometry import delta_t_c
from app.season.windows import windows
from app.season.windows_output import WindowHour
from app.services.knowledge_service import knowledge_base
from tests.season.weather import FAIR, ZONE, at

BASE = knowledge_base()
START = at("2027-07-14T08:00Z")


def _maybe(low: float, high: float) -> st.SearchStrategy[float | None]:
    return st.none() | st.floats(low, high)


HOURS = st.fixed_dictionaries(
    {
        "temp_f": st.floats(30, 105),
        "rh_pct": _maybe(5, 100),
        "wind_mph": _maybe(0, 25),
        "gust_mph": _maybe(0, 40),
        "rain_in": st.none() | st.sampled_from([0.0, 0.0, 0.0, 0.2]),
        "rain_chance_pct": st.none() | st.floats(0, 60),
        "cloud_pct": _maybe(0, 100),
    }
)
# Hours near to fair, so that many are open; None leaves one out.
RUNS = st.lists(st.none() | HOURS | st.just(FAIR) | st.just(FAIR), min_size=6, max_size=30)
TANKS = st.builds(
    lambda high, dry, wind: Limits(air=(AirLimit(max_f=high),), dry=(DryLimit(hours=dry),), max_wind_mph=wind),
    st.floats(60, 100),
    st.floats(0.5, 12),
    st.none() | st.floats(3, 20),
)


def made(run: list[dict[str, Any] | None]) -> Forecast:
    """A forecast of a run of hours; the first is always told."""
    hours = tuple(
        Hour(start=START + timedelta(hours=n), **told) for n, told in enumerate([FAIR, *run]) if told is not None
    )
    return Forecast(latitude=40.7, longitude=-74.0, timezone=ZONE, hours=hours)


def every(forecast: Forecast, tank: Limits) -> dict[Any, WindowHour]:
    found = windows(BASE, forecast, tank)
    return {hour.start: hour for day in found.days for hour in day.hours}


@settings(max_examples=60)
@given(run=RUNS, tank=TANKS)
def test_an_hour_that_breaks_a_limit_is_never_open(run: list[dict[str, Any] | None], tank: Limits) -> None:
    forecast = made(run)
    told = {hour.start: hour for hour in forecast.hours}
    wet, limits = wetness(forecast, BASE), BASE.rules["wind"].thresholds
    for start, shown in every(forecast, tank).items():
        if shown.state != "open":
            assert any(reason.severity != "caution" for reason in shown.reasons)
            continue
        hour = told[start]
        assert hour.wind_mph is not None
        assert hour.wind_mph <= min(limits["most"].value, tank.max_wind_mph or 99)
        assert (hour.gust_mph or 0) <= BASE.parameter("spray-gust")
        assert hour.temp_f <= (tank.max_temp_f or 0)
        assert hour.temp_f >= BASE.parameter("spray-air-cold")
        assert hour.rh_pct is not None
        assert delta_t_c(hour.temp_f, hour.rh_pct) <= BASE.parameter("spray-delta-t-stop")
        assert wet[start] is False
        after = range(1, int(-(-tank.rainfast_hours // 1)) + 1)
        assert all(wet.get(start + timedelta(hours=n)) is False for n in after)


WORSE: list[dict[str, Any]] = [
    {"wind_mph": 30},
    {"wind_mph": None},
    {"gust_mph": 45},
    {"rain_in": 1.0},
    {"rain_in": None, "rain_chance_pct": None},
    {"rh_pct": None},
    {"temp_f": 120},
    {"temp_f": 20},
]


@settings(max_examples=60)
@given(run=RUNS, tank=TANKS, place=st.integers(0, 29), worse=st.sampled_from([*WORSE, None]))
def test_nothing_unfavourable_opens_an_hour(
    run: list[dict[str, Any] | None], tank: Limits, place: int, worse: dict[str, Any] | None
) -> None:
    place %= len(run)
    before = every(made(run), tank)
    told = run[place]
    # An hour that is added tells rain, so that it does not show another one to stay dry.
    changed = None if worse is None else {**(told if told is not None else {**FAIR, "rain_in": 0.4}), **worse}
    after = every(made([*run[:place], changed, *run[place + 1 :]]), tank)
    opened = {start for start, hour in after.items() if hour.state == "open"}
    assert opened <= {start for start, hour in before.items() if hour.state == "open"}
    assert START + timedelta(hours=place + 1) not in opened


@settings(max_examples=40)
@given(run=RUNS, tank=TANKS, other=TANKS)
def test_a_stricter_tank_opens_nothing(run: list[dict[str, Any] | None], tank: Limits, other: Limits) -> None:
    both = tank.model_copy(update={"air": (*tank.air, *other.air), "dry": (*tank.dry, *other.dry)})
    opened = {start for start, hour in every(made(run), both).items() if hour.state == "open"}
    assert opened <= {start for start, hour in every(made(run), tank).items() if hour.state == "open"}
