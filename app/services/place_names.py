"""What people call turf and weeds on a property, as the ids of the knowledge base."""

from __future__ import annotations

import functools
from collections.abc import Iterable
from typing import Any

from rapidfuzz import fuzz, process

from app.engine.errors import FieldFault, InputError
from app.services.knowledge_service import knowledge_base
from app.services.search import find_weed
from app.services.trial_names import Names, names_in, plain
from knowledge.base import KnowledgeBase
from knowledge.models.common import ALL_STAGES

# A name this like is the name, but for its plural.
_SURE = 99.0
_SHOWN = 60
_NEAREST = 3
# Stages by their ids and by the words that stand on a scouting sheet.
STAGE_IDS = {plain(stage): stage for stage in ALL_STAGES} | {
    **{"bloom": "flowering", "inbloom": "flowering", "blooming": "flowering", "flower": "flowering"},
    **{"seedlings": "seedling", "inseed": "seed-set", "rosette": "vegetative"},
    **{"tillered": "multi-tiller", "heads": "heading", "seedheads": "heading", "dormant": "overwintering"},
}
# Passes for an id where the name is not known, so that every other field is looked at too.
_STANDS_IN = "not-known"


@functools.cache
def names() -> Names:
    """Every exact name of the knowledge base."""
    return names_in(knowledge_base())


def turf_fault(path: str, text: str, base: KnowledgeBase) -> FieldFault:
    """The fault for a turf that is not known, with the three nearest."""
    known = {plain(word): turf.name for turf in base.turf.values() for word in (turf.name, turf.id, *turf.synonyms)}
    # Of several names of one turf the likest counts.
    alike = process.extract(plain(text), list(known), scorer=fuzz.ratio, limit=len(known))
    near = list(dict.fromkeys(known[key] for key, *_ in alike))[:_NEAREST]
    return FieldFault(path, f"'{text[:_SHOWN]}' is no known turf; nearest: {', '.join(near)}")


def turf_ids(path: str, told: Any) -> tuple[Any, list[FieldFault]]:
    """A list of turf names as ids, with the faults of those that are not known; what is no list stays as it is."""
    if not isinstance(told, list | tuple):
        return told, []
    base, faults, found = knowledge_base(), [], []
    for number, item in enumerate(told):
        if not isinstance(item, str):
            # What is no name is refused where its type is.
            found.append(item)
            continue
        key = names().turf_id(item)
        if key is None:
            faults.append(turf_fault(f"{path}.{number}", item, base))
        elif key in found:
            faults.append(FieldFault(f"{path}.{number}", f"'{item}' is named twice; name each turf once"))
        found.append(_STANDS_IN if key is None else key)
    return found, faults


def weed_id(path: str, text: str) -> str:
    """The weed that a name means.

    Raises
    ------
    InputError
        Where none is like enough, with the three nearest, or where it may mean several.
    """
    base = knowledge_base()
    if text in base.weed_names:
        return text
    exact = names().weed(text)
    if len(exact) == 1:
        return exact[0]
    try:
        weed, matched, others = find_weed(base, text)
    except InputError as error:
        raise InputError([FieldFault(path, fault.message) for fault in error.faults]) from error
    if others and matched.score < _SURE:
        near = " or ".join(base.weed_names[key].name for key in (weed.id, *others[:2]))
        raise InputError([FieldFault(path, f"'{text[:_SHOWN]}' may mean {near}; write which one it is")])
    return weed.id


def in_order(faults: Iterable[FieldFault], fields: Iterable[str]) -> list[FieldFault]:
    """Faults as their fields follow each other in a model, one at each path."""
    order = {name: number for number, name in enumerate(fields)}
    first: dict[str, FieldFault] = {}
    for fault in faults:
        first.setdefault(fault.path, fault)

    def place(fault: FieldFault) -> tuple[int, int]:
        head, *rest = fault.path.split(".")
        return order.get(head, len(order)), int(rest[0]) if rest and rest[0].isdecimal() else 0

    return sorted(first.values(), key=place)
