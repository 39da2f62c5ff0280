"""Application records as pages show them: rows of the log, the facts of one record, its history."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from app.engine.measures import Measure
from app.season.record import ApplicationRecord, AppliedProduct
from app.season.record_rules import Gap, known_fields
from app.services import label_text
from app.services.record_log import LogAsked
from app.services.record_words import METHOD_WORDS, actives_words, differences, target_words, weather_words, words_of
from app.services.records import Change, KeptRecord
from app.web import units
from app.web.record_form import LABELS
from app.web.show import day_words
from app.web.units import System
from knowledge.base import KnowledgeBase

_US = ("ft2", "acre", "gal", "qt", "pt", "oz", "lb")
# Fields of a record whose ids people do not read, and those that the head of the page says.
_NOT_SHOWN = ("Property's id", "Area's id", "Void", "Round")


@dataclass(frozen=True)
class Row:
    """A record in the log, in words."""

    key: str
    when: str
    where: str
    customer: str
    place: str
    size: str
    targets: str
    products: tuple[tuple[str, str], ...]
    applicator: str
    weather: str
    gaps: tuple[str, ...]
    void: str


@dataclass(frozen=True)
class ChangeShown:
    """A change of a record: when, by whom and why, and what differs (label, before, after)."""

    at: datetime
    by: str
    why: str
    rows: tuple[tuple[str, str, str], ...]


def say_in(system: System) -> Callable[[Measure], str]:
    """How measures are written: as typed where that is of this system, else brought to it."""

    def say(told: Measure) -> str:
        us = any(part in told.unit for part in _US)
        dimension = told.quantity.dimension
        if told.unit == "% v/v" or us == (system == "us"):
            # Rates of actives are reckoned, everything else was typed.
            reckoned = dimension in ("ae-rate", "ai-rate")
            return f"{units.figure(told.value, 3)} {told.unit}" if reckoned else label_text.measure_text(told)
        if dimension == "area":
            return units.area(told, system)
        return units.amount_words(told, system) if dimension in ("volume", "mass") else units.rate(told, system)

    return say


def say_weather_in(system: System) -> Callable[[str, float], str]:
    """How temperatures and winds are written."""

    def say(kind: str, value: float) -> str:
        # As it was read, to the tenth; a temperature of the engine's own is rounded elsewhere.
        return f"{units.figure(round(units.converted(kind, value, 'us', system), 1), 4)} {units.LABELS[system][kind]}"

    return say


def row_of(item: KeptRecord, base: KnowledgeBase, system: System) -> Row:
    """A record as a row of the log."""
    record, say = item.record, say_in(system)
    clock = f"{record.started} to {record.finished}" if record.started and record.finished else record.started
    clock = clock or (f"until {record.finished}" if record.finished else "")
    size = say(record.treated) if record.treated is not None else ""
    turf = ", ".join(base.turf[key].name if key in base.turf else key for key in record.turf)
    people = [f"{record.applicator}, {record.licence}" if record.licence else record.applicator]
    if record.supervisor:
        people.append(f"under {record.supervisor}, {record.supervisor_licence}".rstrip(", "))
    products = [(product.name, _product_words(product, base, say)) for product in record.products]
    if record.adjuvant is not None:
        told = record.adjuvant
        parts = [told.name, told.registration, *(say(m) for m in (told.rate, told.amount) if m is not None)]
        products.append((base.adjuvants[told.id].name, ", ".join(part for part in parts if part)))
    return Row(
        item.key,
        f"{day_words(record.date)}{f', {clock}' if clock else ''}",
        record.where,
        ", ".join(part for part in (record.customer, record.customer_address) if part),
        record.place,
        ", ".join(part for part in (size, METHOD_WORDS[record.method] if size else "", turf) if part),
        ", ".join(target_words(record, base)),
        tuple(products),
        "; ".join(part for part in people if part),
        ", ".join(_weather(record, system)),
        tuple(gap.name for gap in item.gaps),
        record.void,
    )


def facts_of(record: ApplicationRecord, base: KnowledgeBase, system: System) -> dict[str, str]:
    """Every field that was told, in words, by its label."""
    told = {**words_of(record, base, say_in(system), say_weather_in(system)), "Date": day_words(record.date)}
    if record.application == 1:
        told["Application of its program"] = ""
    return {label: words for label, words in told.items() if words and label not in _NOT_SHOWN}


def history_of(changes: Sequence[Change], base: KnowledgeBase, system: System) -> tuple[ChangeShown, ...]:
    """Every change with what differs, the latest first."""
    say, say_weather = say_in(system), say_weather_in(system)
    found = []
    for item in changes:
        before, after = (words_of(record, base, say, say_weather) for record in (item.before, item.after))
        found.append(ChangeShown(item.at, item.by, item.why, tuple(differences(before, after))))
    return tuple(found)


def filled_in_words(record: ApplicationRecord, base: KnowledgeBase) -> str:
    """What was filled in and not typed, in words."""
    names, found = known_fields(base), list[str]()
    for path in record.filled_in:
        parts = path.split(".")
        if parts[0] == "products" and len(parts) == 3 and parts[1].isdecimal():
            number = int(parts[1])
            product = record.products[number].name if number < len(record.products) else "a product"
            found.append(f"{names.get(f'products.{parts[2]}', parts[2])} of {product}")
        else:
            found.append(names.get(path) or LABELS.get(path, path).lower())
    return ", ".join(found)


def field_of_gap(gap: Gap, labels: dict[int, str]) -> str:
    """The field of the form in which a gap is filled; the rows of the form follow the record."""
    if gap.path.startswith("extra."):
        return next((f"extra.{row}" for row, label in labels.items() if f"extra.{label}" == gap.path), "notes")
    if gap.path == "turf":
        return "turf.0"
    if gap.path == "targets":
        return "targets.0.weed"
    if gap.path == "adjuvant":
        return "adjuvant.id"
    return gap.path.removesuffix(".actives") + ".rate" if gap.path.endswith(".actives") else gap.path


def period_words(asked: LogAsked, rows: Sequence[KeptRecord]) -> str:
    """The days of a log in words."""
    days = [item.record.date for item in rows]
    first, last = asked.first or min(days, default=None), asked.last or max(days, default=None)
    if first is None or last is None:
        return ""
    return day_words(first) if first == last else f"{day_words(first)} to {day_words(last)}"


def _product_words(product: AppliedProduct, base: KnowledgeBase, say: Callable[[Measure], str]) -> str:
    parts = [product.registration]
    parts += [say(product.rate)] if product.rate is not None else []
    parts += [f"{say(product.amount)} in all"] if product.amount is not None else []
    return ", ".join(part for part in (*parts, *actives_words(product, base, say)) if part)


def _weather(record: ApplicationRecord, system: System) -> list[str]:
    told = weather_words(record, say_weather_in(system))
    wind = f"wind {told['Wind']}" if told["Wind"] else ""
    wind = f"{wind} from {told['Wind from']}".strip() if told["Wind from"] else wind
    humidity = f"humidity {told['Humidity']}" if told["Humidity"] else ""
    basis = told["Weather"] if told["Weather"] == "as forecast" else ""
    return [part for part in (told["Air temperature"], wind, humidity, told["Sky"], basis) if part]
