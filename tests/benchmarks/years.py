"""A branch of any size drawn from a seed, and how long planning its year takes: ``python -m tests.benchmarks.years``.

The properties of a made branch lie in one zone, each on one of four turfs, with a lawn or two, and with the weeds that
are likely there, each under a pressure; so many are alike as would be in a real branch of that size.
"""

from __future__ import annotations

import argparse
import random
import resource
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import insert

from app.season.property import Property
from app.services import branch_demo, shelf, year_job, year_job_run, year_job_sums
from app.services.branch import branch, change_branch
from app.services.properties import columns_of, document_of
from app.services.year_job_lease import Holding
from app.store import properties as kept
from app.store.models import ScoutingRow
from app.store.opening import Store, open_store

SEASON = 2027
NOTED = date(2026, 7, 1)
NOW = datetime(2026, 7, 1, 12, tzinfo=UTC)
PEOPLE = ("Jo Sallowby", "Sam Fernhythe", "Lee Mossgarth", "Ada Holm", "Ben Rusk")
# Turf with how often it is met, as a common mix of a cool-humid branch; no source.
TURF = {("kentucky-bluegrass",): 4, ("tall-fescue",): 3, ("perennial-ryegrass",): 2, ("fine-fescue",): 1}
# Weeds with how often one of them is met: the broadleaf weeds and summer annuals of home lawns; no source.
WEEDS = {
    "dandelion": 0.8,
    "white-clover": 0.6,
    "smooth-crabgrass": 0.6,
    "broadleaf-plantain": 0.35,
    "ground-ivy": 0.25,
    "wild-violet": 0.12,
    "yellow-nutsedge": 0.1,
}
# The ground that a weed covers [percent], which makes its pressure low, moderate or high.
COVER = {1: 2, 8: 5, 30: 2}
_AT_ONCE = 500


def made_properties(count: int, seed: int = 7) -> Iterator[tuple[dict[str, Any], list[dict[str, Any]]]]:
    """Properties as plain data, each with its notes."""
    chance = random.Random(seed)
    for number in range(count):
        # Most of a branch has two or three of its weeds at once; a lawn without any would not be a customer.
        weeds = [weed for weed, often in WEEDS.items() if chance.random() < often * 0.6] or ["dandelion"]
        (turf,) = chance.choices(list(TURF), list(TURF.values()))
        lawns = ("Front", "Back") if chance.random() < 0.2 else ("Lawn",)
        areas = [
            {
                "id": name.lower(),
                "name": name,
                "turf": turf,
                "area": {"value": chance.randrange(2000, 15000, 100), "unit": "ft2"},
                "site_use": "residential-lawn",
                "stand": "established",
            }
            for name in lawns
        ]
        if chance.random() < 0.02:
            areas = [{**area, "turf": ()} for area in areas]
        told = {
            "name": f"{number + 1} Made Lane",
            "zone": "cool-humid",
            "technician": chance.choice(PEOPLE),
            "areas": areas,
        }
        # Half of those with two lawns have their weeds on one of them alone.
        where = lawns if chance.random() < 0.5 else lawns[:1]
        # A lawn is kept well or badly as a whole, so its weeds have one pressure.
        (cover,) = chance.choices(list(COVER), list(COVER.values()))
        notes = [{"weed": weed, "cover_pct": cover, "area": name.lower()} for weed in weeds for name in where]
        yield told, notes


def fill(store: Store, count: int, seed: int = 7) -> None:
    """Put made properties with their notes into a store, a few hundred at a time."""
    batch: list[tuple[dict[str, Any], list[dict[str, Any]]]] = []
    for item in made_properties(count, seed):
        batch.append(item)
        if len(batch) == _AT_ONCE:
            _put(store, batch)
            batch = []
    _put(store, batch)


