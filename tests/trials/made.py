"""Tables and trials for tests, from rows as they are printed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from app.trials.fit import Table
from app.trials.trial import Design, Trial


def table_of(design: Design, rows: Mapping[str, Sequence[float | None]]) -> Table:
    """A table whose rows hold one figure a replicate, None where the plot is missing."""
    cells = [(name, str(rep), value) for name, row in rows.items() for rep, value in enumerate(row, 1)]
    present = [(name, rep, value) for name, rep, value in cells if value is not None]
    values = np.array([float(value) for *_, value in present])
    return Table(design, tuple(name for name, *_ in present), tuple(rep for _, rep, _ in present), values)


def trial_of(rows: Mapping[str, Sequence[float | None]], days: int = 42, weed: str = "dandelion", **told: Any) -> Trial:
    """A trial of one weed and date, rated by control; a treatment is known by its name alone unless it is told."""
    plots = [
        {"weed": weed, "days_after": days, "treatment": name, "rep": str(rep), "control_pct": value}
        for name, row in rows.items()
        for rep, value in enumerate(row, 1)
    ]
    base = {"name": "Made trial", "treatments": [{"name": name} for name in rows], "plots": plots}
    return Trial.model_validate({**base, **told})
