"""The invented branch of the demo: its properties, notes, weather and records, put into a store that has none."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from importlib import resources
from itertools import groupby
from typing import Any

from sqlalchemy.orm import Session

from app.season.forecast import Forecast
from app.season.property import Customer, Property
from app.season.record import Branch
from app.services import customers, follow_ups, forecasts, records, scouting
from app.services.branch import branch, change_branch
from app.services.forecast_csv import read_days, read_hours
from app.services.label_text import measure
from app.services.properties import columns_of, document_of
from app.services.property_checks import checked_property
from app.store import properties as kept
from app.store.forecasts import FORECASTS
from app.store.models import ScoutingRow
from app.store.opening import Store

_FOLDER = ("demo_data", "branch")
# The names under which its weather is kept.
SUMMER, AUTUMN = "Tarnbeck, 12 to 18 July 2027", "Tarnbeck, 4 to 10 October 2027"
_LISTS = ("turf", "surroundings")


def fill_demo(store: Store) -> int:
    """Put the invented branch of the demo into a store without properties and customers; how many properties.

    What is there already of the branch, its weather and its records is let be, so that a run that was broken off
    is finished by the next.
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
    # Last, since it is by properties that a filled store is known.
    with store.session() as session:
        return _places(session, now)


def _text(name: str) -> str:
    return resources.files(_FOLDER[0]).joinpath(_FOLDER[1], name).read_text(encoding="utf-8")


def _rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(_text(name))))


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
            told = follow_ups.checked_follow_up(seen)
            follow_ups.add_follow_up(store, item["key"], told, now, f"{item['key']}-rated"[-64:])


def _places(session: Session, now: datetime) -> int:
    """Keep customers, properties and notes."""
    rows = _rows("properties.csv")
    billed = {row["customer"]: Customer(name=row["customer"], address=row["customer_address"]) for row in rows}
    people = kept.CUSTOMERS.insert(
        session, [(name, customers.document_of(told), {}) for name, told in billed.items()], now
    )
    ids, names = {item.name: item.slug for item in people}, {item.slug: item.name for item in people}
    places = [_property(list(told), ids) for _, told in groupby(rows, key=lambda row: row["property"])]
    made = []
    for place in places:
        name, columns = columns_of(session, place, names)
        made.append((name, document_of(place), columns))
    done = kept.PROPERTIES.insert(session, made, now)
    known = {item.name: (item.slug, place) for item, place in zip(done, places, strict=True)}
    # All at once: none of them can be there yet, and asking for each takes longer than keeping it.
    session.add_all(_note_row(row, *known[row["property"]], now) for row in _rows("notes.csv"))
    return len(done)


def _property(rows: list[dict[str, str]], ids: dict[str, str]) -> Property:
    """A property of its rows, one an area."""
    first = rows[0]
    return checked_property(
        {
            "name": first["property"],
            "customer": ids[first["customer"]],
            **{key: first[key] for key in ("address", "zone", "technician")},
            **{key: float(first[key]) for key in ("latitude", "longitude")},
            "notes": first["property_notes"],
            "plans": _plans(first["plans"]),
            "areas": [_area(row) for row in rows],
        }
    )


def _area(row: dict[str, str]) -> dict[str, Any]:
    told: dict[str, Any] = {
        "name": row["area"],
        "area": measure(f"{row['size']} {row['unit']}"),
        "notes": row["area_notes"],
        **{key: row[key].split("; ") if row[key] else [] for key in _LISTS},
        **{key: row[key] for key in ("site_use", "slope", "irrigation", "stand", "emerged", "stress") if row[key]},
    }
    if row["mowing_height"]:
        told["mowing_height_in"] = float(row["mowing_height"].removesuffix(" in"))
    return told


def _plans(text: str) -> list[dict[str, Any]]:
    """Plans of a cell: what, the day, on which area, and words in quotation marks."""
    found = []
    for item in text.split("; ") if text else []:
        head, _, words = item.partition(' "')
        head, _, area = head.partition(" on ")
        kind, day = head.split()
        found.append({"kind": kind, "date": day, "area": area or None, "text": words.removesuffix('"')})
    return found


def _note_row(row: dict[str, str], slug: str, place: Property, now: datetime) -> ScoutingRow:
    told: dict[str, Any] = {key: row[key] for key in ("area", "weed", "stage", "date", "by")}
    told |= {key: int(row[key]) for key in ("tillers", "leaves") if row[key]}
    told |= {"cover_pct": float(row["cover_pct"]), "priority": float(row["priority"]), "text": row["note"]}
    note = scouting.checked_note(told, slug, place)
    document = scouting.document_of(note)
    return ScoutingRow(key=row["key"], property=slug, day=note.date, document=document, changed_at=now)
