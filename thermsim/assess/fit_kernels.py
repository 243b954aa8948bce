# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""The compiled loops of fits between nodes. Arrays and numbers only."""

from __future__ import annotations

import numpy as np

from thermsim.solve.kernels import compiled

#: Places each way that are tried in a round, and rounds: each goes on with a quarter, 7 end below 1e-4 of it.
TRIED, ROUNDS = 9, 7


@compiled
def lagrange(nodes, x, weights):
    """Put the weights (k,) of the polynomial through nodes (k,) at x into ``weights``."""
    for p in range(nodes.size):
        weight = 1.0
        for q in range(nodes.size):
            if q != p:
                weight *= (x - nodes[q]) / (nodes[p] - nodes[q])
        weights[p] = weight


@compiled
def zoom(nodes_r, nodes_z, patch, bounds, best):
    """Find the least value of polynomials through nodes in r and z, by trying ever narrower lattices.

    Parameters
    ----------
    nodes_r, nodes_z : (n, k), (n, l)
        Places of the nodes.
    patch : (n, k, l)
        Their values.
    bounds : (n, 4)
        Lowest and highest r, lowest and highest z that are tried.
    best : (n, 3)
        Receives r, z and the value.
    """
    k, width = patch.shape[1], patch.shape[2]
    along_r, along_z = np.empty(k), np.empty((TRIED, width))
    across = np.empty(width)
    for n in range(patch.shape[0]):
        low_r, high_r, low_z, high_z = bounds[n, 0], bounds[n, 1], bounds[n, 2], bounds[n, 3]
        for _ in range(ROUNDS):
            step_r, step_z = (high_r - low_r) / (TRIED - 1), (high_z - low_z) / (TRIED - 1)
            for b in range(TRIED):
                lagrange(nodes_z[n], low_z + b * step_z, along_z[b])
            least, at_r, at_z = np.inf, low_r, low_z
            for a in range(TRIED):
                r = low_r + a * step_r
                lagrange(nodes_r[n], r, along_r)
                for j in range(width):
                    across[j] = 0.0
                for i in range(k):
                    for j in range(width):
                        across[j] += along_r[i] * patch[n, i, j]
                for b in range(TRIED):
                    value = 0.0
                    for j in range(width):
                        value += along_z[b, j] * across[j]
                    if value < least:
                        least, at_r, at_z = value, r, low_z + b * step_z
            best[n, 0], best[n, 1], best[n, 2] = at_r, at_z, least
            low_r, high_r = max(low_r, at_r - step_r), min(high_r, at_r + step_r)
            low_z, high_z = max(low_z, at_z - step_z), min(high_z, at_z + step_z)