def _put(store: Store, batch: list[tuple[dict[str, Any], list[dict[str, Any]]]]) -> None:
    with store.session() as session:
        rows, notes = [], []
        for told, _ in batch:
            place = Property.model_validate(told)
            name, columns = columns_of(session, place, {})
            rows.append((name, document_of(place), columns))
        for done, (_, seen) in zip(kept.PROPERTIES.insert(session, rows, NOW), batch, strict=True):
            for number, note in enumerate(seen):
                document = {"property": done.slug, "date": NOTED.isoformat(), **note}
                key = f"made-{done.slug}-{number}"[:64]
                row = {"key": key, "property": done.slug, "day": NOTED, "document": document}
                notes.append({**row, "version": 1, "changed_at": NOW})
        if notes:
            session.execute(insert(ScoutingRow), notes)


def demo_store(folder: Path) -> Store:
    """A store with the demo's shelf and branch."""
    store = open_store(folder)
    shelf.fill_demo(store)
    branch_demo.fill_demo(store)
    return store


def made_store(folder: Path, count: int) -> Store:
    """A store with the demo's shelf and so many made properties."""
    store = open_store(folder)
    shelf.fill_demo(store)
    told, version = branch(store)
    change_branch(store, {**told.model_dump(mode="json"), "name": "Made branch", "zone": "cool-humid"}, version)
    fill(store, count)
    return store


def _megabytes(who: int) -> float:
    # Kilobytes on Linux.
    return resource.getrusage(who).ru_maxrss / 1024


def measure(
    count: int, processes: int, catalog: str, visits: int | list[str], time_limit_s: float, most_s: float
) -> None:
    """Plan the year of a branch and print what it took; past its time it is cancelled, and tells how far it came."""
    with tempfile.TemporaryDirectory() as folder:
        store = demo_store(Path(folder)) if count == 0 else made_store(Path(folder), count)
        when = {"count": visits} if isinstance(visits, int) else {"dates": visits}
        asked = {"season": SEASON, "visits": when, "catalog": catalog, "time_limit_s": time_limit_s}
        job, _ = year_job.start(store, "measured-job", asked)
        begun = time.perf_counter()
        folded = [0.0]

        def told(counts: dict[str, int]) -> None:
            folded[0] = folded[0] or time.perf_counter() - begun
            if time.perf_counter() - begun > most_s and year_job.progress(store, job.key).going:
                year_job.cancel(store, job.key)

        state = year_job_run.run(Holding(store, job.key), year_job_run.Ways(processes, told=told))
        taken = time.perf_counter() - begun
        far = year_job.progress(store, job.key)
        found = year_job_sums.summary(store, job.key)
        print(f"{far.places} properties, visits {when}, catalog {catalog}, {processes} processes: {state}")
        print(f"  folded in {folded[0]:.1f} s into {far.folds} situations; {far.places - far.plannable} not plannable")
        each = (taken - folded[0]) / max(far.planned + far.failed, 1)
        print(
            f"  planned {far.planned}, failed {far.failed}, waiting {far.waiting} in {taken - folded[0]:.1f} s, ",
            end="",
        )
        print(f"{each:.2f} s each over all processes; in all {taken:.1f} s")
        own, others = _megabytes(resource.RUSAGE_SELF), _megabytes(resource.RUSAGE_CHILDREN)
        print(f"  most memory: {own:.0f} MB here, {others:.0f} MB in the largest of the others")
        worst = f"{found.worst_gap:.4f}" if found.worst_gap is not None else "none"
        print(f"  proven {found.proven} of {found.folds}, worst gap {worst}; mean objective {found.objective}")
        for reason, times in found.reasons.items():
            print(f"    {times} x {reason[:150]}")
        store.close()


def main() -> None:
    """Measure one size."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--count", type=int, default=0, help="properties to make (default: those of the demo)")
    reader.add_argument("--processes", type=int, default=year_job_run.processes_of())
    reader.add_argument("--catalog", choices=("actives", "shelf"), default="shelf")
    reader.add_argument("--visits", type=int, default=5)
    reader.add_argument("--dates", nargs="+", help="dates of the visits, in place of their number")
    reader.add_argument("--time-limit", type=float, default=60, help="of each optimisation [s]")
    reader.add_argument("--most", type=float, default=1200, help="cancel after so long [s]")
    told = reader.parse_args()
    measure(told.count, told.processes, told.catalog, told.dates or told.visits, told.time_limit, told.most)


if __name__ == "__main__":
    main()
