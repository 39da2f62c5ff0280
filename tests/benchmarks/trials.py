"""Trials to time: as many as a station keeps, made by a seeded draw."""

from __future__ import annotations

import numpy as np

from app.trials.trial import Trial

TREATMENTS, BLOCKS, DATES = 8, 4, (7, 14, 28, 42)
_ACTIVES = ("2-4-d", "dicamba", "mcpp", "triclopyr", "fluroxypyr")


def made_trials(count: int) -> tuple[Trial, ...]:
    """Trials of eight treatments, the check among them, in four blocks with four rating dates.

    Five single actives, a mixture of two of them, a treatment without actives and the check; one plot in
    fifty is missing.
    """
    return tuple(_made(number, np.random.default_rng(number)) for number in range(count))


def _made(number: int, rng: np.random.Generator) -> Trial:
    made_of = [[active] for active in _ACTIVES] + [["2-4-d", "dicamba"], []]
    treatments = [{"name": f"entry {i}", "actives": [{"active": a} for a in part]} for i, part in enumerate(made_of)]
    treatments.append({"name": "nontreated"})
    plots = []
    for day, grown in zip(DATES, (0.4, 0.7, 1.0, 0.95), strict=True):
        for place, treatment in enumerate(treatments):
            mean = 0.0 if treatment["name"] == "nontreated" else (40 + 8 * place) * grown
            for block in range(BLOCKS):
                noise = rng.normal(0, 6) if mean else 0.0
                lost = rng.random() < 0.02
                rated = None if lost else float(np.clip(round(mean + noise + 3 * block * bool(mean)), 0, 100))
                plot = {"weed": "dandelion", "days_after": day, "treatment": treatment["name"], "rep": str(block + 1)}
                plots.append(plot | {"control_pct": rated})
    return Trial.model_validate({"name": f"Made {number}", "treatments": treatments, "plots": plots})
