"""From what the user said to its section: rectangles of one material each, in the container's reference section."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.physics.materials import Material
from thermsim.solve.grid.coordinates import Coordinates

Array = NDArray[np.float64]
Role = Literal["wall", "product", "headspace", "probe"]

#: Region numbers of a room that no heat enters (an insulated headspace), and of what the medium fills.
INSULATED, OUTSIDE = -1, -2
#: Break lines nearer to each other than this are one [m].
SAME = 1e-9
#: Spacing wanted at the product's surfaces, as a part of its depth or radius, whichever is less.
WITHIN_PRODUCT = 0.1
#: Thickness squared over diffusivity [s] of a layer whose profile is straight but for the first instants of a jump.
AT_ONCE = 0.1
#: Spacing wanted at a probe's surface and at its tip, as a part of its radius there.
ROUND_PROBE = 0.25


@dataclass(frozen=True)
class Body:
    """A section of the container: a rectangle in (column, level), divided by break lines into regions.

    Parameters
    ----------
    columns, levels : ndarray, shapes (m_r + 1,) and (m_z + 1,)
        Break lines of the reference section [m], growing: distances from the axis and heights. Every material
        interface lies on one.
    material : ndarray of int, shape (m_r, m_z)
        Index into ``materials`` for each region, :data:`INSULATED` or :data:`OUTSIDE`.
    product, probe : ndarray of bool, shape (m_r, m_z)
        Which regions hold the product, and which are part of a probe or its fitting.
    initial : ndarray, shape (m_r, m_z)
        Temperature at the start [degC].
    materials : tuple of Material
        What the regions are made of.
    wanted_columns, wanted_levels : ndarray, shapes of ``columns`` and ``levels``
        Largest node spacing at the break lines [m]; inf where nothing special is wanted.
    coordinates : Coordinates or None
        How the section is drawn onto the container; None: as it is.
    """

    columns: Array
    levels: Array
    material: NDArray[np.int64]
    product: NDArray[np.bool_]
    probe: NDArray[np.bool_]
    initial: Array
    materials: tuple[Material, ...]
    wanted_columns: Array
    wanted_levels: Array
    coordinates: Coordinates | None = None

    @property
    def bent(self) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Columns and levels between break lines in which a wall or a stem takes long to warm through by itself."""
        slow = np.array([1.0 / one.diffusivity for one in self.materials])
        # what lies beside a wall in the same column is product; it is no thin layer
        slowness = np.where((self.material >= 0) & ~self.product, slow[np.maximum(self.material, 0)], 0.0)
        thick = np.diff(self.columns), np.diff(self.levels)
        return thick[0] ** 2 * slowness.max(axis=1) > AT_ONCE, thick[1] ** 2 * slowness.max(axis=0) > AT_ONCE

    @property
    def size(self) -> tuple[float, float]:
        """Outer radius and height of the container alone, without what of a probe sticks out of it [m]."""
        container = (self.material != OUTSIDE) & ~self.probe
        thick = np.diff(self.columns)[container.any(axis=1)].sum(), np.diff(self.levels)[container.any(axis=0)].sum()
        return float(thick[0]), float(thick[1])


@dataclass(frozen=True)
class Cylinder:
    """A ring or disc of one material in the reference section: columns and levels [m], what it is, and its start.

    ``initial`` is its temperature at the start [degC]; ``wanted`` the largest node spacing at its surfaces [m].
    """

    columns: tuple[float, float]
    levels: tuple[float, float]
    material: Material | None
    role: Role
    initial: float
    wanted: float = math.inf


def body_of(case: Case) -> Body:
    """Lay the case's container, product, headspace and probe out in its reference section.

    Returns
    -------
    Body
        With the base and the lid reaching the outer diameter and the side wall between them.

    Raises
    ------
    ValueError
        If the probe enters from the side: it is no body of revolution about the container's axis.
    """
    if case.probe and case.probe.entry == "side":
        raise ValueError("a probe from the side is no body of revolution about the container's axis")
    coordinates = coordinates_of(case)
    cylinders = [*_container(case, coordinates)]
    levels: list[float] = [case.container.floor + height for height in case.container.profile.bends]
    if coordinates.bent_below < case.surface:
        levels.append(coordinates.bent_below)
    if case.probe:
        cylinders += _probe(case, case.probe, coordinates)
        # the sensing length begins and ends on nodes, so that its mean is exact for the discrete field
        levels += [coordinates.reference(0.0, z)[1] for z in case.probe.sensed(case.container)]
    foot = coordinates.foot
    columns, wanted_columns = _breaks(cylinders, "columns", () if foot is None else (foot,))
    levels_at, wanted_levels = _breaks(cylinders, "levels", levels)
    shape = (columns.size - 1, levels_at.size - 1)
    material = np.full(shape, OUTSIDE, dtype=np.int64)
    role = np.full(shape, "outside", dtype=object)
    initial = np.full(shape, case.product.initial, dtype=float)
    materials: list[Material] = []
    middle_r, middle_z = (columns[1:] + columns[:-1]) / 2, (levels_at[1:] + levels_at[:-1]) / 2
    for cylinder in cylinders:  # later ones take the place of earlier ones
        if cylinder.material is not None and cylinder.material not in materials:
            materials.append(cylinder.material)
        there = np.ix_(
            (middle_r > cylinder.columns[0]) & (middle_r < cylinder.columns[1]),
            (middle_z > cylinder.levels[0]) & (middle_z < cylinder.levels[1]),
        )
        material[there] = INSULATED if cylinder.material is None else materials.index(cylinder.material)
        role[there] = cylinder.role
        initial[there] = cylinder.initial
    return Body(
        columns,
        levels_at,
        material,
        role == "product",
        role == "probe",
        initial,
        tuple(materials),
        wanted_columns,
        wanted_levels,
        coordinates,
    )


