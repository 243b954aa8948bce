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

import math
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
    shares = shares_of(grid)
    changing = any(material.tabulated is not None for material in grid.materials)
    conductivity, heat = _property(grid, "conductivity"), _property(grid, "capacity")
    n_r, n_z = grid.shape
    capacity, content = np.zeros(grid.shape), np.zeros(grid.shape)
    conductance_r, conductance_z = np.zeros((n_r - 1, n_z)), np.zeros((n_r, n_z - 1))
    for end, half in enumerate((_LOWER, _UPPER)):
        conductance_r[:, half] += conductivity * shares.along_r[end]
        conductance_z[half] += conductivity * shares.along_z[end]
    for corner, volume in zip(CORNERS, shares.volume, strict=True):
        capacity[corner] += heat * volume
        content[corner] += heat * volume * grid.initial
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
    conducts = grid.material >= 0
    middle_r, middle_z = (np.mean([x[corner] for corner in CORNERS], axis=0) for x in (grid.r, grid.z))
    along_r, along_z, diagonals = (np.zeros((2, *conducts.shape)) for _ in range(3))
    volumes = []
    for (a, b), corner in zip(((0, 0), (1, 0), (0, 1), (1, 1)), CORNERS, strict=True):
        aside, above = CORNERS[1 - a + 2 * b], CORNERS[a + 2 * (1 - b)]
        (r, z), (r_1, z_1), (r_2, z_2) = ((grid.r[there], grid.z[there]) for there in (corner, aside, above))
        volumes.append(_ring_volume((r, z), (r_1, z_1), (middle_r, middle_z), (r_2, z_2)))
        first_r, first_z, second_r, second_z = r_1 - r, z_1 - z, r_2 - r, z_2 - z
        area = (first_r * second_z - first_z * second_r) * (1.0 if a == b else -1.0)
        folded = np.argwhere(conducts & (area <= 0.0))
        if folded.size:
            i, j = folded[0]
            raise InputError(
                f"the walls fold over themselves near r = {1e3 * r[i, j]:.3g} mm, z = {1e3 * z[i, j]:.3g} mm; "
                "make the profile smoother there, or the wall thinner"
            )
        weight = np.divide(math.pi / 2.0, area, out=np.zeros(area.shape), where=conducts)
        # the rings through which heat flows along each edge: half-way along r, a quarter of the way out
        ring_r, ring_z = (r + r_1) / 2.0, (3.0 * r + r_1) / 4.0
        mixed = -weight * np.sqrt(ring_r * ring_z) * (first_r * second_r + first_z * second_z)
        along_r[b] += weight * ring_r * (second_r * second_r + second_z * second_z) + mixed
        along_z[a] += weight * ring_z * (first_r * first_r + first_z * first_z) + mixed
        diagonals[1 if a == b else 0] -= mixed
    return Shares(along_r, along_z, diagonals[0], diagonals[1], np.array(volumes))


def _ring_volume(*corners: tuple[Array, Array]) -> Array:
    """Volume [m3] of the ring that a corner's part sweeps about the axis: 2 pi times the integral of r (exact).

    The part reaches from the first of ``corners`` (r, z) half-way to the second and the last, and to the third.
    """
    (r, z), aside, (middle_r, middle_z), above = corners
    a_r, a_z, b_r, b_z = (r + aside[0]) / 2.0, (aside[1] - z) / 2.0, (r + above[0]) / 2.0, (above[1] - z) / 2.0
    m_z = middle_z - z
    total = r * a_z * (r + a_r)
    total += (a_r * m_z - middle_r * a_z) * (a_r + middle_r)
    total += (middle_r * b_z - b_r * m_z) * (middle_r + b_r)
    total -= r * b_z * (b_r + r)
    return np.asarray(math.pi / 3.0 * np.abs(total))


def _surfaces(grid: Grid) -> dict[str, Array]:
    """Area of each node that faces the medium, by the surface's name."""
    areas = {name: np.zeros(grid.shape) for name in SURFACES}
    outside = np.ones((grid.shape[0] + 1, grid.shape[1] + 1), dtype=bool)
    outside[1:-1, 1:-1] = grid.material == OUTSIDE
    conducts = grid.material >= 0
    # of each edge that may face the medium: its surface's name, its ends, and what lies beyond it
    for face, low, high, beyond in (
        ("base", CORNERS[0], CORNERS[1], outside[1:-1, :-2]),
        ("lid", CORNERS[2], CORNERS[3], outside[1:-1, 2:]),
        ("side", CORNERS[0], CORNERS[2], outside[:-2, 1:-1]),
        ("side", CORNERS[1], CORNERS[3], outside[2:, 1:-1]),
    ):
        bare = conducts & beyond
        middle = (grid.r[low] + grid.r[high]) / 2.0
        length = np.hypot(grid.r[high] - grid.r[low], grid.z[high] - grid.z[low])
        for node in (low, high):
            # the half of the edge beside the node, swept about the axis
            band = np.where(bare, math.pi * (grid.r[node] + middle) * length / 2.0, 0.0)
            # a probe's parts have a film of their own; a container's are named by where they face
            areas["probe"][node] += np.where(grid.probe, band, 0.0)
            areas[face][node] += np.where(grid.probe, 0.0, band)
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
