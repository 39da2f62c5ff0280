"""The years of kept properties as text for people."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from app.text import wrapped
from app.year_text import year_text

if TYPE_CHECKING:
    from app.services.year_answers import YearListed, YearsListed, YearTold

_IN = "  "


def listing_text(found: YearsListed) -> str:
    """Properties with their plans of a season, a line or two each."""
    if not found.kept:
        return "No property is kept yet; add one with `swardwright properties import FILE`.\n"
    page = f", page {found.page} of {found.pages}" if found.pages > 1 else ""
    head = f"{found.season}: {found.planned} of {found.kept} properties planned; {found.found} found{page}."
    return "\n".join([head, *(line for item in found.years for line in _listed(item)), ""])


def _listed(item: YearListed) -> Iterator[str]:
    yield f"{item.name} ({item.property})"
    yield wrapped(item.headline or "not planned yet", _IN, _IN)


def kept_text(found: YearTold) -> str:
    """A property's year: its plan, how it came about, and its versions."""
    if found.plan is None:
        plan = f"swardwright years plan {found.property} {found.season}"
        return f"{found.name}, {found.season}: not planned yet; plan it with `{plan}`.\n"
    held = found.plan
    lines = [f"{found.name} ({found.property}), {found.season}", ""]
    lines += [year_text(held.plan), "Version"]
    lines += [wrapped(f"{held.number} of {len(found.versions)}{', chosen' if held.chosen else ''}.", _IN, _IN)]
    lines += [wrapped(text, _IN, _IN) for text in (*held.left_out, *held.said)]
    if len(found.versions) > 1:
        lines.append("Versions")
        for item in found.versions:
            cost = f", {item.cost_per_1000_ft2:.2f} {item.currency} per 1000 ft2" if item.cost_per_1000_ft2 else ""
            told = f"{item.number}{' (chosen)' if item.chosen else ''}: {item.objective:.1f} of 100{cost}"
            lines.append(wrapped(told, _IN, _IN))
    return "\n".join([*lines, ""])
