"""The container's section as closed outlines in mm, both halves, through the map that the solver computes with."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.case import Case
from thermsim.case.container import Wall
from thermsim.case.probe import Probe
from thermsim.case.profile import Piece
from thermsim.quantities import mm
from thermsim.solve.grid.body import coordinates_of
from thermsim.solve.grid.coordinates import Coordinates

Array = NDArray[np.float64]

#: Millimetres in a metre.
#: Parts into which a course between two corners is cut, and the angle of an arc between two of its points [rad].
PARTS, ARC = 48, math.radians(3.0)
#: Points nearer to each other than this are one [mm]; a turn by less than this is none [rad].
SAME, STRAIGHT = 1e-7, 1e-7


@dataclass(frozen=True)
class Part:
    """A wall as it is drawn: its name, and its closed outlines (n, 2) of r, z [mm]: one, or two halves."""

    name: str
    wall: Wall
    outlines: tuple[Array, ...]


@dataclass(frozen=True)
class Shape:
    """The section of a case's container: outlines of its walls, its product and its headspace.

    Parameters
    ----------
    case : Case
    coordinates : Coordinates
        How the reference section, in which all is rectangles, is drawn onto the container.
    """

    case: Case
    coordinates: Coordinates

    @property
    def product(self) -> Array:
        """Closed outline of the product, shape (n, 2) [mm]."""
        return self._region((0.0, self.coordinates.side), (self.case.container.floor, self._surface))[0]

    @property
    def headspace(self) -> Array | None:
        """Closed outline of the headspace, shape (n, 2) [mm]; None where the container is full."""
        if self.case.headspace_height <= 0.0:
            return None
        return self._region((0.0, self.coordinates.side), (self._surface, self.case.container.ceiling))[0]

    @property
    def inside(self) -> Array:
        """Closed outline of the inside, shape (n, 2) [mm]."""
        container = self.case.container
        return self._region((0.0, self.coordinates.side), (container.floor, container.ceiling))[0]

    @property
    def walls(self) -> tuple[Part, ...]:
        """The walls, lid first; those that are left out are left out."""
        container, side, outside = self.case.container, self.coordinates.side, self.coordinates.outside
        floor, ceiling, top = container.floor, container.ceiling, container.outer_height
        parts = []
        if container.lid:
            parts.append(Part("lid", container.lid, self._region((0.0, outside), (ceiling, top))))
        if container.side:
            parts.append(Part("side", container.side, self._region((side, outside), (floor, ceiling))))
        if container.base:
            parts.append(Part("base", container.base, self._region((0.0, outside), (0.0, floor))))
        return tuple(parts)

    @property
    def open_edges(self) -> tuple[Array, ...]:
        """Lines, each (n, 2) [mm], along which there is no wall, so that the medium meets what is behind it."""
        container, side, outside = self.case.container, self.coordinates.side, self.coordinates.outside
        edges = []
        if container.side is None:
            right = _simple(self._line((side, side), (container.floor, container.ceiling)))
            edges += [right * [-1.0, 1.0], right]
        for wall, level in ((container.base, 0.0), (container.lid, container.ceiling)):
            if wall is None:
                right = self._line((0.0, outside), (level, level))
                edges.append(_simple(np.concatenate([right[::-1] * [-1.0, 1.0], right])))
        return tuple(edges)

    @property
    def surface(self) -> Array:
        """The product's surface from wall to wall, shape (2, 2) [mm]."""
        r, z = self.at(self.coordinates.side, self._surface)
        return np.array([[-r, z], [r, z]])

    @property
    def _surface(self) -> float:
        """Height of the product's surface [m]; a room too low to be one counts to the product."""
        return self.case.surface if self.case.headspace_height > 0.0 else self.case.container.ceiling

    def at(self, column: float, level: float) -> tuple[float, float]:
        """Place r, z [mm] of a column and a level of the reference section [m]."""
        r, z = self.coordinates.place(column, level)
        return mm(float(r)), mm(float(z))

    def _region(self, columns: tuple[float, float], levels: tuple[float, float]) -> tuple[Array, ...]:
        """Closed outlines of a rectangle of the reference section: one round the axis, or one on each side."""
        (near, far), (low, high) = columns, levels
        right = np.concatenate(
            [
                self._line((near, far), (low, low)),
                self._line((far, far), (low, high)),
                self._line((near, far), (high, high))[::-1],
            ]
        )
        mirrored = right[::-1] * [-1.0, 1.0]
        if near == 0.0:
            return (_simple(np.concatenate([right, mirrored]), closed=True),)
        right = np.concatenate([right, self._line((near, near), (low, high))[::-1]])
        return tuple(_simple(half, closed=True) for half in (right * [-1.0, 1.0], right))

    def _line(self, columns: tuple[float, float], levels: tuple[float, float]) -> Array:
        """Places [mm], shape (n, 2), along a line of the reference section on which column or level stays."""
        level = self._levels(*levels) if levels[0] != levels[1] else np.array(levels[:1])
        column = self._columns(*columns) if columns[0] != columns[1] else np.array(columns[:1])
        return mm(np.stack(self.coordinates.place(column, level), axis=-1))

    def _columns(self, low: float, high: float) -> Array:
        """Columns [m] from one to another, close enough for a base that rises."""
        coordinates, rise = self.coordinates, self.case.container.rise
        breaks = [low, high, coordinates.core, coordinates.crown, coordinates.side]
        if rise is not None:
            breaks.append(coordinates.reference(rise.diameter / 2, self.case.container.floor)[0])
        return _between(np.clip(breaks, low, high))

    def _levels(self, low: float, high: float) -> Array:
        """Levels [m] from one to another: every corner of the profile, arcs by equal angles."""
        floor, profile = self.case.container.floor, self.case.container.profile
        heights = np.concatenate(
            [_along(piece) for piece in profile.pieces] + [[height for height, _ in profile.corners]]
        )
        return np.unique(np.clip([low, high, self.coordinates.bent_below, *(floor + heights)], low, high))


