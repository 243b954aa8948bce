"""The grid: nodes on every interface, fine where the temperature is steep, nested so that grids can be compared."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.body import Body
from thermsim.case.materials import Material

Array = NDArray[np.float64]

#: Growth of the node spacing with the distance from a break line on the finest grid [m/m].
GROWTH = 0.12
#: Widest spacings that make up the container's outer radius, and its height, on the finest grid.
INTERVALS_R, INTERVALS_Z = 16.0, 36.0
#: Spacing at a break line as a part of the widest spacing.
FINEST = 0.2
#: Intervals of the finest grid that one interval of each grid of a family spans, coarsest grid first.
FAMILY = (4, 2, 1)
#: A layer of no more intervals than this is so thin that its own profile is straight: it is not coarsened.
THIN = 2
#: Passes that let neighbouring layers agree on their spacing, and the largest step of it at a break line.
SETTLED, STEP_AT_BREAK = 4, 1.3


@dataclass(frozen=True)
class Grid:
    """Nodes of a tensor grid in (r, z) and the material of each rectangle between them.

    Parameters
    ----------
    r, z : ndarray, shapes (n_r,) and (n_z,)
        Node places [m]; r[0] = 0 is the axis, z[0] = 0 the outside of the base.
    material : ndarray of int, shape (n_r - 1, n_z - 1)
        Index into ``materials`` of each rectangle; ``INSULATED`` and ``OUTSIDE`` are below 0.
    product : ndarray of bool, shape (n_r - 1, n_z - 1)
        Which rectangles hold product.
    probe : ndarray of bool, shape (n_r - 1, n_z - 1)
        Which rectangles are part of a probe or its fitting.
    initial : ndarray, shape (n_r - 1, n_z - 1)
        Temperature of each rectangle at the start [degC].
    layer_r, layer_z : ndarray of int, shapes (n_r - 1,) and (n_z - 1,)
        Which interval between the body's break lines each interval between nodes lies in.
    materials : tuple of Material
    """

    r: Array
    z: Array
    layer_r: NDArray[np.int64]
    layer_z: NDArray[np.int64]
    material: NDArray[np.int64]
    product: NDArray[np.bool_]
    probe: NDArray[np.bool_]
    initial: Array
    materials: tuple[Material, ...]

    @property
    def shape(self) -> tuple[int, int]:
        """Numbers of nodes (n_r, n_z)."""
        return self.r.size, self.z.size

    @property
    def active(self) -> NDArray[np.bool_]:
        """Nodes that touch something which conducts, shape (n_r, n_z)."""
        return touched(self.material >= 0)

    @property
    def product_block(self) -> tuple[slice, slice]:
        """Index ranges of the nodes in and around the product: ``temperature[grid.product_block]``."""
        rows = np.flatnonzero(self.product.any(axis=1))
        columns = np.flatnonzero(self.product.any(axis=0))
        return slice(rows[0], rows[-1] + 2), slice(columns[0], columns[-1] + 2)

    def block_at(self, r: float, z: float) -> tuple[slice, slice] | None:
        """Index ranges of the nodes of the layer that holds a place [m]; None where nothing conducts.

        The product comes first at its surfaces; elsewhere a place on an interface counts to the layer below or
        within.
        """
        rows, columns = self.product_block
        edge = 1e-9 * self.z[-1]
        r_in, z_in = self.r[rows], self.z[columns]
        if r_in[0] - edge <= r <= r_in[-1] + edge and z_in[0] - edge <= z <= z_in[-1] + edge:
            return rows, columns
        i = min(max(int(np.searchsorted(self.r, r - edge)) - 1, 0), self.r.size - 2)
        j = min(max(int(np.searchsorted(self.z, z - edge)) - 1, 0), self.z.size - 2)
        if self.material[i, j] < 0:
            return None
        along_r, along_z = (
            np.flatnonzero(self.layer_r == self.layer_r[i]),
            np.flatnonzero(self.layer_z == self.layer_z[j]),
        )
        return slice(int(along_r[0]), int(along_r[-1]) + 2), slice(int(along_z[0]), int(along_z[-1]) + 2)


def touched(rectangles: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Nodes with at least one of the given rectangles at them, shape (n_r, n_z)."""
    wide = np.pad(rectangles, 1)
    return wide[1:, 1:] | wide[:-1, 1:] | wide[1:, :-1] | wide[:-1, :-1]


def grid_lines(
    breaks: Array, widest: float, *, wanted: Array | None = None, growth: float = GROWTH, axis: bool = False
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
            return np.asarray(
                np.minimum(widest, (finest[:, None] + growth * np.abs(x - breaks[:, None])).min(axis=0))
            )

        places = [_layer_nodes(low, high, spacing) for low, high in zip(breaks[:-1], breaks[1:], strict=True)]
        # whole numbers of intervals make a layer finer than was wanted: its neighbours follow
        ends = np.array([(nodes[1] - nodes[0], nodes[-1] - nodes[-2]) for nodes in places])
        met = np.minimum(np.append(ends[:, 0], np.inf), np.insert(ends[:, 1], 0, np.inf))
        finest = np.minimum(finest, STEP_AT_BREAK * met)
    grids = []
    for stride in FAMILY:
        kept = [nodes[::stride] if nodes.size - 1 > THIN else nodes for nodes in places]
        lines = np.concatenate([breaks[:1], *(nodes[1:] for nodes in kept)])
        grids.append((lines, np.repeat(np.arange(len(kept)), [nodes.size - 1 for nodes in kept])))
    return grids


def _layer_nodes(low: float, high: float, spacing: Callable[[Array], Array]) -> Array:
    """Nodes of one layer, both ends included, at equal steps of the integral of 1/spacing."""
    x = np.linspace(low, high, 2001)
    density = 1.0 / spacing(x)
    count = np.insert(np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(x)), 0, 0.0)
    # a layer as thin as its neighbours' finest spacing is one interval; 0.99 keeps rounding from making it two
    intervals = max(1, int(np.ceil(0.99 * count[-1])))
    if intervals > THIN:
        intervals = max(FAMILY) * -(-intervals // max(FAMILY))
    nodes = np.interp(np.linspace(0.0, count[-1], intervals + 1), count, x)
    nodes[0], nodes[-1] = low, high
    return nodes


def grid_family(body: Body, *, refinement: float = 1.0) -> tuple[Grid, ...]:
    """Cover the body with a family of nested grids, coarsest first, each with half the spacing of the one before.

    Parameters
    ----------
    body : Body
        The section to cover.
    refinement : float, optional
        Makes all spacings that many times smaller.

    Returns
    -------
    tuple of Grid
    """
    growth = GROWTH / refinement
    along_r, along_z = (
        grid_lines(
            breaks,
            size / (intervals * refinement),
            wanted=wanted / refinement,
            growth=growth,
            axis=axis,
        )
        for breaks, wanted, size, intervals, axis in (
            (body.r, body.wanted_r, body.size[0], INTERVALS_R, True),
            (body.z, body.wanted_z, body.size[1], INTERVALS_Z, False),
        )
    )
    grids = []
    for (r, in_r), (z, in_z) in zip(along_r, along_z, strict=True):
        there = np.ix_(in_r, in_z)
        grids.append(
            Grid(
                r=r,
                z=z,
                layer_r=in_r,
                layer_z=in_z,
                material=body.material[there],
                product=body.product[there],
                probe=body.probe[there],
                initial=body.initial[there],
                materials=body.materials,
            )
        )
    return tuple(grids)


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
