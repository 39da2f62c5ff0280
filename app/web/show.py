"""What templates call to show a figure: formatting only, no rule and no arithmetic of the trade."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from typing import Any

from app.engine.house import SOURCE_PREFIX
from app.engine.measures import Measure
from app.engine.output import Amount, Caution
from app.web import units
from app.web.choices import MONTHS, STAGE_WORDS, TURF_SCOPES
from app.web.fields import FIELD_LABELS, PRIORITIES
from knowledge.base import KnowledgeBase
from knowledge.models import Citation, Source
from knowledge.quantities import Quantity

BASIS_WORDS = {
    "published": "published",
    "memory": "from memory",
    "common-practice": "common practice",
    "house": "house",
    None: "",
}
CLASS_WORDS = {"T": "tolerant", "I": "with care", "S": "sensitive", "unknown": "unknown"}
CLASS_MARKS = {"T": "note", "I": "caution", "S": "stop", "unknown": "unknown"}
MOVEMENT_WORDS = {
    "phloem": "moves through the whole plant",
    "xylem": "moves upward with the water",
    "contact": "acts where it lands",
    "barrier": "acts in the soil",
}
EVENT_WORDS = {
    "treat-before": "spray before",
    "first": "first seedlings",
    "main": "main flush",
    "half": "half are up",
    "most": "most are up",
    "end": "the last",
}
MARK_WORDS = {"stop": "Stop", "caution": "Caution", "unknown": "Unknown", "note": "Note"}


def helpers(base: KnowledgeBase, system: units.System, house: Callable[[str], Source]) -> dict[str, Any]:
    """Functions and words for the templates; `house` gives the house's trials as sources."""
    return {
        **_figures(system),
        **_names(base),
        **_sources(base, house),
        "mark_of": mark_of,
        "mark_words": MARK_WORDS,
        "event_words": EVENT_WORDS,
        "span_words": span_words,
        "day_words": day_words,
        "part_words": {key: label.lower() for key, label in PRIORITIES.items()},
        "basis_words": BASIS_WORDS,
        "class_words": CLASS_WORDS,
        "class_marks": CLASS_MARKS,
        "movement_words": MOVEMENT_WORDS,
        "field_labels": FIELD_LABELS,
    }


def _figures(system: units.System) -> dict[str, Any]:
    """Figures and sentences in the system asked for."""

    def rate(amount: Amount | Measure | Quantity) -> str:
        return units.rate(amount, system)

    def small_rate(amount: Amount | Quantity) -> str:
        return units.small_rate(amount, system)

    def for_area(amount: Amount, area: Measure) -> str:
        return units.for_area(amount, area, system)

    def area_words(told: Measure) -> str:
        return units.area(told, system)

    def amount_words(amount: Amount | Quantity) -> str:
        return units.amount_words(amount, system)

    def spoken(kind: str, value: float) -> str:
        return units.spoken(kind, value, system)

    def said(text: str) -> str:
        return units.sentence(text, system)

    return {
        "rate": rate,
        "small_rate": small_rate,
        "for_area": for_area,
        "area_words": area_words,
        "amount_words": amount_words,
        "spoken": spoken,
        "said": said,
        "figure": units.figure,
    }


def _names(base: KnowledgeBase) -> dict[str, Any]:
    """Names that people read, by id."""

    def stage_words(name: str) -> str:
        return STAGE_WORDS.get(name, name.replace("-", " "))

    def turf_name(key: str) -> str:
        return base.turf[key].name if key in base.turf else TURF_SCOPES.get(key, key.replace("-", " "))

    def turf_of_class(key: str) -> str:
        """The turfs that a rate class stands for; nothing for a turf or a season."""
        return ", ".join(turf.name for turf in base.turf.values() if turf.rate_class == key)

    return {
        "stage_words": stage_words,
        "turf_name": turf_name,
        "turf_of_class": turf_of_class,
        "active_name": lambda key: base.actives[key].name if key in base.actives else key,
        "adjuvant_name": lambda key: base.adjuvants[key].name if key in base.adjuvants else key.replace("-", " "),
        "surrounding_name": lambda key: base.surroundings[key].name if key in base.surroundings else key,
        "zone_name": lambda key: base.zones[key].name,
        "site_name": lambda key: base.sites[key].name,
    }


def _sources(base: KnowledgeBase, house: Callable[[str], Source]) -> dict[str, Any]:
    """What a source mark opens, and where it leads."""

    def source_of(key: str) -> Source:
        return base.sources[key] if key in base.sources else house(key)

    def source_at(key: str) -> str:
        return f"/trials/{key.removeprefix(SOURCE_PREFIX)}" if key not in base.sources else f"/knowledge/sources/{key}"

    def source_basis(source: Source) -> str:
        if source.kind in ("common-practice", "house"):
            return {"common-practice": "common practice", "house": "trial of the house"}[source.kind]
        return "seen" if source.seen else "not seen, from memory"

    def cited_ids(citations: Iterable[Citation]) -> list[str]:
        return list(dict.fromkeys(citation.id for citation in citations))

    return {"source_of": source_of, "source_at": source_at, "source_basis": source_basis, "cited_ids": cited_ids}


def mark_of(caution: Caution) -> str:
    """Which mark a caution carries: an unknown, a caution or a note."""
    if caution.settled_by:
        return "unknown"
    return "note" if caution.severity == "info" else "caution"


def span_words(start: str, end: str) -> str:
    """A span of the year in words.

    >>> span_words("09-10", "10-25")
    '10 Sep to 25 Oct'
    """
    return " to ".join(f"{int(day[3:])} {MONTHS[str(int(day[:2]))][:3]}" for day in (start, end))


def day_words(day: date) -> str:
    """A day in words.

    >>> day_words(date(2027, 6, 5))
    '5 June 2027'
    """
    return f"{day.day} {MONTHS[str(day.month)]} {day.year}"
