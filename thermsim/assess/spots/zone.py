"""The cold zone: the region round a cold spot whose lethality is next to the least."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.lattice import Block
from thermsim.assess.spots.cold_spot import ProductFields, Spot
from thermsim.solve.grid.grid import interval_of

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Zone:
    """The cold zone: the region round the cold spot whose lethality is within ``margin`` of the least.

    ``r_low`` ... ``z_high`` bound it [m]; ``part`` is its share of the product's volume; ``resolution`` is how well
    its bounds are known from the places looked at, along r and z [m].
    """

    margin: float
    r_low: float
    r_high: float
    z_low: float
    z_high: float
    part: float
    resolution: tuple[float, float]

    def bounds_within(self, off: float) -> tuple[float, float]:
        """Change of the bounds along r and z [m] where ln F is off by so much; it rises to them like a parabola."""
        widths = (self.r_high - self.r_low) / (2.0 if self.r_low > 0.0 else 1.0), (self.z_high - self.z_low) / 2.0
        return widths[0] * off / (2.0 * math.log1p(self.margin)), widths[1] * off / (2.0 * math.log1p(self.margin))

    def part_within(self, by_r: float, by_z: float) -> float:
        """Change of ``part`` as all bounds along r and z lie off by so much [m]; r counts twice about the axis."""
        ways = (by_r * (1 if self.r_low > 0.0 else 2), self.r_high - self.r_low), (by_z, self.z_high - self.z_low)
        return self.part * sum(min(1.0, by / span) for by, span in ways if span)


def cold_zone(product: ProductFields, spot: Spot, margin: float) -> Zone:
    """The connected region round the cold spot with at most (1 + margin) times its lethality.

    Its bounds are read off a lattice of places over the block of product in which the spot lies; between the places
    ln F is taken to be linear.
    """
    block = product.grid.block_at(spot.r, spot.z)
    if block is None:
        raise ValueError(f"r = {spot.r} m, z = {spot.z} m lies where nothing conducts")
    field = product.fields.log_lethality[block]
    most = float(np.log(spot.lethality) + np.log1p(margin))
    nodes = product.grid.columns[block[0]], product.grid.levels[block[1]]
    place = product.grid.reference(spot.r, spot.z)
    lattice = product.asked.lattice(block, _near(field <= most, nodes, place))
    region = lattice.region(product.fields.log_lethality, most, place)
    return Zone(margin=margin, resolution=lattice.resolution, **vars(region))


def _near(low: NDArray[np.bool_], nodes: tuple[Array, Array], place: tuple[float, float]) -> Block:
    """The window of a block of nodes that reaches two nodes beyond all that lie low, and round a place.

    What lies low is not far from nodes that lie low.
    """
    found = []
    lying = _extent(low) if low.any() else None
    for k in (0, 1):
        index = interval_of(nodes[k], place[k])
        first, last = index, index + 1
        if lying is not None:
            first, last = min(first, lying[k].start), max(last, lying[k].stop - 1)
        found.append(slice(max(first - 2, 0), min(last + 2, nodes[k].size - 1) + 1))
    return found[0], found[1]


def _extent(nodes: NDArray[np.bool_]) -> Block:
    """The smallest block that holds all chosen nodes."""
    rows, columns = (np.flatnonzero(nodes.any(axis=axis)) for axis in (1, 0))
    return slice(int(rows[0]), int(rows[-1]) + 1), slice(int(columns[0]), int(columns[-1]) + 1)
