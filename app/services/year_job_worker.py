"""What runs in a process of its own: one knowledge base, one memo, one situation after the other."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from app.engine.errors import SwardwrightError
from app.store.keyed import Document

Planned = Callable[[Document], Document]
# Makes what plans, once in each process, from what the job tells of the shelf, and of the house's trials (`observed`).
Maker = Callable[..., Planned]


@dataclass(frozen=True)
class Outcome:
    """What became of a situation: what is kept of its plan, or why there is none."""

    document: Document
    reason: str = ""


_plan: Planned | None = None
_fault = ""


def start(maker: Maker, products: list[dict[str, Any]] | None) -> None:
    """Make ready; the process ends with the one that started it, however that ends."""
    global _plan, _fault  # noqa: PLW0603 - one knowledge base and one memo for the life of the process
    # Whoever stops the job by Ctrl-C gets no report of every process beside their own.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    try:
        _plan = maker(products)
    except Exception as error:
        # Told by every situation; a process that cannot start would be taken for one that was killed.
        _fault = f"{type(error).__name__}: {error}"


def _end_with(parent: Any) -> None:
    parent.join()
    os._exit(1)


def work(asked: Document) -> Outcome:
    """Plan one situation; what goes wrong is told by name, so that the others go on."""
    if _plan is None:
        return Outcome({}, _fault)
    try:
        return Outcome(_plan(asked))
    except SwardwrightError as error:
        return Outcome({}, str(error))
    except Exception as error:
        return Outcome({}, f"{type(error).__name__}: {error}")
