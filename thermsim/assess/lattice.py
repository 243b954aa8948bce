"""Evenly spaced places over part of a grid, on which regions below a value are bounded and measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline
from scipy.ndimage import binary_dilation

from thermsim.solve.grid import Grid, placed
from thermsim.solve.products import product

Array = NDArray[np.float64]
Nodes = NDArray[np.bool_]
Block = tuple[slice, slice]

#: Places along r, and along z.
PLACES = 61
#: How well the bounds of a region are known, as a part of a step: between places values are taken to be linear.
KNOWN = 0.1
#: Neighbours along r and along z.
NEIGHBOURS = (
    ((slice(None, -1), slice(None)), (slice(1, None), slice(None))),
    ((slice(None), slice(None, -1)), (slice(None), slice(1, None))),
)


@dataclass(frozen=True)
class Lattice:
    """Evenly spaced places over a window of a block of nodes, and what a bicubic spline through the nodes is there.

    Parameters
    ----------
    columns, levels : ndarray, shape (n,)
        Places in the reference section [m].
    r, z : ndarray, shape (n, n)
        Places in the container [m].
    volume : ndarray, shape (n, n)
        Of the ring that each place stands for, as a part of the whole block's.
    along_r, along_z : ndarray, shapes (n, n_r) and (n_z, n)
        The spline through a field of the block is ``along_r @ field @ along_z``.
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
        lines, splines = [], []
        for all_nodes, part, some in zip((grid.columns, grid.levels), block, window, strict=True):
            nodes = all_nodes[part]
            lines.append(np.linspace(nodes[some][0], nodes[some][-1], PLACES))
            splines.append(make_interp_spline(nodes, np.eye(nodes.size), k=3)(lines[-1]))
        columns, levels = lines
        r, z = placed(grid.coordinates, columns[:, None], levels[None, :])
        every_r, every_z = (
            np.linspace(lines[part][0], lines[part][-1], PLACES)
            for lines, part in zip((grid.columns, grid.levels), block, strict=True)
        )
        total = _rings(*placed(grid.coordinates, every_r[:, None], every_z[None, :])).sum()
        along_r, along_z = splines[0], np.ascontiguousarray(splines[1].T)
        return cls(columns, levels, r, z, _rings(r, z) / total, along_r, along_z)

    @property
    def resolution(self) -> tuple[float, float]:
        """How well bounds are known along r and along z [m]."""
        return KNOWN * float(self.columns[1] - self.columns[0]), KNOWN * float(self.levels[1] - self.levels[0])

    def values(self, field: Array) -> Array:
        """The spline through a field (n_r, n_z) of the block at the places."""
        return product(product(self.along_r, field), self.along_z)

    def nearest(self, column: float, level: float) -> tuple[int, int]:
        """The place nearest to another."""
        return int(np.abs(self.columns - column).argmin()), int(np.abs(self.levels - level).argmin())

    def bounds(self, values: Array, inside: Nodes, most: float) -> tuple[tuple[float, float], tuple[float, float]]:
        """Least and largest r, and z [m], of a region whose values are at most so large; between places linear."""
        found = [(self.r[inside], self.z[inside])]
        for pair in NEIGHBOURS:
            for here, beyond in (pair, pair[::-1]):
                edge = inside[here] & ~inside[beyond]
                within = values[here][edge]
                part = np.clip((most - within) / np.maximum(values[beyond][edge] - within, 1e-300), 0.0, 1.0)
                r, z = (x[here][edge] + part * (x[beyond][edge] - x[here][edge]) for x in (self.r, self.z))
                found.append((r, z))
        r, z = (np.concatenate(places) for places in zip(*found, strict=True))
        return (float(r.min()), float(r.max())), (float(z.min()), float(z.max()))

    def part(self, values: Array, inside: Nodes, most: float) -> float:
        """The region's part of the block's volume; the cells at its edge count as far as they are below the value."""
        along_r, along_z = np.gradient(values)
        covered = np.clip(0.5 + (most - values) / np.maximum(np.abs(along_r) + np.abs(along_z), 1e-300), 0.0, 1.0)
        near = binary_dilation(inside, structure=np.ones((3, 3)))
        return float((covered * self.volume)[near].sum())


def _rings(r: Array, z: Array) -> Array:
    """Volumes of the rings that the places of a lattice stand for, up to a factor: those at its edges only half."""
    # the circumference times the area that a step of the lattice spans
    along_r, along_z = np.gradient(r), np.gradient(z)
    rings = r * np.abs(along_r[0] * along_z[1] - along_r[1] * along_z[0])
    rings[[0, -1]] /= 2.0
    rings[:, [0, -1]] /= 2.0
    return np.asarray(rings)
