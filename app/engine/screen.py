"""The screen: control, injury and score of every candidate program at once, over arrays."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from app.engine.catalog import NO_DOSE
from app.engine.control import Band, Ints, Survivors, blend, mix
from app.engine.tables import Tables

# Rows judged at once; keeps the largest temporary array to some tens of megabytes.
CHUNK = 8192


@dataclass(frozen=True)
class Programs:
    """Candidate programs as index arrays.

    Attributes
    ----------
    first, second : array (programs, parts)
        Dose indices of the two applications; `second` is all `NO_DOSE` for a program of one.
    first_adjuvant, second_adjuvant : array (programs,)
        Indices into the tables' adjuvants.
    products : array (programs,)
        Largest number of products in one tank.
    """

    first: Ints
    second: Ints
    first_adjuvant: Ints
    second_adjuvant: Ints
    products: Ints

    def __len__(self) -> int:
        return len(self.products)

    def take(self, chosen: NDArray[np.int64] | NDArray[np.bool_] | slice) -> Programs:
        """The programs at these places."""
        return Programs(
            self.first[chosen],
            self.second[chosen],
            self.first_adjuvant[chosen],
            self.second_adjuvant[chosen],
            self.products[chosen],
        )

    @property
    def twice(self) -> NDArray[np.bool_]:
        """Which programs have a second application."""
        return np.asarray(np.any(self.second != NO_DOSE, axis=1))

    @property
    def repeated(self) -> NDArray[np.bool_]:
        """Which programs spray the same tank twice."""
        return np.asarray(self.twice & np.all(self.first == self.second, axis=1))


def join(parts: list[Programs]) -> Programs:
    """Several sets of programs as one."""
    return Programs(
        *(
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("first", "second", "first_adjuvant", "second_adjuvant", "products")
        )
    )


def tank_survivors(tables: Tables, view: str, tanks: Ints, adjuvants: Ints) -> Survivors:
    """Survivors of each tank under its adjuvant in one view, over (tanks, columns)."""
    mean = tables.mean[view][adjuvants[:, None], tanks]
    sd = tables.sd[view][adjuvants[:, None], tanks]
    if tables.shift is not None and tables.shift_sd is not None:
        between = (tanks[:, :, None], tanks[:, None, :])
        mean = mean + tables.shift[between].sum(axis=2)
        sd = np.sqrt(sd**2 + (tables.shift_sd[between] ** 2).sum(axis=2))
    return mix(mean, sd, tables.groups[tanks], tables.rho[tanks])


def program_control(tables: Tables, programs: Programs, correlation: float) -> Band:
    """Band of control of each program on each column.

    Parameters
    ----------
    correlation : float
        Correlation of the parts' errors inside one program.

    Returns
    -------
    Band
        Arrays (programs, columns) in percent.
    """
    # Rows of equal length together, so that no chunk carries empty places for a few long rows.
    length = np.maximum((programs.first != NO_DOSE).sum(axis=1), (programs.second != NO_DOSE).sum(axis=1))
    order = np.argsort(length, kind="stable")
    out = Band(*(np.zeros((len(programs), len(tables.columns))) for _ in range(3)))
    for start in range(0, len(programs), CHUNK):
        rows = order[start : start + CHUNK]
        band = _chunk(tables, _trimmed(programs.take(rows), int(length[rows].max())), correlation)
        for name in ("low", "likely", "high"):
            getattr(out, name)[rows] = getattr(band, name)
    return out


def _trimmed(programs: Programs, longest: int) -> Programs:
    return replace(programs, first=programs.first[:, :longest], second=programs.second[:, :longest])


def _chunk(tables: Tables, programs: Programs, correlation: float) -> Band:
    shape = (len(programs), len(tables.columns))
    out = Band(*(np.zeros(shape) for _ in range(3)))
    for chosen, twice in ((~programs.twice, False), (programs.twice, True)):
        if not chosen.any():
            continue
        part = programs.take(chosen)
        band = (_two if twice else _one)(tables, part, correlation)
        for name in ("low", "likely", "high"):
            getattr(out, name)[chosen] = getattr(band, name)
    return out


def _one(tables: Tables, programs: Programs, correlation: float) -> Band:
    return blend([(1.0, tank_survivors(tables, "single", programs.first, programs.first_adjuvant))], correlation)


def _two(tables: Tables, programs: Programs, correlation: float) -> Band:
    first = tank_survivors(tables, "first", programs.first, programs.first_adjuvant)
    second = tank_survivors(tables, "second", programs.second, programs.second_adjuvant)
    emerged = blend([(1.0, first.regrown(tables.regrowth).then(second))], correlation)
    if tables.emerged.all():
        return emerged
    # Before emergence: what comes up between the two meets the first residue and then the second
    # spray on its leaves; what comes up later meets the residues of both.
    escapes = first.then(tank_survivors(tables, "escape", programs.second, programs.second_adjuvant))
    residues = tank_survivors(tables, "last", programs.first, programs.first_adjuvant).then(second)
    between = tables.emerged_between
    waiting = blend([(between, escapes), (1 - between, residues)], correlation)
    pick = tables.emerged[None, :]
    return Band(*(np.where(pick, getattr(emerged, n), getattr(waiting, n)) for n in ("low", "likely", "high")))


def hardest_stage(tables: Tables, band: Band, targets: int) -> tuple[Band, Ints]:
    """For each target the band at its hardest plausible stage, and which column that is.

    Returns
    -------
    tuple
        Band of arrays (programs, targets) and the chosen columns, same shape.
    """
    of = np.asarray([column.target.index for column in tables.columns])
    count = len(band.likely)
    chosen = np.empty((count, targets), dtype=np.int64)
    for target in range(targets):
        places = np.flatnonzero(of == target)
        chosen[:, target] = places[np.argmin(band.likely[:, places], axis=1)]
    rows = np.arange(count)[:, None]
    return Band(*(getattr(band, name)[rows, chosen] for name in ("low", "likely", "high"))), chosen
