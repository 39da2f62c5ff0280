"""Who works on a job: a lease with a heartbeat, so that two never work on one, and a dead one is taken over."""

from __future__ import annotations

import os
import secrets
import socket
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, SwardwrightError
from app.services.year_job_shapes import JobDocument, Lease, State, document_of, plain_of
from app.store import year_jobs as kept
from app.store.models import YearJobRow
from app.store.opening import Store

# A worker says so often that it lives, and counts as dead when it has been silent so long.
BEAT = timedelta(seconds=5)
STALE = timedelta(seconds=60)
Clock = Callable[[], datetime]


class LeaseLost(SwardwrightError):
    """Somebody else works on the job now; what was being worked on here is not kept."""


def utc_now() -> datetime:
    """The time."""
    return datetime.now(UTC)


def alive(lease: Lease | None, now: datetime) -> bool:
    """Whether somebody works on a job: heard of lately, and not known to have ended."""
    if lease is None or now - lease.beat >= STALE:
        return False
    # A process of this machine that is gone need not be waited for. Windows has no question that does no harm.
    return not (os.name == "posix" and lease.host == socket.gethostname() and _gone(lease.process))


def _gone(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return True
    except PermissionError:
        return False
    return False


@dataclass
class Holding:
    """A job that is being worked on here; every write looks first whether that is still so."""

    store: Store
    key: str
    clock: Clock = utc_now
    holder: str = field(default_factory=lambda: secrets.token_hex(8))

    def take(self) -> JobDocument:
        """Begin to work on the job.

        Raises
        ------
        InputError
            Where another process works on it, or it is done.
        UnknownId
            When there is none.
        """
        now = self.clock()
        with self.store.session() as session:
            row = kept.locked(session, self.key)
            told = document_of(self.key, row.document)
            if row.state == "done":
                raise InputError([FieldFault("job", f"{self.key} is done; start another to plan anew")])
            if told.lease is not None and alive(told.lease, now):
                where = f"process {told.lease.process} on {told.lease.host}"
                raise InputError([FieldFault("job", f"{self.key} is being planned by {where}; cancel it first")])
            lease = Lease(holder=self.holder, host=socket.gethostname(), process=os.getpid(), beat=now)
            changed = {"lease": lease, "cancel": False, "reason": "", "ended_at": None}
            return _write(row, told.model_copy(update=changed), "running", now)

    def keep(self, write: Callable[[Session], None] | None = None, **changes: object) -> bool:
        """Keep what was worked out, in one transaction with the job's own changes; whether to go on.

        Raises
        ------
        LeaseLost
            When somebody else took the job over, or it is gone; nothing is kept then.
        """
        now = self.clock()
        with self.store.session() as session:
            row, told = self._mine(session)
            if write is not None:
                write(session)
            assert told.lease is not None, "it is ours"
            since = now - told.lease.beat
            if changes or since >= BEAT:
                more = {"lease": told.lease.model_copy(update={"beat": now}), "worked_s": _worked(told, since)}
                _write(row, told.model_copy(update={**more, **changes}), "running", now)
            return not told.cancel

    def end(self, state: State, reason: str = "") -> None:
        """Let go of the job.

        Raises
        ------
        LeaseLost
            When somebody else took the job over, or it is gone.
        """
        now = self.clock()
        with self.store.session() as session:
            row, told = self._mine(session)
            assert told.lease is not None, "it is ours"
            worked = _worked(told, now - told.lease.beat)
            changes = {"lease": None, "cancel": False, "reason": reason, "ended_at": now, "worked_s": worked}
            _write(row, told.model_copy(update=changes), state, now)

    def _mine(self, session: Session) -> tuple[YearJobRow, JobDocument]:
        row = kept.locked_if_any(session, self.key)
        told = document_of(self.key, row.document) if row is not None else None
        if row is not None and told is not None and told.lease is not None and told.lease.holder == self.holder:
            return row, told
        raise LeaseLost(f"{self.key} was taken over or removed meanwhile; what was begun here is not kept")


def _worked(told: JobDocument, since: timedelta) -> float:
    return round(told.worked_s + max(since.total_seconds(), 0.0), 3)


def _write(row: YearJobRow, told: JobDocument, state: State, now: datetime) -> JobDocument:
    row.document, row.state, row.changed_at = plain_of(told), state, now
    return told
