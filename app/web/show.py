"""What templates call to show a figure: formatting only, no rule and no arithmetic of the trade."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from app.engine.output import Amount, Caution
from app.web import units
from app.web.choices import STAGE_WORDS
from knowledge.base import KnowledgeBase
from knowledge.models import Citation

PART_WORDS = {
    "control": "control",
    "turf_safety": "turf safety",
    "resistance": "mechanisms",
    "cost": "cost",
    "passes": "passes",
    "off_target": "off target",
}
BASIS_WORDS = {
    "published": "published",
    "memory": "from memory",
    "common-practice": "common practice",
    "house": "house",
    None: "",
}
CLASS_WORDS = {"T": "tolerant", "I": "with care", "S": "sensitive", "unknown": "unknown"}


def helpers(base: KnowledgeBase, system: units.System) -> dict[str, Any]:
    """Functions and words for the templates."""

    def rate(amount: Amount) -> str:
        return units.rate(amount, system)

    def fact_rate(quantity: Any) -> str:
        return units.text_rate(str(quantity), system)

    def temperature(degrees_f: float) -> str:
        return f"{(degrees_f - 32) * 5 / 9:.0f} °C" if system == "metric" else f"{degrees_f:.0f} °F"

    def stage(name: str) -> str:
        return STAGE_WORDS.get(name, name)

    def source(key: str) -> Any:
        return base.sources[key]

    def cited_ids(citations: Iterable[Citation]) -> list[str]:
        return list(dict.fromkeys(c.id for c in citations))

    return {
        "rate": rate,
        "fact_rate": fact_rate,
        "temperature": temperature,
        "stage_words": stage,
        "source_of": source,
        "cited_ids": cited_ids,
        "mark_of": mark_of,
        "span_words": span_words,
        "part_words": PART_WORDS,
        "basis_words": BASIS_WORDS,
        "class_words": CLASS_WORDS,
        "active_name": lambda key: base.actives[key].name if key in base.actives else key,
        "turf_name": lambda key: base.turf[key].name if key in base.turf else key.replace("-", " "),
        "zone_name": lambda key: base.zones[key].name,
        "site_name": lambda key: base.sites[key].name,
    }


def mark_of(caution: Caution) -> str:
    """Which mark a caution carries: an unknown, a caution or a note."""
    if caution.settled_by:
        return "unknown"
    return "note" if caution.severity == "info" else "caution"


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def span_words(start: str, end: str) -> str:
    """A span of the year in words, for example ``10 Sep to 25 Oct``."""
    return " to ".join(f"{int(day[3:])} {_MONTHS[int(day[:2]) - 1]}" for day in (start, end))
