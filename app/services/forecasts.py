"""Use cases of forecasts, and of temperatures that were measured: kept under a name, changed and removed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.understood import nearest
from app.season.forecast import Forecast, dates_of
from app.services import weather
from app.services.validation import validated
from app.store.forecasts import FORECASTS
from app.store.named import Stored
from app.store.names import name_key
from app.store.opening import Store

_LONGEST_NAME = 120


@dataclass(frozen=True)
class KeptForecast:
    """A forecast as it is kept."""

    slug: str
    name: str
    forecast: Forecast
    version: int
    changed_at: datetime


def every(store: Store) -> tuple[KeptForecast, ...]:
    """Every forecast, by name."""
    with store.reading() as session:
        return tuple(_of(item) for item in FORECASTS.every(session))


def one(store: Store, slug: str) -> KeptForecast:
    """One forecast.

    Raises
    ------
    UnknownId
        With the three nearest, when there is none of that id.
    """
    with store.reading() as session:
        try:
            return _of(FORECASTS.by_slug(session, slug))
        except UnknownId:
            known = FORECASTS.names(session)
            raise UnknownId("forecast", slug, nearest(slug, known), "that is kept") from None


def keep(store: Store, name: str, forecast: Forecast, now: datetime) -> KeptForecast:
    """Keep a new forecast; its id is made from its name.

    Raises
    ------
    InputError
        Without a name, or where the name is that of another.
    """
    with store.session() as session:
        (done,) = insert(session, [(name, forecast)], now)
    return done


def keep_told(store: Store, payload: Any, name: str, now: datetime) -> KeptForecast:
    """Keep a forecast that is told as spray windows are asked: a table, figures by hand, or hours.

    Parameters
    ----------
    name : str
        Empty where it is made of the place and the days; a number behind it where that is taken.

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    """
    forecast, _ = weather.forecast_of(validated(weather.WindowsRequest, payload))
    if not forecast.hours:
        raise InputError([FieldFault("forecast.hours", "must tell at least one hour")])
    with store.session() as session:
        taken = {name_key(known) for known in FORECASTS.names(session).values()}
        ((kept),) = insert(session, [(name.strip() or _free_name(forecast, taken), forecast)], now)
    return kept


def _free_name(forecast: Forecast, taken: set[str]) -> str:
    days = dates_of(forecast)
    first, last = days[0], days[-1]
    span = f"{first}" if first == last else f"{first} to {last}"
    stem, number = f"{forecast.place or 'Forecast'}, {span}"[: _LONGEST_NAME - 6], 1
    name = stem
    while name_key(name) in taken:
        number += 1
        name = f"{stem} ({number})"
    return name


def change(store: Store, slug: str, name: str, forecast: Forecast, version: int, now: datetime) -> KeptForecast:
    """Change a forecast that stands at a version; its id stays.

    Raises
    ------
    Changed
        When somebody else changed or removed it meanwhile.
    InputError
        Without a name, or where the name is that of another.
    """
    told = checked_name(name)
    with store.session() as session:
        return _of(FORECASTS.update(session, slug, told, document_of(forecast), version, now))


def remove(store: Store, slug: str, version: int) -> None:
    """Forget a forecast that stands at a version.

    Raises
    ------
    Changed
        When somebody else changed or removed it meanwhile.
    """
    with store.session() as session:
        FORECASTS.delete(session, slug, version)


def insert(session: Session, told: Sequence[tuple[str, Forecast]], now: datetime) -> tuple[KeptForecast, ...]:
    """Keep new forecasts within a session, all or none."""
    columns: dict[str, Any] = {}
    rows = [(checked_name(name), document_of(forecast), columns) for name, forecast in told]
    return tuple(_of(item) for item in FORECASTS.insert(session, rows, now))


def checked_name(name: str) -> str:
    """The name in one line, without spaces around it.

    Raises
    ------
    InputError
        Where there is none, or it is too long.
    """
    told = " ".join(name.split())
    if not name_key(told):
        raise InputError([FieldFault("name", "is required: the place and its days, for example Pellmere, 12 July")])
    if len(told) > _LONGEST_NAME:
        raise InputError([FieldFault("name", f"holds more than {_LONGEST_NAME} letters; write it shorter")])
    return told


def document_of(forecast: Forecast) -> dict[str, Any]:
    """A forecast as it is kept; what is not known is left out."""
    return forecast.model_dump(mode="json", exclude_none=True)


def _of(item: Stored) -> KeptForecast:
    forecast = Forecast.model_validate(item.document)
    return KeptForecast(item.slug, item.name, forecast, item.version, item.changed_at)
