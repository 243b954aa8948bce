"""The discrete law of conduction: what each node stores, what flows between nodes, and what the surfaces exchange.

Control volumes round the nodes are bounded by the lines that halve the quadrilaterals between nodes; each of those is
of one material, so no average is taken at an interface. At each corner of a quadrilateral the two edges that meet
there give the temperature's whole gradient, and with it what is conducted: the flow between neighbours, and where the
edges are not at right angles also across the quadrilateral's diagonals. On rectangles the diagonals carry nothing.
The sum over all corners is a sum of squares, so the operator is symmetric and positive however the grid is skewed,
and what leaves one node enters another. Volumes and areas are those of full rings (2 pi included): the axis needs no
special case, since its face has no area.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film
from thermsim.errors import InputError
from thermsim.physics.materials import Material
from thermsim.solve.grid.body import OUTSIDE
from thermsim.solve.grid.grid import Grid

Array = NDArray[np.float64]

#: Surfaces that face the medium: what an operator and a film have areas and coefficients of.
SURFACES = ("side", "base", "lid", "probe")
#: The nodes at the corners of each quadrilateral: its lower and upper end along r, first for the lower end along z.
_LOWER, _UPPER = slice(None, -1), slice(1, None)
CORNERS = ((_LOWER, _LOWER), (_UPPER, _LOWER), (_LOWER, _UPPER), (_UPPER, _UPPER))


@dataclass(frozen=True)
class Shares:
    """Shares that each quadrilateral between nodes adds to conductances and capacities, per unit of its properties.

    Parameters
    ----------
    along_r, along_z : ndarray, shape (2, n_r - 1, n_z - 1)
        Conductance over conductivity [m] between its lower two and its upper two corners; between its inner two and
        its outer two.
    rising, falling : ndarray, shape (n_r - 1, n_z - 1)
        Across its diagonals [m], see :class:`Operator`.
    volume : ndarray, shape (4, n_r - 1, n_z - 1)
        The part of it that belongs to each corner [m3], in the order of :data:`CORNERS`.
    """

    along_r: Array
    along_z: Array
    rising: Array
    falling: Array
    volume: Array


@dataclass(frozen=True)
class Varying:
    """Parts that an operator is put together from where properties change with temperature.

    ``shares`` of each quadrilateral; ``material`` of each, shape (n_r - 1, n_z - 1), as an index into ``materials``
    (below 0: nothing conducts).
    """

    shares: Shares
    material: NDArray[np.int64]
    materials: tuple[Material, ...]


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
    rising, falling : ndarray, shape (n_r - 1, n_z - 1)
        Across the quadrilaterals, between nodes (i, j) and (i + 1, j + 1), and between (i + 1, j) and (i, j + 1)
        [W/K]; of either sign, 0 on rectangles.
    side, base, lid, probe : ndarray, shape (n_r, n_z)
        Area of the surfaces facing the medium that belongs to each node [m2].
    initial : ndarray, shape (n_r, n_z)
        Temperature at the start [degC], heat kept where quadrilaterals of unlike temperature meet.
    varying : Varying or None
        Where properties change with temperature: the above are then for the materials' scalar properties. None where
        all are constant.
    """

    capacity: Array
    conductance_r: Array
    conductance_z: Array
    rising: Array
    falling: Array
    side: Array
    base: Array
    lid: Array
    probe: Array
    initial: Array
    varying: Varying | None = None


def operator_of(grid: Grid) -> Operator:
    """Set up the control-volume operator of a grid (second order on smoothly changing grids).

    Returns
    -------
    Operator

    Raises
    ------
    InputError
        If the container's walls fold the grid over itself; the message names the place.
    """
    from thermsim.solve.grid import grid_kernels

    shares = shares_of(grid)
    changing = any(material.courses is not None for material in grid.materials)
    conductivity, heat = _property(grid, "conductivity"), _property(grid, "capacity")
    n_r, n_z = grid.shape
    capacity, content = np.zeros(grid.shape), np.zeros(grid.shape)
    conductance_r, conductance_z = np.zeros((n_r - 1, n_z)), np.zeros((n_r, n_z - 1))
    grid_kernels.gather(
        shares.along_r,
        shares.along_z,
        shares.volume,
        conductivity,
        heat,
        grid.initial,
        conductance_r,
        conductance_z,
        capacity,
        content,
    )
    return Operator(
        capacity,
        conductance_r,
        conductance_z,
        conductivity * shares.rising,
        conductivity * shares.falling,
        **_surfaces(grid),
        initial=content / np.where(capacity > 0, capacity, 1.0),
        varying=Varying(shares, grid.material, grid.materials) if changing else None,
    )


def shares_of(grid: Grid) -> Shares:
    """Shares that each quadrilateral adds to conductances and capacities, from its corners' places alone.

    At a corner with edges e1 (along r) and e2 (along z) the gradient's square is |e2|^2 d1^2 - 2 e1.e2 d1 d2 +
    |e1|^2 d2^2 over |e1 x e2|^2, d1 and d2 being the temperature's differences along the edges; a quarter of the
    quadrilateral goes with it. (Bilinear elements with the corner rule give the same, but for the rings' radii.)

    Raises
    ------
    InputError
        If the container's walls fold the grid over itself; the message names the place.
    """
    from thermsim.solve.grid import grid_kernels

    conducts = grid.material >= 0
    along_r, along_z, diagonals, volume = (np.zeros((n, *conducts.shape)) for n in (2, 2, 2, 4))
    i, j = grid_kernels.shares(grid.r, grid.z, conducts, along_r, along_z, diagonals, volume)
    if i >= 0:
        raise InputError(
            f"the walls fold over themselves near r = {1e3 * grid.r[i, j]:.3g} mm, z = {1e3 * grid.z[i, j]:.3g} mm; "
            "make the profile smoother there, or the wall thinner"
        )
    return Shares(along_r, along_z, diagonals[0], diagonals[1], volume)


def _surfaces(grid: Grid) -> dict[str, Array]:
    """Area of each node that faces the medium, by the surface's name."""
    from thermsim.solve.grid import grid_kernels

    areas = {name: np.zeros(grid.shape) for name in SURFACES}
    outside = np.ones((grid.shape[0] + 1, grid.shape[1] + 1), dtype=bool)
    outside[1:-1, 1:-1] = grid.material == OUTSIDE
    # a probe's parts have a film of their own; a container's are named by where they face
    grid_kernels.edges(grid.r, grid.z, grid.material >= 0, outside, grid.probe, *areas.values())
    return areas


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
