"""Times and memory, printed and never asserted: ``python -m tests.benchmarks``.

Worst case: five weeds of unknown stage, the full catalog, mixtures of three, two applications.
Screen: 50,000 candidates against 300 rules as numpy arrays, beside the logic solver clingo where
it is installed (extra `bench`).
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np

from app.engine.errors import InputError
from app.engine.recommend import recommend
from app.engine.situation import Situation
from app.services.knowledge_service import knowledge_base
from app.services.round_plan import plan_of
from app.services.shelf import shelf_products
from app.services.shelf_csv import read_csv, write_csv
from app.services.shelf_import import import_confirm
from app.services.trial_csv import trials_of
from app.store.opening import open_in_memory
from app.trials.analysis import ratings, report
from app.trials.fit import fitted
from app.trials.joint import joints
from app.trials.scale import equal_spread
from app.trials.separation import separation
from knowledge.loader import FACTS, load
from tests.benchmarks.rounds import branch_store, made_round
from tests.benchmarks.shelves import made_shelf
from tests.benchmarks.trials import made_trials

ROOT = Path(__file__).resolve().parents[2]
RUNS = 7
CANDIDATES, RULES, TRAITS = 50_000, 300, 64
WORST = {
    "date": "2027-06-15",
    "zone": "cool-humid",
    "site_use": "golf-rough",
    "turf": ["kentucky-bluegrass"],
    "targets": [
        {"weed": w} for w in ("dandelion", "white-clover", "ground-ivy", "smooth-crabgrass", "yellow-nutsedge")
    ],
}


def median_seconds(task: Callable[[], object], runs: int = RUNS) -> tuple[float, float, float]:
    """Least, median and greatest seconds of some runs, after one that does not count."""
    task()
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        task()
        taken.append(time.perf_counter() - start)
    return min(taken), statistics.median(taken), max(taken)


def show(name: str, times: tuple[float, float, float], note: str = "") -> None:
    """Print one line."""
    least, median, most = times
    print(f"{name:<46} median {median:8.3f} s  (min {least:.3f}, max {most:.3f})  {note}")


def worst_case() -> None:
    """The largest recommendation a user can ask for."""
    base, situation = knowledge_base(), Situation.model_validate(WORST)
    answer = recommend(base, situation)
    show(
        "worst-case recommendation", median_seconds(lambda: recommend(base, situation)), f"{answer.considered} programs"
    )
    tracemalloc.start()
    recommend(base, situation)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    print(f"{'  peak of traced allocations':<46} {peak / 1e6:15.1f} MB")


def shelves() -> None:
    """The same weeds on tall fescue, ranked from a usual and from a very large shelf."""
    base = knowledge_base()
    situation = Situation.model_validate({**WORST, "turf": ["tall-fescue"], "catalog": "shelf"})
    for count in (30, 300, 1000):
        shelf = made_shelf(base, count)
        answer = recommend(base, situation, shelf)
        taken = median_seconds(lambda shelf=shelf: recommend(base, situation, shelf), runs=3)  # type: ignore[misc]
        show(f"ranking a shelf of {count} products", taken, f"{answer.considered} programs")


def shelf_file() -> None:
    """A thousand products from a file onto an empty shelf, and again when nothing changes."""
    text = write_csv(made_shelf(knowledge_base(), 1000))

    def bring_in(times: int) -> None:
        store = open_in_memory()
        for _ in range(times):
            import_confirm(store, text)
        store.close()

    show("1000 products imported", median_seconds(lambda: bring_in(1), runs=3), f"{len(text) // 1024} KiB")
    show("1000 products imported, then unchanged", median_seconds(lambda: bring_in(2), runs=3))
    too_many = text.splitlines()[0] + "\r\n" + "x\r\n" * 50_000

    def refused() -> None:
        try:
            read_csv(too_many)
        except InputError:
            return
        raise AssertionError("50,000 rows were read")

    show("50,000 rows refused", median_seconds(refused, runs=3))


def plots_file() -> None:
    """A file of plots of the greatest size, and one that is too large."""
    heading = "trial,weed,days_after,treatment,rep,control_pct\r\n"
    rows = [
        f"Trial {trial},dandelion,{days},entry {entry},{rep},{(trial * 7 + entry * 11 + rep) % 101}\r\n"
        for trial in range(20)
        for days in (14, 28, 42)
        for entry in range(200)
        for rep in range(5)
    ]
    text = heading + "".join(rows)
    show(f"{len(rows)} plots read", median_seconds(lambda: trials_of(text), runs=3), f"{len(text) // 1024} KiB")

    def refused() -> None:
        try:
            trials_of(heading + "".join(rows * 4)[: 7 * 1024 * 1024])
        except InputError:
            return
        raise AssertionError("more plots than the most were read")

    show("more than 200,000 plots refused", median_seconds(refused, runs=3))


def trials() -> None:
    """Two hundred trials of eight treatments, four blocks and four dates, analysed whole, and the stages of that."""
    base, made = knowledge_base(), made_trials(200)
    rated_once = [rating for trial in made for rating in ratings(trial)]
    tables = [rating.table(leave_out=rating.constant_check) for rating in rated_once]
    fits = [fitted(table) for table in tables]
    named = [(fit, trial.labelled()) for trial in made for fit in fits[:4]]
    stages: dict[str, Callable[[], object]] = {
        "200 trials analysed": lambda: [report(base, trial) for trial in made],
        "  plots read into ratings": lambda: [ratings(trial) for trial in made],
        "  least squares, on one scale": lambda: [fitted(table) for table in tables],
        "  equal spread, on one scale": lambda: [equal_spread(fit) for fit in fits],
        "  separation with letters and sentences": lambda: [separation(f, f.table, "percent", 0.05) for f in fits],
        "  mixtures against Colby": lambda: [joints(fit, told, "dandelion", 0.05, 15) for fit, told in named],
    }
    for name, stage in stages.items():
        show(name, median_seconds(stage, runs=3), f"{len(tables)} weeds and dates")


def rounds() -> None:
    """Rounds of the demo's branch, planned whole; and the choice of tanks by itself, with what was proved."""
    store = branch_store()
    held = sum(product.kind == "herbicide" for product in shelf_products(store))
    for stops, tanks, forecast in ((12, 2, True), (60, 2, True), (60, 2, False), (60, 3, False)):
        told = made_round(store, stops, tanks, forecast=forecast)
        start = time.perf_counter()
        plan = plan_of(store, told)
        taken = time.perf_counter() - start
        served = sum(stop.status == "spray" for stop in plan.stops)
        proof = "proved" if all(item.proven for item in plan.tradeoffs) else "not proved within the limit of time"
        name = f"round of {stops}, {tanks} tanks, {'July week' if forecast else 'no forecast'}"
        print(f"{name:<46} {taken:8.1f} s   {served} sprayed from {held} products; {proof}")
        for item in plan.tradeoffs:
            print(f"  {item.text} Bound {item.bound:g}, gap {item.gap:g}.")


