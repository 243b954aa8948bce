"""Lines of a graded mesh along one axis, for the contestants that need one; places looked up in cells."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_matrix

from contestants.jar import Array, Jar


def graded_lines(breaks: Array, *, finest: float, widest: float, growth: float, axis: bool = False) -> Array:
    """Lines on every break, ``finest`` apart there [m], growing with the distance up to ``widest``."""
    lines = [breaks[:1]]
    for k, (low, high) in enumerate(zip(breaks[:-1], breaks[1:], strict=True)):
        x = np.linspace(low, high, 1001)
        from_low = np.inf if axis and k == 0 else x - low  # the axis asks for nothing
        spacing = np.minimum(widest, finest + growth * np.minimum(from_low, high - x))
        count = np.insert(np.cumsum(np.diff(x) * (1 / spacing[1:] + 1 / spacing[:-1]) / 2), 0, 0.0)
        intervals = max(1, int(np.ceil(0.99 * count[-1])))
        lines.append(np.interp(np.linspace(0.0, count[-1], intervals + 1), count, x)[1:-1])
        lines.append(np.array([high]))
    return np.concatenate(lines)


def mesh_lines(jar: Jar, *, finest: float, widest: float, growth: float) -> tuple[Array, Array]:
    """Lines along r and along z."""
    r = graded_lines(jar.columns, finest=finest, widest=widest, growth=growth, axis=True)
    return r, graded_lines(jar.levels, finest=finest, widest=widest, growth=growth)


def layer_of(breaks: Array, lines: Array) -> np.ndarray:
    """Layer of each interval between lines."""
    return np.searchsorted(breaks, (lines[1:] + lines[:-1]) / 2) - 1


def looked_up(jar: Jar, r: Array, z: Array, places: Array) -> csr_matrix:
    """Matrix from values at cell centres r, z (r first) to places in the product, cubic in r squared and in z."""
    radius, bottom, top = jar.product
    in_r, in_z = np.flatnonzero(r < radius), np.flatnonzero((z > bottom) & (z < top))
    rows, columns, weights = [], [], []
    for n, (a, b) in enumerate(places):
        along = []
        for inside, at, x in ((in_r, r**2, a**2), (in_z, z, b)):
            first = np.clip(np.searchsorted(at[inside], x) - 2, 0, inside.size - 4)
            four = inside[first : first + 4]
            weight = [np.prod([(x - at[o]) / (at[i] - at[o]) for o in four if o != i]) for i in four]
            along.append((four, np.array(weight)))
        columns.append((along[0][0][:, None] * z.size + along[1][0]).ravel())
        weights.append(np.outer(along[0][1], along[1][1]).ravel())
        rows.append(np.full(16, n))
    shape = len(places), r.size * z.size
    return csr_matrix((np.concatenate(weights), (np.concatenate(rows), np.concatenate(columns))), shape=shape)
