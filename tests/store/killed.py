"""A driver that keeps or changes a record in processes that are killed at every statement, and tells what is left.

Run as ``python -m tests.store.killed ADDRESS keep`` (or ``change``); prints one line of JSON for each process: how it
ended, and how many records, changes and how much stock a new connection then finds.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import tempfile
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import event, func, select

from app.season.record import ApplicationRecord
from app.services import records
from app.services.knowledge_service import knowledge_base
from app.store.models import ApplicationChangeRow, ApplicationRow, ProductRow
from app.store.opening import Store, open_store

KEY = "killed-in-the-middle"
NOW = datetime(2027, 6, 2, 8, tzinfo=UTC)


def applied(value: float) -> ApplicationRecord:
    """A record that takes so many fluid ounces of the product on the shelf."""
    return ApplicationRecord.model_validate(
        {
            "date": date(2027, 6, 2),
            "products": [{"name": "Larkmere Amine", "amount": {"value": value, "unit": "fl oz"}}],
        }
    )


def _opened(address: str) -> Store:
    return open_store(Path(tempfile.mkdtemp()), address)


def _die_at(store: Store, statement: int) -> None:
    """End this process by force before its so many-th statement, the commit counted as one."""
    seen = 0

    def count(*_: Any) -> None:
        nonlocal seen
        seen += 1
        if seen == statement:
            os.kill(os.getpid(), signal.SIGKILL)

    event.listen(store.engine, "before_cursor_execute", count)
    event.listen(store.engine, "commit", count)


def _act(address: str, what: str, statement: int) -> None:
    store = _opened(address)
    _die_at(store, statement)
    if what == "keep":
        records.keep(store, KEY, applied(4), NOW)
    else:
        records.change(store, KEY, applied(10), 1, "Ada Holm", "Counted again", NOW)


def _left(address: str) -> dict[str, Any]:
    store = _opened(address)
    with store.reading() as session:
        found = {
            "records": session.scalar(select(func.count()).select_from(ApplicationRow)),
            "changes": session.scalar(select(func.count()).select_from(ApplicationChangeRow)),
            "stock": session.scalar(select(ProductRow.stock_value)),
            "product_version": session.scalar(select(ProductRow.version)),
        }
    store.close()
    return found


def main(address: str, what: str) -> None:
    """Kill one process after the other, each a statement later, until one comes through."""
    knowledge_base()
    for statement in range(1, 100):
        child = os.fork()
        if child == 0:
            _act(address, what, statement)
            os._exit(0)
        _, status = os.waitpid(child, 0)
        ended = "killed" if os.WIFSIGNALED(status) else f"{os.WEXITSTATUS(status)}"
        print(json.dumps({"ended": ended, **_left(address)}), flush=True)
        if ended != "killed":
            return


if __name__ == "__main__":
    main(*sys.argv[1:])
