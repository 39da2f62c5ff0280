"""Ways of planning a branch that take no time: questions without reading notes, and plans made by hand."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import select

from app.season.year import YearAsked
from app.services import year_job
from app.services.properties import KeptProperty
from app.services.year_job_fold import Asked
from app.services.year_job_lease import Holding
from app.services.year_job_plan import document_of
from app.services.year_job_run import Ways, run
from app.services.year_job_shapes import BranchYear
from app.services.year_job_worker import Planned
from app.store.keyed import Document
from app.store.models import YearFoldRow
from app.store.opening import Store, open_store
from tests.benchmarks.years import fill
from tests.season.branch_years import asked, control, plan

KEY = "made-job-one"
NOW = datetime(2026, 11, 2, 9, tzinfo=UTC)
WISH: dict[str, Any] = {"season": 2027, "visits": {"count": 2}}
TURF = ("kentucky-bluegrass", "tall-fescue", "perennial-ryegrass", "fine-fescue")


def asks(_: Store, found: Sequence[KeptProperty], told: BranchYear) -> dict[str, tuple[Asked, ...]]:
    """A question of each property by its areas alone, all with one weed; none where it has no turf."""
    return {place.slug: (_question(place, told),) for place in found}


def _question(place: KeptProperty, told: BranchYear, priority: float = 1) -> Asked:
    areas = [area for area in place.property.areas if area.turf]
    if not areas:
        return Asked(None, reason="no area has its turf told")
    whole = asked(
        year=told.season,
        visits=told.visits.model_dump(),
        areas=[{"id": a.id, "name": a.name, "turf": a.turf, "area": a.area and a.area.model_dump()} for a in areas],
        weeds=[{"weed": "dandelion", "priority": priority}],
    )
    return Asked(YearAsked.model_validate(whole))


def one_each(_: Store, found: Sequence[KeptProperty], told: BranchYear) -> dict[str, tuple[Asked, ...]]:
    """A question of each property that no other asks: its number is the priority of its weed."""
    return {place.slug: (_question(place, told, int(place.property.name.split()[0])),) for place in found}


def quick(_: list[dict[str, Any]] | None) -> Planned:
    """Plans at once: control by the turf of the first area."""

    def made(told: Document) -> Document:
        likely = 50.0 + 10 * TURF.index(told["areas"][0]["turf"][0])
        areas = tuple(area["id"] for area in told["areas"])
        return document_of(plan(areas=areas, objective=likely, control=(control(likely),)))

    return made


def slow(products: list[dict[str, Any]] | None) -> Planned:
    """Plans in a quarter of a second."""
    made = quick(products)

    def later(told: Document) -> Document:
        time.sleep(0.25)
        return made(told)

    return later


def deadly(products: list[dict[str, Any]] | None) -> Planned:
    """Plans, but for one situation that kills its process."""
    made = quick(products)

    def doomed(told: Document) -> Document:
        if told["areas"][0]["turf"][0] == "fine-fescue":
            os.kill(os.getpid(), signal.SIGKILL)
        return made(told)

    return doomed


def mistaken(products: list[dict[str, Any]] | None) -> Planned:
    """Plans, but for one situation at which it goes wrong."""
    made = quick(products)

    def wrong(told: Document) -> Document:
        if told["areas"][0]["turf"][0] == "fine-fescue":
            raise ZeroDivisionError("nothing by nothing")
        return made(told)

    return wrong


def unready(_: list[dict[str, Any]] | None) -> Planned:
    """Cannot be made ready."""
    raise LookupError("no shelf")


def store_with(folder: Path, count: int = 24) -> Store:
    """A store with made properties and a job that waits."""
    store = open_store(folder)
    fill(store, count)
    year_job.start(store, KEY, WISH, NOW)
    return store


def main(folder: str, way: str, processes: str) -> None:
    """Work on the job in a process of its own, which a test may kill."""
    store = open_store(Path(folder))
    run(Holding(store, KEY), Ways(int(processes), maker=globals()[way], asks=one_each))


if __name__ == "__main__":
    main(*sys.argv[1:])


def folds(store: Store) -> list[tuple[str, str, dict[str, Any]]]:
    """Every situation with its state and what is kept of it, in their order."""
    with store.reading() as session:
        told = select(YearFoldRow.fold, YearFoldRow.state, YearFoldRow.document).order_by(YearFoldRow.id)
        return [(fold, state, document) for fold, state, document in session.execute(told)]


def plan_job(store: Store, maker: Any = quick, processes: int = 2, **more: Any) -> str:
    """Work on the job in a way of its own; the state in which it ends."""
    return run(Holding(store, KEY, **more), Ways(processes, maker=maker, asks=asks))
