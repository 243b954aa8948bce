"""From what the user said to materials in (r, z): the container's section as rectangles of one material each."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from thermsim.case.case import Case
from thermsim.case.materials import Material
from thermsim.case.probe import Probe

Array = NDArray[np.float64]
Role = Literal["wall", "product", "headspace", "probe"]

#: Region numbers of a room that no heat enters (an insulated headspace), and of what the medium fills.
INSULATED, OUTSIDE = -1, -2
#: Break lines nearer to each other than this are one [m].
SAME = 1e-9
#: Spacing wanted at the product's surfaces, as a part of its depth or radius, whichever is less.
WITHIN_PRODUCT = 0.1
#: Spacing wanted at a probe's surface and at its tip, as a part of its radius there.
ROUND_PROBE = 0.25


@dataclass(frozen=True)
class Body:
    """A section of the container: a rectangle in (r, z), divided by break lines into regions.

    Parameters
    ----------
    r, z : ndarray, shapes (m_r + 1,) and (m_z + 1,)
        Break lines [m], growing; every material interface lies on one.
    material : ndarray of int, shape (m_r, m_z)
        Index into ``materials`` for each region, :data:`INSULATED` or :data:`OUTSIDE`.
    product, probe : ndarray of bool, shape (m_r, m_z)
        Which regions hold the product, and which are part of a probe or its fitting.
    initial : ndarray, shape (m_r, m_z)
        Temperature at the start [degC].
    materials : tuple of Material
        What the regions are made of.
    wanted_r, wanted_z : ndarray, shapes of ``r`` and ``z``
        Largest node spacing at the break lines [m]; inf where nothing special is wanted.
    """

    r: Array
    z: Array
    material: NDArray[np.int64]
    product: NDArray[np.bool_]
    probe: NDArray[np.bool_]
    initial: Array
    materials: tuple[Material, ...]
    wanted_r: Array
    wanted_z: Array

    @property
    def size(self) -> tuple[float, float]:
        """Outer radius and height of the container alone, without what of a probe sticks out of it [m]."""
        container = (self.material != OUTSIDE) & ~self.probe
        thick = np.diff(self.r)[container.any(axis=1)].sum(), np.diff(self.z)[container.any(axis=0)].sum()
        return float(thick[0]), float(thick[1])


@dataclass(frozen=True)
class Cylinder:
    """A ring or disc of one material: radii and heights [m], what it is, its temperature at the start [degC]."""

    r: tuple[float, float]
    z: tuple[float, float]
    material: Material | None
    role: Role
    initial: float
    wanted: float = math.inf


def body_of(case: Case) -> Body:
    """Lay the case's container, product, headspace and probe out in (r, z).

    Returns
    -------
    Body
        With the base and the lid reaching the outer diameter and the side wall between them.
    """
    cylinders = [*_container(case), *(_probe(case, case.probe) if case.probe else ())]
    r, wanted_r = _breaks(cylinders, "r", ())
    # the sensing length begins and ends on nodes, so that its mean is exact for the discrete field
    z, wanted_z = _breaks(cylinders, "z", case.probe.sensed(case.container) if case.probe else ())
    shape = (r.size - 1, z.size - 1)
    material = np.full(shape, OUTSIDE, dtype=np.int64)
    role = np.full(shape, "outside", dtype=object)
    initial = np.full(shape, case.product.initial, dtype=float)
    materials: list[Material] = []
    middle_r, middle_z = (r[1:] + r[:-1]) / 2, (z[1:] + z[:-1]) / 2
    for cylinder in cylinders:  # later ones take the place of earlier ones
        if cylinder.material is not None and cylinder.material not in materials:
            materials.append(cylinder.material)
        there = np.ix_(
            (middle_r > cylinder.r[0]) & (middle_r < cylinder.r[1]),
            (middle_z > cylinder.z[0]) & (middle_z < cylinder.z[1]),
        )
        material[there] = INSULATED if cylinder.material is None else materials.index(cylinder.material)
        role[there] = cylinder.role
        initial[there] = cylinder.initial
    return Body(r, z, material, role == "product", role == "probe", initial, tuple(materials), wanted_r, wanted_z)


def _container(case: Case) -> Iterator[Cylinder]:
    """Walls, product and headspace."""
    container, product = case.container, case.product
    walls = product.initial if container.initial is None else container.initial
    inner, outer = (0.0, container.inner_radius), (0.0, container.outer_radius)
    if container.base:
        yield Cylinder(outer, (0.0, container.floor), container.base.material, "wall", walls)
    if container.lid:
        yield Cylinder(outer, (container.ceiling, container.outer_height), container.lid.material, "wall", walls)
    if container.side:
        ring = (container.inner_radius, container.outer_radius)
        yield Cylinder(ring, (container.floor, container.ceiling), container.side.material, "wall", walls)
    surface = case.surface if case.headspace_height > 0.0 else container.ceiling
    # a product that is thin beside the container still gets a grid of its own
    wanted = WITHIN_PRODUCT * min(surface - container.floor, container.inner_radius)
    yield Cylinder(inner, (container.floor, surface), product.material, "product", product.initial, wanted)
    if case.headspace_height > 0.0:
        room = (surface, container.ceiling)
        yield Cylinder(inner, room, case.headspace.material, "headspace", product.initial)


def _probe(case: Case, probe: Probe) -> Iterator[Cylinder]:
    """Gap, fitting and stack, in the order in which they take each other's place."""
    container = case.container
    start = case.product.initial if probe.initial is None else probe.initial
    placed = list(probe.placed(container))
    if probe.gap:
        for segment, low, high in placed:
            low, high = max(low, container.floor), min(high, case.surface)
            if low < high:
                layer = (0.0, segment.radius + probe.gap.thickness)
                yield Cylinder(layer, (low, high), probe.gap.material, "probe", case.product.initial)
    if probe.fitting:
        fitting = probe.fitting
        if probe.entry == "lid":
            reach = (container.ceiling - fitting.inside, container.outer_height + fitting.outside)
        else:
            reach = (-fitting.outside, container.floor + fitting.inside)
        yield Cylinder((0.0, fitting.diameter / 2), reach, fitting.material, "probe", start)
    for segment, low, high in placed:
        wanted = ROUND_PROBE * segment.radius
        yield Cylinder((0.0, segment.radius), (low, high), segment.material, "probe", start, wanted)
        if segment.wall is not None and segment.core is not None:
            yield Cylinder((0.0, segment.radius - segment.wall), (low, high), segment.core, "probe", start, wanted)


def _breaks(cylinders: list[Cylinder], along: Literal["r", "z"], more: Iterable[float]) -> tuple[Array, Array]:
    """Break lines along an axis, and the spacing wanted at each; ``more`` are lines without special wishes."""
    ends = [(line, math.inf) for line in more]
    for cylinder in cylinders:
        # the axis is no interface, so nothing special is wanted there
        ends += [
            (end, math.inf if along == "r" and end == 0.0 else cylinder.wanted) for end in getattr(cylinder, along)
        ]
    ends.sort()
    lines, wanted = [ends[0][0]], [math.inf]
    for end, spacing in ends:
        if end - lines[-1] > SAME:
            lines.append(end)
            wanted.append(math.inf)
        wanted[-1] = min(wanted[-1], spacing)
    return np.array(lines), np.array(wanted)
