"""Use cases of planning a branch in one go: begun, watched, cancelled, gone on with and forgotten."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.services.house import evidence_of
from app.services.shelf import shelf_products
from app.services.validation import validated
from app.services.year_job_lease import STALE, alive, utc_now
from app.services.year_job_shapes import BranchYear, JobDocument, KeptJob, State, document_of, kept_job, plain_of
from app.store import properties as places
from app.store import year_jobs as kept
from app.store.opening import Store
from app.store.place import DATABASE_VARIABLE, FILE_NAME


@dataclass(frozen=True)
class Progress:
    """How far a job is.

    Attributes
    ----------
    state : str
        As it is kept.
    starting : bool
        Whether somebody is about to work on it.
    stopped : bool
        Whether it says that it runs while nobody works on it: then it can be gone on with.
    stopping : bool
        Whether it was told to stop and what is being worked on comes to its end.
    places, plannable : int
        How many properties were looked at so far, and how many of them can be planned.
    waiting, planned, failed : int
        How many situations are in each state.
    """

    job: KeptJob
    state: State
    starting: bool
    stopped: bool
    stopping: bool
    places: int
    plannable: int
    waiting: int
    planned: int
    failed: int

    @property
    def folds(self) -> int:
        """How many situations there are."""
        return self.waiting + self.planned + self.failed

    @property
    def going(self) -> bool:
        """Whether somebody works on it, or is about to."""
        return self.starting or (self.state == "running" and not self.stopped)

    @property
    def can_go_on(self) -> bool:
        """Whether it can be gone on with."""
        return not self.going and (self.state != "done" or self.failed > 0)


def start(store: Store, key: str, payload: Any, now: datetime | None = None) -> tuple[KeptJob, bool]:
    """Keep a new job; nothing is worked on by this. True beside it where it is new.

    Raises
    ------
    InputError
        With every field at fault, or where no property is found.
    """
    told, moment = validated(BranchYear, payload), now or utc_now()
    products = None
    if told.catalog == "shelf":
        products = [product.model_dump(mode="json") for product in shelf_products(store)]
        if not products:
            raise InputError([FieldFault("catalog", "the shelf is empty; add products or plan with 'actives'")])
    # A branch is planned by the same facts as one property of it: those of the house count.
    observed = [item.model_dump(mode="json") for item in evidence_of(store)]
    document = plain_of(JobDocument(asked=told, products=products, observed=observed, started_at=moment))
    columns = {"season": told.season, "state": "waiting"}
    with store.session() as session:
        if not places.after(session, 0, 1, told.search, told.technician or None):
            raise InputError([FieldFault("search" if told.search else "technician", _NOBODY)])
        _, new = kept.JOBS.keep(session, key, document, columns, moment)
    return one(store, key), new


_NOBODY = "finds no property; add properties first, or search for others"


def one(store: Store, key: str) -> KeptJob:
    """A job; raises UnknownId, and InputError where what is kept of it is damaged."""
    with store.reading() as session:
        return kept_job(kept.one(session, key))


def progress(store: Store, key: str, now: datetime | None = None) -> Progress:
    """How far a job is; raises UnknownId, and InputError where what is kept of it is damaged."""
    with store.reading() as session:
        job = kept_job(kept.one(session, key))
        counts = kept.counts(session, key)
        whole, plannable = kept.places_told(session, key)
    moment = now or utc_now()
    working = alive(job.told.lease, moment)
    return Progress(
        job,
        job.state,
        job.state == "waiting" and moment - job.changed_at < STALE,
        job.state == "running" and not working,
        job.state == "running" and working and job.told.cancel,
        whole,
        plannable,
        counts.get(kept.WAITING, 0),
        counts.get(kept.PLANNED, 0),
        counts.get(kept.FAILED, 0),
    )


def listing(store: Store) -> tuple[Progress | str, ...]:
    """The jobs that are kept, the latest first; of a damaged one the sentence that says so."""
    with store.reading() as session:
        keys = [item.key for item in kept.latest(session)]
    return tuple(_told(store, key) for key in keys)


def _told(store: Store, key: str) -> Progress | str:
    try:
        return progress(store, key)
    except InputError as error:
        return str(error)


def cancel(store: Store, key: str, now: datetime | None = None) -> Progress:
    """Have a job stop: what is being worked on comes to its end, what is planned stays.

    Raises
    ------
    UnknownId
        When there is none.
    InputError
        Where it does not run.
    """
    moment = now or utc_now()
    with store.session() as session:
        row = kept.locked(session, key)
        told = document_of(key, row.document)
        if row.state not in ("waiting", "running"):
            raise InputError([FieldFault("job", f"{key} does not run, so there is nothing to cancel")])
        if row.state == "running" and alive(told.lease, moment):
            row.document = plain_of(told.model_copy(update={"cancel": True}))
        else:
            row.document, row.state = plain_of(told.model_copy(update={"cancel": False, "lease": None})), "cancelled"
        row.changed_at = moment
    return progress(store, key, moment)


def make_ready(store: Store, key: str, now: datetime | None = None) -> Progress:
    """Before a job is gone on with: what failed waits again, and a cancellation that was not yet seen is undone.

    Raises
    ------
    UnknownId
        When there is none.
    InputError
        Where it runs already, or nothing is left to do.
    """
    before = progress(store, key, now)
    if not before.can_go_on:
        what = "is being worked on already" if before.going else "is done; start another to plan anew"
        raise InputError([FieldFault("job", f"{key} {what}")])
    with store.session() as session:
        row = kept.locked(session, key)
        told = document_of(key, row.document)
        kept.wait_again(session, key)
        row.document = plain_of(told.model_copy(update={"lease": None, "cancel": False, "reason": ""}))
        row.state, row.changed_at = "waiting", now or utc_now()
    return progress(store, key, now)


def remove(store: Store, key: str, now: datetime | None = None) -> None:
    """Forget a job; plans that were taken over into the years of properties stay there.

    Raises
    ------
    UnknownId
        When there is none.
    InputError
        Where it is being worked on.
    """
    with store.session() as session:
        row = kept.locked(session, key)
        try:
            lease = document_of(key, row.document).lease
        except InputError:
            # A damaged one is removed, since nothing else can be done with it.
            lease = None
        if row.state == "running" and alive(lease, now or utc_now()):
            raise InputError([FieldFault("job", f"{key} is being worked on; cancel it first")])
        kept.remove(session, key)


def begin(store: Store, key: str) -> None:
    """Work on a job in a process of its own, which goes on when this one ends.

    Raises
    ------
    InputError
        Where the store is in memory, so that no other process could reach it.
    """
    place, environment = reached(store)
    command = [sys.executable, "-m", "app", "branch-year", "work", key, *place]
    # What it has to complain about is seen where the app was started.
    away = subprocess.DEVNULL
    begun = subprocess.Popen(
        command, env={**os.environ, **environment}, stdin=away, stdout=away, start_new_session=True
    )
    # Whoever started a process has to hear of its end, or it stays listed as one that lives.
    threading.Thread(target=begun.wait, daemon=True).start()


def reached(store: Store) -> tuple[list[str], dict[str, str]]:
    """How another process opens the store: by an option, or by its environment.

    Raises
    ------
    InputError
        Where it is in memory.
    """
    address = store.engine.url
    if address.get_backend_name() == "sqlite" and address.database in (None, "", ":memory:"):
        raise InputError([FieldFault("job", "a store in memory is reached by no other process; keep it in a folder")])
    if store.folder is not None and address.database == str(store.folder / FILE_NAME):
        return ["--data", str(store.folder)], {}
    return [], {DATABASE_VARIABLE: address.render_as_string(hide_password=False)}
