"""Spray windows: which hours of a day are open, which are not, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from datetime import date as Date
from itertools import groupby

from app.engine.citations import cited
from app.engine.errors import FieldFault, InputError
from app.season.clock import day_said, listed, span_said, time_said
from app.season.forecast import HOUR, Forecast, Hour, bounds, dates_of, gaps, hours_of, starts_of, warmest
from app.season.hour_reasons import (
    Sky,
    beyond,
    delta_t,
    gravest_first,
    house_reasons,
    sky_of,
    tank_reasons,
    untold,
)
from app.season.limits import Limits
from app.season.sun import SunDay, sun_of
from app.season.windows_output import Heat, Reason, State, WindowDay, WindowHour, Windows, WindowSpan
from knowledge.base import KnowledgeBase

_SHOWN_GAPS = 6


def windows(
    base: KnowledgeBase, forecast: Forecast, limits: Limits | None = None, dates: Sequence[Date] | None = None
) -> Windows:
    """When a tank can be sprayed at a place.

    Parameters
    ----------
    base : KnowledgeBase
        Holds what the house asks of every spray.
    forecast : Forecast
        The weather of the place, hour by hour.
    limits : Limits, optional
        What the tank asks beside that.
    dates : sequence of date, optional
        The local days asked about; those that the forecast tells hours of where none are given.

    Raises
    ------
    InputError
        Where no hour is told.
    """
    if not forecast.hours:
        raise InputError([FieldFault("forecast.hours", "must tell at least one hour")])
    asked, told = limits or Limits(), tuple(dates) if dates is not None else dates_of(forecast)
    days = tuple(window_day(base, forecast, asked, day) for day in told)
    used = [s for day in days for hour in day.hours for reason in hour.reasons for s in reason.sources]
    used += [s for day in days for reason in day.heat.cautions for s in reason.sources]
    return Windows(
        place=forecast.place or f"{forecast.latitude:g}, {forecast.longitude:g}",
        timezone=forecast.timezone,
        limits=asked,
        headline=" ".join(f"{day.day}: {day.words}." for day in days[:3]),
        days=days,
        notices=tuple(_notices(forecast, asked)),
        sources=cited(base, used),
        knowledge_version=base.version,
    )


@dataclass(frozen=True)
class DayAhead:
    """One local day of a forecast with what holds whatever is sprayed, so that many tanks are asked of it quickly.

    Attributes
    ----------
    hours : tuple
        Instant, hour (None where it is not told), Delta T [degC] and the reasons of the house.
    """

    sky: Sky
    date: Date
    sun: SunDay
    hours: tuple[tuple[datetime, Hour | None, float | None, tuple[Reason, ...]], ...]


def day_ahead(base: KnowledgeBase, forecast: Forecast, day: Date) -> DayAhead:
    """A local day of a forecast, ready to be asked for any tank."""
    begins, ends = bounds(forecast.zone, day)
    sky = sky_of(base, forecast, begins, ends)
    told = {hour.start: hour for hour in hours_of(forecast, day)}
    hours = []
    for at in starts_of(forecast, day):
        hour = told.get(at)
        delta = delta_t(sky, hour) if hour is not None else None
        hours.append((at, hour, delta, house_reasons(sky, hour, delta) if hour is not None else untold(sky, at)))
    sun = sun_of(forecast.latitude, forecast.longitude, forecast.zone, day)
    return DayAhead(sky, day, sun, tuple(hours))


def window_day(base: KnowledgeBase, forecast: Forecast, limits: Limits, day: Date) -> WindowDay:
    """The hours of one local day for a tank."""
    return window_of(day_ahead(base, forecast, day), limits)


def window_of(ahead: DayAhead, limits: Limits) -> WindowDay:
    """The hours of a day for a tank."""
    sky, sun = ahead.sky, ahead.sun
    hours = tuple(_hour(sky, limits, *told) for told in ahead.hours)
    alike = _spans(sky, hours)
    opened = tuple(span for span in _spans(sky, hours, by_state=True) if span.state == "open")
    return WindowDay(
        date=ahead.date,
        day=day_said(ahead.date),
        sunrise=_local(sky, sun.sunrise),
        sunset=_local(sky, sun.sunset),
        sun=sun.course,
        sun_words=_sun_said(sky, sun),
        hours=hours,
        open=opened,
        shut=tuple(span for span in alike if span.state != "open"),
        careful=tuple(span for span in alike if span.state == "open" and span.reasons),
        first=opened[0].start if opened else None,
        last=opened[-1].end if opened else None,
        open_hours=sum(hour.state == "open" for hour in hours),
        unknown_hours=sum(hour.state == "unknown" for hour in hours),
        words=_words(opened, hours),
        mostly=_mostly(hours),
        heat=_heat(sky, limits, ahead.date),
        notices=tuple(_day_notices(hours)),
    )


def _local(sky: Sky, at: datetime | None) -> datetime | None:
    # Whole seconds: the reckoning is no surer.
    return at.replace(microsecond=0).astimezone(sky.forecast.zone) if at is not None else None


def _hour(
    sky: Sky, limits: Limits, start: datetime, hour: Hour | None, delta: float | None, house: tuple[Reason, ...]
) -> WindowHour:
    reasons = gravest_first((*house, *(tank_reasons(sky, limits, hour) if hour is not None else ())))
    return WindowHour(
        start=start.astimezone(sky.forecast.zone),
        label=time_said(start, sky.forecast.zone),
        state=_state(reasons),
        temp_f=hour.temp_f if hour else None,
        rh_pct=hour.rh_pct if hour else None,
        wind_mph=hour.wind_mph if hour else None,
        gust_mph=hour.gust_mph if hour else None,
        rain_in=hour.rain_in if hour else None,
        rain_chance_pct=hour.rain_chance_pct if hour else None,
        cloud_pct=hour.cloud_pct if hour else None,
        delta_t_c=delta,
        reasons=reasons,
    )


def _state(reasons: Iterable[Reason]) -> State:
    """A stop closes, an unknown leaves unknown; a caution leaves open."""
    found = {reason.severity for reason in reasons}
    return "closed" if "stop" in found else "unknown" if "unknown" in found else "open"


def _telling(hour: WindowHour) -> list[Reason]:
    """The reasons that make an hour what it is: the dark alone, the stops, what is unknown, or cautions."""
    dark = [reason for reason in hour.reasons if reason.code == "darkness"]
    severity = {"closed": "stop", "unknown": "unknown", "open": "caution"}[hour.state]
    return dark or [reason for reason in hour.reasons if reason.severity == severity]


def _spans(sky: Sky, hours: Sequence[WindowHour], *, by_state: bool = False) -> list[WindowSpan]:
    """Hours in a row that are alike: in their state, or in the codes of what tells it too."""

    def alike(hour: WindowHour) -> tuple[State, tuple[str, ...]]:
        return hour.state, () if by_state else tuple(sorted({reason.code for reason in _telling(hour)}))

    found = []
    for (state, _), group in groupby(hours, key=alike):
        run = list(group)
        end = run[-1].start.astimezone(UTC) + HOUR
        found.append(
            WindowSpan(
                start=run[0].start,
                end=end.astimezone(sky.forecast.zone),
                words=span_said(run[0].start, end, sky.forecast.zone),
                state=state,
                hours=len(run),
                reasons=tuple(_worst(reason for hour in run for reason in _telling(hour))),
            )
        )
    return found


def _worst(reasons: Iterable[Reason]) -> list[Reason]:
    """Of reasons that hold the same against an hour, the one furthest from its limit."""
    found: dict[tuple[str, str, float | None, str], Reason] = {}
    for reason in reasons:
        key = (reason.code, reason.severity, reason.limit, reason.about)
        held = found.get(key)
        if held is None or _beyond(reason) > _beyond(held):
            found[key] = reason
    return list(found.values())


def _beyond(reason: Reason) -> float:
    return abs((reason.value or 0) - (reason.limit or 0))


def _words(opened: Sequence[WindowSpan], hours: Sequence[WindowHour]) -> str:
    if opened:
        return f"open {listed([span.words for span in opened])}"
    unknown = sum(hour.state == "unknown" for hour in hours)
    return "no hour is known to be open" if unknown else "no hour is open"


def _mostly(hours: Sequence[WindowHour]) -> str:
    """What closes most hours; darkness alone where nothing else does."""
    shut = [hour for hour in hours if hour.state != "open"]
    lit = [hour for hour in shut if all(reason.code != "darkness" for reason in hour.reasons)]
    heavy = [{r.code: r for r in hour.reasons if r.severity != "caution"} for hour in lit or shut]
    counts = Counter(code for found in heavy for code in found)
    if not counts:
        return ""
    # Of two that close as many hours, a stop is told before an unknown.
    stops = {code for found in heavy for code, reason in found.items() if reason.severity == "stop"}
    code, count = max(counts.items(), key=lambda item: (item[1], item[0] in stops, item[0]))
    worst = _worst(found[code] for found in heavy if code in found)
    return f"{count} {'hour' if count == 1 else 'hours'} {'by day ' if lit else ''}for this reason: {worst[0].text}"


def _heat(sky: Sky, limits: Limits, day: Date) -> Heat:
    """The warmth of the day and the next three against the ceilings of the tank, each said once."""
    today = warmest(sky.forecast, day)
    later = [warmest(sky.forecast, day + timedelta(days=ahead)) for ahead in (1, 2, 3)]
    known = [value for value in later if value is not None]
    ahead = max(known) if len(known) == len(later) else None
    ceilings = [limit.model_copy(update={"min_f": None}) for limit in limits.air if limit.max_f is not None]
    most = max((value for value in (today, *known) if value is not None), default=None)
    when = " in the course of the day" if most == today else " in the next three days"
    said = [
        reason.model_copy(update={"severity": "caution"} if reason.severity == "stop" else {})
        for limit in ceilings
        if most is not None
        for reason in beyond(limit, most, when)
    ]
    missing = [(name, of) for name, value, of in (
        ("max_temp_f", today, "of the day"), ("max_temp_next_3_days_f", ahead, "of the next three days")
    ) if value is None]  # fmt: skip
    if ceilings and missing:
        name, of = missing[0]
        what = f"The highest temperature {of} is not told in full, and the tank has a ceiling."
        said.append(Reason(code="heat", text=what, severity="unknown", settled_by=f"forecast.{name}"))
    return Heat(max_temp_f=today, max_temp_next_3_days_f=ahead, cautions=tuple(said))


def _sun_said(sky: Sky, sun: SunDay) -> str:
    if sun.course != "rises and sets":
        return "The sun does not set." if sun.course == "up all day" else "The sun does not rise."
    parts = [
        f"{name} {_minute(at.astimezone(sky.forecast.zone))}"
        for name, at in (("sunrise", sun.sunrise), ("sunset", sun.sunset))
        if at is not None
    ]
    said = ", ".join(parts)
    return f"{said[:1].upper()}{said[1:]}."


def _minute(at: datetime) -> str:
    near = at + timedelta(seconds=30)
    return f"{near.hour % 12 or 12}:{near.minute:02d} {'am' if near.hour < 12 else 'pm'}"


def _day_notices(hours: Sequence[WindowHour]) -> list[str]:
    said = []
    told = [hour for hour in hours if hour.temp_f is not None]
    if len(hours) != round(timedelta(days=1) / HOUR):
        said.append(f"The clock is changed on this day, which has {len(hours)} hours.")
    if told and all(hour.gust_mph is None for hour in told):
        said.append("Gusts are not told: watch them at the lawn.")
    if told and len(told) < len(hours):
        said.append(f"The forecast tells {len(told)} of the {len(hours)} hours of this day; the others are unknown.")
    return said


def _notices(forecast: Forecast, limits: Limits) -> list[str]:
    said, missing = [], gaps(forecast)
    if forecast.by_hand:
        said.append("The hours were made from a few figures told by hand, so look at the sky before you start.")
    if missing:
        zone = forecast.zone
        named = [f"{at.astimezone(zone).date()} {time_said(at, zone)}" for at in missing[:_SHOWN_GAPS]]
        more = f" and {len(missing) - _SHOWN_GAPS} more" if len(missing) > _SHOWN_GAPS else ""
        hours = "1 hour is" if len(missing) == 1 else f"{len(missing)} hours are"
        said.append(f"{hours} missing in the forecast and not filled in: {', '.join(named)}{more}.")
    if limits.carrier is not None:
        said.append(f"The tank asks for at least {limits.carrier.value:g} {limits.carrier.unit} of spray.")
    return said
