"""Use cases of application records: kept, changed, voided; with stock, trials and history in one transaction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError
from app.engine.understood import unknown_id
from app.season.record import ApplicationRecord, Branch
from app.season.record_rules import Gap, asked_mark, gaps
from app.services import record_stock, record_trials
from app.services.knowledge_service import knowledge_base
from app.services.validation import validated
from app.store import records
from app.store.changed import Changed
from app.store.keyed import is_key
from app.store.opening import Store
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM

_LONGEST_BY, _LONGEST_WHY = 80, 300


@dataclass(frozen=True)
class KeptRecord:
    """A record as it is kept.

    Attributes
    ----------
    gaps : tuple of Gap
        What is still to be filled, by what is asked now.
    stock : tuple of str
        What has to be told of the shelf's stock, as sentences.
    new : bool
        Whether this call kept it; False where its key was kept before.
    differs : bool
        Whether what was to be kept differs from what stands; it was not stored then.
    """

    key: str
    record: ApplicationRecord
    version: int
    changed_at: datetime
    gaps: tuple[Gap, ...]
    stock: tuple[str, ...]
    new: bool = False
    differs: bool = False

    @property
    def unfinished(self) -> bool:
        """Whether something is still to be filled."""
        return bool(self.gaps)


@dataclass(frozen=True)
class Change:
    """A change of a record: who made it, when and why, and what stood before and after."""

    at: datetime
    by: str
    why: str
    before: ApplicationRecord
    after: ApplicationRecord


def branch_in(session: Session) -> Branch:
    """The branch; an empty one where nothing was told of it."""
    return Branch.model_validate(records.branch_document(session))


def branch_of(store: Store) -> Branch:
    """The branch; an empty one where nothing was told of it."""
    with store.reading() as session:
        return branch_in(session)


def checked_record(payload: Any) -> ApplicationRecord:
    """A record given as plain data.

    Raises
    ------
    InputError
        With every field at fault, ids that the knowledge base does not hold among them. Gaps are no fault.
    """
    record = validated(ApplicationRecord, payload)
    if faults := faults_of(knowledge_base(), record):
        raise InputError(faults)
    return record


def faults_of(base: KnowledgeBase, record: ApplicationRecord) -> list[FieldFault]:
    """Ids of a record that the knowledge base does not hold."""
    found = [
        unknown_id(f"turf.{i}", "turf", key, base.turf) for i, key in enumerate(record.turf) if key not in base.turf
    ]
    for index, target in enumerate(record.targets):
        if target.weed not in base.weeds:
            found.append(unknown_id(f"targets.{index}.weed", "weed", target.weed, base.weeds))
            continue
        known = STAGES_BY_LIFE_FORM[base.weeds[target.weed].life_form]
        if target.stage is not None and target.stage not in known:
            found.append(unknown_id(f"targets.{index}.stage", f"stage of {target.weed}", target.stage, known))
    for index, product in enumerate(record.products):
        for at, part in enumerate(product.actives):
            path = f"products.{index}.actives.{at}"
            active = base.actives.get(part.active)
            if active is None:
                found.append(unknown_id(f"{path}.active", "active", part.active, base.actives))
            elif part.form is not None and part.form not in {form.id for form in active.forms}:
                found.append(
                    unknown_id(f"{path}.form", f"form of {active.id}", part.form, [f.id for f in active.forms])
                )
    return found


def keep(store: Store, key: str, record: ApplicationRecord, now: datetime) -> KeptRecord:
    """Keep a new record, with what it takes off the shelf, in one transaction.

    The same key twice keeps once: the second gets what stands, and `differs` says whether that is something else.

    Raises
    ------
    InputError
        For a key that is none, ids that are not known, a void record, or a stop of a round that has its record.
    """
    base = knowledge_base()
    if not record.live:
        raise InputError([FieldFault("void", "a new record cannot be void; keep it, then void it with a reason")])
    if faults := faults_of(base, record):
        raise InputError(faults)
    document = _document(record)
    try:
        with store.session() as session:
            return _keep(base, session, key, record, document, now)
    except InputError:
        # Two of the same key at once: the database let one in.
        with store.reading() as session:
            if not is_key(key) or not records.known(session, key):
                raise
            return _again(base, session, key, document)


def _keep(
    base: KnowledgeBase,
    session: Session,
    key: str,
    record: ApplicationRecord,
    document: Mapping[str, Any],
    now: datetime,
) -> KeptRecord:
    if records.known(session, key):
        return _again(base, session, key, document)
    branch = branch_in(session)
    columns = {**_columns(base, branch, record, document), "stock": {}}
    kept, _ = records.RECORDS.keep(session, key, dict(document), columns, now)
    stock = record_stock.moved(session, {}, record, now)
    records.put_stock(session, key, stock)
    return KeptRecord(
        key, record, kept.version, kept.changed_at, gaps(base, branch, record), record_stock.said_of(stock), new=True
    )


def _again(base: KnowledgeBase, session: Session, key: str, document: Mapping[str, Any]) -> KeptRecord:
    kept = records.by_key(session, key)
    found = kept_record(base, branch_in(session), kept)
    return KeptRecord(**{**vars(found), "differs": _document(found.record) != document})


def change(
    store: Store, key: str, record: ApplicationRecord, version: int, by: str, why: str, now: datetime
) -> KeptRecord:
    """Change a record that stands at a version; what stood before goes into its history.

    Stock and the trials that its follow-ups stand in change with it, in the same transaction. One that equals
    what stands changes nothing.

    Raises
    ------
    Changed
        When somebody else changed it meanwhile; nothing is stored.
    InputError
        For ids that are not known, or a record that is void.
    UnknownId
        When there is none of that key.
    """
    base = knowledge_base()
    _signed(by, why)
    if faults := faults_of(base, record):
        raise InputError(faults)
    with store.session() as session:
        before = _held(session, key, version)
        if before.document.get("void"):
            raise InputError([FieldFault("void", "this record is void and stays as it is; keep a new one")])
        if not record.live:
            raise InputError([FieldFault("void", "a record is voided with a reason, not by a change")])
        if _document(record) == _document(_read(before)):
            return kept_record(base, branch_in(session), before)
        return _store(base, session, before, record, by, why, now)


def void(store: Store, key: str, version: int, by: str, why: str, now: datetime) -> KeptRecord:
    """Say of a record that it does not count, and why; it is never removed.

    What it took comes back to the shelf, and what was rated after it no longer moves the advice.

    Raises
    ------
    Changed
        When somebody else changed it meanwhile; nothing is stored.
    InputError
        Without a reason, or for one that is void already.
    UnknownId
        When there is none of that key.
    """
    _signed(by, why)
    if not why.strip():
        raise InputError([FieldFault("why", "is required: say why this record does not count")])
    with store.session() as session:
        before = _held(session, key, version)
        record = _read(before)
        if not record.live:
            raise InputError([FieldFault("why", f"this record is void already: {record.void}")])
        told = validated(ApplicationRecord, {**_document(record), "void": why})
        return _store(knowledge_base(), session, before, told, by, why, now)


def one(store: Store, key: str) -> KeptRecord:
    """A record.

    Raises
    ------
    UnknownId
        When there is none of that key.
    """
    with store.reading() as session:
        return kept_record(knowledge_base(), branch_in(session), records.by_key(session, key))


def history(store: Store, key: str) -> tuple[Change, ...]:
    """Every change of a record, the latest first.

    Raises
    ------
    UnknownId
        When there is none of that key.
    """
    with store.reading() as session:
        stands = _read(records.by_key(session, key))
        changes = records.changes(session, key)
    befores = [ApplicationRecord.model_validate(item.before) for item in changes]
    afters = [*befores[1:], *([stands] if befores else [])]
    found = [
        Change(item.at, item.by, item.why, before, after)
        for item, before, after in zip(changes, befores, afters, strict=True)
    ]
    return tuple(reversed(found))


def kept_record(base: KnowledgeBase, branch: Branch, stored: records.StoredRecord) -> KeptRecord:
    """A stored record as a model, with what is still to be filled."""
    record = _read(stored)
    told = record_stock.said_of(stored.stock)
    return KeptRecord(stored.key, record, stored.version, stored.changed_at, gaps(base, branch, record), told)


def _store(
    base: KnowledgeBase,
    session: Session,
    before: records.StoredRecord,
    record: ApplicationRecord,
    by: str,
    why: str,
    now: datetime,
) -> KeptRecord:
    """Put a changed record in the place of what stands, with all that hangs on it."""
    branch, document = branch_in(session), _document(record)
    stock = record_stock.moved(session, before.stock, record, now)
    columns = {**_columns(base, branch, record, document), "stock": stock}
    records.add_change(session, before.key, before.document, by.strip(), why.strip(), now)
    kept = records.RECORDS.update(session, before.key, document, before.version, now, columns)
    record_trials.fed_again(session, before.key, record, now)
    said = record_stock.said_of(stock)
    return KeptRecord(before.key, record, kept.version, kept.changed_at, gaps(base, branch, record), said)


def _held(session: Session, key: str, version: int) -> records.StoredRecord:
    before = records.by_key(session, key, hold=True)
    if before.version != version:
        raise Changed(records.KIND, key, "this record", dict(before.document), before.version)
    return before


def _columns(
    base: KnowledgeBase, branch: Branch, record: ApplicationRecord, document: Mapping[str, Any]
) -> dict[str, Any]:
    found = records.columns_of(document, record.date, record.next_due)
    return {**found, "unfinished": bool(gaps(base, branch, record)), "asked": asked_mark(base, branch)}


def _read(stored: records.StoredRecord) -> ApplicationRecord:
    return ApplicationRecord.model_validate(stored.document)


def _document(record: ApplicationRecord) -> dict[str, Any]:
    return record.model_dump(mode="json", exclude_none=True)


def _signed(by: str, why: str) -> None:
    faults = [
        FieldFault(name, f"holds more than {most} letters; write it shorter")
        for name, told, most in (("by", by, _LONGEST_BY), ("why", why, _LONGEST_WHY))
        if len(told.strip()) > most
    ]
    if faults:
        raise InputError(faults)
