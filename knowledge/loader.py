"""From fact files to a checked knowledge base, with a snapshot so that later starts are quick."""

from __future__ import annotations

import gc
import hashlib
import json
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from knowledge.base import KnowledgeBase, WeedNames
from knowledge.checks import check
from knowledge.entries import LazyEntries
from knowledge.models import (
    Active,
    Adjuvant,
    Climate,
    CustomerSentence,
    FormulationFact,
    Growth,
    Interaction,
    LikelyWeeds,
    Measures,
    MechanismUse,
    MixStep,
    Mixture,
    Notice,
    Parameter,
    ProposalSentence,
    PublishedResult,
    RecordField,
    Rule,
    ShiftFact,
    Site,
    Source,
    Surrounding,
    Trait,
    Turf,
    Weed,
    ZoneFact,
)
from knowledge.reader import KnowledgeError, Problem, read_text

FACTS = Path(__file__).parent / "facts"

# One file a thing.
_FOLDERS: dict[str, type[BaseModel]] = {"weeds": Weed, "actives": Active, "turf": Turf, "rules": Rule}
# Lists of small things in one file each.
_LISTS: dict[str, type[BaseModel]] = {
    "mixtures": Mixture,
    "interactions": Interaction,
    "adjuvants": Adjuvant,
    "zones": ZoneFact,
    "surroundings": Surrounding,
    "sites": Site,
    "shifts": ShiftFact,
    "parameters": Parameter,
    "notices": Notice,
    "traits": Trait,
    "formulations": FormulationFact,
    "measures": Measures,
    "steps": MixStep,
    "growth": Growth,
    "records": RecordField,
    "customer": CustomerSentence,
    "climate": Climate,
    "mechanisms": MechanismUse,
    "likely": LikelyWeeds,
    "proposal": ProposalSentence,
    "results": PublishedResult,
}
# Long lists, spread over the files of a folder.
_LIST_FOLDERS = ("results",)

_KINDS = (*_FOLDERS, *_LISTS, "sources")
_MODELS: dict[str, type[BaseModel]] = {**_FOLDERS, **_LISTS, "sources": Source}
# The largest kinds, of which one question needs few entries.
_LAZY: dict[str, type[BaseModel]] = {"weeds": Weed, "turf": Turf, "results": PublishedResult}
_SNAPSHOT_FORMAT = "6"
_SNAPSHOTS_KEPT = 4


def fact_files(folder: Path) -> list[Path]:
    """Every fact file under a folder, in a fixed order."""
    return sorted(path for path in folder.rglob("*") if path.is_file() and not path.name.startswith("."))


def read_tree(folder: Path, files: Iterable[Path]) -> tuple[dict[str, dict[str, Any]], list[Problem]]:
    """Read the files into `kind -> id -> record`, with every problem of form.

    Returns
    -------
    tuple
        Raw records by kind and id, and the problems found.
    """
    records: dict[str, dict[str, Any]] = {kind: {} for kind in _KINDS}
    problems: list[Problem] = []
    for path in files:
        name = path.relative_to(folder).as_posix()
        if path.suffix != ".yaml":
            problems.append(Problem(name, "", "must end in .yaml; another file is not read"))
            continue
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            problems.append(Problem(name, "", "is not UTF-8 text"))
            continue
        tree, found = read_text(name, text)
        problems += found
        if tree is None:
            problems += [] if found else [Problem(name, "", "is empty")]
            continue
        kind = path.relative_to(folder).parts[0].removesuffix(".yaml")
        if kind in _FOLDERS:
            problems += _take_one(name, path.stem, kind, tree, records)
        elif kind == "sources":
            problems += _take_map(name, kind, tree, records)
        elif kind in _LISTS and (kind in _LIST_FOLDERS or path.parent == folder):
            problems += _take_list(name, kind, tree, records)
        else:
            problems.append(Problem(name, "", f"'{kind}' is not a kind of fact; see DEVELOPERS.md for the folders"))
    return records, problems


def _take_one(name: str, stem: str, kind: str, tree: Any, records: dict[str, dict[str, Any]]) -> list[Problem]:
    if not isinstance(tree, dict):
        return [Problem(name, "", "the file must hold one mapping")]
    if tree.get("id") != stem:
        return [Problem(name, "id", f"is '{tree.get('id')}' but the file's stem is '{stem}'; make them equal")]
    if stem in records[kind]:
        return [Problem(name, "id", f"'{stem}' stands in another folder too; ids are never reused")]
    records[kind][stem] = tree
    return []


def _take_map(name: str, kind: str, tree: Any, records: dict[str, dict[str, Any]]) -> list[Problem]:
    if not isinstance(tree, dict):
        return [Problem(name, "", "the file must hold one mapping of ids")]
    twice = [key for key in tree if key in records[kind]]
    records[kind].update(tree)
    return [Problem(name, key, "is registered in another file too; keep one") for key in twice]


