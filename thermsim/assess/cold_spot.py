"""The cold spot: where the product gathers the least lethality, and where it is coldest when heating ends.

The two are different places: after heating ends the core goes on gathering lethality while the outside cools. The
whole product is searched, its surfaces included; minima are found between nodes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.interpolate import RectBivariateSpline

from thermsim.assess.local_fit import interpolate, refine_minima
from thermsim.assess.refinement import Fields
from thermsim.solve.grid import Grid, placed

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


@dataclass(frozen=True)
class Track:
    """Where the product is coldest over time; place NaN while the core still has its first temperature.

    Arrays of shape (n_t,): ``time`` [s], ``r`` and ``z`` [m], ``temperature`` [degC].
    """

    time: Array
    r: Array
    z: Array
    temperature: Array


@dataclass(frozen=True)
class Zone:
    """The cold zone: the region round the cold spot whose lethality is within ``margin`` of the least.

    ``r_low`` ... ``z_high`` bound it [m]; ``part`` is its share of the product's volume; ``resolution`` is how finely
    it was looked at, along r and z [m].
    """

    margin: float
    r_low: float
    r_high: float
    z_low: float
    z_high: float
    part: float
    resolution: tuple[float, float]


@dataclass(frozen=True)
class ProductFields:
    """Fields on a grid, asked about the product alone."""

    grid: Grid
    fields: Fields

    def spot_at(self, r: float, z: float) -> Spot:
        """What happens at a place in the product [m]."""
        end, log_total, log_heating = self._value_at(self.fields.stack()[-3:], r, z)
        # where no heat crosses a surface the fields are level there, and a minimum on it is found a little beside it
        inside = self.grid.well_within_product(r, z, EDGE)
        return Spot(r, z, float(np.exp(log_total)), float(np.exp(log_heating)), float(end), inside)

    def curve_at(self, r: float, z: float) -> Array:
        """Temperature [degC] at a place in the product [m] at the output times, shape (n_t,)."""
        return self._value_at(self.fields.temperature, r, z)

    def stack_at(self, places: list[tuple[float, float]], weights: Array) -> Array:
        """Weighted mean over places in the product of the stack of fields, shape (n_t + 3,)."""
        stack = self.fields.stack()
        values = [weight * self._value_at(stack, r, z) for weight, (r, z) in zip(weights, places, strict=True)]
        return np.asarray(np.sum(values, axis=0))

    def _value_at(self, fields: Array, r: float, z: float) -> Array:
        block = self.grid.block_at(r, z)
        if block is None:
            raise ValueError(f"r = {r} m, z = {z} m lies where nothing conducts")
        rows, columns = block
        return interpolate(
            self.grid.columns[rows], self.grid.levels[columns], fields[..., rows, columns], self.grid.reference(r, z)
        )


def minima_near(grid: Grid, fields: Array, nodes: NDArray[np.int64]) -> Array:
    """Minimum of each field near a node of the product, on the polynomial through the nodes around it.

    Parameters
    ----------
    grid : Grid
    fields : ndarray, shape (n, n_r, n_z)
        Fields on its nodes.
    nodes : ndarray of int, shape (n, 2)
        For each field a node of the product.

    Returns
    -------
    ndarray, shape (n, 3)
        r, z [m] and the value.
    """
    best = np.array([_block_of(grid, node) for node in nodes], dtype=np.int64)
    found = np.empty((len(nodes), 3))
    for k in np.unique(best):
        rows, columns = grid.product_blocks[k]
        mine = best == k
        start = nodes[mine] - [rows.start, columns.start]
        found[mine] = refine_minima(grid.columns[rows], grid.levels[columns], fields[mine][:, rows, columns], start)
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
    field = np.where(product.grid.product_nodes, product.fields.log_lethality, np.inf)
    nodes = _local_minima(field, dip)
    found = minima_near(product.grid, np.broadcast_to(field, (len(nodes), *field.shape)), nodes)
    spots = [product.spot_at(float(r), float(z)) for r, z, _ in found]
    return sorted(spots, key=lambda spot: spot.lethality)


def least_value(grid: Grid, field: Array) -> float:
    """The least value that a field (n_r, n_z) takes in the product, between nodes too."""
    masked = np.where(grid.product_nodes, field, np.inf)
    node = np.unravel_index(int(masked.argmin()), masked.shape)
    return float(minima_near(grid, masked[None], np.array([node]))[0, 2])


def slowest_heating(product: ProductFields) -> Spot:
    """The place in the product with the lowest temperature when heating ends."""
    field = np.where(product.grid.product_nodes, product.fields.end_of_heating, np.inf)
    node = np.unravel_index(int(field.argmin()), field.shape)
    r, z, _ = minima_near(product.grid, field[None], np.array([node]))[0]
    return product.spot_at(float(r), float(z))


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
    temperature = np.where(product.grid.product_nodes, product.fields.temperature, np.inf)
    flat = temperature.reshape(time.size, -1)
    coldest = flat.min(axis=1)
    # once the core has begun to move its coldest point is defined for good
    settled = np.maximum.accumulate(np.abs(coldest - initial) > MOVED)
    nodes = np.stack(np.unravel_index(flat.argmin(axis=1), temperature.shape[1:]), axis=1)
    found = np.full((time.size, 3), np.nan)
    found[~settled, 2] = coldest[~settled]
    if settled.any():
        found[settled] = minima_near(product.grid, temperature[settled], nodes[settled])
    return Track(time, *found.T)


def cold_zone(product: ProductFields, spot: Spot, margin: float) -> Zone:
    """The connected region round the cold spot with at most (1 + margin) times its lethality.

    Its bounds are read off a lattice of 401 by 401 places on a bicubic spline of ln F, over the block of product in
    which the spot lies.
    """
    block = product.grid.block_at(spot.r, spot.z)
    if block is None:
        raise ValueError(f"r = {spot.r} m, z = {spot.z} m lies where nothing conducts")
    grid = product.grid
    nodes_r, nodes_z = grid.columns[block[0]], grid.levels[block[1]]
    spline = RectBivariateSpline(nodes_r, nodes_z, product.fields.log_lethality[block])
    columns, levels = np.linspace(nodes_r[0], nodes_r[-1], 401), np.linspace(nodes_z[0], nodes_z[-1], 401)
    low = spline(columns, levels) <= np.log(spot.lethality) + np.log1p(margin)
    column, level = grid.reference(spot.r, spot.z)
    at = int(np.abs(columns - column).argmin()), int(np.abs(levels - level).argmin())
    low[at] = True
    regions, _ = ndimage.label(low, structure=np.ones((3, 3)))
    zone = regions == regions[at]
    r, z = placed(grid.coordinates, columns[:, None], levels[None, :])
    # rings' volumes: the circumference times the area that a step of the lattice spans
    along_r, along_z = np.gradient(r), np.gradient(z)
    weight = r * np.abs(along_r[0] * along_z[1] - along_r[1] * along_z[0])
    return Zone(
        margin=margin,
        r_low=float(r[zone].min()),
        r_high=float(r[zone].max()),
        z_low=float(z[zone].min()),
        z_high=float(z[zone].max()),
        part=float((weight * zone).sum() / weight.sum()),
        resolution=(float(columns[1] - columns[0]), float(levels[1] - levels[0])),
    )


def first_arrival(time: Array, temperature: Array, target: float) -> float | None:
    """Time [s] at which a curve first reaches a temperature [degC]; None if it never does."""
    above = np.flatnonzero(temperature >= target)
    if above.size == 0:
        return None
    k = int(above[0])
    if k == 0:
        return float(time[0])
    part = (target - temperature[k - 1]) / (temperature[k] - temperature[k - 1])
    return float(time[k - 1] + part * (time[k] - time[k - 1]))


def _local_minima(field: Array, dip: float) -> NDArray[np.int64]:
    """Nodes (n, 2) that are lower than all around them and cut off from lower ones by more than ``dip``."""
    around = np.ones((3, 3))
    candidates = np.argwhere(
        np.isfinite(field) & (field <= ndimage.minimum_filter(field, footprint=around, mode="nearest"))
    )
    kept: list[NDArray[np.int64]] = []
    for node in candidates[np.argsort(field[tuple(candidates.T)])]:
        value = field[tuple(node)]
        basin, _ = ndimage.label(field <= value + dip, structure=around)
        # a minimum of its own: nothing lower, and none kept already, in the basin filled to the brim
        reached = basin == basin[tuple(node)]
        if field[reached].min() >= value and not any(reached[tuple(other)] for other in kept):
            kept.append(node)
    return np.array(kept, dtype=np.int64)


def _block_of(grid: Grid, node: NDArray[np.int64]) -> int:
    """The product's block with the most nodes round a node, as far as a fit reaches."""

    def room(block: tuple[slice, slice]) -> int:
        sides: list[int] = []
        for index, along in zip(node, block, strict=True):
            low, high = int(index) - along.start, along.stop - 1 - int(index)
            if low < 0 or high < 0:
                return -1
            sides.append(min(low, 2) + min(high, 2))
        return sides[0] * sides[1]

    return int(np.argmax([room(block) for block in grid.product_blocks]))
