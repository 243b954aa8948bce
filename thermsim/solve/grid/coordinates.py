"""Boundary-fitted coordinates: a straight reference section, drawn onto the container's own.

In the reference section every wall, the fill level and the ends of a probe are straight lines: columns (distances
from the axis) and levels (heights). Its map onto the container keeps the levels on the side wall where they are,
stretches the columns to the wall, and bends the levels over a base that rises; the columns within the core stay
upright, so that a probe's cylinders stay cylinders. In a straight container it changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.case.container import Container

Array = NDArray[np.float64]

#: An arc of the profile gets levels no farther apart than this part of its radius, and the wall's steepest course
#: counts as no flatter than this (levels per length along it).
ALONG_ARC, FLATTEST = 0.3, 0.02
#: Where a profile ends in a point on the axis it is blunted to this part of its widest radius.
BLUNT = 0.02


@dataclass(frozen=True)
class Coordinates:
    """The map from the reference section to a container.

    Parameters
    ----------
    container : Container
    core : float
        Radius within which columns are upright [m]: the widest part of a probe. Less than the container's narrowest
        radius.
    bent_below : float
        Height z [m] below which levels follow the base's rise, more and more; from there on they are level.
    crown : float
        Radius within which a base that rises is taken as level, under a probe on it [m].
    """

    container: Container
    core: float
    bent_below: float
    crown: float = 0.0

    @property
    def side(self) -> float:
        """Column of the inside of the side wall [m]: the widest inner radius."""
        return self.container.profile.widest

    @cached_property
    def outside(self) -> float:
        """Column of the outside of the side wall [m]."""
        wall = self.container.side
        return self.side + (wall.thickness if wall else 0.0)

    @property
    def smooth_on_axis(self) -> bool:
        """Smoothness of levels across the axis: not over the point of a cone."""
        rise = self.container.rise
        return rise is None or rise.form != "cone" or self.crown > 0.0

    def place(self, column: ArrayLike, level: ArrayLike) -> tuple[Array, Array]:
        """Places in the container.

        Parameters
        ----------
        column, level : array_like
            Reference distances from the axis and heights [m], broadcast against each other.

        Returns
        -------
        r, z : ndarray
            [m].
        """
        column, level = np.broadcast_arrays(np.asarray(column, dtype=float), np.asarray(level, dtype=float))
        container = self.container
        if container.is_straight:
            return column.copy(), level.copy()
        within = np.clip(level, container.floor, container.ceiling)
        wall = self._wall(within)
        stretched = self.core + (column - self.core) * (wall - self.core) / (self.side - self.core)
        r = np.where(column <= self.core, column, stretched)
        z = level.copy()
        if container.rise is not None:
            z += self._rise(column) * self._bent(level)
        if container.side is not None:
            across = (column - self.side) / (self.outside - self.side)
            outer_r, outer_z = container.outside(within)
            beyond = column > self.side
            r = np.where(beyond, wall + across * (outer_r - wall), r)
            z = np.where(beyond, level + across * (outer_z - within), z)
        return r, z

    def reference(self, r: float, z: float) -> tuple[float, float]:
        """Column and level [m] of a place in the container [m]."""
        container = self.container
        if container.is_straight:
            return r, z
        level = z if container.rise is None or z >= self.bent_below else self._bent_level(r, z)
        within = min(max(level, container.floor), container.ceiling)
        wall = self._wall(np.asarray(within)).item()
        if r <= self.core:
            return r, level
        # rounding must not put a place on the inside of the wall into it
        if r <= wall * (1.0 + 1e-12) or container.side is None:
            return min(self.core + (r - self.core) * (self.side - self.core) / (wall - self.core), self.side), level
        return self._in_wall(r, z)

    def _bent_level(self, r: float, z: float) -> float:
        """Level of a place below which the base's rise bends the levels [m]."""
        from scipy.optimize import brentq  # only here: reading a case is to be quick

        def beyond(level: float) -> float:
            within = min(max(level, self.container.floor), self.container.ceiling)
            wall = self._wall(np.asarray(within)).item()
            column = (
                r if r <= self.core else self.core + (r - self.core) * (self.side - self.core) / (wall - self.core)
            )
            rise = float(self._rise(np.asarray(min(column, self.side))))
            return level + rise * float(self._bent(np.asarray(level))) - z

        lowest = z - self.container.crown - 1e-9
        return float(brentq(beyond, lowest, max(z, self.bent_below) + 1e-9, xtol=1e-15))

    @property
    def foot(self) -> float | None:
        """Column at the rim of a base that rises [m]; None where it is level, or rises from the wall on."""
        rise, rim = self.container.rise, self.container.profile.corners[0][1]
        if rise is None or rise.diameter / 2 >= rim * (1.0 - 1e-9):
            return None
        return self.core + (rise.diameter / 2 - self.core) * (self.side - self.core) / (rim - self.core)

    def _rise(self, column: Array) -> Array:
        """Height by which the base stands above its rim [m] where columns meet it."""
        rise, rim = self.container.rise, self.container.profile.corners[0][1]
        if rise is None:
            return np.zeros(np.shape(column))
        stretched = self.core + (column - self.core) * (rim - self.core) / (self.side - self.core)
        return rise.at(np.where(column <= self.core, column, stretched), level=self.crown)

    def _in_wall(self, r: float, z: float) -> tuple[float, float]:
        """Column and level of a place in the side wall, or where base or lid reach over it."""
        container = self.container

        def across(level: float) -> tuple[float, float, float]:
            """Distance of a place from the wall's inside, and the step from there to its outside."""
            outer_r, outer_z = (float(value) for value in container.outside(np.asarray(level)))
            inner = self._wall(np.asarray(level)).item()
            return r - inner, outer_r - inner, outer_z - level

        thickness = self.outside - self.side
        if not container.floor < z < container.ceiling:
            away, step, _ = across(min(max(z, container.floor), container.ceiling))
            return self.side + away / step * thickness, z

        def aside(level: float) -> float:
            away, step_r, step_z = across(level)
            return step_r * (z - level) - step_z * away

        from scipy.optimize import brentq  # only here: reading a case is to be quick

        level = float(brentq(aside, container.floor, container.ceiling, xtol=1e-15))
        away, step_r, step_z = across(level)
        part = (away * step_r + (z - level) * step_z) / (step_r**2 + step_z**2)
        return self.side + part * thickness, level

    def _wall(self, within: Array) -> Array:
        """Inner radius [m] at heights between floor and ceiling [m]; a point on the axis is blunted."""
        return np.maximum(self.container.profile.radius(within - self.container.floor), BLUNT * self.side)

    def spacing(self, level: Array, widest: float) -> Array:
        """Largest spacing of levels [m] that keeps nodes on the side wall no farther apart than ``widest`` [m]."""
        container = self.container
        if container.profile.is_straight:
            return np.full(level.shape, widest)
        height = level - container.floor
        steep = np.maximum(1.0 / np.hypot(1.0, container.profile.slope(height)), FLATTEST)
        limit = np.full(level.shape, widest)
        for piece in container.profile.pieces:
            if piece.centre is not None:
                limit[(height >= piece.low[0]) & (height <= piece.high[0])] = min(widest, ALONG_ARC * piece.rounding)
        outside = (height < 0.0) | (height > container.inner_height)
        return np.where(outside, widest, limit * steep)

    def _bent(self, level: Array) -> Array:
        """Part of the base's rise that the levels follow."""
        floor = self.container.floor
        return np.clip((self.bent_below - level) / (self.bent_below - floor), 0.0, 1.0)
