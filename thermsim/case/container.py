"""The container: a body of revolution with walls, some of which may be left out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.case.profile import Profile, Rise
from thermsim.physics.materials import Material

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Wall:
    """One wall of the container: its material and its thickness [m], > 0.

    ``course`` is the thickness of a side wall at each corner of the profile [m], where it is not the same everywhere;
    between them it changes evenly. ``thickness`` is then the largest of them. ``contact`` is a thermal resistance
    between its outside and the medium [m2K/W], that of a label or a sleeve; it is taken into the film coefficients.
    """

    material: Material
    thickness: float
    course: tuple[float, ...] = ()
    contact: float = 0.0


@dataclass(frozen=True)
class Container:
    """A container: the shape of its inside [m] and its walls; ``None`` where there is no wall.

    The side wall's thickness is measured at right angles to its inner side, the base's and the lid's along the axis.
    The side wall ends at the planes of the base's rim and of the lid, which reach its outer diameter there. A wall
    that is left out is no wall: what is behind it meets the medium. z = 0 is the outside of the base, at its rim
    where it rises; r = 0 the axis.

    ``initial`` is the walls' temperature at the start [degC]; ``None`` means the product's. ``rise`` is how the base
    rises towards the axis; ``None``: it is level. ``stands_in``: it encloses a body that is none of revolution, a
    brick or a pouch, and what is computed are bounds for that.
    """

    profile: Profile
    side: Wall | None = None
    base: Wall | None = None
    lid: Wall | None = None
    initial: float | None = None
    rise: Rise | None = None
    stands_in: bool = False

    @property
    def inner_height(self) -> float:
        """From the inside of the base, at its rim, to the inside of the lid [m]."""
        return self.profile.height

    @property
    def floor(self) -> float:
        """Height z of the inside of the base, at its rim [m]."""
        return self.base.thickness if self.base else 0.0

    @property
    def ceiling(self) -> float:
        """Height z of the inside of the lid [m]."""
        return self.floor + self.inner_height

    @property
    def outer_height(self) -> float:
        """Height z of the outside of the lid [m]."""
        return self.ceiling + (self.lid.thickness if self.lid else 0.0)

    @property
    def crown(self) -> float:
        """How far the base rises at the axis above its rim [m]; its outside stands at this height there."""
        return self.rise.height if self.rise else 0.0

    @cached_property
    def is_straight(self) -> bool:
        """Whether it is a straight cylinder with a level base."""
        return self.profile.is_straight and self.rise is None and not (self.side and self.side.course)

    @property
    def outer_radius(self) -> float:
        """Largest radius of the outside [m]."""
        heights = [z for piece in self.profile.pieces for z in (piece.low[0], piece.high[0])]
        # an arc may be widest between its ends
        heights += [piece.centre[0] for piece in self.profile.pieces if piece.centre is not None]
        within = np.clip(np.array(heights), 0.0, self.inner_height)
        return float(self.outside(within + self.floor)[0].max())

    def radius_at(self, z: float) -> float:
        """Inner radius at a height z [m]."""
        return float(self.profile.radius(z - self.floor))

    def outside(self, z: Array) -> tuple[Array, Array]:
        """Places on the outside of the side wall that belong to places on its inside.

        Parameters
        ----------
        z : ndarray
            Heights on the inside, from the floor to the ceiling [m].

        Returns
        -------
        r, z : ndarray
            Across the wall: at right angles to it, at a corner along the line that halves its angle, at the ends
            level [m].
        """
        height = np.asarray(z, dtype=float) - self.floor
        r = self.profile.radius(height)
        if self.side is None:
            return r, height + self.floor
        across_z, across_r = np.empty(height.shape), np.empty(height.shape)
        done = np.zeros(height.shape, dtype=bool)
        corners = _across_corners(self.profile)
        for k, piece in enumerate(self.profile.pieces):
            here = ~done & (height <= piece.high[0])
            done |= here
            if k == len(self.profile.pieces) - 1:
                here |= ~done
            thickness = self._thickness(height[here])
            if piece.centre is None:
                part = (height[here] - piece.low[0]) / (piece.high[0] - piece.low[0])
                low, high = corners[k], corners[k + 1]
                across_z[here], across_r[here] = (thickness * (low[i] + part * (high[i] - low[i])) for i in (0, 1))
            else:
                slope = piece.slope(height[here])
                across_z[here], across_r[here] = (thickness * step / np.hypot(1.0, slope) for step in (-slope, 1.0))
        return r + across_r, height + across_z + self.floor

    @property
    def fold(self) -> tuple[float, float] | None:
        """Heights above the inside of the base [m] between which the side wall's outside runs backwards, if any."""
        for piece in self.profile.pieces:
            height = np.linspace(piece.low[0], piece.high[0], 33)
            r, z = self.outside(height + self.floor)
            along_z, along_r = np.diff(height), np.diff(self.profile.radius(height))
            if (np.diff(z) * along_z + np.diff(r) * along_r <= 0.0).any():
                return piece.low[0], piece.high[0]
        return None

    def _thickness(self, height: Array | float) -> Array:
        """Thickness of the side wall [m] at heights above the inside of the base [m]."""
        if self.side is None:
            return np.zeros(np.shape(height))
        if not self.side.course:
            return np.full(np.shape(height), self.side.thickness)
        return np.asarray(np.interp(height, [z for z, _ in self.profile.corners], self.side.course))

    @property
    def volume(self) -> float:
        """Volume of the inside [m3], exact."""
        return self.volume_below(self.inner_height)

    def volume_below(self, height: float) -> float:
        """Volume of the inside [m3] below a height above the rim of the base's inside, not below its crown [m]."""
        return self.profile.volume(height) - (self.rise.volume if self.rise else 0.0)


def _across_corners(profile: Profile) -> list[Array]:
    """Steps (z, r) across a wall of thickness 1 at the ends of the profile's pieces, from the base upwards."""
    slopes = []
    for piece in profile.pieces:
        slopes.append(tuple(float(piece.slope(np.asarray(end[0]))) for end in (piece.low, piece.high)))
    level = [np.array([0.0, math.hypot(1.0, slope)]) for slope in (slopes[0][0], slopes[-1][1])]
    between = []
    for (_, below), (above, _) in zip(slopes[:-1], slopes[1:], strict=True):
        one, other = (np.array([-slope, 1.0]) / math.hypot(1.0, slope) for slope in (below, above))
        between.append((one + other) / (1.0 + float(one @ other)))
    return [level[0], *between, level[1]]