def cold_start() -> None:
    """A quick answer from nothing, as a whole process."""
    command = [sys.executable, "-m", "app", "answer", "wild violet"]
    show(
        "cold start of `answer`, whole process",
        median_seconds(lambda: subprocess.run(command, cwd=ROOT, check=True, capture_output=True)),
    )
    show("reading and checking every fact from text", median_seconds(lambda: load(FACTS), runs=3))
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"{'  peak memory of those processes':<46} {peak:15.1f} MiB")


def array_screen() -> None:
    """Every rule a conjunction of three traits; a candidate is stopped where any rule holds."""
    rng = np.random.default_rng(7)
    traits = rng.random((CANDIDATES, TRAITS)) < 0.1
    rules = rng.integers(0, TRAITS, (RULES, 3))

    def screen() -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        stopped = np.zeros(CANDIDATES, dtype=bool)
        columns = np.ascontiguousarray(traits.T)
        for first, second, third in rules:
            stopped |= columns[first] & columns[second] & columns[third]
        return stopped

    show(f"screen of {CANDIDATES} x {RULES}, numpy", median_seconds(screen), f"{int(screen().sum())} stopped")
    _logic_screen(traits, rules, int(screen().sum()))


def _logic_screen(traits: np.ndarray, rules: np.ndarray, expected: int) -> None:  # type: ignore[type-arg]
    try:
        import clingo
    except ImportError:
        print("  clingo is not installed (extra `bench`); the peer was not run")
        return
    facts = "".join(f"t({c},{k})." for c, k in zip(*np.nonzero(traits), strict=True))
    text = "".join(f"stop(C):-t(C,{a}),t(C,{b}),t(C,{d})." for a, b, d in rules.tolist())

    def solve() -> int:
        control = clingo.Control(["--warn=none"])
        control.add("base", [], facts + text)
        control.ground([("base", [])])
        return sum(1 for _ in control.symbolic_atoms.by_signature("stop", 1))

    assert solve() == expected
    show("  the same by clingo", median_seconds(solve, runs=3))


if __name__ == "__main__":
    worst_case()
    shelves()
    shelf_file()
    plots_file()
    trials()
    rounds()
    cold_start()
    array_screen()
