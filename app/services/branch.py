"""Use cases of the branch: where it is, who sprays, and what its records must hold."""

from __future__ import annotations

import zoneinfo
from datetime import UTC, datetime
from typing import Any

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.understood import nearest
from app.season.record import Branch
from app.season.record_rules import known_fields
from app.services.knowledge_service import knowledge_base
from app.services.place_names import in_order
from app.services.validation import validated
from app.store.changed import Changed
from app.store.named import Stored
from app.store.opening import Store
from app.store.properties import BRANCH

# There is one branch; the row is known by this name, and its own name stands in the document.
_ROW = "branch"


def branch(store: Store) -> tuple[Branch, int]:
    """The branch and the version at which it stands; 0 where none was told yet."""
    with store.reading() as session:
        found = _kept(session)
    return (Branch.model_validate(found.document), found.version) if found is not None else (Branch(), 0)


def change_branch(store: Store, payload: Any, version: int) -> tuple[Branch, int]:
    """Change the branch that stands at a version, 0 where none was told yet.

    Raises
    ------
    InputError
        With every field at fault.
    Changed
        When somebody else changed it meanwhile.
    """
    told = checked_branch(payload)
    document, now = told.model_dump(mode="json"), datetime.now(UTC)
    with store.session() as session:
        found = _kept(session)
        if (found.version if found is not None else 0) != version:
            raise _changed(found)
        if found is not None:
            kept = BRANCH.update(session, found.slug, _ROW, document, version, now)
        else:
            (kept,) = BRANCH.insert(session, [(_ROW, document, {})], now)
    return told, kept.version


def checked_branch(payload: Any) -> Branch:
    """A branch given as plain data.

    Raises
    ------
    InputError
        With every field at fault.
    """
    faults = _clock_faults(payload)
    try:
        told = validated(Branch, payload)
    except InputError as error:
        raise InputError(in_order([*faults, *error.faults], Branch.model_fields)) from error
    known = record_fields()
    for number, name in enumerate(told.required):
        if name not in known:
            what = f"'{name}' is no field of a record; nearest: {', '.join(nearest(name, known))}"
            faults.append(FieldFault(f"required.{number}", what))
        elif name in told.required[:number]:
            faults.append(FieldFault(f"required.{number}", f"'{name}' stands twice; name each field once"))
    keys = [label.casefold() for label in told.extra]
    for number, label in enumerate(told.extra):
        if not label:
            faults.append(FieldFault(f"extra.{number}", "must be a label, for example Work order"))
        elif label.casefold() in keys[:number]:
            faults.append(FieldFault(f"extra.{number}", f"'{label}' stands twice; give each field its own label"))
    if faults:
        raise InputError(in_order(faults, Branch.model_fields))
    return told


def _clock_faults(payload: Any) -> list[FieldFault]:
    told = payload.get("timezone") if isinstance(payload, dict) else None
    known = zoneinfo.available_timezones()
    if not isinstance(told, str) or told in known:
        return []
    return [FieldFault("timezone", f"'{told[:60]}' is no time zone; nearest: {', '.join(nearest(told, known))}")]


def record_fields() -> dict[str, str]:
    """The fields of a record that a branch may require, dotted, and what each is called."""
    return known_fields(knowledge_base())


def _kept(session: Session) -> Stored | None:
    try:
        return BRANCH.by_slug(session, _ROW)
    except UnknownId:
        return None


def _changed(found: Stored | None) -> Changed:
    if found is None:
        return Changed("branch", _ROW, "The branch", None, None)
    return Changed("branch", _ROW, found.document.get("name") or "The branch", found.document, found.version)
