"""Where the nodes lie along one axis: on every break line, graded between, in nested families."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Growth of the node spacing with the distance from a break line on the finest grid [m/m].
GROWTH = 0.12
#: Spacing at a break line as a part of the widest spacing.
FINEST = 0.2
#: Intervals of the finest grid that one interval of each grid of a family spans, coarsest grid first.
FAMILY = (4, 2, 1)
#: A layer of no more intervals than this is so thin that its own profile is straight: it is not coarsened.
THIN = 2
#: Places in a layer at which the wanted spacing is looked at.
LOOKED_AT = 501
#: Passes that let neighbouring layers agree on their spacing, and the largest step of it at a break line.
SETTLED, STEP_AT_BREAK = 4, 1.3


def grid_lines(
    breaks: Array,
    widest: float,
    *,
    wanted: Array | None = None,
    growth: float = GROWTH,
    axis: bool = False,
    limit: Callable[[Array], Array] | None = None,
) -> list[tuple[Array, NDArray[np.int64]]]:
    """Node places along one axis for a family of grids: nodes on every break line, a smooth spacing between.

    On the finest grid the spacing wanted at x is min(widest, finest at the break + growth * distance), the finest
    being no more than the thinner layer beside the break. Nodes lie at equal steps of the integral of 1/spacing; a
    coarser grid leaves out every other node of the next finer one, except in thin layers.

    Parameters
    ----------
    breaks : ndarray, shape (m + 1,)
        Break lines [m], growing.
    widest : float
        Largest spacing of the finest grid [m].
    wanted : ndarray, shape (m + 1,), optional
        Largest spacing at each break line on the finest grid [m].
    growth : float, optional
        Growth of the spacing with the distance from a break line [m/m].
    axis : bool, optional
        The first break is the axis of symmetry, where nothing asks for small spacings.
    limit : callable, optional
        Largest spacing [m] at given places [m], where it is not the same everywhere.

    Returns
    -------
    list of (lines, layer)
        For each grid of the family, coarsest first: node places [m], shape (n,), and which of the m layers each
        interval lies in, shape (n - 1,).
    """
    thickness = np.diff(breaks)
    beside = np.minimum(np.append(thickness, np.inf), np.insert(thickness, 0, np.inf))
    finest = np.minimum(widest * FINEST, beside)
    if wanted is not None:
        finest = np.minimum(finest, wanted)
    if axis:
        finest[0] = np.inf
    for _ in range(SETTLED):

        def spacing(x: Array, finest: Array = finest) -> Array:
            most = widest if limit is None else limit(x)
            return np.asarray(np.minimum(most, (finest[:, None] + growth * np.abs(x - breaks[:, None])).min(axis=0)))

        places = [_layer_nodes(low, high, spacing) for low, high in zip(breaks[:-1], breaks[1:], strict=True)]
        # whole numbers of intervals make a layer finer than was wanted: its neighbours follow
        ends = np.array([(nodes[1] - nodes[0], nodes[-1] - nodes[-2]) for nodes in places])
        met = np.minimum(np.append(ends[:, 0], np.inf), np.insert(ends[:, 1], 0, np.inf))
        narrower = np.minimum(finest, STEP_AT_BREAK * met)
        if np.array_equal(narrower, finest):
            break
        finest = narrower
    grids = []
    for stride in FAMILY:
        kept = [nodes[::stride] if nodes.size - 1 > THIN else nodes for nodes in places]
        lines = np.concatenate([breaks[:1], *(nodes[1:] for nodes in kept)])
        grids.append((lines, np.repeat(np.arange(len(kept)), [nodes.size - 1 for nodes in kept])))
    return grids


def _layer_nodes(low: float, high: float, spacing: Callable[[Array], Array]) -> Array:
    """Nodes of one layer, both ends included, at equal steps of the integral of 1/spacing."""
    x = np.linspace(low, high, LOOKED_AT)
    density = 1.0 / spacing(x)
    count = np.insert(np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(x)), 0, 0.0)
    # a layer as thin as its neighbours' finest spacing is one interval; 0.99 keeps rounding from making it two
    intervals = max(1, int(np.ceil(0.99 * count[-1])))
    if intervals > THIN:
        intervals = max(FAMILY) * -(-intervals // max(FAMILY))
    nodes = np.interp(np.linspace(0.0, count[-1], intervals + 1), count, x)
    nodes[0], nodes[-1] = low, high
    return nodes


def prolongation(coarse: tuple[Array, NDArray[np.int64]], fine: tuple[Array, NDArray[np.int64]]) -> Array:
    """Weights that carry a smooth field from the nodes of a grid's axis to those of the next finer one.

    Cubic in the node's number, layer by layer (fields bend at the break lines); nodes in common keep their value.

    Parameters
    ----------
    coarse, fine : (lines, layer)
        Node places and layer of each interval, as of :func:`grid_lines`.

    Returns
    -------
    ndarray, shape (n_fine, n_coarse)
    """
    weights = np.zeros((fine[0].size, coarse[0].size))
    for layer in range(int(fine[1][-1]) + 1):
        many, few = np.flatnonzero(fine[1] == layer), np.flatnonzero(coarse[1] == layer)
        number = np.linspace(few[0], few[-1] + 1, many.size + 1)
        stencil = min(4, few.size + 1)
        first = np.clip(np.floor(number).astype(int) - (stencil // 2 - 1), few[0], few[-1] + 2 - stencil)
        nodes = first[:, None] + np.arange(stencil)
        rows = np.arange(many[0], many[-1] + 2)
        weights[rows] = 0.0
        for k in range(stencil):
            others = [q for q in range(stencil) if q != k]
            lagrange = np.prod([(number - nodes[:, q]) / (k - q) for q in others], axis=0) if others else 1.0
            weights[rows, nodes[:, k]] = lagrange
    return weights
