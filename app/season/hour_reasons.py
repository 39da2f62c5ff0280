"""What stands against spraying in one hour: each a small question that yields its findings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from app.season.clock import time_said
from app.season.forecast import HOUR, Forecast, Hour, dry_runs, wetness
from app.season.limits import AirLimit, DryLimit, Limits
from app.season.psychrometry import delta_t_c
from app.season.sun import daylight
from app.season.windows_output import Reason
from knowledge.base import KnowledgeBase

Spans = tuple[tuple[datetime, datetime], ...]


@dataclass(frozen=True)
class Sky:
    """What every hour of a forecast is asked against: rain and dry runs by hour, and when the sun is up."""

    base: KnowledgeBase
    forecast: Forecast
    wet: Mapping[datetime, bool | None]
    dry: Mapping[datetime, int]
    up: Spans

    def threshold(self, name: str) -> float:
        """A figure of the rule of wind [mph]."""
        return self.base.rules["wind"].thresholds[name].value

    @property
    def wind_sources(self) -> tuple[str, ...]:
        """Sources of the rule of wind."""
        return tuple(citation.id for citation in self.base.rules["wind"].sources)

    def sources(self, *parameters: str) -> tuple[str, ...]:
        """Sources of parameters."""
        found = (citation.id for name in parameters for citation in self.base.parameters[name].sources)
        return tuple(dict.fromkeys(found))

    def is_light(self, start: datetime, end: datetime) -> bool:
        """Whether the whole of a span has light enough to spray by."""
        around = timedelta(minutes=self.base.parameter("spray-light"))
        return any(rises - around <= start and end <= sets + around for rises, sets in self.up)

    def may_invert(self, start: datetime, end: datetime) -> bool:
        """Whether a span touches the evening, the night or the early morning, when still air may lie in layers."""
        before = timedelta(hours=self.base.parameter("spray-inversion-before-sunset"))
        after = timedelta(hours=self.base.parameter("spray-inversion-after-sunrise"))
        return not any(rises + after <= start and end <= sets - before for rises, sets in self.up)


def sky_of(base: KnowledgeBase, forecast: Forecast, begins: datetime, ends: datetime) -> Sky:
    """The sky over the instants that are asked about."""
    up = daylight(forecast.latitude, forecast.longitude, begins, ends)
    wet = wetness(forecast, base)
    return Sky(base, forecast, wet, dry_runs(wet), tuple(up))


def delta_t(sky: Sky, hour: Hour) -> float | None:
    """Delta T of an hour [degC], None where its humidity is not told."""
    return None if hour.rh_pct is None else delta_t_c(hour.temp_f, hour.rh_pct, sky.forecast.elevation_m)


def house_reasons(sky: Sky, hour: Hour, delta_t_told: float | None) -> tuple[Reason, ...]:
    """What stands against an hour whatever is sprayed, or is to be known for it."""
    found = [reason for question in _QUESTIONS for reason in question(sky, hour)]
    return (*found, *_droplets(sky, delta_t_told))


def tank_reasons(sky: Sky, limits: Limits, hour: Hour) -> tuple[Reason, ...]:
    """What stands against an hour for one tank."""
    found = [reason for limit in limits.air for reason in beyond(limit, hour.temp_f)]
    found += _own_wind(limits, hour)
    return (*found, *(reason for limit in limits.dry for reason in _dries(sky, hour, limit)))


def gravest_first(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """Reasons, each once: stops, unknowns, cautions."""
    rank = {"stop": 0, "unknown": 1, "caution": 2}
    return tuple(sorted(dict.fromkeys(reasons), key=lambda reason: rank[reason.severity]))


def untold(sky: Sky, start: datetime) -> tuple[Reason, ...]:
    """The reasons of an hour that the forecast does not tell; of the dark that much is known."""
    at = time_said(start, sky.forecast.zone)
    what = f"The forecast does not tell the hour from {at}; nothing fills it in."
    gap = Reason(code="not-told", text=what, severity="unknown", settled_by="forecast.hours")
    return (*_dark(sky, start), gap)


def _darkness(sky: Sky, hour: Hour) -> Iterator[Reason]:
    yield from _dark(sky, hour.start)


def _dark(sky: Sky, start: datetime) -> Iterator[Reason]:
    if not sky.is_light(start, start + HOUR):
        what = "It is dark: nobody sees where the spray lands."
        yield Reason(code="darkness", text=what, severity="stop", sources=sky.sources("spray-light"))


def _air(sky: Sky, hour: Hour) -> Iterator[Reason]:
    cool, cold = sky.base.parameter("spray-air-cool"), sky.base.parameter("spray-air-cold")
    if hour.temp_f < cold:
        what = f"{_beside(hour.temp_f, cold)} F is too cold: below {cold:g} F weeds take nothing in."
        yield _measured("air-cold", what, "stop", hour.temp_f, cold, "F", sky.sources("spray-air-cold"))
    elif hour.temp_f < cool:
        what = f"{_beside(hour.temp_f, cool)} F is cool: below {cool:g} F leaf-applied herbicides do less."
        yield _measured("air-cool", what, "caution", hour.temp_f, cool, "F", sky.sources("spray-air-cool"))


def beyond(limit: AirLimit, temp_f: float, when: str = "") -> Iterator[Reason]:
    """What an air limit says of a temperature [degF] outside it; nothing where it keeps within."""
    ends = ((limit.max_f, temp_f > (limit.max_f or 0), "above"), (limit.min_f, temp_f < (limit.min_f or 0), "below"))
    for end, outside, side in ends:
        if end is not None and outside:
            why = limit.why or f"the limit is {end:g} F"
            unsettled = "; what is told does not settle whether that matters here" if limit.weight == "unknown" else ""
            what = f"{_beside(temp_f, end)} F{when} is {side} {end:g} F: {why.rstrip('.')}{unsettled}."
            yield Reason(
                code=limit.code,
                text=what,
                severity=limit.weight,
                value=temp_f,
                limit=end,
                unit="F",
                settled_by=limit.settled_by if limit.weight == "unknown" else None,
                about=limit.why,
                sources=limit.sources,
            )


def _wind(sky: Sky, hour: Hour) -> Iterator[Reason]:
    least, careful, most = (sky.threshold(name) for name in ("least", "careful", "most"))
    wind, sources = hour.wind_mph, sky.wind_sources
    if wind is None:
        what = f"The wind is not told; spray between {least:g} and {careful:g} mph, away from anything sensitive."
        yield Reason(
            code="wind",
            text=what,
            severity="unknown",
            settled_by="forecast.hours.wind_mph",
            unit="mph",
            sources=sources,
        )
        return
    if wind > most:
        what = f"{_beside(wind, most)} mph is too windy to spray; wait for less than {most:g} mph."
        yield _measured("wind", what, "stop", wind, most, "mph", sources)
    elif wind > careful:
        what = f"{_beside(wind, careful)} mph: at the edge; coarse droplets, low boom, and nothing sensitive downwind."
        yield _measured("wind", what, "caution", wind, careful, "mph", sources)
    elif wind < least:
        yield from _still(sky, hour, wind, least)


def _own_wind(limits: Limits, hour: Hour) -> Iterator[Reason]:
    own, wind = limits.max_wind_mph, hour.wind_mph
    if own is not None and wind is not None and wind > own:
        why = limits.wind_why or f"{limits.name or 'the tank'} stops at {own:g} mph"
        what = f"{_beside(wind, own)} mph is above {own:g} mph: {why.rstrip('.')}."
        found = _measured("label-wind", what, "stop", wind, own, "mph", ())
        yield found.model_copy(update={"about": why})


def _still(sky: Sky, hour: Hour, wind: float, least: float) -> Iterator[Reason]:
    """Still air: an inversion where it is evening, night or early morning and the sky is clear."""
    told, clear = f"{_beside(wind, least)} mph", sky.base.parameter("spray-inversion-cloud")
    names = ("spray-inversion-before-sunset", "spray-inversion-after-sunrise", "spray-inversion-cloud")
    if not sky.may_invert(hour.start, hour.end) or (hour.cloud_pct is not None and hour.cloud_pct >= clear):
        what = f"{told} is nearly calm: spray hangs and drifts where it likes; wait for {least:g} mph."
        yield _measured("calm", what, "caution", wind, least, "mph", sky.wind_sources)
        return
    sources = tuple(dict.fromkeys((*sky.sources(*names), *sky.wind_sources)))
    if hour.cloud_pct is None:
        what = f"{told} near sunrise or sunset or at night may be an inversion; how much sky is covered is not told."
        settled = "forecast.hours.cloud_pct"
        yield Reason(
            code="inversion", text=what, severity="unknown", value=wind, limit=least, unit="mph",
            settled_by=settled, sources=sources,
        )  # fmt: skip
        return
    what = f"{told} under a clear sky near sunrise or sunset or at night: an inversion carries the spray sideways."
    yield _measured("inversion", what, "stop", wind, least, "mph", sources)


def _gusts(sky: Sky, hour: Hour) -> Iterator[Reason]:
    stop, most = sky.base.parameter("spray-gust"), sky.threshold("most")
    if hour.gust_mph is None:
        return
    if hour.gust_mph > stop:
        what = f"Gusts of {_beside(hour.gust_mph, stop)} mph are too strong to spray; wait for less than {stop:g} mph."
        yield _measured("gusts", what, "stop", hour.gust_mph, stop, "mph", sky.sources("spray-gust"))
    elif hour.gust_mph > most:
        what = f"Gusts of {_beside(hour.gust_mph, most)} mph go beyond {most:g} mph: stop while they last."
        yield _measured("gusts", what, "caution", hour.gust_mph, most, "mph", sky.wind_sources)


def _droplets(sky: Sky, found: float | None) -> Iterator[Reason]:
    names = ("spray-delta-t-low", "spray-delta-t-high", "spray-delta-t-stop")
    low, high, stop = (sky.base.parameter(name) for name in names)
    if found is None:
        what = "The humidity is not told, so how fast droplets dry is not known."
        settled = "forecast.hours.rh_pct"
        yield Reason(
            code="delta-t", text=what, severity="unknown", settled_by=settled, unit="C", sources=sky.sources(names[1])
        )
        return

    def told(limit: float) -> str:
        return f"Delta T is {_beside(found, limit)} C (limit {limit:g} C)"

    if found > stop:
        what = f"{told(stop)}: fine droplets dry before they land."
        yield _measured("delta-t", what, "stop", found, stop, "C", sky.sources(names[2]))
    elif found > high:
        what = f"{told(high)}: droplets dry fast; use coarse droplets and more water."
        yield _measured("delta-t", what, "caution", found, high, "C", sky.sources(names[1]))
    elif found < low:
        what = f"{told(low)}: the air is so moist that fine droplets hang and drift; use coarse droplets."
        yield _measured("delta-t-low", what, "caution", found, low, "C", sky.sources(names[0]))


def _rain(sky: Sky, hour: Hour) -> Iterator[Reason]:
    chance, amount = sky.base.parameter("spray-rain-chance"), sky.base.parameter("spray-rain-amount")
    sources = sky.sources("spray-rain-chance", "spray-rain-amount")
    wet = sky.wet.get(hour.start)
    if wet is None:
        what = "Whether it rains is not told."
        yield Reason(
            code="rain", text=what, severity="unknown", settled_by="forecast.hours.rain_chance_pct", sources=sources
        )
    elif wet and hour.rain_in is not None and hour.rain_in >= amount:
        what = f"{hour.rain_in:.2g} inches of rain are forecast in this hour."
        yield _measured("rain", what, "stop", hour.rain_in, amount, "inches", sources)
    elif wet:
        what = f"The chance of rain is {hour.rain_chance_pct:.0f} %; from {chance:g} % on rain is reckoned with."
        yield _measured("rain", what, "stop", hour.rain_chance_pct, chance, "%", sources)


def _dries(sky: Sky, hour: Hour, limit: DryLimit) -> Iterator[Reason]:
    """Rain after the spray: counted from the end of the hour, when its last leaf was sprayed."""
    dry = sky.dry.get(hour.end, 0)
    if dry >= limit.hours:
        return
    next_wet = sky.wet.get(hour.end + HOUR * dry)
    why = (limit.why or f"{limit.hours:g} hours without rain are asked for").rstrip(".")
    if next_wet:
        what = f"Rain is forecast {_hours(dry)} after this hour: {why}."
        found = _measured(limit.code, what, "stop", float(dry), limit.hours, "hours", limit.sources)
        yield found.model_copy(update={"about": limit.why})
        return
    what = f"It is not told whether it stays dry: {why}, and {_hours(dry, only=True)} known to be dry after this hour."
    yield Reason(
        code=limit.code,
        text=what,
        severity="unknown",
        value=float(dry),
        limit=limit.hours,
        unit="hours",
        settled_by="forecast.hours",
        about=limit.why,
        sources=limit.sources,
    )


def _hours(count: int, *, only: bool = False) -> str:
    if only:
        return "none is" if count == 0 else "only 1 hour is" if count == 1 else f"only {count} hours are"
    return "right" if count == 0 else "1 hour" if count == 1 else f"{count} hours"


def _beside(value: float, limit: float) -> str:
    """A figure so exact that it does not read like its limit."""
    return next((text for digits in (1, 2, 3) if (text := f"{round(value, digits):g}") != f"{limit:g}"), f"{value:g}")


def _measured(
    code: str, text: str, severity: str, value: float | None, limit: float, unit: str, sources: tuple[str, ...]
) -> Reason:
    return Reason.model_validate(
        {"code": code, "text": text, "severity": severity, "value": value, "limit": limit, "unit": unit}
        | {"sources": sources}
    )


_QUESTIONS: tuple[Callable[[Sky, Hour], Iterator[Reason]], ...] = (
    _darkness,
    _air,
    _wind,
    _gusts,
    _rain,
)
