"""Use cases of follow-ups: what was seen after an application, and what is due to be looked at."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Literal

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError
from app.engine.understood import unknown_id
from app.season.record import ApplicationRecord, FollowUp
from app.services import record_trials
from app.services.knowledge_service import knowledge_base
from app.services.validation import validated
from app.store import records
from app.store.opening import Store

Kind = Literal["rating", "application"]


@dataclass(frozen=True)
class KeptFollowUp:
    """A follow-up as it is kept.

    Attributes
    ----------
    days_after : int
        Days from the application to the rating.
    trials : tuple of str
        Ids of the trials that it stands in.
    said : tuple of str
        What has to be told of it, first of all why it moves nothing.
    """

    key: str
    application: str
    follow_up: FollowUp
    days_after: int
    version: int
    changed_at: datetime
    trials: tuple[str, ...]
    said: tuple[str, ...]


@dataclass(frozen=True)
class Due:
    """What is due of a record: its rating, or the next application of its program, between two days."""

    kind: Kind
    key: str
    record: ApplicationRecord
    first: date
    last: date


def checked_follow_up(payload: Any) -> FollowUp:
    """A follow-up given as plain data.

    Raises
    ------
    InputError
        With every field at fault.
    """
    return validated(FollowUp, payload)


def add_follow_up(store: Store, key: str, follow_up: FollowUp, now: datetime, own_key: str = "") -> KeptFollowUp:
    """Keep what was seen after an application, and put it into the house's evidence, in one transaction.

    Parameters
    ----------
    own_key : str
        Key of the follow-up, so that sending it twice keeps it once; one is made where it is empty.

    Raises
    ------
    InputError
        For a day before the application, a second rating of one day, unknown weeds, or a void record.
    UnknownId
        When there is no record of that key.
    """
    own_key = own_key or uuid.uuid4().hex
    with store.session() as session:
        record = _live(session, key)
        kept = records.follow_ups(session, [key])
        for item in kept:
            if item.key == own_key:
                return _kept(item, record)
        _checked(record, follow_up, kept)
        columns = {"application": key, "day": follow_up.date, "fed": {}}
        records.FOLLOW_UPS.keep(session, own_key, _document(follow_up), columns, now)
        records.put_fed(session, own_key, record_trials.fed(session, key, record, follow_up, now))
        return _kept(records.follow_up(session, key, own_key), record)


def change_follow_up(
    store: Store, key: str, own_key: str, follow_up: FollowUp, version: int, now: datetime
) -> KeptFollowUp:
    """Change a follow-up that stands at a version, and with it the trials that it stands in.

    Raises
    ------
    Changed
        When somebody else changed or removed it meanwhile.
    InputError
        As when it is added.
    UnknownId
        When there is no such record or follow-up.
    """
    with store.session() as session:
        record = _live(session, key)
        before = records.follow_up(session, key, own_key)
        others = [item for item in records.follow_ups(session, [key]) if item.key != own_key]
        _checked(record, follow_up, tuple(others))
        records.FOLLOW_UPS.update(session, own_key, _document(follow_up), version, now, {"day": follow_up.date})
        record_trials.unfed(session, before.fed, now)
        records.put_fed(session, own_key, record_trials.fed(session, key, record, follow_up, now))
        return _kept(records.follow_up(session, key, own_key), record)


def remove_follow_up(store: Store, key: str, own_key: str, version: int, now: datetime) -> None:
    """Forget a follow-up that stands at a version, and take it out of the trials.

    Raises
    ------
    Changed
        When somebody else changed or removed it meanwhile.
    UnknownId
        When there is no such record or follow-up.
    """
    with store.session() as session:
        before = records.follow_up(session, key, own_key)
        records.FOLLOW_UPS.delete(session, own_key, version)
        record_trials.unfed(session, before.fed, now)


def follow_ups_of(store: Store, key: str) -> tuple[KeptFollowUp, ...]:
    """Every follow-up of a record, by day.

    Raises
    ------
    UnknownId
        When there is no record of that key.
    """
    with store.reading() as session:
        record = ApplicationRecord.model_validate(records.by_key(session, key).document)
        return tuple(_kept(item, record) for item in records.follow_ups(session, [key]))


def due_follow_ups(store: Store, today: date) -> tuple[Due, ...]:
    """What is due on a day, the earliest first.

    A rating is due between `follow-up-from` and `follow-up-to` days after an application that was meant for a
    weed, unless it was rated since then or the place was sprayed again. The next application is due from the day
    that its record names until `follow-up-to` days later, unless the place was sprayed since.
    """
    base = knowledge_base()
    first, last = (timedelta(days=base.parameter(name)) for name in ("follow-up-from", "follow-up-to"))
    with store.reading() as session:
        window = records.Wanted(first=today - last, last=today - first, live=True)
        to_rate = _read(records.found(session, window))
        to_spray = _read(records.due_next(session, today - last, today))
        rated = {
            item.application
            for item in records.follow_ups(session, list(to_rate))
            if FollowUp.model_validate(item.document).date >= to_rate[item.application].date + first
        }
        later = _later(session, {**to_rate, **to_spray})
    found = [
        Due("rating", key, record, record.date + first, record.date + last)
        for key, record in to_rate.items()
        if record.targets and key not in rated and not later[key]
    ]
    for key, record in to_spray.items():
        assert record.next_due is not None, "found by it"
        if not later[key]:
            found.append(Due("application", key, record, record.next_due, record.next_due + last))
    return tuple(sorted(found, key=lambda due: (due.last, due.kind, due.key)))


def _read(stored: tuple[records.StoredRecord, ...]) -> dict[str, ApplicationRecord]:
    return {item.key: ApplicationRecord.model_validate(item.document) for item in stored}


def _later(session: Session, told: dict[str, ApplicationRecord]) -> dict[str, bool]:
    """Whether the place of each record was sprayed again."""
    slugs = [record.property for record in told.values() if record.property is not None]
    first = min((record.date for record in told.values()), default=None)
    since = _read(records.of_properties(session, slugs, first)).values() if slugs else ()
    return {
        key: record.property is not None
        and any(
            other.property == record.property and other.area == record.area and other.date > record.date
            for other in since
        )
        for key, record in told.items()
    }


def _live(session: Session, key: str) -> ApplicationRecord:
    record = ApplicationRecord.model_validate(records.by_key(session, key, hold=True).document)
    if not record.live:
        raise InputError([FieldFault("record", f"this record is void ({record.void}), so nothing is rated after it")])
    return record


def _checked(record: ApplicationRecord, told: FollowUp, others: tuple[records.StoredFollowUp, ...]) -> None:
    base, faults = knowledge_base(), []
    if told.date < record.date:
        faults.append(FieldFault("date", f"{told.date} lies before the application on {record.date}"))
    if any(item.document["date"] == told.date.isoformat() for item in others):
        faults.append(FieldFault("date", f"there is a rating of {told.date} already; change that one"))
    faults += [
        unknown_id(f"ratings.{weed}", "weed", weed, base.weeds) for weed in told.ratings if weed not in base.weeds
    ]
    if not told.ratings and told.injury_pct is None and not told.text:
        faults.append(FieldFault("ratings", "is required: say what was seen, control of a weed, injury or words"))
    if faults:
        raise InputError(faults)


def _document(told: FollowUp) -> dict[str, Any]:
    return told.model_dump(mode="json", exclude_none=True)


def _kept(stored: records.StoredFollowUp, record: ApplicationRecord) -> KeptFollowUp:
    told = FollowUp.model_validate(stored.document)
    return KeptFollowUp(
        stored.key,
        stored.application,
        told,
        (told.date - record.date).days,
        stored.version,
        stored.changed_at,
        tuple(dict.fromkeys(plot["trial"] for plot in stored.fed.get("plots", ()))),
        tuple(stored.fed.get("said", ())),
    )
