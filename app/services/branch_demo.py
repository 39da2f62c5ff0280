"""The invented branch of the demo: its properties, notes, weather and records, put into a store that has none."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from importlib import resources

from app.season.forecast import Forecast
from app.season.record import Branch
from app.services import follow_ups, forecasts, property_import, records, rounds, scouting_csv, sprayers
from app.services.branch import branch, change_branch
from app.services.forecast_csv import read_days, read_hours
from app.store import properties as kept
from app.store.forecasts import FORECASTS
from app.store.names import slug_of
from app.store.opening import Store

_FOLDER = ("demo_data", "branch")
# The names under which its weather is kept.
SUMMER, AUTUMN = "Tarnbeck, 12 to 18 July 2027", "Tarnbeck, 4 to 10 October 2027"


def fill_demo(store: Store) -> int:
    """Put the invented branch of the demo into a store without properties and customers; how many properties.

    What is there already of the branch, its weather and its records is let be. Properties come last, since it is by
    them that a filled store is known: a run that was broken off before them is finished by the next.
    """
    with store.reading() as session:
        if kept.PROPERTIES.names(session) or kept.CUSTOMERS.names(session):
            return 0
        known = set(FORECASTS.names(session).values())
    now = datetime.now(UTC)
    told, version = branch(store)
    if version == 0:
        told, _ = change_branch(store, json.loads(_text("branch.json")), version)
    for name, forecast in _weather(told):
        if name not in known:
            forecasts.keep(store, name, forecast, now)
    _sprayed(store, now)
    count = property_import.confirm(store, _text("properties.csv")).new
    scouting_csv.confirm(store, _text("notes.csv"))
    _rounds(store, now)
    return count


def _rounds(store: Store, now: datetime) -> None:
    """Keep a sprayer, and a round of each week that waits to be planned."""
    told = json.loads(_text("rounds.json"))
    kept_already = {item.slug for item in sprayers.list_sprayers(store)}
    for sprayer in told["sprayers"]:
        if slug_of(sprayer["name"], ()) not in kept_already:
            sprayers.add_sprayer(store, sprayer)
    for item in told["rounds"]:
        rounds.make(store, item, now)


def _text(name: str) -> str:
    return resources.files(_FOLDER[0]).joinpath(*_FOLDER[1:], name).read_text(encoding="utf-8")


def _weather(told: Branch) -> Iterator[tuple[str, Forecast]]:
    """The forecasts with their names; that of summer knows the year so far."""
    where = {"place": told.name, "latitude": told.latitude, "longitude": told.longitude, "timezone": told.timezone}
    days = read_days(_text("daily-2027.csv")).days
    for name, file, daily in ((SUMMER, "forecast-july.csv", days), (AUTUMN, "forecast-october.csv", ())):
        hours = read_hours(_text(file), told.timezone).hours
        yield name, Forecast.model_validate({**where, "hours": hours, "daily": daily})


def _sprayed(store: Store, now: datetime) -> None:
    """Keep the records of spring, with what they take off the shelf and what was seen after them."""
    for item in json.loads(_text("records.json")):
        records.keep(store, item["key"], records.checked_record(item["record"]), now)
        for seen in item["follow_ups"]:
            told = follow_ups.checked_follow_up(seen["follow_up"])
            follow_ups.add_follow_up(store, item["key"], told, now, seen["key"])
