"""Evenly spaced places over part of a grid, on which regions below a value are bounded and measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.local_fit import Along
from thermsim.solve.grid.grid import Grid, placed

Array = NDArray[np.float64]
Nodes = NDArray[np.bool_]
Block = tuple[slice, slice]

#: Places along r, and along z.
PLACES = 61
#: How well the bounds of a region are known, as a part of a step: between places values are taken to be linear.
KNOWN = 0.02
#: Keeps quotients finite where a field is level.
TINY = 1e-300
#: Pairs of neighbouring places, each way.
NEIGHBOURS = (
    (np.s_[:-1, :], np.s_[1:, :]),
    (np.s_[1:, :], np.s_[:-1, :]),
    (np.s_[:, :-1], np.s_[:, 1:]),
    (np.s_[:, 1:], np.s_[:, :-1]),
)


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
        along_r = Along.at(grid.columns, block[0], columns, axis=grid.smooth_on_axis).matrix(grid.columns.size)
        along_z = Along.at(grid.levels, block[1], levels).matrix(grid.levels.size)
        return cls(columns, levels, r, z, _rings(r, z) / total, along_r, np.ascontiguousarray(along_z.T))

    @property
    def resolution(self) -> tuple[float, float]:
        """Uncertainty of the bounds along r and along z [m]."""
        return KNOWN * float(self.columns[1] - self.columns[0]), KNOWN * float(self.levels[1] - self.levels[0])

    def region(self, field: Array, most: float, place: tuple[float, float]) -> Region:
        """The connected region round a place (column, level) [m] where a field (n_r, n_z) is at most so large."""
        values = self.along_r @ field @ self.along_z
        i, j = (int(np.abs(x - here).argmin()) for x, here in zip((self.columns, self.levels), place, strict=True))
        low = values <= most
        low[i, j] = True
        inside = connected(low, i, j)
        bounds = [(x[inside].min(), x[inside].max()) for x in (self.r, self.z)]
        for one, other in NEIGHBOURS:
            # beyond its last place the region goes on up to where the line to the next one reaches the value
            edge = inside[one] & ~inside[other]
            here, there = values[one][edge], values[other][edge]
            beyond = np.clip((most - here) / np.maximum(there - here, TINY), 0.0, 1.0)
            for k, x in enumerate((self.r, self.z)):
                end = x[one][edge] + beyond * (x[other][edge] - x[one][edge])
                bounds[k] = end.min(initial=bounds[k][0]), end.max(initial=bounds[k][1])
        # places at the edge count as far as what they stand for is below the value
        slope = np.abs(np.gradient(values)).sum(axis=0)
        covered = np.clip(0.5 + (most - values) / np.maximum(slope, TINY), 0.0, 1.0)
        near = _spread(inside)
        (r_low, r_high), (z_low, z_high) = bounds
        return Region(
            float(r_low), float(r_high), float(z_low), float(z_high), float((covered * self.volume)[near].sum())
        )


def connected(lies: Nodes, i: int, j: int) -> Nodes:
    """Places (n, m) of a region ``lies`` (n, m) that are reached from one of them, over sides and corners."""
    reached = np.zeros_like(lies)
    reached[i, j] = True
    runs = [_runs(lies), _runs(lies.T).T]
    while True:
        for run in runs:  # all at once that lie in a row or a column with what is reached
            touched = np.zeros(lies.size + 1, dtype=bool)
            touched[run[reached]] = True
            reached = lies & touched[run]
        beyond = _spread(reached) & lies
        if np.array_equal(beyond, reached):
            return reached
        reached = beyond


def _runs(lies: Nodes) -> NDArray[np.intp]:
    """Numbers of the unbroken runs of places in each row, from 1 on."""
    starts = lies.copy()
    starts[:, 1:] &= ~lies[:, :-1]
    return np.asarray(np.cumsum(starts).reshape(lies.shape))


def _spread(places: Nodes) -> Nodes:
    """Places and all around them."""
    tall = places.copy()
    tall[1:] |= places[:-1]
    tall[:-1] |= places[1:]
    found = tall.copy()
    found[:, 1:] |= tall[:, :-1]
    found[:, :-1] |= tall[:, 1:]
    return found


def _rings(r: Array, z: Array) -> Array:
    """Volumes of the rings that the places of a lattice stand for, up to a factor: those at its edges only half."""
    # the circumference times the area that a step of the lattice spans
    along_r, along_z = np.gradient(r), np.gradient(z)
    rings = r * np.abs(along_r[0] * along_z[1] - along_r[1] * along_z[0])
    rings[[0, -1]] /= 2.0
    rings[:, [0, -1]] /= 2.0
    return np.asarray(rings)
