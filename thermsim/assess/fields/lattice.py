"""Evenly spaced places over part of a grid, on which regions below a value are bounded and measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.local_fit import Along
from thermsim.solve.grid.grid import Grid, placed

Array = NDArray[np.float64]
Block = tuple[slice, slice]

#: Places along r, and along z.
PLACES = 61
#: How well the bounds of a region are known, as a part of a step: between places values are taken to be linear.
KNOWN = 0.03


@dataclass(frozen=True)
class Region:
    """A connected region of a section: least and largest r and z [m], and its part of the block's volume."""

    r_low: float
    r_high: float
    z_low: float
    z_high: float
    part: float


@dataclass(frozen=True)
class Lattice:
    """Evenly spaced places over a window of a block of nodes.

    Parameters
    ----------
    columns, levels : ndarray, shape (n,)
        Places in the reference section [m].
    r, z : ndarray, shape (n, n)
        Places in the container [m].
    volume : ndarray, shape (n, n)
        Of the ring that each place stands for, as a part of the whole block's.
    along_r, along_z : ndarray, shapes (n, n_r) and (n_z, n)
        A field is ``along_r @ field @ along_z`` there.
    """

    columns: Array
    levels: Array
    r: Array
    z: Array
    volume: Array
    along_r: Array
    along_z: Array

    @classmethod
    def over(cls, grid: Grid, block: Block, window: Block) -> Lattice:
        """Over a window, by its nodes, of a block of nodes of a grid."""
        lines = grid.columns[block[0]], grid.levels[block[1]]
        columns, levels = (
            np.linspace(nodes[part][0], nodes[part][-1], PLACES) for nodes, part in zip(lines, window, strict=True)
        )
        r, z = placed(grid.coordinates, columns[:, None], levels[None, :])
        every_r, every_z = (np.linspace(nodes[0], nodes[-1], PLACES) for nodes in lines)
        total = _rings(*placed(grid.coordinates, every_r[:, None], every_z[None, :])).sum()
        along_r = Along.at(grid.columns, block[0], columns, axis=True).matrix(grid.columns.size)
        along_z = Along.at(grid.levels, block[1], levels).matrix(grid.levels.size)
        return cls(columns, levels, r, z, _rings(r, z) / total, along_r, np.ascontiguousarray(along_z.T))

    @property
    def resolution(self) -> tuple[float, float]:
        """Uncertainty of the bounds along r and along z [m]."""
        return KNOWN * float(self.columns[1] - self.columns[0]), KNOWN * float(self.levels[1] - self.levels[0])

    def region(self, field: Array, most: float, place: tuple[float, float]) -> Region:
        """The connected region round a place (column, level) [m] where a field (n_r, n_z) is at most so large."""
        from thermsim.assess.fields import fit_kernels

        values = self.along_r @ field @ self.along_z
        i, j = (int(np.abs(x - here).argmin()) for x, here in zip((self.columns, self.levels), place, strict=True))
        low = values <= most
        low[i, j] = True
        inside, bounds = fit_kernels.connected(low, i, j), np.empty(4)
        part = fit_kernels.extent(values, most, inside, self.r, self.z, self.volume, bounds)
        r_low, r_high, z_low, z_high = bounds.tolist()
        return Region(r_low, r_high, z_low, z_high, part)


def _rings(r: Array, z: Array) -> Array:
    """Volumes of the rings that the places of a lattice stand for, up to a factor: those at its edges only half."""
    # the circumference times the area that a step of the lattice spans
    along_r, along_z = np.gradient(r), np.gradient(z)
    rings = r * np.abs(along_r[0] * along_z[1] - along_r[1] * along_z[0])
    rings[[0, -1]] /= 2.0
    rings[:, [0, -1]] /= 2.0
    return np.asarray(rings)
