"""Processes that plan situations beside each other, and what is done where one of them dies."""

from __future__ import annotations

import multiprocessing
from collections import deque
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from typing import Any

from app.services.year_job_worker import Maker, Outcome, start, work
from app.store.keyed import Document

_DIED = "the process that planned it was ended from outside, twice; perhaps the memory did not suffice"
# How long one look for what is ready may take [seconds].
_LOOK_S = 2.0


@dataclass(frozen=True)
class Task:
    """A situation to plan and where it stands in the table."""

    place: int
    asked: Document


@dataclass
class Pool:
    """Worker processes.

    Where one dies, all that was being worked on is done again, one by one, so that it is found which of them kills
    its process; that one fails, the others do not.
    """

    maker: Maker
    products: list[dict[str, Any]] | None
    processes: int
    _running: dict[Future[Outcome], Task] = field(default_factory=dict)
    _again: deque[Task] = field(default_factory=deque)
    _alone: bool = False
    _executor: ProcessPoolExecutor | None = None

    def room(self) -> bool:
        """Whether another task can be taken: one waits for each that is worked on."""
        return not self._again and len(self._running) <= self.processes

    def busy(self) -> bool:
        """Whether something is being worked on."""
        return bool(self._running or self._again)

    def take(self, task: Task) -> None:
        """Have a task planned."""
        self._submit(task)

    def _submit(self, task: Task) -> None:
        try:
            self._running[self._started().submit(work, task.asked)] = task
        except BrokenProcessPool:
            # A process died while nobody looked; the next look finds what it left.
            self._again.append(task)
            self._end()

    def ready(self) -> list[tuple[Task, Outcome]]:
        """What was worked out; nothing where nothing is ready within a moment."""
        if not self._running and self._again:
            self._alone = True
            self._submit(self._again.popleft())
        if not self._running:
            return []
        wait(self._running, timeout=_LOOK_S, return_when=FIRST_COMPLETED)
        found: list[tuple[Task, Outcome]] = []
        broken: list[Task] = []
        for future in [future for future in self._running if future.done()]:
            task = self._running.pop(future)
            if future.cancelled():
                continue
            try:
                found.append((task, future.result()))
            except BrokenProcessPool:
                broken.append(task)
        if broken:
            broken += self._running.values()
            self._running.clear()
            self._end()
            if self._alone:
                found += [(task, Outcome({}, _DIED)) for task in broken]
            else:
                self._again.extend(broken)
        if not self._running:
            self._alone = False
        return found

    def stop(self) -> None:
        """Let what is being worked on come to its end, and nothing more be begun."""
        self._again.clear()
        for future in self._running:
            future.cancel()

    def close(self) -> None:
        """End the processes, once they are at rest."""
        self._end(wait=True)

    def _started(self) -> ProcessPoolExecutor:
        if self._executor is None:
            # Each starts afresh: a copy of this process would carry its connections to the store along.
            context = multiprocessing.get_context("spawn")
            self._executor = ProcessPoolExecutor(
                self.processes, mp_context=context, initializer=start, initargs=(self.maker, self.products)
            )
        return self._executor

    def _end(self, *, wait: bool = False) -> None:
        if self._executor is not None:
            self._executor.shutdown(wait=wait, cancel_futures=True)
            self._executor = None
