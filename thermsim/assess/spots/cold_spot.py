"""The cold spot: where the product gathers the least lethality, and where it is coldest when heating ends.

The two are different places: after heating ends the core goes on gathering lethality while the outside cools. The
whole product is searched, its surfaces included; minima are found between nodes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from thermsim.assess.fields.family import Fields
from thermsim.assess.fields.lattice import Block, Lattice, connected
from thermsim.assess.fields.local_fit import Stencil, refine_minima
from thermsim.solve.grid.grid import Grid, placed
from thermsim.values import Sealed

Array = NDArray[np.float64]

#: A dip of ln F shallower than this is not a minimum of its own.
DIP = 1e-3
#: A place counts as on the surface up to this part of the interval between nodes there.
EDGE = 0.2
#: The coldest point is tracked from when the lowest temperature has moved this far from the start [K].
MOVED = 0.05


@dataclass(frozen=True)
class Spot:
    """A place in the product and what happens there.

    ``r``, ``z`` [m]; ``lethality`` of the whole process and ``heating_lethality`` until heating ended [s];
    ``end_of_heating`` temperature when heating ends [degC]; ``inside``: not on the product's surface.
    """

    r: float
    z: float
    lethality: float
    heating_lethality: float
    end_of_heating: float
    inside: bool


@dataclass(frozen=True, eq=False)
class Track(Sealed):
    """Coldest place of the product over time; place NaN while the core still has its first temperature.

    Arrays of shape (n_t,): ``time`` [s], ``r`` and ``z`` [m], ``temperature`` [degC].
    """

    time: Array
    r: Array
    z: Array
    temperature: Array


class SearchStencils:
    """Stencils and lattices of a grid, worked out once, whatever fields are asked about."""

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self.stencils: dict[tuple[float, float], tuple[Block, Stencil]] = {}
        self.lattices: dict[tuple[int, ...], Lattice] = {}
        self.within: dict[tuple[float, float], bool] = {}

    def stencil(self, r: float, z: float) -> tuple[Block, Stencil]:
        """As :func:`stencil_at`."""
        if (r, z) not in self.stencils:
            self.stencils[r, z] = stencil_at(self.grid, r, z)
        return self.stencils[r, z]

    def inside(self, r: float, z: float) -> bool:
        """True if a place is not on the product's surface.

        Where no heat crosses a surface fields are level there, and a minimum on it is found a little beside it.
        """
        if (r, z) not in self.within:
            self.within[r, z] = self.grid.well_within_product(r, z, EDGE)
        return self.within[r, z]

    def lattice(self, block: Block, window: Block) -> Lattice:
        """Over a window, by its nodes, of a block of nodes in which fields are smooth."""
        key = tuple(end for part in (*block, *window) for end in (part.start, part.stop))
        if key not in self.lattices:
            self.lattices[key] = Lattice.over(self.grid, block, window)
        return self.lattices[key]


@dataclass(frozen=True)
class ProductFields:
    """Fields on a grid, asked about the product alone; ``asked`` may be shared by several on the same grid."""

    grid: Grid
    fields: Fields
    asked: SearchStencils

    @classmethod
    def of(cls, grid: Grid, fields: Fields) -> ProductFields:
        """Of one computation alone."""
        return cls(grid, fields, SearchStencils(grid))

    def spot_at(self, r: float, z: float) -> Spot:
        """The spot at a place in the product [m]."""
        end, log_total, log_heating = self._ends_at(r, z).tolist()
        return Spot(r, z, math.exp(log_total), math.exp(log_heating), end, self.asked.inside(r, z))

    def courses_at(self, places: list[tuple[float, float]]) -> Array:
        """Temperature [degC] at places in the product or in a wall [m] at the output times, shape (n_t, places)."""
        stencils = [self.asked.stencil(r, z) for r, z in places]
        nodes = [stencil.nodes(block) for block, stencil in stencils]
        weights = np.zeros((sum(rows.size for rows, _ in nodes), len(places)))
        done = 0
        for k, (_, stencil) in enumerate(stencils):
            mine = stencil.weights
            weights[done : done + mine.size, k] = mine
            done += mine.size
        rows, columns = (np.concatenate(numbers) for numbers in zip(*nodes, strict=True))
        return self.fields.courses.at(rows, columns, weights)

    def stack_at(self, places: list[tuple[float, float]], weights: Array) -> Array:
        """Weighted mean over places in the product of all that is known, shape (n_t + 3,).

        First the temperatures at the output times, then the one when heating ends and the logarithms of lethality.
        """
        ends = np.stack([self._ends_at(r, z) for r, z in places], axis=1)
        return np.concatenate([self.courses_at(places) @ weights, ends @ weights])

    def _ends_at(self, r: float, z: float) -> Array:
        """Temperature when heating ends, and logarithms of lethality, at a place [m], shape (3,)."""
        block, stencil = self.asked.stencil(r, z)
        return stencil.value(self.fields.ends[:, *block])


def stencil_at(grid: Grid, r: float, z: float) -> tuple[Block, Stencil]:
    """The block of nodes round a place [m] in which fields are smooth, and how to interpolate in it.

    Raises
    ------
    ValueError
        If nothing conducts there.
    """
    block = grid.smooth_at(r, z)
    if block is None:
        raise ValueError(f"r = {r} m, z = {z} m lies where nothing conducts")
    lines = grid.columns[block[0]], grid.levels[block[1]]
    return block, Stencil.at(*lines, grid.reference(r, z), axis=grid.smooth_on_axis)


def minima_near(grid: Grid, fields: Array, nodes: NDArray[np.int64], which: NDArray[np.int64] | None = None) -> Array:
    """Minima of fields near nodes of the product, on the polynomial through the nodes around each.

    Parameters
    ----------
    grid : Grid
    fields : ndarray, shape (m, n_r, n_z)
        Fields on its nodes.
    nodes : ndarray of int, shape (n, 2)
        Nodes of the product.
    which : ndarray of int, shape (n,), optional
        For each node its field; else all are of the first.

    Returns
    -------
    ndarray, shape (n, 3)
        r, z [m] and the value.
    """
    found = np.empty((len(nodes), 3))
    for block, mine in _blocks_of(grid, nodes):
        of = np.zeros(int(mine.sum()), dtype=np.int64) if which is None else which[mine]
        found[mine] = refine_minima(
            grid.columns, grid.levels, fields, nodes[mine], which=of, block=block, axis=grid.smooth_on_axis
        ).places
    found[:, 0], found[:, 1] = placed(grid.coordinates, found[:, 0], found[:, 1])
    return found


def least_lethality(product: ProductFields, *, dip: float = DIP) -> list[Spot]:
    """Every local minimum of the lethality in the product, its surfaces included, lowest first.

    Parameters
    ----------
    product : ProductFields
        Fields on a grid.
    dip : float, optional
        A minimum from which a lower one can be reached without ln F rising by more than this does not count.

    Returns
    -------
    list of Spot
        At least one.
    """
    return cold_spots([product], dip=dip)[0][0]


def least_value(grid: Grid, field: Array) -> float:
    """The least value that a field (n_r, n_z) takes in the product, between nodes too."""
    masked = np.where(grid.product_nodes, field, np.inf)
    node = np.unravel_index(int(masked.argmin()), masked.shape)
    return float(minima_near(grid, masked[None], np.array([node]))[0, 2])


def cold_spots(products: Sequence[ProductFields], *, dip: float = DIP) -> tuple[list[list[Spot]], list[Spot]]:
    """Both kinds of cold spot of some computations on one grid, all looked for at once.

    Returns
    -------
    minima : list of list of Spot
        Of each computation what :func:`least_lethality` gives.
    slowest : list of Spot
        The place in the product with the lowest temperature when heating ends.
    """
    grid = products[0].grid
    inside = grid.product_nodes
    fields = np.where(inside, [(each.fields.log_lethality, each.fields.end_of_heating) for each in products], np.inf)
    nodes = [
        of
        for log_lethality, end in fields
        for of in (_local_minima(log_lethality, dip), np.argwhere(end == end.min())[:1])
    ]
    counts = [len(of) for of in nodes]
    which = np.repeat(np.arange(len(nodes)), counts)
    found = minima_near(grid, fields.reshape(-1, *grid.shape), np.concatenate(nodes), which)
    parts = np.split(found, np.cumsum(counts)[:-1])
    minima = [
        sorted((product.spot_at(float(r), float(z)) for r, z, _ in part), key=lambda spot: spot.lethality)
        for product, part in zip(products, parts[::2], strict=True)
    ]
    slowest = [
        product.spot_at(float(part[0, 0]), float(part[0, 1]))
        for product, part in zip(products, parts[1::2], strict=True)
    ]
    return minima, slowest


def reach_alike(product: ProductFields, field: Array, spot: Spot, unsure: float) -> tuple[float, float]:
    """Distances along r and z [m] from a place of the least of a field to the farthest that cannot be told from it.

    These are all nodes of the product, anywhere, at which the field (n_r, n_z) is more by no more than it is
    uncertain by: two places may be equally slow with the whole height between them.
    """
    grid, values = product.grid, np.where(product.grid.product_nodes, field, np.inf)
    alike = values <= values.min() + unsure
    return float(np.abs(grid.r[alike] - spot.r).max()), float(np.abs(grid.z[alike] - spot.z).max())


def track(product: ProductFields, time: Array, initial: float) -> Track:
    """Follow the coldest point of the product over the output times.

    Parameters
    ----------
    product : ProductFields
        Fields on a grid.
    time : ndarray, shape (n_t,)
        Output times [s].
    initial : float
        The product's temperature at the start [degC].

    Returns
    -------
    Track
    """
    return tracks(product, (), time, initial)[0]


def tracks(product: ProductFields, others: Sequence[Fields], time: Array, initial: float) -> list[Track]:
    """Follow the coldest point, and along the same places what other computations say there.

    Parameters are those of :func:`track`; ``others`` are fields on the same grid. While the core still has its first
    temperature theirs is taken to be the same.

    Returns
    -------
    list of Track
        First of the product, then of the others.
    """
    grid, temperature = product.grid, product.fields.temperature
    within = temperature[:, grid.product_nodes]
    nodes, coldest = np.argwhere(grid.product_nodes)[within.argmin(axis=1)], within.min(axis=1)
    # once the core has begun to move its coldest point is defined for good
    settled = np.maximum.accumulate(np.abs(coldest - initial) > MOVED)
    found = np.full((time.size, 3), np.nan)
    found[~settled, 2] = coldest[~settled]
    along = [np.where(settled, np.nan, coldest) for _ in others]
    for block, mine in _blocks_of(grid, nodes[settled]):
        when = np.flatnonzero(settled)[mine]
        least = refine_minima(
            grid.columns, grid.levels, temperature, nodes[when], which=when, block=block, axis=grid.smooth_on_axis
        )
        found[when] = least.places
        weights = least.along_r[:, :, None] * least.along_z[:, None, :]
        places = least.rows[:, :, None] * grid.shape[1] + least.columns[:, None, :]
        wanted = np.zeros(grid.shape, dtype=bool)
        wanted.reshape(-1)[places] = True
        where = np.cumsum(wanted).take(places) - 1
        rows, columns = (np.ascontiguousarray(numbers) for numbers in np.nonzero(wanted))
        for fields, line in zip(others, along, strict=True):
            values = fields.courses.at(rows, columns)
            line[when] = (values[when[:, None, None], where] * weights).sum(axis=(1, 2))
    found[:, 0], found[:, 1] = placed(grid.coordinates, found[:, 0], found[:, 1])
    return [Track(time, *found.T), *(Track(time, found[:, 0], found[:, 1], line) for line in along)]


def _local_minima(field: Array, dip: float) -> NDArray[np.int64]:
    """Nodes (n, 2) that are lower than all around them and cut off from lower ones by more than ``dip``."""
    around = np.pad(field, 1, constant_values=np.nan)
    least = np.fmin.reduce(sliding_window_view(around, (3, 3)), axis=(2, 3))
    candidates = np.argwhere(np.isfinite(field) & (field <= least))
    kept: list[NDArray[np.int64]] = []
    for node in candidates[np.argsort(field[tuple(candidates.T)])]:
        if not kept:  # the lowest of all
            kept.append(node)
            continue
        value = field[tuple(node)]
        # a minimum of its own: nothing lower, and none kept already, in the basin filled to the brim
        reached = connected(field <= value + dip, *node)
        if field[reached].min() >= value and not any(reached[tuple(other)] for other in kept):
            kept.append(node)
    return np.array(kept, dtype=np.int64)


def _blocks_of(grid: Grid, nodes: NDArray[np.int64]) -> list[tuple[Block, NDArray[np.bool_]]]:
    """The product's blocks with the most nodes round each of nodes (n, 2), as far as a fit reaches, and whose."""
    blocks = grid.product_blocks
    if len(blocks) == 1:
        return [(blocks[0], np.ones(len(nodes), dtype=bool))] if len(nodes) else []
    rooms = []
    for block in blocks:
        room = np.ones(len(nodes), dtype=np.int64)
        for index, along in zip(nodes.T, block, strict=True):
            low, high = index - along.start, along.stop - 1 - index
            room *= np.where((low < 0) | (high < 0), 0, np.minimum(low, 2) + np.minimum(high, 2))
        rooms.append(room)
    best = np.argmax(rooms, axis=0)
    return [(blocks[k], best == k) for k in np.unique(best)]
