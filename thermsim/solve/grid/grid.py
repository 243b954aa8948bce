"""The grid: nodes on every interface, fine where the temperature is steep, nested so that grids can be compared."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.physics.materials import Material
from thermsim.solve.grid.body import Body
from thermsim.solve.grid.coordinates import Coordinates
from thermsim.solve.grid.lines import GROWTH, grid_lines

Array = NDArray[np.float64]

#: Widest spacings that make up the container's outer radius, and its height, on the finest grid.
INTERVALS_R, INTERVALS_Z = 16.0, 36.0
#: Lines bend where their direction changes by more than this between two layers: less leaves nothing that is seen.
BEND = 0.02
#: Intervals between two bends below which fields are taken to be smooth across them.
FEWEST = 2


@dataclass(frozen=True)
class Grid:
    """Nodes where the columns and levels of the reference section meet, and what lies between them.

    Parameters
    ----------
    columns, levels : ndarray, shapes (n_r,) and (n_z,)
        Lines of the reference section [m]; columns[0] = 0 is the axis.
    r, z : ndarray, shape (n_r, n_z)
        Places of the nodes [m], on the container's own walls; z = 0 is the outside of the base.
    layer_r, layer_z : ndarray of int, shapes (n_r - 1,) and (n_z - 1,)
        Which interval between the body's break lines each interval between nodes lies in.
    material : ndarray of int, shape (n_r - 1, n_z - 1)
        Index into ``materials`` of each quadrilateral between nodes; ``INSULATED`` and ``OUTSIDE`` are below 0.
    product : ndarray of bool, shape (n_r - 1, n_z - 1)
        Which quadrilaterals hold product.
    probe : ndarray of bool, shape (n_r - 1, n_z - 1)
        Which quadrilaterals are part of a probe or its fitting.
    initial : ndarray, shape (n_r - 1, n_z - 1)
        Temperature of each quadrilateral at the start [degC].
    materials : tuple of Material
    coordinates : Coordinates or None
        How the reference section is drawn onto the container; None: as it is.
    """

    columns: Array
    levels: Array
    r: Array
    z: Array
    layer_r: NDArray[np.int64]
    layer_z: NDArray[np.int64]
    material: NDArray[np.int64]
    product: NDArray[np.bool_]
    probe: NDArray[np.bool_]
    initial: Array
    materials: tuple[Material, ...]
    coordinates: Coordinates | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """Numbers of nodes (n_r, n_z)."""
        return self.columns.size, self.levels.size

    def reference(self, r: float, z: float) -> tuple[float, float]:
        """Column and level [m] of a place [m]."""
        return (abs(r), z) if self.coordinates is None else self.coordinates.reference(abs(r), z)

    @property
    def smooth_on_axis(self) -> bool:
        """Smoothness of levels across the axis, and so fields along them: not over the point of a cone."""
        return self.coordinates is None or self.coordinates.smooth_on_axis

    def place(self, column: float, level: float) -> tuple[float, float]:
        """Place r, z [m] of a column and a level [m]."""
        r, z = placed(self.coordinates, np.asarray(column), np.asarray(level))
        return float(r), float(z)

    @cached_property
    def active(self) -> NDArray[np.bool_]:
        """Nodes that touch something which conducts, shape (n_r, n_z)."""
        return touched(self.material >= 0)

    @cached_property
    def product_nodes(self) -> NDArray[np.bool_]:
        """Nodes in the product and on its surfaces, shape (n_r, n_z)."""
        return touched(self.product)

    @cached_property
    def product_blocks(self) -> tuple[tuple[slice, slice], ...]:
        """Index ranges of the largest blocks of nodes between which there is nothing but product.

        One where there is no probe; beside and beyond a probe several, which overlap.
        """
        first_r = np.searchsorted(self.layer_r, np.arange(self.layer_r[-1] + 2))
        first_z = np.searchsorted(self.layer_z, np.arange(self.layer_z[-1] + 2))
        layers = self.product[np.ix_(first_r[:-1], first_z[:-1])]
        return tuple(
            (slice(int(first_r[a]), int(first_r[b]) + 1), slice(int(first_z[c]), int(first_z[d]) + 1))
            for a, b, c, d in largest_rectangles(layers)
        )

    def holds_product(self, r: float, z: float) -> bool:
        """True if a place [m] lies in the product."""
        return self._holds(self.product, *self.reference(r, z))

    def holds_probe(self, r: float, z: float) -> bool:
        """True if a place [m] lies in the probe or its fitting."""
        return self._holds(self.probe, *self.reference(r, z))

    def well_within_product(self, r: float, z: float, part: float) -> bool:
        """True if a place [m] lies in the product and no nearer to its surfaces than a part of the interval there."""
        column, level = self.reference(r, z)
        i, j = interval_of(self.columns, column), interval_of(self.levels, level)
        near_r = part * float(self.columns[i + 1] - self.columns[i])
        near_z = part * float(self.levels[j + 1] - self.levels[j])
        around = [(abs(column + a * near_r), level + b * near_z) for a in (-1, 1) for b in (-1, 1)]
        return all(self._holds(self.product, *place) for place in around)

    def _holds(self, quadrilaterals: NDArray[np.bool_], column: float, level: float) -> bool:
        i, j = int(self.columns.searchsorted(column)) - 1, int(self.levels.searchsorted(level)) - 1
        return bool(0 <= j < quadrilaterals.shape[1] and i < quadrilaterals.shape[0] and quadrilaterals[max(i, 0), j])

    def block_at(self, r: float, z: float) -> tuple[slice, slice] | None:
        """Index ranges of the block of nodes round a place [m] in which fields are smooth; None: nothing conducts.

        The product comes first at its surfaces, of its blocks the one that reaches farthest beyond the place;
        elsewhere a place on an interface counts to the layer below or within.
        """
        edge = 1e-9 * self.levels[-1]
        column, level = self.reference(r, z)

        def margin(block: tuple[slice, slice]) -> float:
            columns, levels = self.columns[block[0]], self.levels[block[1]]
            beyond_axis = columns[-1] if columns[0] == 0.0 else column - columns[0]
            return float(min(beyond_axis, columns[-1] - column, level - levels[0], levels[-1] - level))

        around = [(margin(block), block) for block in self.product_blocks]
        around = [(room, block) for room, block in around if room >= -edge]
        if around:
            # on a surface every margin is 0: then the largest block serves
            return max(around, key=lambda found: (round(found[0] / edge), self._extent(found[1])))[1]
        i, j = interval_of(self.columns, column - edge), interval_of(self.levels, level - edge)
        if self.material[i, j] < 0:
            return None
        along_r = np.flatnonzero(self.layer_r == self.layer_r[i])
        along_z = np.flatnonzero(self.layer_z == self.layer_z[j])
        return slice(int(along_r[0]), int(along_r[-1]) + 2), slice(int(along_z[0]), int(along_z[-1]) + 2)

    def smooth_at(self, r: float, z: float) -> tuple[slice, slice] | None:
        """The part of :meth:`block_at` round a place [m] that no bend of the lines divides, unless that is small.

        What is smooth in the container is not so along lines that bend: at the edges of a shoulder or of a punt.
        """
        block = self.block_at(r, z)
        if block is None:
            return None
        parts = []
        for part, lines, bends, at in zip(
            block, (self.columns, self.levels), self._bends, self.reference(r, z), strict=True
        ):
            inside = bends[(bends > part.start) & (bends < part.stop - 1)]
            place = int(lines[inside].searchsorted(at))
            ends = [part.start, *inside.tolist(), part.stop - 1]
            smooth = slice(ends[place], ends[place + 1] + 1)
            # between many slight bends too few nodes would be left, and across those little is lost
            parts.append(smooth if smooth.stop - smooth.start > FEWEST else part)
        return parts[0], parts[1]

    @cached_property
    def _bends(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Numbers of the columns, and of the levels, at which the lines across them bend."""
        return (
            _bent(self.columns, self.layer_r, self.r, self.z),
            _bent(self.levels, self.layer_z, self.r.T, self.z.T),
        )

    def _extent(self, block: tuple[slice, slice]) -> float:
        """Area of a block in the reference section [m2]."""
        return float(np.ptp(self.columns[block[0]]) * np.ptp(self.levels[block[1]]))


