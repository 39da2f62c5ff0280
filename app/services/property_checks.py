"""What is refused of a property, and what is still missing before it can be planned."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date as Date
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.engine.understood import unknown_id
from app.season.property import Property, PropertyArea
from app.services.knowledge_service import knowledge_base
from app.services.place_names import in_order, names, turf_ids
from app.services.validation import validated
from app.store.names import name_key, slug_of

_RULES = {"active": "active", "group": "mechanism group", "form": "form"}


@dataclass(frozen=True)
class Missing:
    """A fact that would settle what cannot be planned now.

    Attributes
    ----------
    path : str
        Its field in the property.
    text : str
        The sentence that says so.
    area : str
        The area it is about; empty where it is about the whole property.
    """

    path: str
    text: str
    area: str = ""


def what_is_missing(told: Property, today: Date | None = None) -> tuple[Missing, ...]:
    """What keeps a property, or an area of it, from being planned; nothing where it can be planned whole."""
    if told.ended is not None and (today is None or told.ended < today):
        return (Missing("ended", f"Service ended on {told.ended:%Y-%m-%d}; it is not planned any more"),)
    found = []
    if told.zone is None:
        found.append(Missing("zone", "The zone is not told; without it neither season nor stage can be judged"))
    if not told.areas:
        found.append(Missing("areas", "It has no area yet; add one with its turf and its size"))
    for number, area in enumerate(told.areas):
        found += [
            Missing(f"areas.{number}.{field}", f"{area.name}: {text}", area.id) for field, text in _missing_of(area)
        ]
    return tuple(found)


def _missing_of(area: PropertyArea) -> list[tuple[str, str]]:
    found = []
    if not area.turf:
        found.append(
            ("turf", "the turf is not told, so no herbicide can be judged safe on it; look and tell the grass")
        )
    if area.area is None:
        found.append(("area", "the size is not told, so no tank can be reckoned; measure it"))
    if area.site_use is None:
        found.append(("site_use", "the use of the turf is not told, and labels differ by it; choose it"))
    return found


def plannable(told: Property, area: str, today: Date | None = None) -> bool:
    """Whether an area has all that a plan needs."""
    return not any(item.area in ("", area) for item in what_is_missing(told, today))


def checked_property(payload: Any) -> Property:
    """A property given as plain data; turf may be told by any of its names, areas without an id get one.

    Raises
    ------
    InputError
        With every field at fault.
    """
    told, faults = _understood(payload)
    try:
        found = validated(Property, told)
    except InputError as error:
        raise InputError(in_order([*faults, *error.faults], Property.model_fields)) from error
    faults += _repeated(found)
    if faults:
        raise InputError(in_order(faults, Property.model_fields))
    return found


def _understood(payload: Any) -> tuple[Any, list[FieldFault]]:
    if not isinstance(payload, dict) or not isinstance(payload.get("areas", ()), list | tuple):
        return payload, []
    areas: list[Any] = []
    faults: list[FieldFault] = []
    taken = {str(area["id"]) for area in payload.get("areas", ()) if isinstance(area, Mapping) and area.get("id")}
    for number, area in enumerate(payload.get("areas", ())):
        if not isinstance(area, Mapping):
            areas.append(area)
            continue
        turf, unknown = turf_ids(f"areas.{number}.turf", area.get("turf", ()))
        faults += unknown
        key = area.get("id")
        if not key and isinstance(area.get("name"), str):
            key = area_id(area["name"], taken)
            taken.add(key)
        areas.append({**area, "id": key, "turf": turf})
    rules = _rules(payload.get("local_rules", ()))
    faults += _rule_faults(rules) if isinstance(rules, list) else []
    told = {**payload, "areas": areas, "local_rules": rules}
    return {**told, "plans": _plans(payload.get("plans", ()), areas)}, faults


def area_id(name: str, taken: Iterable[str]) -> str:
    """An id for a new area, made from its name."""
    return slug_of(name, set(taken))


def _plans(told: Any, areas: list[Any]) -> Any:
    """Plans with their areas by id, where they were told by name."""
    if not isinstance(told, list | tuple):
        return told
    ids = {
        name_key(area["name"]): area["id"]
        for area in areas
        if isinstance(area, Mapping) and isinstance(area.get("name"), str)
    }
    return [
        {**plan, "area": ids.get(name_key(plan["area"]), plan["area"])}
        if isinstance(plan, Mapping) and isinstance(plan.get("area"), str)
        else plan
        for plan in told
    ]


def _rules(told: Any) -> Any:
    """Local rules with their actives by id, by whatever name they were told."""
    if not isinstance(told, list | tuple):
        return told
    return [
        {**rule, "active": names().active(rule["active"]) or rule["active"]}
        if isinstance(rule, Mapping) and isinstance(rule.get("active"), str)
        else rule
        for rule in told
    ]


def _repeated(told: Property) -> list[FieldFault]:
    keys = [name_key(area.name) for area in told.areas]
    return [
        FieldFault(f"areas.{number}.name", f"'{told.areas[number].name}' stands twice; give each area its own name")
        for number, key in enumerate(keys)
        if key in keys[:number]
    ]


def _rule_faults(told: Any) -> list[FieldFault]:
    """The faults of local rules, as plain data, that bar something unknown."""
    rules = [(number, rule) for number, rule in enumerate(told or ()) if isinstance(rule, Mapping)]
    if not rules:
        return []
    base = knowledge_base()
    known = {
        "active": set(base.actives),
        "group": {active.mechanism.group for active in base.actives.values()},
        "form": {form.id for active in base.actives.values() for form in active.forms},
    }
    return [
        unknown_id(f"local_rules.{number}.{field}", kind, rule[field], known[field])
        for number, rule in rules
        for field, kind in _RULES.items()
        if isinstance(rule.get(field), str) and rule[field] not in known[field]
    ]
