"""The grid about a stem: along it, in rings round it, in sectors round the rings; its walls are the container's.

A stem along a radius of the container is no body of revolution about the container's axis, but nearly one about its
own. So the nodes are laid out about the stem: at places ``along`` it (0 at the container's axis, growing towards the
wall that it enters), in rings round it, and at angles from upright to downright (the rest is its mirror image).
Rings within the probe are circles; beyond they pass smoothly into the container's outline as seen along the stem,
and what is level along the stem follows the side wall's curve, so that every wall is a surface of the grid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.physics.materials import Material
from thermsim.solve.grid.body import break_lines
from thermsim.solve.grid.lines import grid_lines

Array = NDArray[np.float64]

#: Parts into which the three grids divide an interval of the coarsest; four on the finest would cost five times more.
DIVIDED = (1, 2, 3)
#: Intervals that all of them divide: see :func:`thermsim.solve.grid.lines.grid_lines`.
_COMMON = math.lcm(*DIVIDED)
#: Sectors of the half turn on the coarsest grid.
SECTORS = 3
#: Widest spacings on the coarsest grid that make up the length, and the width.
ALONG, ROUND = 2.5, 2.25
#: Growth of its spacing with the distance from an interface [m/m]; along a stem little changes.
GROWTH_ALONG, GROWTH_ROUND = 1.8, 1.12


@dataclass(frozen=True)
class Layer:
    """A material between two places along the stem [m] where there is no probe; ``material`` None: the medium."""

    low: float
    high: float
    material: Material | None
    product: bool = False


@dataclass(frozen=True)
class Part:
    """A cylinder of the probe about its axis: places along it, radii [m], material, temperature at the start [degC].

    ``wanted`` is the largest spacing at its surfaces on the coarsest grid [m].
    """

    low: float
    high: float
    inner: float
    outer: float
    material: Material
    initial: float
    wanted: float = math.inf


@dataclass(frozen=True)
class Surrounds:
    """The container's outline as seen along the stem.

    Parameters
    ----------
    radius : float
        Inner radius of the container [m]; of a brick half its inside across the stem.
    above, below : float or None
        From the stem's axis to the product's upper and lower end [m]: a stem along a radius. None for a stem on the
        container's axis.
    bowed : bool
        Whether a stem along a radius passes a round side wall; False: a brick's, flat on all sides.
    """

    radius: float
    above: float | None = None
    below: float | None = None
    bowed: bool = True

    @property
    def across(self) -> bool:
        """True if the stem lies along a radius."""
        return self.above is not None

    @property
    def widest(self) -> float:
        """A mean distance of the outline from the stem [m]."""
        if self.above is None or self.below is None:
            return self.radius
        return float((self.radius + (self.above + self.below) / 2) / 2)

    @property
    def corners(self) -> tuple[float, ...]:
        """Angles between which the outline is smooth [rad]."""
        if self.above is None or self.below is None:
            return (0.0, math.pi)
        return (0.0, math.atan2(self.radius, self.above), math.atan2(self.radius, -self.below), math.pi)

    def outline(self, angle: Array) -> tuple[Array, Array]:
        """Distance of the outline from the stem [m] at angles from upright, and its change with the angle [m]."""
        if self.above is None or self.below is None:
            return np.full(angle.shape, self.radius), np.zeros(angle.shape)
        _, first, second, _ = self.corners
        sine, cosine = np.sin(angle), np.cos(angle)
        upper, lower = angle < first, angle > second
        with np.errstate(divide="ignore", invalid="ignore"):
            distance = np.where(upper, self.above / cosine, np.where(lower, -self.below / cosine, self.radius / sine))
            change = np.where(upper | lower, distance * sine / cosine, -distance * cosine / sine)
        return distance, change


@dataclass(frozen=True)
class StemGrid:
    """Nodes about a stem and what lies between them.

    Parameters
    ----------
    level : int
        Counts the grids from the coarsest, 0.
    along, rings, angles : ndarray, shapes (n_a,), (n_r,), (n_s,)
        Places along the stem [m], coordinates of the rings [m], angles [rad]. A ring's coordinate is its radius up to
        the stem's; beyond, it grows with the radius' logarithm.
    stem, circle : float
        Radius of the stem; up to the second the rings are circles [m].
    surrounds : Surrounds
    without, with_probe : ndarray of int, shape (n_a - 1, n_r - 1)
        Index into ``materials``, without and with the probe; -1 where the medium is.
    probe, product : ndarray of bool, shape (n_a - 1, n_r - 1)
        What is part of the probe, and what is product with the probe in place.
    initial : ndarray, shape (n_a - 1, n_r - 1)
        Temperature of the probe's parts at the start [degC]; NaN elsewhere.
    materials : tuple of Material
    """

    level: int
    along: Array
    rings: Array
    angles: Array
    stem: float
    circle: float
    surrounds: Surrounds
    without: NDArray[np.int64]
    with_probe: NDArray[np.int64]
    probe: NDArray[np.bool_]
    product: NDArray[np.bool_]
    initial: Array
    materials: tuple[Material, ...]

    def ring_at(self, radius: float) -> float:
        """Coordinate of the ring at a distance from the stem's axis within ``circle`` [m]."""
        return float(_ring_at(self.stem, np.array(radius)))

    @property
    def shape(self) -> tuple[int, int, int]:
        """Numbers of places, rings and angles."""
        return self.along.size, self.rings.size, self.angles.size

    def map(self, along: Array, ring: Array, angle: Array) -> tuple[Array, Array]:
        """Places and how they change with the three coordinates, all broadcast against each other.

        Returns
        -------
        place : ndarray, shape (..., 3)
            Along the stem's axis from the container's, sideways from it, above it [m].
        change : ndarray, shape (..., 3, 3)
            ``change[..., i, j]``: of the place's i-th with the j-th coordinate.
        """
        along, ring, angle = np.broadcast_arrays(along, ring, angle)
        outline, turn = self.surrounds.outline(angle)
        inner = self.ring_at(self.circle)
        room = self.rings[-1] - inner
        part = np.maximum(ring - inner, 0.0) / room
        beyond, many = ring > inner, np.log(outline / self.circle)
        circled = np.where(ring > self.stem, self.stem * np.exp(np.minimum(ring, inner) / self.stem - 1.0), ring)
        distance = circled * np.exp(part * many)
        by_ring = np.where(beyond, distance * many / room, np.where(ring > self.stem, circled / self.stem, 1.0))
        by_angle = part * distance * turn / outline
        sine, cosine = np.sin(angle), np.cos(angle)
        place, change = np.zeros((*ring.shape, 3)), np.zeros((*ring.shape, 3, 3))
        place[..., 1], place[..., 2] = distance * sine, distance * cosine
        change[..., 1, 1], change[..., 2, 1] = by_ring * sine, by_ring * cosine
        change[..., 1, 2] = by_angle * sine + distance * cosine
        change[..., 2, 2] = by_angle * cosine - distance * sine
        if not (self.surrounds.across and self.surrounds.bowed):
            place[..., 0], change[..., 0, 0] = along, 1.0
            return place, change
        radius, aside = self.surrounds.radius, place[..., 1].copy()
        # within the product the lines across the stem flatten towards the axis; beyond they are rings beside the
        # wall, drawn outwards with it where the stem is not
        share, beyond = aside / radius, np.maximum(np.abs(along) / radius - 1.0, 0.0)
        wider, outwards = aside * (1.0 + beyond * share**2), np.sign(along) * aside * share**2 / radius
        by_aside = 1.0 + 3.0 * beyond * share**2
        flat = np.maximum(1.0 - share**2, 1e-18)
        circle = np.sqrt(np.maximum(along**2 - wider**2, 1e-18 * radius**2))
        within = beyond == 0.0
        chord, sign = np.sqrt(flat), np.sign(along)
        change[..., 1, 0] = np.where(within, 0.0, outwards)
        change[..., 1, 1:] *= by_aside[..., None]
        place[..., 1] = wider
        place[..., 0] = np.where(within, along * chord, sign * circle)
        change[..., 0, 0] = np.where(within, chord, sign * (along - wider * outwards) / circle)
        turning = np.where(within, -along * share / (radius * chord), -sign * wider / circle)
        # within the product the place aside is the line's own
        change[..., 0, 1:] = turning[..., None] * change[..., 1, 1:]
        return place, change

    def places(self) -> Array:
        """Places of all nodes, shape (n_a, n_r, n_s, 3)."""
        return self.map(self.along[:, None, None], self.rings[None, :, None], self.angles[None, None, :])[0]


