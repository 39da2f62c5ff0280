"""What the pages of properties say: words of a property, the age of a note, the question after an area."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date as Date
from urllib.parse import urlencode

from app.season.property import Property, PropertyArea
from app.services.scouting import KeptNote
from app.web import units
from app.web.choices import GREEN_UP, STAGE_WORDS, STANDS, STRESS
from app.web.fields import BAN_ROWS, WEED_ROWS
from app.web.property_fields import IRRIGATION, PLAN_KINDS, SLOPES
from app.web.show import day_words
from knowledge.base import KnowledgeBase

_DAYS_A_WEEK = 7
NEEDED = ("Turf", "Size", "Use")
_RULES_SAID = {
    "ban-active": "{} is barred",
    "ban-form": "{} is barred",
    "ban-group": "mechanism group {} is barred",
    "closed-season": "no spraying",
}


def age_words(seen: Date, today: Date) -> str:
    """How long ago a note was made.

    >>> age_words(Date(2027, 6, 14), Date(2027, 6, 15)), age_words(Date(2027, 6, 1), Date(2027, 6, 15))
    ('yesterday', '14 days ago')
    """
    days = (today - seen).days
    if days < 0:
        return f"in {-days} days by this clock"
    return "today" if days == 0 else "yesterday" if days == 1 else f"{days} days ago"


def seen_words(note: KeptNote) -> str:
    """What was counted and judged of a weed."""
    told = note.note
    parts = [STAGE_WORDS.get(told.stage, told.stage)] if told.stage else []
    parts += [f"{told.tillers} tillers"] if told.tillers is not None else []
    parts += [f"{told.leaves} leaves"] if told.leaves is not None else []
    parts += [f"{units.figure(told.cover_pct)} % of the ground"] if told.cover_pct is not None else []
    return ", ".join(parts)


def area_facts(
    area: PropertyArea, base: KnowledgeBase, system: units.System, *, untold: bool = False
) -> list[tuple[str, str]]:
    """The facts of an area that are told, as label and words; with `untold` also what it needs and nobody told."""
    told = [
        ("Turf", ", ".join(base.turf[key].name if key in base.turf else key for key in area.turf)),
        ("Size", units.area(area.area, system) if area.area is not None else ""),
        ("Use", base.sites[area.site_use].name if area.site_use else ""),
        ("Slope", SLOPES[area.slope] if area.slope else ""),
        ("Near", ", ".join(base.surroundings[key].name for key in area.surroundings)),
        ("Mown at", units.spoken("height", area.mowing_height_in, system) if area.mowing_height_in else ""),
        ("Watering", IRRIGATION[area.irrigation] if area.irrigation else ""),
        ("Stand", STANDS[area.stand] if area.stand else ""),
        ("Came up", f"{area.emerged:%Y-%m-%d}" if area.emerged else ""),
        ("Green-up", GREEN_UP[area.green_up] if area.green_up else ""),
        ("Stress", STRESS[area.stress] if area.stress else ""),
        ("Notes", area.notes),
    ]
    return [(label, words) for label, words in told if words or (untold and label in NEEDED)]


def property_words(told: Property, customer: str, base: KnowledgeBase, system: units.System) -> dict[str, str]:
    """Everything that is told of a property, by label."""
    found = {
        "Name": told.name,
        "Customer": customer,
        "Address": told.address,
        "Zone": base.zones[told.zone].name if told.zone else "",
        "Technician": told.technician,
        "Latitude": "" if told.latitude is None else f"{told.latitude:.9g}",
        "Longitude": "" if told.longitude is None else f"{told.longitude:.9g}",
        "Service ended on": f"{told.ended:%Y-%m-%d}" if told.ended else "",
    }
    for area in told.areas:
        facts = "; ".join(f"{label.lower()}: {words}" for label, words in area_facts(area, base, system))
        found[f"Area {area.name}"] = facts or "nothing told"
    found["Plans"] = "; ".join(plan_words(told))
    found["Local rules"] = "; ".join(rule_words(told, base))
    found["Notes"] = told.notes
    return found


def plan_words(told: Property) -> list[str]:
    """Each plan in words, the earliest first."""
    found = []
    for plan in sorted(told.plans, key=lambda item: item.date):
        area = told.area_of(plan.area) if plan.area else None
        where = f" on {area.name}" if area is not None else ""
        found.append(f"{day_words(plan.date)}: {PLAN_KINDS[plan.kind]}{where}{f', {plan.text}' if plan.text else ''}")
    return found


def rule_words(told: Property, base: KnowledgeBase) -> list[str]:
    """Each local rule in words."""
    found = []
    for rule in told.local_rules:
        known = base.actives.get(rule.active or "")
        what = (known.name if known is not None else rule.active) or rule.form or rule.group or ""
        said = _RULES_SAID[rule.kind].format(what)
        days = f", {day_words(rule.start)} to {day_words(rule.end)}" if rule.start and rule.end else ""
        found.append(f"{said}{days}{f' ({rule.note})' if rule.note else ''}")
    return found


def differing(
    mine: Property, my_customer: str, theirs: Property, their_customer: str, base: KnowledgeBase, system: units.System
) -> list[tuple[str, str, str]]:
    """Both sides of a conflict, label by label."""
    first = property_words(mine, my_customer, base, system)
    second = property_words(theirs, their_customer, base, system)
    return [(label, first.get(label, ""), second.get(label, "")) for label in dict.fromkeys((*first, *second))]


def ask_address(
    told: Property,
    area: PropertyArea,
    notes: Iterable[KeptNote],
    today: Date,
    base: KnowledgeBase,
    system: units.System,
) -> str:
    """The address of the question form, filled in with what is known of an area and of the weeds on it."""
    fields: list[tuple[str, str | None]] = [
        ("units", system),
        ("turf", area.turf[0] if area.turf else None),
        ("turf_2", area.turf[1] if len(area.turf) > 1 else None),
        ("zone", told.zone),
        ("site_use", area.site_use),
        ("area", f"{area.area.value:.10g}" if area.area is not None else None),
        ("area_unit", area.area.unit if area.area is not None else None),
        ("stand", area.stand),
        ("green_up", area.green_up),
        ("stress", area.stress),
        ("weeks", _weeks(area, today)),
        ("height", _height(area, system)),
        ("seeding", _iso(told.seeding_after(area.id, today))),
    ]
    fields += [("surroundings", key) for key in area.surroundings]
    fields += _of_weeds([note for note in notes if note.open and note.note.area == area.id], base)
    banned = [rule.active for rule in told.local_rules if rule.kind == "ban-active"][:BAN_ROWS]
    fields += [(f"ban_{row}", key) for row, key in enumerate(banned, start=1)]
    return "/?" + urlencode([(key, value) for key, value in fields if value])


def _of_weeds(notes: list[KeptNote], base: KnowledgeBase) -> list[tuple[str, str | None]]:
    """The weeds of the latest notes, the weightiest first; of the first all that was seen of it."""
    latest: dict[str, KeptNote] = {}
    for note in notes:
        latest.setdefault(note.note.weed, note)
    order = sorted(latest.values(), key=lambda item: (-item.note.priority, -(item.note.cover_pct or 0)))
    found: list[tuple[str, str | None]] = []
    for row, item in enumerate(order[:WEED_ROWS], start=1):
        suffix = "" if row == 1 else f"_{row}"
        told = item.note
        name = base.weed_names[told.weed].name if told.weed in base.weed_names else told.weed
        found += [(f"weed{suffix}", name), (f"stage{suffix}", told.stage)]
        if row == 1:
            found += [
                ("tillers", None if told.tillers is None else str(told.tillers)),
                ("leaves", None if told.leaves is None else str(told.leaves)),
                ("cover", None if told.cover_pct is None else units.figure(told.cover_pct)),
                ("resistant", ", ".join(told.resistant_to)),
            ]
    return found


def _weeks(area: PropertyArea, today: Date) -> str | None:
    if area.emerged is None or area.emerged > today:
        return None
    return str((today - area.emerged).days // _DAYS_A_WEEK)


def _height(area: PropertyArea, system: units.System) -> str | None:
    if area.mowing_height_in is None:
        return None
    return units.figure(units.converted("height", area.mowing_height_in, "us", system), 4)


def _iso(day: Date | None) -> str | None:
    return None if day is None else day.isoformat()