def _bent(lines: Array, layer: NDArray[np.int64], *places: Array) -> NDArray[np.intp]:
    """Numbers of the lines (n,) between layers (n - 1,) at which places (n, m) go on in another direction."""
    between = np.flatnonzero(np.diff(layer)) + 1
    slopes = [np.diff(along, axis=0) / np.diff(lines)[:, None] for along in places]
    jumps = [np.abs(slope[between] - slope[between - 1]).max(axis=1) for slope in slopes]
    return np.asarray(between[np.max(jumps, axis=0) > BEND])


def interval_of(lines: Array, x: float) -> int:
    """Number of the interval between growing lines in which x lies, or the nearest one."""
    return min(max(int(lines.searchsorted(x)) - 1, 0), lines.size - 2)


def largest_rectangles(cells: NDArray[np.bool_]) -> list[tuple[int, int, int, int]]:
    """All rectangles of true cells that lie in no larger one, as (row, row end, column, column end)."""
    n_r, n_z = cells.shape
    found = [
        (a, b, c, d)
        for a in range(n_r)
        for b in range(a + 1, n_r + 1)
        for c in range(n_z)
        for d in range(c + 1, n_z + 1)
        if cells[a:b, c:d].all()
    ]
    return [
        one
        for one in found
        if not any(
            other != one and other[0] <= one[0] and other[1] >= one[1] and other[2] <= one[2] and other[3] >= one[3]
            for other in found
        )
    ]