def coordinates_of(case: Case) -> Coordinates:
    """The coordinates that fit a case's container, and keep its probe's cylinders upright."""
    probe, container = case.probe, case.container
    if probe is None:
        return Coordinates(container, 0.0, case.surface)
    bent_below = case.surface
    if probe.entry == "lid":
        # the tip's face and what is above it stay level
        bent_below = min(bent_below, probe.sensed(container)[0])
    return Coordinates(container, probe.widest / 2, bent_below, probe.widest / 2 if probe.entry == "base" else 0.0)


def _container(case: Case, coordinates: Coordinates) -> Iterator[Cylinder]:
    """Walls, product and headspace."""
    container, product = case.container, case.product
    walls = product.initial if container.initial is None else container.initial
    inner, outer = (0.0, coordinates.side), (0.0, coordinates.outside)
    if container.base:
        yield Cylinder(outer, (0.0, container.floor), container.base.material, "wall", walls)
    if container.lid:
        yield Cylinder(outer, (container.ceiling, container.outer_height), container.lid.material, "wall", walls)
    if container.side:
        ring = (coordinates.side, coordinates.outside)
        yield Cylinder(ring, (container.floor, container.ceiling), container.side.material, "wall", walls)
    surface = case.surface if case.headspace_height > 0.0 else container.ceiling
    # a product that is thin beside the container still gets a grid of its own
    wanted = WITHIN_PRODUCT * min(surface - container.floor, coordinates.side)
    yield Cylinder(inner, (container.floor, surface), product.material, "product", product.initial, wanted)
    if case.headspace_height > 0.0:
        room = (surface, container.ceiling)
        yield Cylinder(inner, room, case.headspace.material, "headspace", product.initial)


def _probe(case: Case, probe: Probe, coordinates: Coordinates) -> Iterator[Cylinder]:
    """Gap, fitting and stack, in the order in which they take each other's place."""
    container = case.container
    start = case.product.initial if probe.initial is None else probe.initial

    def levels(low: float, high: float) -> tuple[float, float]:
        """Two heights z on the axis as levels."""
        return coordinates.reference(0.0, low)[1], coordinates.reference(0.0, high)[1]

    placed = list(probe.placed(container))
    if probe.gap:
        for segment, low, high in placed:
            low, high = max(low, container.floor + container.crown), min(high, case.surface)
            if low < high:
                layer = (0.0, segment.radius + probe.gap.thickness)
                yield Cylinder(layer, levels(low, high), probe.gap.material, "probe", case.product.initial)
    if probe.fitting:
        reach = levels(*probe.fitted(container))
        yield Cylinder((0.0, probe.fitting.diameter / 2), reach, probe.fitting.material, "probe", start)
    for segment, low, high in placed:
        wanted = ROUND_PROBE * segment.radius
        along = levels(low, high)
        yield Cylinder((0.0, segment.radius), along, segment.material, "probe", start, wanted)
        if segment.wall is not None and segment.core is not None:
            yield Cylinder((0.0, segment.radius - segment.wall), along, segment.core, "probe", start, wanted)


def _breaks(
    cylinders: list[Cylinder], along: Literal["columns", "levels"], more: Iterable[float]
) -> tuple[Array, Array]:
    """Break lines along an axis, and the spacing wanted at each; ``more`` are lines without special wishes."""
    ends = [(line, math.inf) for line in more]
    for cylinder in cylinders:
        # the axis is no interface, so nothing special is wanted there
        ends += [
            (end, math.inf if along == "columns" and end == 0.0 else cylinder.wanted)
            for end in getattr(cylinder, along)
        ]
    return break_lines(ends)


def break_lines(ends: list[tuple[float, float]]) -> tuple[Array, Array]:
    """Break lines in order and the spacing wanted at each [m], from places with the spacings wanted there."""
    ends = sorted(ends)
    lines, wanted = [ends[0][0]], [math.inf]
    for end, spacing in ends:
        if end - lines[-1] > SAME:
            lines.append(end)
            wanted.append(math.inf)
        wanted[-1] = min(wanted[-1], spacing)
    return np.array(lines), np.array(wanted)
