"""The discrete law of conduction: what each node stores, what flows between nodes, and what the surfaces exchange.

Control volumes round the nodes are bounded by the lines half-way between nodes; each rectangle between nodes has one
material, so no average is taken at an interface. Volumes and face areas are those of full rings (2 pi included): the
axis needs no special case, since its face has no area.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.body import OUTSIDE
from thermsim.case.process import Film
from thermsim.solve.grid import Grid

Array = NDArray[np.float64]

#: Surfaces that face the medium: what an operator and a film have areas and coefficients of.
SURFACES = ("side", "base", "lid", "probe")
#: The nodes at the lower and at the upper end of each interval.
HALVES = (slice(None, -1), slice(1, None))


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
    side, base, lid, probe : ndarray, shape (n_r, n_z)
        Area of the surfaces facing the medium that belongs to each node [m2].
    initial : ndarray, shape (n_r, n_z)
        Temperature at the start [degC], heat kept where rectangles of unlike temperature meet.
    """

    capacity: Array
    conductance_r: Array
    conductance_z: Array
    side: Array
    base: Array
    lid: Array
    probe: Array
    initial: Array


def operator_of(grid: Grid) -> Operator:
    """Set up the control-volume operator of a grid (second order on smoothly graded grids).

    Returns
    -------
    Operator
    """
    n_r, n_z = grid.shape
    dr, dz = np.diff(grid.r), np.diff(grid.z)
    middle = (grid.r[1:] + grid.r[:-1]) / 2
    conductivity = _property(grid, "conductivity")
    heat = _property(grid, "capacity")

    capacity, content = np.zeros((n_r, n_z)), np.zeros((n_r, n_z))
    conductance_z = np.zeros((n_r, n_z - 1))
    for rows, ring in _half_rings(grid):
        conductance_z[rows] += conductivity * ring[:, None] / dz
        for columns in HALVES:
            quarter = heat * ring[:, None] * dz / 2
            capacity[rows, columns] += quarter
            content[rows, columns] += quarter * grid.initial
    conductance_r = np.zeros((n_r - 1, n_z))
    for columns in HALVES:
        conductance_r[:, columns] += conductivity * (2 * np.pi * middle / dr)[:, None] * dz / 2

    mean = content / np.where(capacity > 0, capacity, 1.0)
    return Operator(capacity, conductance_r, conductance_z, **_surfaces(grid), initial=mean)


def _surfaces(grid: Grid) -> dict[str, Array]:
    """Area of each node that faces the medium, by the surface's name."""
    areas = {name: np.zeros(grid.shape) for name in SURFACES}
    conducts = grid.material >= 0
    outside = np.pad(grid.material == OUTSIDE, 1, constant_values=True)
    upper, lower = conducts & outside[1:-1, 2:], conducts & outside[1:-1, :-2]
    outer, inner = conducts & outside[2:, 1:-1], conducts & outside[:-2, 1:-1]
    dz = np.diff(grid.z)
    # a probe's parts have a film of their own; a container's are named by where they face
    for name, part in (("", ~grid.probe), ("probe", grid.probe)):
        for rows, ring in _half_rings(grid):
            areas[name or "lid"][rows, 1:] += ring[:, None] * (upper & part)
            areas[name or "base"][rows, :-1] += ring[:, None] * (lower & part)
        for columns in HALVES:
            areas[name or "side"][1:, columns] += np.pi * grid.r[1:, None] * dz * (outer & part)
            areas[name or "side"][:-1, columns] += np.pi * grid.r[:-1, None] * dz * (inner & part)
    return areas


def _half_rings(grid: Grid) -> tuple[tuple[slice, Array], ...]:
    """Node range and ring area [m2] of the inner and of the outer half of each radial interval."""
    r, middle = grid.r, (grid.r[1:] + grid.r[:-1]) / 2
    inner, outer = np.pi * (middle**2 - r[:-1] ** 2), np.pi * (r[1:] ** 2 - middle**2)
    return (HALVES[0], inner), (HALVES[1], outer)


def exchange_of(operator: Operator, film: Film) -> tuple[Array, NDArray[np.bool_]]:
    """Exchange with the medium under given film coefficients.

    Returns
    -------
    exchange : ndarray, shape (n_r, n_z)
        Conductance from each node to the medium [W/K].
    fixed : ndarray of bool, shape (n_r, n_z)
        Nodes held at the medium's temperature (infinite film coefficient).

    Raises
    ------
    ValueError
        If a probe's parts face the medium and the film has no coefficient for them.
    """
    exchange = np.zeros_like(operator.capacity)
    fixed = np.zeros(operator.capacity.shape, dtype=bool)
    for name in SURFACES:
        area, coefficient = getattr(operator, name), getattr(film, name)
        if not area.any():
            continue
        if coefficient is None:
            raise ValueError("a probe sticks out into the medium, and its film coefficient is not known")
        if np.isinf(coefficient):
            fixed |= area > 0
        else:
            exchange += coefficient * area
    return exchange, fixed


def _property(grid: Grid, name: str) -> Array:
    """A material property of each rectangle, 0 where nothing conducts."""
    values = np.array([getattr(material, name) for material in grid.materials] + [0.0])
    return values[np.maximum(grid.material, -1)]  # what does not conduct is below 0 and takes the last, the 0
