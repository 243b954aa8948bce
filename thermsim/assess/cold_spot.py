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

Array = NDArray[np.float64]

#: A dip of ln F shallower than this is not a minimum of its own.
DIP = 1e-3
#: A place counts as on the surface up to this part of the first interval below it: where no heat crosses the surface
#: the fields are level there, and a minimum on it is found a little beside it.
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

    ``r_low`` ... ``z_high`` bound it [m]; ``part`` is its share of the product's volume.
    """

    margin: float
    r_low: float
    r_high: float
    z_low: float
    z_high: float
    part: float


@dataclass(frozen=True)
class ProductFields:
    """Fields on the nodes of the product alone: ``r`` (n_r,), ``z`` (n_z,) [m] and the fields there."""

    r: Array
    z: Array
    fields: Fields

    @classmethod
    def of(cls, r: Array, z: Array, fields: Fields, block: tuple[slice, slice]) -> ProductFields:
        """Cut the product's block out of the fields of a whole grid."""
        cut = Fields.unstack(np.ascontiguousarray(fields.stack()[:, *block]))
        return cls(r[block[0]], z[block[1]], cut)

    def spot_at(self, r: float, z: float) -> Spot:
        """What happens at a place in the product."""
        last = self.fields.stack()[-3:]
        end, log_total, log_heating = interpolate(self.r, self.z, last, (r, z))
        inside = (
            r < self.r[-1] - EDGE * (self.r[-1] - self.r[-2])
            and self.z[0] + EDGE * (self.z[1] - self.z[0]) < z
            and z < self.z[-1] - EDGE * (self.z[-1] - self.z[-2])
        )
        return Spot(r, z, float(np.exp(log_total)), float(np.exp(log_heating)), float(end), bool(inside))

    def curve_at(self, r: float, z: float) -> Array:
        """Temperature [degC] at a place in the product at the output times, shape (n_t,)."""
        return interpolate(self.r, self.z, self.fields.temperature, (r, z))


def least_lethality(product: ProductFields, *, dip: float = DIP) -> list[Spot]:
    """Every local minimum of the lethality in the product, lowest first.

    Parameters
    ----------
    product : ProductFields
        Fields on the product's nodes.
    dip : float, optional
        A minimum from which a lower one can be reached without ln F rising by more than this does not count.

    Returns
    -------
    list of Spot
        At least one.
    """
    field = product.fields.log_lethality
    nodes = _local_minima(field, dip)
    found = refine_minima(product.r, product.z, np.broadcast_to(field, (len(nodes), *field.shape)), nodes)
    spots = [product.spot_at(float(r), float(z)) for r, z, _ in found]
    return sorted(spots, key=lambda spot: spot.lethality)


def slowest_heating(product: ProductFields) -> Spot:
    """The place with the lowest temperature when heating ends."""
    field = product.fields.end_of_heating
    node = np.unravel_index(int(field.argmin()), field.shape)
    r, z, _ = refine_minima(product.r, product.z, field[None], np.array([node]))[0]
    return product.spot_at(float(r), float(z))


def track(product: ProductFields, time: Array, initial: float) -> Track:
    """Follow the coldest point of the product over the output times.

    Parameters
    ----------
    product : ProductFields
        Fields on the product's nodes.
    time : ndarray, shape (n_t,)
        Output times [s].
    initial : float
        The product's temperature at the start [degC].

    Returns
    -------
    Track
    """
    temperature = product.fields.temperature
    flat = temperature.reshape(time.size, -1)
    coldest = flat.min(axis=1)
    # once the core has begun to move its coldest point is defined for good
    settled = np.maximum.accumulate(np.abs(coldest - initial) > MOVED)
    nodes = np.stack(np.unravel_index(flat.argmin(axis=1), temperature.shape[1:]), axis=1)
    found = np.full((time.size, 3), np.nan)
    found[~settled, 2] = coldest[~settled]
    if settled.any():
        found[settled] = refine_minima(product.r, product.z, temperature[settled], nodes[settled])
    return Track(time, *found.T)


def cold_zone(product: ProductFields, spot: Spot, margin: float) -> Zone:
    """The connected region round the cold spot with at most (1 + margin) times its lethality.

    Its bounds are read off a lattice of 401 by 401 places on a bicubic spline of ln F.
    """
    spline = RectBivariateSpline(product.r, product.z, product.fields.log_lethality)
    r, z = np.linspace(product.r[0], product.r[-1], 401), np.linspace(product.z[0], product.z[-1], 401)
    low = spline(r, z) <= np.log(spot.lethality) + np.log1p(margin)
    at = int(np.abs(r - spot.r).argmin()), int(np.abs(z - spot.z).argmin())
    low[at] = True
    regions, _ = ndimage.label(low, structure=np.ones((3, 3)))
    zone = regions == regions[at]
    rows, columns = np.flatnonzero(zone.any(axis=1)), np.flatnonzero(zone.any(axis=0))
    weight = r[:, None] * np.ones_like(z)
    return Zone(
        margin=margin,
        r_low=float(r[rows[0]]),
        r_high=float(r[rows[-1]]),
        z_low=float(z[columns[0]]),
        z_high=float(z[columns[-1]]),
        part=float((weight * zone).sum() / weight.sum()),
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
    candidates = np.argwhere(field <= ndimage.minimum_filter(field, footprint=around, mode="nearest"))
    kept: list[NDArray[np.int64]] = []
    for node in candidates[np.argsort(field[tuple(candidates.T)])]:
        value = field[tuple(node)]
        basin, _ = ndimage.label(field <= value + dip, structure=around)
        # a minimum of its own: nothing lower, and none kept already, in the basin filled to the brim
        reached = basin == basin[tuple(node)]
        if field[reached].min() >= value and not any(reached[tuple(other)] for other in kept):
            kept.append(node)
    return np.array(kept, dtype=np.int64)
