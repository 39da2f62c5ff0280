"""Random layouts of plots, with missing ones, that leave an error to test with."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from app.trials.fit import Table
from app.trials.trial import Design


def _table(design: Design, cells: list[tuple[str, str]], seed: int) -> Table:
    rng = np.random.default_rng(seed)
    values = rng.uniform(0, 100, len(cells)).round(1)
    return Table(design, tuple(t for t, _ in cells), tuple(r for _, r in cells), values)


@st.composite
def blocks(draw: st.DrawFn, complete: bool = False) -> Table:
    """Two to nine treatments in two to six blocks; up to a quarter of the plots missing, but none of the first block
    and no treatment's second, so that everything hangs together."""
    treatments, reps = draw(st.integers(2, 9)), draw(st.integers(2, 6))
    cells = [(f"T{t}", f"{r}") for r in range(reps) for t in range(treatments)]
    loose = [cell for cell in cells if cell[1] not in ("0", "1")]
    lost = set() if complete or not loose else draw(st.sets(st.sampled_from(loose), max_size=len(cells) // 4))
    kept = draw(st.permutations([cell for cell in cells if cell not in lost]))
    return _table("rcbd", list(kept), draw(st.integers(0, 2**32 - 1)))


@st.composite
def randomised(draw: st.DrawFn, equal: bool = False) -> Table:
    """Two to nine treatments without blocks, with two to six plots each."""
    treatments, common = draw(st.integers(2, 9)), draw(st.integers(2, 6))
    counts = [common if equal else draw(st.integers(2, 6)) for _ in range(treatments)]
    cells = [(f"T{t}", f"{r}") for t, count in enumerate(counts) for r in range(count)]
    return _table("crd", list(draw(st.permutations(cells))), draw(st.integers(0, 2**32 - 1)))


def tables() -> st.SearchStrategy[Table]:
    """Either design."""
    return blocks() | randomised()
