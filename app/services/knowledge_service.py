"""Use cases around the knowledge base: loading it once, listing, showing and counting."""

from __future__ import annotations

import functools
from collections import Counter
from pathlib import Path
from typing import Any

import platformdirs

from app.engine.errors import UnknownId
from app.engine.understood import nearest
from knowledge.base import KnowledgeBase
from knowledge.checks import walk
from knowledge.coverage import count_coverage
from knowledge.loader import FACTS, load
from knowledge.models import Citation

APP_NAME = "swardwright"
_CITING = ("weeds", "actives", "turf")
KINDS = ("weeds", "actives", "turf", "rules", "sources")


def snapshot_folder() -> Path:
    """Where snapshots of the parsed facts are kept, in the platform's cache folder."""
    return Path(platformdirs.user_cache_dir(APP_NAME, appauthor=False))


@functools.cache
def knowledge_base() -> KnowledgeBase:
    """The checked knowledge base, loaded once in a process.

    Raises
    ------
    KnowledgeError
        With every fault in the facts.
    """
    return load(FACTS, snapshot_folder())


def list_entries(kind: str) -> list[dict[str, Any]]:
    """Id and name of every entry of a kind, ordered by id.

    Raises
    ------
    UnknownId
        When there is no such kind.
    """
    entries = _of_kind(kind)
    return [{"id": key, "name": _name(entries[key])} for key in sorted(entries)]


def show_entry(kind: str, key: str) -> dict[str, Any]:
    """One entry with the sources it cites.

    Raises
    ------
    UnknownId
        When the kind or the entry is not known, with the three nearest.
    """
    entries = _of_kind(kind)
    if key not in entries:
        raise UnknownId(kind.removesuffix("s"), key, nearest(key, entries))
    entry = entries[key]
    shown: dict[str, Any] = {"id": key, **entry.model_dump(mode="json", by_alias=True)}
    if kind != "sources":
        base = knowledge_base()
        used = sorted({part.id for _, part in walk(entry) if isinstance(part, Citation)})
        shown["sources"] = {source: base.sources[source].model_dump(mode="json") for source in used}
    return shown


def _of_kind(kind: str) -> dict[str, Any]:
    if kind not in KINDS:
        raise UnknownId("kind", kind, nearest(kind, KINDS))
    return dict(getattr(knowledge_base(), kind))


def _name(entry: Any) -> str:
    return str(getattr(entry, "name", None) or getattr(entry, "citation", None) or getattr(entry, "id", ""))


def coverage() -> dict[str, Any]:
    """How many cells of the knowledge base are filled, and on what basis."""
    return count_coverage(knowledge_base())


def uses_of(source: str) -> dict[str, list[tuple[str, str]]]:
    """The weeds, actives and turf that cite a source, by kind, as id and name."""
    return _citing_entries().get(source, {kind: [] for kind in _CITING})


@functools.cache
def _citing_entries() -> dict[str, dict[str, list[tuple[str, str]]]]:
    """Who cites each source: read once, since every record has to be looked at."""
    base = knowledge_base()
    found: dict[str, dict[str, list[tuple[str, str]]]] = {}
    for kind in _CITING:
        for entry in getattr(base, kind).values():
            for source in {part.id for _, part in walk(entry) if isinstance(part, Citation)}:
                found.setdefault(source, {name: [] for name in _CITING})[kind].append((entry.id, entry.name))
    return found


def used_sources() -> Counter[str]:
    """How often each source is cited."""
    base = knowledge_base()
    kinds = (
        *("weeds", "actives", "turf", "rules", "mixtures", "interactions", "adjuvants"),
        *("zones", "surroundings", "shifts", "parameters", "notices", "results"),
        *("formulations", "measures", "steps", "growth", "records", "customer"),
        *("climate", "mechanisms", "likely", "proposal"),
    )
    return Counter(
        part.id
        for kind in kinds
        for entry in getattr(base, kind).values()
        for _, part in walk(entry)
        if isinstance(part, Citation)
    )
