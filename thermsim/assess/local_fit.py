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
        from thermsim.assess import fit_kernels

        found = []
        for nodes, x, axis in ((r, place[0], r[0] == 0.0), (z, place[1], False)):
            index = min(max(int(nodes.searchsorted(x)) - 1, -1 if axis else 0), nodes.size - 1)
            low = -min(MIRRORED, nodes.size - 1) if axis else 0
            width = min(STENCIL, nodes.size - low)
            first = max(low, min(index - STENCIL // 2, nodes.size - width))
            numbers = np.arange(first, first + width)
            places = np.where(numbers < 0, -1.0, 1.0) * nodes[np.abs(numbers)]
            weights = np.empty(width)
            fit_kernels.lagrange(places, float(x), weights)
            found.append((np.abs(numbers), weights))
        (rows, along_r), (columns, along_z) = found
        return cls(rows, columns, along_r, along_z)

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


def refine_minima(r: Array, z: Array, fields: Array, nodes: NDArray[np.int64]) -> Array:
    """Find the minimum of each field near a node, on the polynomial through the nodes around it.

    Parameters
    ----------
    r, z : ndarray, shapes (n_r,) and (n_z,)
        Nodes of the block [m].
    fields : ndarray, shape (n, n_r, n_z)
        Node values.
    nodes : ndarray of int, shape (n, 2)
        For each field the node with the least value nearby.

    Returns
    -------
    ndarray, shape (n, 3)
        r, z [m] and the value; within one interval of the node, r >= 0.
    """
    from thermsim.assess import fit_kernels

    window = Window.round(r, z, nodes)
    i, j = nodes[:, 0], nodes[:, 1]
    low_r, high_r = r[np.maximum(i - 1, 0)], r[np.minimum(i + 1, r.size - 1)]
    low_z, high_z = z[np.maximum(j - 1, 0)], z[np.minimum(j + 1, z.size - 1)]
    best = np.empty((len(nodes), 3))
    fit_kernels.zoom(
        window.places_r,
        window.places_z,
        np.ascontiguousarray(
            fields[np.arange(len(nodes))[:, None, None], window.rows[:, :, None], window.columns[:, None, :]]
        ),
        np.stack([low_r, high_r, low_z, high_z], axis=1),
        best,
    )
    if r[0] == 0.0:
        # the fields are level across the axis: what is found within the zoom's last lattice of it lies on it
        best[best[:, 0] < 1e-4 * r[1], 0] = 0.0
    return best


@dataclass(frozen=True)
class Window:
    """Nodes round each of several nodes: their numbers (n, k), beyond the axis mirrored, and their places [m]."""

    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    places_r: Array
    places_z: Array

    @classmethod
    def round(cls, r: Array, z: Array, nodes: NDArray[np.int64]) -> Window:
        """Round nodes (n, 2) of a block of nodes ``r`` (n_r,) and ``z`` (n_z,) [m]."""
        numbers, places = [], []
        for lines, index, axis in ((r, nodes[:, 0], r[0] == 0.0), (z, nodes[:, 1], False)):
            low = -min(MIRRORED, lines.size - 1) if axis else 0
            width = min(STENCIL, lines.size - low)
            first = np.clip(index - STENCIL // 2, low, lines.size - width)
            number = first[:, None] + np.arange(width)
            numbers.append(np.abs(number))
            places.append(np.where(number < 0, -1.0, 1.0) * lines[np.abs(number)])
        return cls(numbers[0], numbers[1], places[0], places[1])

    def weights(self, r: Array, z: Array) -> Array:
        """Weights (n, k_r, k_z) of the nodes at places r and z [m], one for each window."""
        along_r, along_z = _lagrange(self.places_r, r[:, None]), _lagrange(self.places_z, z[:, None])
        return along_r[:, 0, :, None] * along_z[:, 0, None, :]


def _lagrange(nodes: Array, x: Array) -> Array:
    """Lagrange weights, shape (n, m, k), at x (n, m) for nodes (n, k)."""
    k = nodes.shape[1]
    weights = np.ones((*x.shape, k))
    for p in range(k):
        for q in range(k):
            if q != p:
                weights[:, :, p] *= (x - nodes[:, q, None]) / (nodes[:, p] - nodes[:, q])[:, None]
    return weights


@functools.cache
def compile_fits() -> float:
    """Compile the loops of fits, or load them from the cache on disk; returns the seconds it took, the first time."""
    began = clock.perf_counter()
    line = np.arange(5.0)
    interpolate(line, line, np.zeros((5, 5)), (2.0, 2.0))
    refine_minima(line, line, np.zeros((1, 5, 5)), np.array([[2, 2]]))
    return clock.perf_counter() - began