def shape_of(case: Case, probe: Probe | None = None) -> Shape:
    """The section of a case's container as it is computed, with a probe in it or without one.

    Parameters
    ----------
    case : Case
        Its own probe is left aside.
    probe : Probe, optional
        With its insertion known; under one through a base that rises the base is level.
    """
    # one from the side bends no line of the section
    upright = None if probe is None or probe.entry == "side" else probe
    return Shape(case, coordinates_of(case.replace(probe=upright, probes=())))


def _along(piece: Piece) -> Array:
    """Heights [m] along a piece of the profile, its ends included."""
    low, high = piece.low[0], piece.high[0]
    if piece.centre is None:
        return np.linspace(low, high, 9)
    sines = np.clip((np.array([low, high]) - piece.centre[0]) / piece.rounding, -1.0, 1.0)
    start, end = (float(angle) for angle in np.arcsin(sines))
    heights = piece.centre[0] + piece.rounding * np.sin(np.linspace(start, end, math.ceil((end - start) / ARC) + 1))
    heights[0], heights[-1] = low, high
    return np.asarray(heights)


def _between(breaks: Array) -> Array:
    """Values from the least to the largest break, each course between two of them cut into parts."""
    at = np.unique(breaks)
    return np.unique([np.linspace(low, high, PARTS + 1) for low, high in zip(at[:-1], at[1:], strict=True)])


def _simple(points: Array, *, closed: bool = False) -> Array:
    """The line through points (n, 2) [mm] without those that repeat one or lie between their neighbours."""
    apart = np.hypot(*np.diff(points, axis=0, prepend=points[-1:] if closed else np.full((1, 2), np.inf)).T)
    points = points[apart > SAME]
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    lengths = np.hypot(*before.T) * np.hypot(*after.T)
    turns = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]) > STRAIGHT * lengths
    if not closed:
        turns[[0, -1]] = True
    return np.asarray(points[turns])
