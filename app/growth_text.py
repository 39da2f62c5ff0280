"""The growth of weeds as text for people, at eighty columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from app.engine.describe import words
from app.season.ageing import Aged
from app.season.emergence import EmergenceForecast
from app.text import wrapped

_MARKS = {"warning": "[warning]", "caution": "[caution]", "info": "[note]"}


def aged_text(found: Aged) -> str:
    """The stage on a date, every plausible one, and what to mind."""
    lines = [wrapped(found.text), f"Plausible: {', '.join(words(stage) for stage in found.stages)}."]
    lines += [wrapped(f"{_MARKS[caution.severity]} {caution.text}", "", "  ") for caution in found.cautions]
    lines += _sources(found.sources)
    return "\n".join(lines) + "\n"


def emergence_text(found: EmergenceForecast) -> str:
    """Each weed in a sentence, its events under it."""
    lines = [f"Temperatures from {found.first} to {found.last}, as seen on {found.today}."]
    for weed in found.weeds:
        lines += ["", wrapped(weed.text)]
        lines += [wrapped(f"[{event.status}] {event.text}", "  ", "    ") for event in weed.events]
    lines += ["", *_sources(found.sources)]
    return "\n".join(lines).rstrip() + "\n"


def _sources(sources: Mapping[str, object]) -> Iterator[str]:
    if sources:
        yield wrapped(f"Sources: {', '.join(sources)}", "", "  ")
