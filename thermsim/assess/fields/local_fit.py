"""Values and minima between nodes: a polynomial through the neighbouring nodes, in r and z.

Fields are even in r at the axis, so nodes are mirrored there; at the product's surfaces the nodes inside serve.
"""

from __future__ import annotations

import functools
import time as clock
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Nodes along each direction that a fit takes.
STENCIL = 5
#: Nodes added beyond the axis by mirroring.
MIRRORED = STENCIL // 2


@dataclass(frozen=True)
class Along:
    """Stencils of a field along one direction: numbers of the nodes round each place, and their weights.

    ``numbers``, ``weights`` (n, k); beyond the axis nodes are mirrored.
    """

    numbers: NDArray[np.int64]
    weights: Array

    @classmethod
    def at(cls, lines: Array, part: slice, places: Array, *, axis: bool = False) -> Along:
        """At places (n,) [m] between a part of all nodes ``lines`` [m], of which the first may lie on the axis."""
        from thermsim.assess.fields import fit_kernels

        bounds = np.array([part.start, part.stop])
        mirrored = mirrored_beyond(lines, part) if axis else 0
        width = min(STENCIL, part.stop - part.start + mirrored)
        numbers, weights = np.empty((places.size, width), dtype=np.int64), np.empty((places.size, width))
        fit_kernels.between(lines, bounds, mirrored, places, numbers, weights)
        return cls(numbers, weights)

    def matrix(self, count: int) -> Array:
        """The weights of all nodes, shape (n, count): a node that is mirrored counts twice."""
        found = np.zeros((len(self.numbers), count))
        np.add.at(found, (np.arange(len(found))[:, None], self.numbers), self.weights)
        return found


def mirrored_beyond(lines: Array, part: slice) -> int:
    """Number of nodes mirrored beyond the first of a part of all nodes: none, but at the axis."""
    return min(MIRRORED, part.stop - part.start - 1) if lines[part.start] == 0.0 else 0


@dataclass(frozen=True)
class Stencil:
    """The nodes of a fit round a place, and their weights there.

    ``rows``, ``columns``: their numbers in the block; beyond the axis they are mirrored.
    """

    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    along_r: Array
    along_z: Array

    @classmethod
    def at(cls, r: Array, z: Array, place: tuple[float, float]) -> Stencil:
        """Of a place r, z [m] in a block of nodes ``r`` (n_r,) and ``z`` (n_z,) [m] in which fields are smooth."""
        along_r = Along.at(r, slice(0, r.size), np.array([place[0]]), axis=True)
        along_z = Along.at(z, slice(0, z.size), np.array([place[1]]))
        return cls(along_r.numbers[0], along_z.numbers[0], along_r.weights[0], along_z.weights[0])

    def nodes(self, block: tuple[slice, slice]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Rows and columns (p,) in the grid of all its nodes, the block of nodes being part of the grid's."""
        rows, columns = self.rows + block[0].start, self.columns + block[1].start
        return np.repeat(rows, columns.size), np.tile(columns, rows.size)

    @property
    def weights(self) -> Array:
        """Weights (p,) of all its nodes, in the order of :meth:`nodes`."""
        return np.multiply.outer(self.along_r, self.along_z).reshape(-1)

    def value(self, fields: Array) -> Array:
        """Value (...) of the block's fields (..., n_r, n_z) at the place."""
        patch = fields[..., self.rows[:, None], self.columns]
        return np.asarray((patch @ self.along_z) @ self.along_r)


def interpolate(r: Array, z: Array, fields: Array, place: tuple[float, float]) -> Array:
    """Value of fields at a place between nodes.

    Parameters
    ----------
    r, z : ndarray, shapes (n_r,) and (n_z,)
        Nodes of a block in which the fields are smooth [m].
    fields : ndarray, shape (..., n_r, n_z)
        Node values.
    place : (float, float)
        r and z [m], within the block.

    Returns
    -------
    ndarray, shape (...)
    """
    return Stencil.at(r, z, place).value(fields)


@dataclass(frozen=True)
class Minima:
    """Minima of n fields between nodes, and the nodes of the polynomials that they lie on.

    ``places`` (n, 3) are r, z [m] and the value; ``rows`` (n, k) and ``columns`` (n, l) numbers of the nodes, beyond
    the axis mirrored; ``along_r`` and ``along_z`` their weights at the places, of the same shapes.
    """

    places: Array
    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    along_r: Array
    along_z: Array


def refine_minima(
    r: Array,
    z: Array,
    fields: Array,
    nodes: NDArray[np.int64],
    *,
    which: NDArray[np.int64] | None = None,
    block: tuple[slice, slice] | None = None,
) -> Minima:
    """Find the minimum of each field near a node, on the polynomial through the nodes around it.

    Parameters
    ----------
    r, z : ndarray, shapes (n_r,) and (n_z,)
        Lines of the grid [m].
    fields : ndarray, shape (m, n_r, n_z)
        Node values.
    nodes : ndarray of int, shape (n, 2)
        For each search the node with the least value nearby.
    which : ndarray of int, shape (n,), optional
        For each search its field; else as many fields as nodes, in the same order.
    block : pair of slice, optional
        Of nodes in which the fields are smooth; else all of them.

    Returns
    -------
    Minima
        Within one interval of the node, r >= 0.
    """
    from thermsim.assess.fields import fit_kernels

    count = len(nodes)
    rows, columns = block or (slice(0, r.size), slice(0, z.size))
    bounds = np.array([rows.start, rows.stop, columns.start, columns.stop])
    mirrored = mirrored_beyond(r, rows)
    sizes = min(STENCIL, rows.stop - rows.start + mirrored), min(STENCIL, columns.stop - columns.start)
    numbers = [np.empty((count, size), dtype=np.int64) for size in sizes]
    weights = [np.empty((count, size)) for size in sizes]
    best = np.empty((count, 3))
    which = np.arange(count) if which is None else which
    fit_kernels.lowest(r, z, np.ascontiguousarray(fields), which, nodes, bounds, mirrored, best, *numbers, *weights)
    return Minima(best, numbers[0], numbers[1], weights[0], weights[1])


@functools.cache
def compile_fits() -> float:
    """Compile the loops of fits, or load them from the cache on disk; returns the seconds it took, the first time."""
    from thermsim.assess.fields import fit_kernels

    began = clock.perf_counter()
    line, square, there = np.arange(5.0), np.zeros((5, 5)), np.ones((5, 5), dtype=bool)
    node = np.zeros((1, 2), dtype=np.int64)
    interpolate(line, line, square, (2.0, 2.0))
    refine_minima(line, line, square[None], node)
    fit_kernels.coldest(square[None], there, node, np.empty(1))
    fit_kernels.extent(square, 0.0, there, square, square, square, np.empty(4))
    return clock.perf_counter() - began
