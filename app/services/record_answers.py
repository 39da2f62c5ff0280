"""What the API and the command line answer about application records."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.services import follow_ups, record_filling, records
from app.services.knowledge_service import knowledge_base
from app.services.record_log import LogAsked, log
from app.services.record_shapes import (
    ChangeTold,
    DifferenceTold,
    DueListing,
    DueTold,
    FollowUpChange,
    FollowUpKept,
    FollowUpNew,
    FollowUpRemoved,
    GapTold,
    RecordChange,
    RecordKept,
    RecordListing,
    RecordNew,
    RecordReading,
    RecordVoid,
)
from app.services.record_words import differences, words_of
from app.services.validation import validated, version_told
from app.store.changed import Changed
from app.store.opening import Store


def log_asked(told: Mapping[str, Any]) -> LogAsked:
    """What an address asks of the log; empty fields are not told.

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    """
    given: dict[str, Any] = {key: value for key, value in told.items() if value not in ("", None)}
    faults = []
    if "page" in given and not isinstance(given["page"], int):
        text = str(given["page"])
        if text.isascii() and text.isdecimal() and len(text) < 7:
            given["page"] = int(text)
        else:
            faults.append(FieldFault("page", f"'{text[:20]}' is no number of a page, counted from 1"))
    if "unfinished" in given and not isinstance(given["unfinished"], bool):
        known = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}
        text = str(given["unfinished"]).casefold()
        if text in known:
            given["unfinished"] = known[text]
        else:
            faults.append(FieldFault("unfinished", f"'{text[:20]}' is neither true nor false"))
    if faults:
        raise InputError(faults)
    return validated(LogAsked, given)


def listing(store: Store, told: Mapping[str, Any]) -> RecordListing:
    """A page of the log.

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    """
    found = log(store, log_asked(told))
    return RecordListing(
        records=tuple(kept_told(item) for item in found.records),
        total=found.total,
        unfinished=found.unfinished,
        page=found.page,
        pages=found.pages,
    )


def one(store: Store, key: str) -> RecordReading:
    """A record with its history and what was seen after it."""
    base = knowledge_base()
    history = tuple(
        ChangeTold(
            at=item.at,
            by=item.by,
            why=item.why,
            before=item.before,
            differences=tuple(
                DifferenceTold(field=field, before=before, after=after)
                for field, before, after in differences(words_of(item.before, base), words_of(item.after, base))
            ),
        )
        for item in records.history(store, key)
    )
    seen = tuple(_follow_up_told(item) for item in follow_ups.follow_ups_of(store, key))
    return RecordReading(**vars(kept_told(records.one(store, key))), history=history, follow_ups=seen)


def add(store: Store, payload: Any) -> tuple[RecordReading, bool]:
    """Keep a new record; True beside it where it is new, False where its key was kept before.

    Raises
    ------
    InputError
        Naming every field that cannot be used; a record with gaps is kept.
    Changed
        When something else is kept under that key.
    """
    told = validated(RecordNew, payload)
    record = told.record
    try:
        record_filling.known_property(store, record.property)
        record = record_filling.filled_in(store, record) if told.fill_in else record
        kept = records.keep(store, told.key, record, datetime.now(UTC))
    except InputError as error:
        raise _inside("record", error) from error
    if kept.differs:
        stands = kept.record.model_dump(mode="json", exclude_none=True)
        raise Changed("record", told.key, "this record", stands, kept.version)
    return one(store, told.key), kept.new


def change(store: Store, key: str, payload: Any) -> RecordReading:
    """Change a record that stands at a version.

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    Changed
        When somebody else changed it meanwhile.
    UnknownId
        When there is none of that key.
    """
    told = validated(RecordChange, payload)
    try:
        records.change(store, key, told.record, told.version, told.by, told.why, datetime.now(UTC))
    except InputError as error:
        raise _inside("record", error) from error
    return one(store, key)


def void(store: Store, key: str, payload: Any) -> RecordReading:
    """Say of a record that it does not count, and why.

    Raises
    ------
    InputError
        Without a reason, or for one that is void already.
    Changed
        When somebody else changed it meanwhile.
    UnknownId
        When there is none of that key.
    """
    told = validated(RecordVoid, payload)
    records.void(store, key, told.version, told.by, told.why, datetime.now(UTC))
    return one(store, key)


def follow_up(store: Store, key: str, payload: Any) -> FollowUpKept:
    """Keep what was seen after an application.

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    UnknownId
        When there is no record of that key.
    """
    told = validated(FollowUpNew, payload)
    try:
        kept = follow_ups.add_follow_up(store, key, told.follow_up, datetime.now(UTC), told.key)
    except InputError as error:
        raise _inside("follow_up", error) from error
    return _follow_up_told(kept)


def change_follow_up(store: Store, key: str, own_key: str, payload: Any) -> FollowUpKept:
    """Change what was seen after an application.

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    Changed
        When somebody else changed it meanwhile.
    UnknownId
        When there is no such record or follow-up.
    """
    told = validated(FollowUpChange, payload)
    try:
        kept = follow_ups.change_follow_up(store, key, own_key, told.follow_up, told.version, datetime.now(UTC))
    except InputError as error:
        raise _inside("follow_up", error) from error
    return _follow_up_told(kept)


def remove_follow_up(store: Store, key: str, own_key: str, version: str | None) -> FollowUpRemoved:
    """Forget what was seen after an application.

    Raises
    ------
    InputError
        When the version is missing or no number.
    Changed
        When somebody else changed it meanwhile.
    UnknownId
        When there is no such record or follow-up.
    """
    follow_ups.remove_follow_up(store, key, own_key, version_told(version, "rating"), datetime.now(UTC))
    return FollowUpRemoved(removed=own_key)


def due(store: Store, on: str | None, today: date) -> DueListing:
    """What is due on a day, today where none is told.

    Raises
    ------
    InputError
        For a day that is none.
    """
    day = validated(LogAsked, {"from": on}).first if on else today
    assert day is not None, "told, or today"
    found = tuple(
        DueTold(kind=item.kind, key=item.key, first=item.first, last=item.last, record=item.record)
        for item in follow_ups.due_follow_ups(store, day)
    )
    return DueListing(on=day, due=found)


def kept_told(item: records.KeptRecord) -> RecordKept:
    """A kept record as it is answered."""
    return RecordKept(
        key=item.key,
        version=item.version,
        changed_at=item.changed_at,
        unfinished=item.unfinished,
        gaps=tuple(GapTold(path=gap.path, name=gap.name) for gap in item.gaps),
        stock=item.stock,
        record=item.record,
    )


def _follow_up_told(item: follow_ups.KeptFollowUp) -> FollowUpKept:
    return FollowUpKept(**vars(item))


def _inside(where: str, error: InputError) -> InputError:
    """Faults of what stands inside a request, at their path in it."""
    outside = ("key", "by", "why")
    return InputError(
        [
            fault if fault.path in outside else FieldFault(f"{where}.{fault.path}".rstrip("."), fault.message)
            for fault in error.faults
        ]
    )