def stem_grids(layers: list[Layer], parts: list[Part], surrounds: Surrounds, lines: list[float]) -> list[StemGrid]:
    """Three grids about a stem, the coarsest first; both others hold its nodes.

    Parameters
    ----------
    layers : list of Layer
        What there is without the probe, from the far end to the wall that is entered.
    parts : list of Part
        The probe; later ones take the place of earlier ones.
    surrounds : Surrounds
    lines : list of float
        Further places along the stem on which nodes are to lie [m]: the ends of the sensing length.

    Returns
    -------
    list of StemGrid
    """
    along, wanted_along = break_lines(
        [(end, math.inf) for layer in layers for end in (layer.low, layer.high)]
        + [(end, part.wanted) for part in parts for end in (part.low, part.high)]
        + [(line, math.inf) for line in lines]
    )
    circle, stem = max(part.outer for part in parts), min(part.outer for part in parts)
    rings, wanted_rings = break_lines(
        [(0.0, math.inf), (surrounds.widest, math.inf)]
        + [(end, part.wanted if end else math.inf) for part in parts for end in (part.inner, part.outer)]
    )
    length = layers[-1].high - layers[0].low
    # thin walls divided too would make these a third dearer, for what whole solutions beside them cannot tell
    in_along = _lines(along, length / ALONG, wanted_along, GROWTH_ALONG)
    in_rings = _lines(rings, surrounds.widest / ROUND, wanted_rings, GROWTH_ROUND, axis=True)
    materials: list[Material] = []
    shape = (along.size - 1, rings.size - 1)
    middle_a, middle_r = (along[1:] + along[:-1]) / 2, (rings[1:] + rings[:-1]) / 2

    def number(material: Material | None) -> int:
        if material is None:
            return -1
        if material not in materials:
            materials.append(material)
        return materials.index(material)

    without, product = np.full(shape, -1, dtype=np.int64), np.zeros(shape, dtype=bool)
    for layer in layers:
        within = (middle_a > layer.low) & (middle_a < layer.high)
        without[within] = number(layer.material)
        product[within] = layer.product
    with_probe, probe, initial = without.copy(), np.zeros(shape, dtype=bool), np.full(shape, np.nan)
    for part in parts:
        there = np.ix_(
            (middle_a > part.low) & (middle_a < part.high), (middle_r > part.inner) & (middle_r < part.outer)
        )
        with_probe[there], probe[there], product[there] = number(part.material), True, False
        initial[there] = part.initial
    grids = []
    for level, ((places, in_a), (radii, in_r)) in enumerate(zip(in_along, in_rings, strict=True)):
        kept = np.ix_(in_a, in_r)
        grids.append(
            StemGrid(
                level,
                places,
                _ring_at(stem, radii),
                _angles(surrounds.corners, DIVIDED[level]),
                stem,
                circle,
                surrounds,
                without[kept],
                with_probe[kept],
                probe[kept],
                product[kept],
                initial[kept],
                tuple(materials),
            )
        )
    return grids


