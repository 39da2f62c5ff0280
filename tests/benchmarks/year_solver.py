"""Programs of a made-up year, solved and timed: ``python -m tests.benchmarks.year_solver``.

Eight rounds, 60 products of 30 actives in 12 mechanisms, 25 weeds that each are susceptible in two or three rounds.
Every weed must come to 85 percent control, or fall short at 500 a unit; the least cost is sought, each active within
its amount a year, a mechanism twice a year at most and never in rounds side by side, three products a round.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

ROUNDS, PRODUCTS, ACTIVES, MECHANISMS, WEEDS = 8, 60, 30, 12, 25
NEEDED = -np.log(1 - 0.85)
SHORT = 500.0
A_ROUND, A_YEAR = 3, 2
SEEDS = 10


@dataclass(frozen=True)
class Made:
    """The problem as arrays of products (p), rounds (r) and weeds (w); `gone` (w, p, r) is -ln of what survives."""

    gone: NDArray[np.float64]
    cost: NDArray[np.float64]
    rate: NDArray[np.float64]
    active: NDArray[np.int64]
    mechanism: NDArray[np.int64]
    cap: NDArray[np.float64]


def made(seed: int) -> Made:
    """A problem from a seed: seven in ten pairs of product and round in season, three in ten effective on a weed."""
    rng = np.random.default_rng(seed)
    active = np.concatenate([np.arange(ACTIVES), rng.integers(0, ACTIVES, PRODUCTS - ACTIVES)])
    mechanism = np.concatenate([np.arange(MECHANISMS), rng.integers(0, MECHANISMS, ACTIVES - MECHANISMS)])[active]
    season = rng.random((PRODUCTS, ROUNDS)) < 0.7
    share = np.where(rng.random((WEEDS, PRODUCTS)) < 0.3, rng.uniform(0.4, 0.95, (WEEDS, PRODUCTS)), 0.0)
    susceptible = np.zeros((WEEDS, ROUNDS), dtype=bool)
    for weed in range(WEEDS):
        susceptible[weed, rng.choice(ROUNDS, rng.integers(2, 4), replace=False)] = True
    return Made(
        gone=-np.log1p(-share)[:, :, None] * season[None] * susceptible[:, None, :],
        cost=rng.uniform(5, 60, PRODUCTS),
        rate=rng.uniform(0.3, 1.0, PRODUCTS),
        active=active,
        mechanism=mechanism,
        cap=rng.uniform(0.8, 2.0, ACTIVES),
    )


def solved(told: Made, *, tightened: bool) -> tuple[float, float, float, bool]:
    """Least cost, the bound below it, seconds, and whether it was proved to 1e-4.

    As stated, rounds side by side share a row for each pair; tightened, a product does no more for a weed than is
    needed, and what does nothing in a round is not there to be chosen.
    """
    count = PRODUCTS * ROUNDS
    gone = told.gone.reshape(WEEDS, count)
    round_of, product_of = np.tile(np.arange(ROUNDS), PRODUCTS), np.repeat(np.arange(PRODUCTS), ROUNDS)
    kept = np.arange(count)
    if tightened:
        gone, kept = np.minimum(gone, NEEDED), np.flatnonzero(gone.any(axis=0))
    rounds, products = round_of[kept], product_of[kept]
    size = len(kept) + WEEDS

    def rows(held: NDArray[np.float64], short: NDArray[np.float64] | None = None) -> csr_matrix:
        right = np.zeros((len(held), WEEDS)) if short is None else short
        return csr_matrix(np.hstack([held, right]))

    actives = np.arange(ACTIVES)[:, None] == told.active[products]
    mechanisms = np.arange(MECHANISMS)[:, None] == told.mechanism[products][None]
    beside = np.concatenate([mechanisms & np.isin(rounds, (r, r + 1)) for r in range(ROUNDS - 1)])
    limits = [
        LinearConstraint(rows(gone[:, kept], np.eye(WEEDS)), lb=NEEDED),
        LinearConstraint(rows(actives * told.rate[products]), ub=told.cap),
        LinearConstraint(rows(mechanisms.astype(float)), ub=A_YEAR),
        LinearConstraint(rows(beside.astype(float)), ub=1),
        LinearConstraint(rows((np.arange(ROUNDS)[:, None] == rounds[None]).astype(float)), ub=A_ROUND),
    ]
    aim = np.concatenate([told.cost[products], np.full(WEEDS, SHORT)])
    whole = np.concatenate([np.ones(len(kept)), np.zeros(WEEDS)])
    top = np.concatenate([np.ones(len(kept)), np.full(WEEDS, NEEDED)])
    assert len(aim) == size
    start = time.perf_counter()
    found = milp(aim, integrality=whole, bounds=Bounds(0, top), constraints=limits, options={"mip_rel_gap": 1e-4})
    taken = time.perf_counter() - start
    return float(found.fun), float(found.mip_dual_bound), taken, found.status == 0


def greedy(told: Made) -> float:
    """Cost of taking what saves most on its cost, again and again."""
    short, cost = np.full(WEEDS, NEEDED), 0.0
    left, rounds = told.cap.copy(), np.zeros(ROUNDS, dtype=int)
    used: list[tuple[int, int]] = []
    while True:
        best, place = 1e-9, None
        for p in range(PRODUCTS):
            if left[told.active[p]] < told.rate[p]:
                continue
            same = [r for m, r in used if m == told.mechanism[p]]
            for r in range(ROUNDS):
                if rounds[r] >= A_ROUND or len(same) >= A_YEAR or any(abs(r - s) <= 1 for s in same):
                    continue
                saved = SHORT * np.minimum(short, told.gone[:, p, r]).sum() - told.cost[p]
                if saved > best:
                    best, place = saved, (p, r)
        if place is None:
            return cost + SHORT * float(short.sum())
        p, r = place
        short = np.maximum(short - told.gone[:, p, r], 0.0)
        cost, left[told.active[p]] = cost + told.cost[p], left[told.active[p]] - told.rate[p]
        rounds[r] += 1
        used.append((int(told.mechanism[p]), r))


def main() -> None:
    """Print a line for each seed and the medians."""
    times: dict[bool, list[float]] = {False: [], True: []}
    for seed in range(SEEDS):
        told = made(seed)
        stated, sharp = solved(told, tightened=False), solved(told, tightened=True)
        assert abs(stated[0] - sharp[0]) <= 2e-4 * stated[0]
        for tightened, answer in ((False, stated), (True, sharp)):
            times[tightened].append(answer[2])
        rough = greedy(told) / stated[0]
        print(
            f"seed {seed}: cost {stated[0]:8.2f}, as stated {stated[2]:6.2f} s, tightened {sharp[2]:6.2f} s,"
            f" greedy {rough:.2f} times"
        )
    for tightened, name in ((False, "as stated"), (True, "tightened")):
        print(f"{name}: median {np.median(times[tightened]):.2f} s, most {max(times[tightened]):.2f} s")


if __name__ == "__main__":
    main()
