"""Cells of a file of properties: how each is read and written; what is written is read back to the same value."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Mapping
from typing import Any, get_args

from app.engine.situation import LocalRule
from app.engine.understood import nearest
from app.season.property import Irrigation, Property, PropertyArea, PropertyPlan, Slope
from app.services.knowledge_service import knowledge_base
from app.services.label_text import Unreadable, items, measure, number, unit_named, written
from app.services.place_names import names, turf_fault
from app.services.trial_names import plain
from knowledge.models.common import GreenUp, Stand, Stress

_SHOWN = 60
_CM_PER_INCH, _MM_PER_INCH = 2.54, 25.4
_THOUSANDS = re.compile(r"([0-9]{1,3}(?:,[0-9]{3})+)(?![0-9,])")
# Units so small that a comma before three digits cannot mean a decimal.
_SMALL = ("ft2", "m2")
_LIST = re.compile(r"\s*[;,+/&\n]\s*|\s+and\s+", re.IGNORECASE)
_PLAN = re.compile(r'(\S+)\s+(\S+)(?:\s+on\s+([^"]+?))?(?:\s+"((?:[^"]|"")*)")?', re.DOTALL)
_RULE = re.compile(
    r'(\S+)(?:\s+(?!\d{4}-)([^"\s]+))?(?:\s+(\d{4}-\d\d-\d\d)\s+to\s+(\d{4}-\d\d-\d\d))?(?:\s+"((?:[^"]|"")*)")?',
    re.DOTALL,
)
_BARRED = {"ban-active": "active", "ban-form": "form", "ban-group": "group"}
_IRRIGATION = {"yes": "system", "y": "system", "automatic": "system", "sprinklers": "system", "no": "none", "n": "none"}
_IRRIGATION |= {"hand": "by-hand", "hose": "by-hand"}


# A file of thousands of rows spells its unit in one or two ways.
_unit = functools.lru_cache(maxsize=256)(unit_named)


def size(text: str, unit: str = "") -> dict[str, Any]:
    """An area with its unit; a comma may part thousands of square feet or meters.

    >>> size("12,500 sq ft")
    {'value': 12500.0, 'unit': 'ft2'}
    """
    match = _THOUSANDS.match(text.strip())
    told = _unit(text.strip()[match.end() :].strip() or unit) if match else ""
    if match is not None and told in _SMALL:
        return {"value": float(match.group(1).replace(",", "")), "unit": told}
    return measure(text, _unit(unit) if unit else "")


def height(text: str, unit: str = "") -> float:
    """A mowing height [in], typed in inches, centimeters or millimeters."""
    match = re.fullmatch(r"\s*([0-9.,]+)\s*(\"|in\.?|inch(?:es)?|cm|mm)?\s*", text, re.IGNORECASE)
    told = ((match.group(2) or unit) if match else "").casefold().rstrip(".")
    if match is None or not told:
        raise Unreadable(f"'{text[:_SHOWN]}' is no height; write for example 3.5 in or 9 cm")
    value = number(match.group(1))
    per_inch = {"cm": _CM_PER_INCH, "mm": _MM_PER_INCH}.get(told)
    return value if per_inch is None else round(value / per_inch, 3)


@functools.lru_cache(maxsize=4096)
def turf(text: str) -> tuple[str, ...]:
    """Turf by any of its names, several in a mixed stand."""
    base, found = knowledge_base(), []
    whole = names().turf_id(text)
    for part in [text] if whole else _LIST.split(text):
        if part:
            key = names().turf_id(part)
            if key is None:
                raise Unreadable(turf_fault("", part, base).message)
            found.append(key)
    return tuple(found)


def _chooser(what: str, known: Callable[[], Mapping[str, str]], others: Mapping[str, str]) -> Callable[[str], str]:
    @functools.lru_cache(maxsize=1024)
    def chosen(text: str) -> str:
        told = plain(text)
        names_of = known()
        exact = {plain(word): key for key, name in names_of.items() for word in (key, name, name.removeprefix("a "))}
        if found := exact.get(told) or others.get(told):
            return found
        # A part of a name will do where no other has it.
        like = {key for key, name in names_of.items() if told and (told in plain(key) or told in plain(name))}
        if len(like) == 1:
            return like.pop()
        near = ", ".join(nearest(text.casefold(), names_of))
        raise Unreadable(f"'{text[:_SHOWN]}' is no known {what}; nearest: {near}")

    return chosen


def _same(kind: Any) -> Callable[[], Mapping[str, str]]:
    return lambda: {key: key for key in get_args(kind)}


zone = _chooser("zone", lambda: {key: zone.name for key, zone in knowledge_base().zones.items()}, {})
site_use = _chooser("use of turf", lambda: {key: site.name for key, site in knowledge_base().sites.items()}, {})
slope = _chooser("slope", _same(Slope), {"level": "flat", "none": "flat", "moderate": "gentle", "steepslope": "steep"})
irrigation = _chooser("way of watering", _same(Irrigation), _IRRIGATION)
stand = _chooser("stand", _same(Stand), {"new": "seedling", "old": "established", "mature": "established"})
green_up = _chooser("green-up", _same(GreenUp), {"green": "active"})
stress = _chooser("stress", _same(Stress), {"no": "none"})
_surrounding = _chooser(
    "thing near",
    lambda: {key: item.name for key, item in knowledge_base().surroundings.items()},
    {"trees": "tree-roots"},
)


@functools.lru_cache(maxsize=4096)
def surroundings(text: str) -> tuple[str, ...]:
    """What stands near, by id or name; nothing is told by none."""
    if plain(text) in ("none", "no"):
        return ()
    return tuple(dict.fromkeys(_surrounding(part) for part in re.split(r"\s*[;,\n]\s*", text) if part))


def plans(text: str) -> list[dict[str, Any]]:
    """Plans: what, the day, on which area, words in quotation marks; a semicolon between two."""
    found = []
    for item in items(text):
        match = _PLAN.fullmatch(item)
        if match is None:
            raise Unreadable(f"'{item[:_SHOWN]}' is no plan; write for example seeding 2027-09-10 on front \"by Jo\"")
        kind, day, area, words = match.groups()
        found.append({"kind": kind.casefold(), "date": day, "area": area, "text": (words or "").replace('""', '"')})
    return found


def plans_text(told: tuple[PropertyPlan, ...]) -> str:
    """Plans as they are read back."""
    return "; ".join(
        f"{plan.kind} {plan.date.isoformat()}{f' on {plan.area}' if plan.area else ''}{_quoted(plan.text)}"
        for plan in told
    )


def rules(text: str) -> list[dict[str, Any]]:
    """Local rules: what is barred, between which days, who says so in quotation marks; a semicolon between two."""
    found = []
    for item in items(text):
        match = _RULE.fullmatch(item)
        if match is None:
            how = 'write for example ban-active dicamba "county", or closed-season 2027-05-01 to 2027-06-01'
            raise Unreadable(f"'{item[:_SHOWN]}' is no local rule; {how}")
        kind, barred, start, end, note = match.groups()
        rule: dict[str, Any] = {"kind": kind.casefold(), "note": (note or "").replace('""', '"')}
        if barred is not None:
            rule[_BARRED.get(rule["kind"], "active")] = barred
        rule |= {key: day for key, day in (("from", start), ("to", end)) if day}
        found.append(rule)
    return found


def rules_text(told: tuple[LocalRule, ...]) -> str:
    """Local rules as they are read back."""
    found = []
    for rule in told:
        barred = getattr(rule, _BARRED[rule.kind]) if rule.kind in _BARRED else None
        days = f" {rule.start.isoformat()} to {rule.end.isoformat()}" if rule.start and rule.end else ""
        found.append(f"{rule.kind}{f' {barred}' if barred else ''}{days}{_quoted(rule.note)}")
    return "; ".join(found)


def _quoted(text: str) -> str:
    doubled = text.replace('"', '""')
    return f' "{doubled}"' if text else ""


def of_property(told: Property) -> dict[str, str]:
    """The cells of a property as a whole, by column."""
    return {
        "property": told.name,
        "address": told.address,
        "zone": told.zone or "",
        "technician": told.technician,
        "latitude": "" if told.latitude is None else written(told.latitude),
        "longitude": "" if told.longitude is None else written(told.longitude),
        "ended": told.ended.isoformat() if told.ended else "",
        "property_notes": told.notes,
        "plans": plans_text(told.plans),
        "local_rules": rules_text(told.local_rules),
    }


def of_area(told: PropertyArea) -> dict[str, str]:
    """The cells of an area, by column."""
    return {
        "area": told.name,
        "area_id": told.id,
        "turf": "; ".join(told.turf),
        "size": written(told.area.value) if told.area is not None else "",
        "unit": told.area.unit if told.area is not None else "",
        "site_use": told.site_use or "",
        "slope": told.slope or "",
        "surroundings": "; ".join(told.surroundings),
        "mowing_height": f"{written(told.mowing_height_in)} in" if told.mowing_height_in is not None else "",
        "irrigation": told.irrigation or "",
        "stand": told.stand or "",
        "emerged": told.emerged.isoformat() if told.emerged else "",
        "green_up": told.green_up or "",
        "stress": told.stress or "",
        "area_notes": told.notes,
    }


# How the cell of a column is read; the others are taken as they stand.
READERS: dict[str, Callable[[str], Any]] = {
    "zone": zone,
    "latitude": number,
    "longitude": number,
    "plans": plans,
    "local_rules": rules,
    "turf": turf,
    "site_use": site_use,
    "slope": slope,
    "surroundings": surroundings,
    "irrigation": irrigation,
    "stand": stand,
    "green_up": green_up,
    "stress": stress,
}
# What an empty cell means, where its column stands in the file.
EMPTY: dict[str, Any] = {
    **{"address": "", "technician": "", "notes": "", "plans": [], "local_rules": [], "turf": [], "surroundings": []},
    **dict.fromkeys(("zone", "latitude", "longitude", "ended", "area", "site_use", "slope", "mowing_height_in")),
    **dict.fromkeys(("irrigation", "stand", "emerged", "green_up", "stress", "id")),
    **{"phone": "", "email": ""},
}