def _lines(
    breaks: Array, widest: float, wanted: Array, growth: float, *, axis: bool = False
) -> list[tuple[Array, NDArray[np.int64]]]:
    """Nodes of the three grids in one direction, from what is wanted of the coarsest."""
    return grid_lines(
        breaks,
        widest / _COMMON,
        wanted=wanted / _COMMON,
        growth=growth / _COMMON,
        axis=axis,
        whole=True,
        family=tuple(_COMMON // parts for parts in DIVIDED),
    )


def _ring_at(stem: float, radius: Array) -> Array:
    """Coordinate of the ring at a distance from the stem's axis [m]: beyond the stem's surface its logarithm.

    What a stem gives off falls like the logarithm: linear elements then follow it.
    """
    return np.where(radius > stem, stem * (1.0 + np.log(np.maximum(radius, stem) / stem)), radius)


def _angles(corners: tuple[float, ...], finer: int) -> Array:
    """Angles of the nodes: the corners, and between them about so many times the coarsest grid's in all."""
    found = [np.array([corners[0]])]
    for low, high in zip(corners[:-1], corners[1:], strict=True):
        count = max(1, int(SECTORS * (high - low) / math.pi)) * finer
        found.append(np.linspace(low, high, count + 1)[1:])
    return np.concatenate(found)
