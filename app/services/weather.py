"""Use cases of weather: spray windows of a forecast, and degree-days of a run of days."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Annotated, Any

from pydantic import Field, model_validator

from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.measures import Day as CalendarDay
from app.engine.measures import FieldError, Input
from app.engine.product import Product
from app.engine.understood import unknown_id
from app.season.degree_days import DegreeDays, Method
from app.season.degree_days import degree_days as engine_degree_days
from app.season.forecast import Day, Forecast, ZoneName
from app.season.limits import Limits, Sprayed, limits_of
from app.season.windows import windows as engine_windows
from app.season.windows_output import Windows
from app.services.csv_text import MAX_BYTES
from app.services.forecast_by_hand import BASIS, ByHand, hours_by_hand
from app.services.forecast_cells import reading
from app.services.forecast_columns import System
from app.services.forecast_csv import ReadDays, ReadHours, read_days, read_hours
from app.services.knowledge_service import knowledge_base
from app.services.label_text import Unreadable
from app.services.validation import validated
from knowledge.base import KnowledgeBase
from knowledge.models.common import SiteUse, Slug

# Looks a product of the shelf up by its id.
Lookup = Callable[[str], Product]
USUAL_BASE_F = 50.0
MOST_SPAN = 800
Temperature = Annotated[float, Field(ge=-40, le=140)]


class WeatherPlace(Input):
    """Where the hours of a table, or those told by hand, are."""

    name: str = Field(default="", max_length=120)
    latitude: float = Field(ge=-90, le=90)
    longitude: float = Field(ge=-180, le=180)
    timezone: ZoneName
    elevation_m: float | None = Field(default=None, ge=-430, le=6000)


class TankActive(Input):
    """An active of the tank; a form that is not told is to be settled where it matters."""

    active: Slug
    form: Slug | None = None
    preemergence: bool = False


class SprayTank(Input):
    """What is to be sprayed: actives, products, or both, and on which turf."""

    name: str = Field(default="", max_length=120)
    turf: tuple[Slug, ...] = Field(default=(), max_length=5)
    site_use: SiteUse | None = None
    actives: tuple[TankActive, ...] = Field(default=(), max_length=12)
    products: tuple[Product, ...] = Field(default=(), max_length=8)


class WindowsRequest(Input):
    """Which forecast, for which tank or limits, on which days.

    Exactly one of `forecast`, `csv` and `by_hand` tells the weather; a table and figures by hand need the `place`.
    `units` tells in which a table's figures are that have none. `tank` and `limits` count together.
    """

    forecast: Forecast | None = None
    csv: str | None = Field(default=None, max_length=MAX_BYTES)
    by_hand: ByHand | None = None
    place: WeatherPlace | None = None
    units: System | None = None
    daily: tuple[Day, ...] = Field(default=(), max_length=400)
    tank: SprayTank | None = None
    limits: Limits | None = None
    dates: tuple[CalendarDay, ...] = Field(default=(), max_length=31)

    @model_validator(mode="after")
    def _one_weather(self) -> WindowsRequest:
        told = [name for name in ("forecast", "csv", "by_hand") if getattr(self, name) is not None]
        if not told:
            raise FieldError("forecast", "is required, or a table as 'csv', or figures 'by_hand'")
        if len(told) > 1:
            raise FieldError(told[1], f"tells the weather once more; give it or '{told[0]}', not both")
        if told[0] != "forecast" and self.place is None:
            raise FieldError("place", "is required: latitude, longitude and timezone of the lawns")
        if told[0] == "forecast" and self.daily:
            raise FieldError("daily", "belongs inside 'forecast' where that is given")
        return self


class DegreeDaysRequest(Input):
    """Which days, above which threshold, by which method.

    Either `daily` or a table as `csv` tells the days. Thresholds are in degF. The `method` is `average`, `modified`
    or `sine`; `from` is the first day that counts.
    """

    daily: tuple[Day, ...] | None = Field(default=None, max_length=400)
    csv: str | None = Field(default=None, max_length=MAX_BYTES)
    units: System | None = None
    base_f: Temperature = USUAL_BASE_F
    upper_f: Temperature | None = None
    method: Method = "sine"
    start: CalendarDay | None = Field(default=None, alias="from")

    @model_validator(mode="after")
    def _one_run(self) -> DegreeDaysRequest:
        if (self.daily is None) == (self.csv is None):
            raise FieldError("daily", "is required, or a table as 'csv', and not both")
        if self.upper_f is not None and self.upper_f <= self.base_f:
            raise FieldError("upper_f", f"{self.upper_f:g} F must be above the threshold of {self.base_f:g} F")
        return self

    @model_validator(mode="after")
    def _days_rise(self) -> DegreeDaysRequest:
        for number, (earlier, later) in enumerate(pairwise(self.daily or ()), start=1):
            if later.date <= earlier.date:
                raise FieldError(f"daily.{number}.date", f"{later.date} must come after {earlier.date}")
        return self


def windows(payload: Any, product: Lookup | None = None) -> Windows:
    """Spray windows of a forecast given as plain data.

    A product of the tank may be named by its id on the shelf (`{"id": "..."}`).

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    """
    asked = validated(WindowsRequest, _with_shelf(payload, product))
    base = knowledge_base()
    forecast, notices = forecast_of(asked)
    dates = list(dict.fromkeys(asked.dates)) or None
    found = engine_windows(base, forecast, limits_asked(base, asked), dates)
    return found.model_copy(update={"notices": (*found.notices, *notices)})


def degree_days(payload: Any) -> DegreeDays:
    """Degree-days of a run of days given as plain data.

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    """
    asked = validated(DegreeDaysRequest, payload)
    read = read_days(asked.csv, asked.units) if asked.csv is not None else ReadDays(asked.daily or (), ())
    days, notices = read.days, read.notices
    if not days:
        raise InputError([FieldFault("daily", "must tell at least one day")])
    if (days[-1].date - min(days[0].date, asked.start or days[0].date)).days > MOST_SPAN:
        what = f"reaches over more than {MOST_SPAN} days; tell one season at a time"
        raise InputError([FieldFault("daily" if asked.csv is None else "csv", what)])
    found = engine_degree_days(days, asked.base_f, asked.upper_f, asked.method, asked.start)
    return found.model_copy(update={"notices": (*found.notices, *notices)})


def forecast_of(asked: WindowsRequest) -> tuple[Forecast, tuple[str, ...]]:
    """The forecast that a request tells, and what is to be said of how it was read."""
    if asked.forecast is not None:
        return asked.forecast, ()
    assert asked.place is not None, "checked when the request was read"
    place = asked.place
    if asked.csv is not None:
        read = read_hours(asked.csv, place.timezone, asked.units)
    else:
        assert asked.by_hand is not None, "checked when the request was read"
        read = ReadHours(hours_by_hand(asked.by_hand, place.timezone), (BASIS,))
    told = place.model_dump(exclude={"name"})
    hours = {"hours": read.hours, "daily": asked.daily, "by_hand": asked.by_hand is not None}
    return validated(Forecast, {"place": place.name, **told, **hours}), read.notices


def limits_asked(base: KnowledgeBase, asked: WindowsRequest) -> Limits:
    """The limits of the tank together with those that were told.

    Raises
    ------
    InputError
        With every id that is not known.
    """
    own = asked.limits or Limits()
    cited = [(f"limits.air.{number}.sources", item.sources) for number, item in enumerate(own.air)]
    cited += [(f"limits.dry.{number}.sources", item.sources) for number, item in enumerate(own.dry)]
    faults = [
        FieldFault(path, f"'{key}' is no source of the knowledge base")
        for path, keys in cited
        for key in keys
        if key not in base.sources
    ]
    tank = asked.tank or SprayTank()
    faults += _unknown(base, tank)
    if faults:
        raise InputError(faults)
    parts = [
        Sprayed(base.actives[a.active], next((f for f in base.actives[a.active].forms if f.id == a.form), None),
                preemergence=a.preemergence)
        for a in tank.actives
    ]  # fmt: skip
    for item in tank.products:
        lines = {line.purpose for line in item.rates}
        before = lines == {"preemergence"}
        for part in item.actives:
            active = base.actives[part.active]
            form = next((f for f in active.forms if f.id == part.form), None)
            parts.append(Sprayed(active, form, item, before))
    found = limits_of(parts, [base.turf[key] for key in tank.turf], tank.site_use, tank.name)
    return found.model_copy(
        update={
            "name": own.name or found.name,
            "air": (*found.air, *own.air),
            "dry": (*found.dry, *own.dry),
            "max_wind_mph": own.max_wind_mph,
            "wind_why": own.wind_why,
            "carrier": own.carrier or found.carrier,
        }
    )


def _unknown(base: KnowledgeBase, tank: SprayTank) -> list[FieldFault]:
    named = [(f"tank.actives.{n}", part.active, part.form) for n, part in enumerate(tank.actives)]
    named += [
        (f"tank.products.{n}.actives.{m}", part.active, part.form)
        for n, item in enumerate(tank.products)
        for m, part in enumerate(item.actives)
    ]
    faults = [
        unknown_id(f"tank.turf.{n}", "turf", key, base.turf) for n, key in enumerate(tank.turf) if key not in base.turf
    ]
    for path, active, form in named:
        if active not in base.actives:
            faults.append(unknown_id(f"{path}.active", "active", active, base.actives))
        elif form is not None and form not in (known := [f.id for f in base.actives[active].forms]):
            faults.append(unknown_id(f"{path}.form", f"form of {active}", form, known))
    return faults


def _with_shelf(payload: Any, product: Lookup | None) -> Any:
    """The request with the products of the shelf in it that its tank names by id alone."""
    tank = payload.get("tank") if isinstance(payload, dict) else None
    if not isinstance(tank, dict) or not isinstance(tank.get("products"), list):
        return payload
    products = []
    for number, item in enumerate(tank["products"]):
        if not isinstance(item, dict) or set(item) != {"id"}:
            products.append(item)
            continue
        path = f"tank.products.{number}.id"
        if product is None:
            raise InputError([FieldFault(path, "names a product of the shelf, but no shelf is at hand here")])
        try:
            products.append(product(str(item["id"])).model_dump(mode="json", exclude_none=True))
        except UnknownId as error:
            raise InputError([FieldFault(path, f"{error}")]) from error
    return {**payload, "tank": {**tank, "products": products}}


def threshold(name: str, text: str) -> float:
    """A threshold as it is typed, in degF: `50`, `50F` or `10 C`.

    Raises
    ------
    InputError
        Where it is none; `name` is what its field is called.
    """
    try:
        return reading(text, "temperature", "F", None)
    except Unreadable as error:
        raise InputError([FieldFault(name, str(error))]) from error
