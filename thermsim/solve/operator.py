"""The discrete law of conduction: what each node stores, what flows between nodes, and what the surfaces exchange.

Control volumes round the nodes are bounded by the lines half-way between nodes; each rectangle between nodes has one
material, so no average is taken at an interface. Volumes and face areas are those of full rings (2 pi included): the
axis needs no special case, since its face has no area.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.body import INSULATED
from thermsim.case.process import Film
from thermsim.solve.grid import Grid

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Operator:
    """Capacities, conductances and surface areas of a grid.

    Parameters
    ----------
    capacity : ndarray, shape (n_r, n_z)
        Heat capacity of each node's control volume [J/K]; 0 where nothing conducts.
    conductance_r : ndarray, shape (n_r - 1, n_z)
        Between nodes (i, j) and (i + 1, j) [W/K].
    conductance_z : ndarray, shape (n_r, n_z - 1)
        Between nodes (i, j) and (i, j + 1) [W/K].
    side, base, lid : ndarray, shape (n_r, n_z)
        Area of the outer surfaces that belongs to each node [m2].
    initial : ndarray, shape (n_r, n_z)
        Temperature at the start [degC], heat kept where rectangles of unlike temperature meet.
    """

    capacity: Array
    conductance_r: Array
    conductance_z: Array
    side: Array
    base: Array
    lid: Array
    initial: Array


def operator_of(grid: Grid) -> Operator:
    """Set up the control-volume operator of a grid (second order on smoothly graded grids).

    Returns
    -------
    Operator
    """
    n_r, n_z = grid.shape
    r, dr, dz = grid.r, np.diff(grid.r), np.diff(grid.z)
    middle = (r[1:] + r[:-1]) / 2
    # ring areas of the inner and the outer half of each radial interval [m2]
    inner, outer = np.pi * (middle**2 - r[:-1] ** 2), np.pi * (r[1:] ** 2 - middle**2)

    conducts = grid.material != INSULATED
    conductivity = _property(grid, "conductivity")
    heat = _property(grid, "capacity")

    capacity, content = np.zeros((n_r, n_z)), np.zeros((n_r, n_z))
    conductance_z = np.zeros((n_r, n_z - 1))
    side, base, lid = np.zeros((n_r, n_z)), np.zeros((n_r, n_z)), np.zeros((n_r, n_z))
    for rows, ring in ((slice(None, -1), inner), (slice(1, None), outer)):
        conductance_z[rows] += conductivity * ring[:, None] / dz
        for columns in (slice(None, -1), slice(1, None)):
            quarter = heat * ring[:, None] * dz / 2
            capacity[rows, columns] += quarter
            content[rows, columns] += quarter * grid.initial
        base[rows, 0] += ring * conducts[:, 0]
        lid[rows, -1] += ring * conducts[:, -1]
    conductance_r = np.zeros((n_r - 1, n_z))
    for columns in (slice(None, -1), slice(1, None)):
        conductance_r[:, columns] += conductivity * (2 * np.pi * middle / dr)[:, None] * dz / 2
        side[-1, columns] += 2 * np.pi * r[-1] * dz / 2 * conducts[-1]

    mean = content / np.where(capacity > 0, capacity, 1.0)
    return Operator(capacity, conductance_r, conductance_z, side, base, lid, mean)


def exchange_of(operator: Operator, film: Film) -> tuple[Array, NDArray[np.bool_]]:
    """Exchange with the medium under given film coefficients.

    Returns
    -------
    exchange : ndarray, shape (n_r, n_z)
        Conductance from each node to the medium [W/K].
    fixed : ndarray of bool, shape (n_r, n_z)
        Nodes held at the medium's temperature (infinite film coefficient).
    """
    exchange = np.zeros_like(operator.capacity)
    fixed = np.zeros(operator.capacity.shape, dtype=bool)
    for area, coefficient in ((operator.side, film.side), (operator.base, film.base), (operator.lid, film.lid)):
        if np.isinf(coefficient):
            fixed |= area > 0
        else:
            exchange += coefficient * area
    return exchange, fixed


def _property(grid: Grid, name: str) -> Array:
    """A material property of each rectangle, 0 where nothing conducts."""
    values = np.array([getattr(material, name) for material in grid.materials] + [0.0])
    return values[grid.material]  # INSULATED = -1 takes the last, the 0