def _take_list(name: str, kind: str, tree: Any, records: dict[str, dict[str, Any]]) -> list[Problem]:
    if not isinstance(tree, list):
        return [Problem(name, "", "the file must hold a list")]
    problems = []
    for index, item in enumerate(tree):
        key = item.get("id") if isinstance(item, dict) else None
        if key is None or key in records[kind]:
            why = "has no id" if key is None else f"'{key}' stands twice; ids are never reused"
            problems.append(Problem(name, f"{index}.id", why))
        else:
            records[kind][key] = item
    return problems


def _validated(kind: str, model: type[BaseModel], raw: dict[str, Any]) -> tuple[dict[str, Any], list[Problem]]:
    good: dict[str, Any] = {}
    problems = []
    for key, record in raw.items():
        try:
            good[key] = model.model_validate(record)
        except ValidationError as error:
            place = f"{kind}/{key}.yaml" if kind in _FOLDERS else f"{kind}.yaml"
            lead = "" if kind in _FOLDERS else f"{key}."
            for fault in error.errors():
                path = lead + ".".join(str(part) for part in fault["loc"])
                problems.append(Problem(place, path, fault["msg"]))
    return good, problems


def build(records: dict[str, dict[str, Any]], version: str) -> tuple[KnowledgeBase, list[Problem]]:
    """Validate raw records into a knowledge base; cross-checks are not run here."""
    problems: list[Problem] = []
    kinds: dict[str, Any] = {}
    for kind, model in _MODELS.items():
        kinds[kind], found = _validated(kind, model, records[kind])
        problems += found
    return KnowledgeBase(version=version, **kinds), problems


def digest(folder: Path, files: Iterable[Path]) -> str:
    """Version of the facts: a digest over names and contents."""
    whole = hashlib.sha256(_SNAPSHOT_FORMAT.encode())
    for path in files:
        whole.update(path.relative_to(folder).as_posix().encode())
        whole.update(b"\0")
        whole.update(path.read_bytes())
        whole.update(b"\0")
    return whole.hexdigest()[:12]


def load(folder: Path = FACTS, snapshots: Path | None = None) -> KnowledgeBase:
    """Load and check every fact.

    Parameters
    ----------
    folder : Path
        The fact files.
    snapshots : Path, optional
        Folder for a snapshot of the parsed text, named by its digest; reading it back skips the
        YAML and the cross-checks that this exact text has already passed. Nothing is kept
        where it is None or cannot be written.

    Raises
    ------
    KnowledgeError
        With every fault at once.
    """
    files = fact_files(folder)
    version = digest(folder, files)
    with _without_collecting():
        kept = _read_snapshot(snapshots, version)
    if kept is not None:
        return kept
    records, problems = read_tree(folder, files)
    base, found = build(records, version)
    problems += found
    if not problems:
        problems = check(base)
    if problems:
        raise KnowledgeError(problems)
    _write_snapshot(snapshots, version, base)
    return base


@contextmanager
def _without_collecting() -> Iterator[None]:
    """No garbage collection meanwhile: everything built here stays, and looking for garbage doubles the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _read_snapshot(snapshots: Path | None, version: str) -> KnowledgeBase | None:
    """The base of a snapshot; None where there is none, or it is damaged and the text itself must be read."""
    if snapshots is None:
        return None
    try:
        told, _, body = (snapshots / f"facts-{version}.json").read_bytes().partition(b"\n")
        if told != _sum(body):
            return None
        kept = json.loads(body)
        whole: dict[str, Any] = {kind: LazyEntries(model, kept[kind]) for kind, model in _LAZY.items()}
        for kind, model in _MODELS.items():
            if kind not in _LAZY:
                whole[kind] = {key: model.model_validate(record) for key, record in kept[kind].items()}
        names = {key: WeedNames.model_validate(record) for key, record in kept["names"].items()}
    except (OSError, ValueError, KeyError, AttributeError):
        return None
    return KnowledgeBase(version=version, kept_names=names, **whole)


def _write_snapshot(snapshots: Path | None, version: str, base: KnowledgeBase) -> None:
    if snapshots is None:
        return
    kept: dict[str, Any] = {}
    for kind in _MODELS:
        dumped = {key: entry.model_dump_json(by_alias=True) for key, entry in getattr(base, kind).items()}
        kept[kind] = dumped if kind in _LAZY else {key: json.loads(text) for key, text in dumped.items()}
    kept["names"] = {key: names.model_dump() for key, names in base.weed_names.items()}
    body = json.dumps(kept).encode()
    try:
        snapshots.mkdir(parents=True, exist_ok=True)
        fresh = snapshots / f"facts-{version}.{os.getpid()}.part"
        fresh.write_bytes(_sum(body) + b"\n" + body)
        fresh.replace(snapshots / f"facts-{version}.json")
        # Other versions may run beside this one, so the latest few stay.
        newest_first = sorted(snapshots.glob("facts-*.json"), key=lambda file: file.stat().st_mtime, reverse=True)
        for old in newest_first[_SNAPSHOTS_KEPT:]:
            old.unlink(missing_ok=True)
    except OSError:
        # A read-only folder only costs the next start some time.
        return


def _sum(body: bytes) -> bytes:
    return hashlib.blake2b(body, digest_size=16).hexdigest().encode()