def placed(coordinates: Coordinates | None, column: Array, level: Array) -> tuple[Array, Array]:
    """Places r, z [m] of columns and levels [m], broadcast against each other."""
    if coordinates is not None and not coordinates.container.is_straight:
        return coordinates.place(column, level)
    if column.shape == level.shape:
        return column, level
    shape = np.broadcast_shapes(column.shape, level.shape)
    return np.broadcast_to(column, shape).copy(), np.broadcast_to(level, shape).copy()


def touched(rectangles: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Nodes with at least one of the given rectangles at them, shape (n_r, n_z)."""
    n_r, n_z = rectangles.shape
    nodes = np.zeros((n_r + 1, n_z + 1), dtype=bool)
    for at in (np.s_[1:, 1:], np.s_[:-1, 1:], np.s_[1:, :-1], np.s_[:-1, :-1]):
        nodes[at] |= rectangles
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
    fitted = body.coordinates
    widest_r, widest_z = (
        size / (intervals * refinement) for size, intervals in zip(body.size, (INTERVALS_R, INTERVALS_Z), strict=True)
    )
    bent_columns, bent_levels = body.bent
    along_r = grid_lines(
        body.columns,
        widest_r,
        wanted=body.wanted_columns / refinement,
        bent=bent_columns,
        growth=growth,
        axis=True,
    )
    along_z = grid_lines(
        body.levels,
        widest_z,
        wanted=body.wanted_levels / refinement,
        bent=bent_levels,
        growth=growth,
        limit=None if fitted is None else lambda level: fitted.spacing(level, widest_z),
    )
    grids = []
    for (columns, in_r), (levels, in_z) in zip(along_r, along_z, strict=True):
        there = np.ix_(in_r, in_z)
        r, z = placed(fitted, columns[:, None], levels[None, :])
        grids.append(
            Grid(
                columns=columns,
                levels=levels,
                r=r,
                z=z,
                layer_r=in_r,
                layer_z=in_z,
                material=body.material[there],
                product=body.product[there],
                probe=body.probe[there],
                initial=body.initial[there],
                materials=body.materials,
                coordinates=fitted,
            )
        )
    return tuple(grids)
