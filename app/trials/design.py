"""Which design the plots were laid out in, read off their labels or as told."""

from __future__ import annotations

from collections.abc import Sequence

from app.trials.trial import Design

_FILLED = 0.6


def design_of(cells: Sequence[tuple[str, str]], told: Design | None) -> tuple[Design, str]:
    """The design, and in words how it was found.

    Parameters
    ----------
    cells : sequence of (str, str)
        Treatment and replicate of every plot, missing ones included.

    Notes
    -----
    Labels that nearly every treatment shares are blocks; labels of plots that no other treatment has
    are running numbers. A completely randomised trial whose replicates are numbered anew in each
    treatment reads like blocks; it must be told.
    """
    if told is not None:
        names = {"rcbd": "Randomised complete blocks", "crd": "Completely randomised"}
        return told, f"{names[told]}, as told."
    treatments = {treatment for treatment, _ in cells}
    reps = {rep for _, rep in cells}
    full = len(set(cells)) / (len(treatments) * len(reps))
    if full >= _FILLED and len(reps) > 1:
        return "rcbd", (
            f"Randomised complete blocks: {len(reps)} replicates, each with {'every' if full == 1 else 'nearly every'} "
            "treatment. If the replicates were no blocks, tell it: completely randomised."
        )
    shared = len(set(cells)) > len(reps)
    return "crd", (
        "Completely randomised: "
        + ("most treatments share no replicate." if shared else "no replicate's label is shared by two treatments.")
    )
