"""Values and minima between nodes: a polynomial through the neighbouring nodes, in r and z.

Fields are even in r at the axis, so nodes are mirrored there; at the product's surfaces the nodes inside serve.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Nodes along each direction that a fit takes.
STENCIL = 5
#: Nodes added beyond the axis by mirroring.
MIRRORED = STENCIL // 2


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
    r, fields = _mirror(r, fields)
    weights = []
    for nodes, x in ((r, place[0]), (z, place[1])):
        first = _window(nodes, int(np.clip(np.searchsorted(nodes, x) - 1, 0, nodes.size - 1)))
        index = np.arange(first, min(first + STENCIL, nodes.size))
        whole = np.zeros(nodes.size)
        whole[index] = _lagrange(nodes[index][None], np.array([[x]]))[0, 0]
        weights.append(whole)
    return np.asarray(np.einsum("...ij,i,j->...", fields, *weights, optimize=True))


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
    axis = r[0] == 0.0
    r, fields = _mirror(r, fields)
    i, j = nodes[:, 0] + (MIRRORED if axis else 0), nodes[:, 1]
    at_r, low_r, high_r = _around(r, i)
    at_z, low_z, high_z = _around(z, j)
    if axis:
        low_r = np.maximum(low_r, 0.0)
    n = np.arange(fields.shape[0])[:, None, None]
    patch = fields[n, at_r[:, :, None], at_z[:, None, :]]
    nodes_r, nodes_z = r[at_r], z[at_z]

    lattice = np.linspace(0.0, 1.0, 9)
    rows = np.arange(fields.shape[0])
    best = np.stack([r[i], z[j], fields[rows, i, j]], axis=1)
    for _ in range(7):  # zoom in on the least value: 7 times to a quarter, from one interval to below 1e-4 of it
        try_r = low_r[:, None] + (high_r - low_r)[:, None] * lattice
        try_z = low_z[:, None] + (high_z - low_z)[:, None] * lattice
        values = _lagrange(nodes_r, try_r) @ patch @ _lagrange(nodes_z, try_z).swapaxes(1, 2)
        least = values.reshape(rows.size, -1).argmin(axis=1)
        a, b = np.divmod(least, lattice.size)
        best = np.stack([try_r[rows, a], try_z[rows, b], values[rows, a, b]], axis=1)
        span_r, span_z = (high_r - low_r) / 8, (high_z - low_z) / 8
        low_r, high_r = np.maximum(low_r, best[:, 0] - span_r), np.minimum(high_r, best[:, 0] + span_r)
        low_z, high_z = np.maximum(low_z, best[:, 1] - span_z), np.minimum(high_z, best[:, 1] + span_z)
    if axis:
        # the fields are level across the axis: what is found within the zoom's last lattice of it lies on it
        best[best[:, 0] < 1e-4 * r[MIRRORED + 1], 0] = 0.0
    return best


def _mirror(r: Array, fields: Array) -> tuple[Array, Array]:
    """Add nodes beyond the axis where the block touches it; fields as (n, n_r, n_z)."""
    if r[0] != 0.0:
        return r, fields
    beyond = slice(MIRRORED, 0, -1)
    return np.concatenate([-r[beyond], r]), np.concatenate([fields[..., beyond, :], fields], axis=-2)


def _window(nodes: Array, index: int) -> int:
    """First node of the stencil round a node, kept within the block."""
    return int(np.clip(index - STENCIL // 2, 0, max(0, nodes.size - STENCIL)))


def _around(nodes: Array, index: NDArray[np.int64]) -> tuple[NDArray[np.int64], Array, Array]:
    """Stencil nodes round each index, and the bounds of its two intervals."""
    width = min(STENCIL, nodes.size)
    first = np.clip(index - STENCIL // 2, 0, nodes.size - width)
    low, high = nodes[np.maximum(index - 1, 0)], nodes[np.minimum(index + 1, nodes.size - 1)]
    return first[:, None] + np.arange(width), low, high


def _lagrange(nodes: Array, x: Array) -> Array:
    """Lagrange weights, shape (n, m, k), at x (n, m) for nodes (n, k)."""
    k = nodes.shape[1]
    weights = np.ones((*x.shape, k))
    for p in range(k):
        for q in range(k):
            if q != p:
                weights[:, :, p] *= (x - nodes[:, q, None]) / (nodes[:, p] - nodes[:, q])[:, None]
    return weights
