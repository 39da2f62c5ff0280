"""A record in words, field by field: for its page, its history and what two people's changes are compared by."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from app.engine.measures import Measure
from app.season.record import ApplicationRecord, AppliedProduct
from app.services import label_text
from knowledge.base import KnowledgeBase

Say = Callable[[Measure], str]
# Writes a temperature [degF] or a wind [mph].
SayWeather = Callable[[str, float], str]
METHOD_WORDS = {"broadcast": "broadcast", "spot": "spots"}
BASIS_WORDS = {"read": "read", "forecast": "as forecast"}
_PLAIN = {
    **{"date": "Date", "started": "Started", "finished": "Finished", "property": "Property's id"},
    **{"property_name": "Property", "area": "Area's id", "area_name": "Area", "place": "Location"},
    **{"customer": "Customer", "customer_address": "Customer's address"},
}
_PLAIN_AFTER = {
    **{"sprayer": "Sprayer", "applicator": "Applicator", "licence": "Applicator's certification number"},
    **{"supervisor": "Supervisor", "supervisor_licence": "Supervisor's certification number"},
}
_PLAIN_LAST = {
    **{"application": "Application of its program", "next_due": "Next application due", "round": "Round"},
    **{"notes": "Notes", "void": "Void"},
}


def plain_weather(kind: str, value: float) -> str:
    """A temperature in degrees Fahrenheit, a wind in miles per hour."""
    return f"{value:g} {'F' if kind == 'temperature' else 'mph'}"


def words_of(
    record: ApplicationRecord,
    base: KnowledgeBase,
    say: Say = label_text.measure_text,
    say_weather: SayWeather = plain_weather,
) -> Mapping[str, str]:
    """Every field of a record in words, by its label; empty where nothing was told.

    Parameters
    ----------
    say : callable
        How a measure is written.
    say_weather : callable
        How a temperature and a wind are written.
    """
    found = {label: _plain(getattr(record, name)) for name, label in _PLAIN.items()}
    found["Use of the site"] = base.sites[record.site_use].name if record.site_use is not None else ""
    found["Zone"] = base.zones[record.zone].name if record.zone is not None else ""
    found["Turf"] = ", ".join(base.turf[key].name if key in base.turf else key for key in record.turf)
    found["Size of the area"] = say(record.treated) if record.treated is not None else ""
    found["Method"] = METHOD_WORDS[record.method]
    for number, product in enumerate(record.products, start=1):
        found[f"Product {number}"] = product_words(product, base, say)
    if record.adjuvant is not None:
        parts = [base.adjuvants[record.adjuvant.id].name, record.adjuvant.name, record.adjuvant.registration]
        parts += [say(record.adjuvant.rate)] if record.adjuvant.rate is not None else []
        parts += [f"{say(record.adjuvant.amount)} in all"] if record.adjuvant.amount is not None else []
        found["Adjuvant"] = ", ".join(part for part in parts if part)
    found["Carrier volume"] = say(record.carrier) if record.carrier is not None else ""
    found["Spray"] = say(record.spray) if record.spray is not None else ""
    found["Meant for"] = "; ".join(target_words(record, base))
    found |= {label: _plain(getattr(record, name)) for name, label in _PLAIN_AFTER.items()}
    found |= weather_words(record, say_weather)
    found |= dict(record.extra)
    return found | {label: _plain(getattr(record, name)) for name, label in _PLAIN_LAST.items()}


def target_words(record: ApplicationRecord, base: KnowledgeBase) -> list[str]:
    """The weeds that it was meant for, with their stages."""
    names = [(base.weed_names[t.weed].name if t.weed in base.weed_names else t.weed, t.stage) for t in record.targets]
    return [f"{name} ({stage})" if stage is not None else name for name, stage in names]


def product_words(product: AppliedProduct, base: KnowledgeBase, say: Say) -> str:
    """A product with its number, rate, amount and actives."""
    parts = [product.name, product.registration]
    parts += [say(product.rate)] if product.rate is not None else []
    parts += [f"{say(product.amount)} in all"] if product.amount is not None else []
    parts += actives_words(product, base, say)
    return ", ".join(part for part in parts if part)


def actives_words(product: AppliedProduct, base: KnowledgeBase, say: Say) -> list[str]:
    """The actives of a product with their rates."""
    return [
        f"{base.actives[part.active].name if part.active in base.actives else part.active} {say(part.rate)}"
        for part in product.actives
    ]


def differences(before: Mapping[str, str], after: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """Label, before and after of every field that differs."""
    labels = dict.fromkeys([*before, *after])
    told = ((label, before.get(label, ""), after.get(label, "")) for label in labels)
    return [item for item in told if item[1] != item[2]]


def weather_words(record: ApplicationRecord, say: SayWeather) -> dict[str, str]:
    """The weather while it was applied, by label; how it was known where any of it was."""
    told = record.weather
    found = {
        "Air temperature": say("temperature", told.temp_f) if told.temp_f is not None else "",
        "Wind": say("wind", told.wind_mph) if told.wind_mph is not None else "",
        "Wind from": told.wind_from,
        "Humidity": f"{told.rh_pct:g} %" if told.rh_pct is not None else "",
        "Sky": told.sky,
    }
    return {**found, "Weather": BASIS_WORDS[told.basis] if any(found.values()) else ""}


def _plain(value: object) -> str:
    return "" if value is None else str(value)
