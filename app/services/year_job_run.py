"""Working on a job: its properties are folded, its situations planned, and all is kept as it is worked out."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError
from app.services.year_job_fold import Asks, asks_of, fold_all
from app.services.year_job_lease import Holding, LeaseLost
from app.services.year_job_plan import planning
from app.services.year_job_pool import Pool, Task
from app.services.year_job_shapes import JobDocument, State
from app.services.year_job_worker import Maker, Outcome
from app.store import year_jobs as kept

PROCESSES_VARIABLE = "SWARDWRIGHT_PROCESSES"
MOST_PROCESSES = 64
_PAGE = 50
Told = Callable[[dict[str, int]], None]


@dataclass(frozen=True)
class Ways:
    """How a job is worked on; tests plan in their own way."""

    processes: int
    maker: Maker = planning
    asks: Asks = asks_of
    # Told how many situations are in each state, whenever that changes.
    told: Told = lambda _: None


def processes_of(told: int | None = None) -> int:
    """How many processes plan beside each other: as told, else as the environment says, else one for each core.

    Raises
    ------
    InputError
        When it is no such number.
    """
    text = os.environ.get(PROCESSES_VARIABLE, "")
    if told is None and text:
        if not (text.isascii() and text.isdecimal() and len(text) < 4):
            raise InputError([FieldFault(PROCESSES_VARIABLE, f"'{text[:20]}' is no whole number")])
        told = int(text)
    if told is None:
        return min(os.cpu_count() or 1, MOST_PROCESSES)
    if not 1 <= told <= MOST_PROCESSES:
        raise InputError([FieldFault("processes", f"{told} cannot be; use 1 to {MOST_PROCESSES}")])
    return told


def run(holding: Holding, ways: Ways) -> State:
    """Work on a job until it is done or cancelled; what was planned before stays.

    Raises
    ------
    InputError
        Where another process works on it, it is done, or what is kept of it is damaged.
    UnknownId
        When there is none.
    LeaseLost
        When somebody else took it over.
    """
    told = holding.take()
    try:
        state = _worked(holding, told, ways)
    except LeaseLost:
        raise
    except KeyboardInterrupt:
        holding.end("cancelled")
        raise
    except Exception as error:
        holding.end("failed", f"{type(error).__name__}: {error}")
        raise
    holding.end(state)
    return state


def _worked(holding: Holding, told: JobDocument, ways: Ways) -> State:
    if not told.folded and not fold_all(holding, told, ways.asks):
        return "cancelled"
    maker = partial(ways.maker, observed=told.observed) if told.observed else ways.maker
    pool = Pool(maker, told.products, ways.processes)
    try:
        return "done" if _plan_all(holding, pool, ways.told) else "cancelled"
    finally:
        pool.close()


def _plan_all(holding: Holding, pool: Pool, told: Told) -> bool:
    """Plan what waits; whether nothing waits any more."""
    waiting, going = _waiting(holding), True
    left: Task | None = next(waiting, None)
    _tell(holding, told)
    while pool.busy() or (going and left is not None):
        while going and left is not None and pool.room():
            pool.take(left)
            left = next(waiting, None)
        ready = pool.ready()
        if not holding.keep(_writer(ready) if ready else None) and going:
            going = False
            pool.stop()
        if ready:
            _tell(holding, told)
    with holding.store.reading() as session:
        return kept.WAITING not in kept.counts(session, holding.key)


def _waiting(holding: Holding) -> Iterator[Task]:
    place = 0
    while True:
        with holding.store.reading() as session:
            found = kept.waiting(session, holding.key, place, _PAGE)
        if not found:
            return
        for place, asked in found:
            yield Task(place, asked)


def _writer(ready: Sequence[tuple[Task, Outcome]]) -> Callable[[Session], None]:
    def write(session: Session) -> None:
        for task, outcome in ready:
            state = kept.FAILED if outcome.reason else kept.PLANNED
            document = {"figures": {"reason": outcome.reason}} if outcome.reason else outcome.document
            kept.settle(session, task.place, state, document)

    return write


def _tell(holding: Holding, told: Told) -> None:
    with holding.store.reading() as session:
        told(kept.counts(session, holding.key))
