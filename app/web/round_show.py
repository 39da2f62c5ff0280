"""Words and figures of the papers of a round; nothing is reckoned here."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from app.engine.measures import Area
from app.engine.output import Amount, Caution, Statement
from app.season.load_output import AROUND, LoadSheet, SheetWaiting
from app.web import units
from app.web.show import day_words
from knowledge.quantities import Quantity

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_WHOLE_FROM = 100
# From which amount on a larger measure reads better.
_LARGER = {"oz": ("lb", 64.0), "fl oz": ("gal", 256.0), "g": ("kg", 1000.0), "mL": ("L", 1000.0)}


def paper_words(system: units.System) -> dict[str, Any]:
    """What the templates of the papers call."""

    def area_of(told: Amount) -> str:
        return area_words(told, system)

    return {
        "exact": exact,
        "area_of": area_of,
        "grave": grave,
        "long_day": long_day,
        "waits": waits,
        "begun": begun,
        "beside": beside,
        "around": around,
        "not_around": not_around,
        "around_key": around_key,
    }


def _is_around(caution: Caution) -> bool:
    return caution.code.startswith(AROUND)


def around(cautions: Iterable[Caution]) -> list[str]:
    """What lies around a stop, by name; what it means stands once under the table."""
    return [caution.text.partition(":")[0] for caution in cautions if _is_around(caution)]


def not_around(cautions: Iterable[Caution]) -> list[Caution]:
    """The cautions that are not of what lies around."""
    return [caution for caution in cautions if not _is_around(caution)]


def around_key(sheet: LoadSheet) -> list[Caution]:
    """What lies around any stop, each once, with what it means."""
    found = {c.code: c for stop in sheet.stops for c in stop.cautions if _is_around(c)}
    return [found[code] for code in sorted(found)]


def exact(amount: Amount) -> str:
    """An amount as it is read on a sheet, a large one in the larger measure.

    >>> exact(Amount(value=29.515625, unit="gal")), exact(Amount(value=1234.5, unit="mL"))
    ('29.5 gal', '1.23 L')
    >>> exact(Amount(value=896, unit="oz")), exact(Amount(value=60.8, unit="fl oz"))
    ('56 lb', '60.8 fl oz')
    """
    larger, least = _LARGER.get(amount.unit, ("", 0.0))
    if larger and amount.value >= least:
        whole = Quantity(amount.value, amount.unit).to(larger)
        amount = Amount(value=whole.value, unit=larger)
    if amount.value >= _WHOLE_FROM:
        return f"{amount.value:,.0f} {amount.unit}"
    return f"{units.figure(amount.value)} {amount.unit}"


def area_words(told: Amount, system: units.System) -> str:
    """An area in the system asked for, in whole square feet or metres."""
    said = units.area(Area(value=told.value, unit=told.unit), system)
    figure, unit = said.split(" ", 1)
    value = float(figure.replace(",", ""))
    return f"{value:,.0f} {unit}" if value >= _WHOLE_FROM else f"{units.figure(value)} {unit}"


def long_day(day: date) -> str:
    """A day with its weekday.

    >>> long_day(date(2027, 6, 22))
    'Tuesday, 22 June 2027'
    """
    return f"{WEEKDAYS[day.weekday()]}, {day_words(day)}"


def grave(cautions: Iterable[Caution]) -> list[Caution]:
    """What must be minded on the spot; what only informs stands on the page of the round."""
    return [caution for caution in cautions if caution.severity != "info"]


def waits(stop: SheetWaiting) -> str:
    """What becomes of a stop that is not sprayed, in short."""
    if stop.status == "wait":
        return f"waits until {day_words(stop.until)}." if stop.until is not None else "waits."
    return {"nothing": "nothing to spray.", "unknown": "not planned."}[stop.status]


def beside(name: str, address: str) -> str:
    """The address as it stands beside a name: what the name says already is not said twice.

    >>> beside("8 Alder Lane", "8 Alder Lane, Tarnbeck"), beside("Hill House", "4 Hill Lane")
    ('Tarnbeck', '4 Hill Lane')
    """
    return address.removeprefix(name).lstrip(", ") if address.startswith(name) else address


def begun(text: str) -> str:
    """A text as the beginning of a sentence.

    >>> begun("open 7 to 11 am")
    'Open 7 to 11 am'
    """
    return text[:1].upper() + text[1:]


def rinse_of(sheet: LoadSheet) -> tuple[Statement, ...]:
    """The steps of rinsing that hold for every tank."""
    return next((tank.rinse for tank in sheet.tanks if tank.rinse), ())
