"""Width of a container, inside and outside, where something is to be put into it or followed."""

from __future__ import annotations

import numpy as np

from thermsim.case.container import Container
from thermsim.case.profile import Profile


def outer_radius_at(container: Container, z: float) -> float:
    """Outer radius [m] at a height z of the container [m]; over the base and the lid that of their discs."""
    if not container.floor < z < container.ceiling:
        end = container.floor if z <= container.floor else container.ceiling
        return _outside(container, end)[0]
    if container.side is None:
        return container.radius_at(z)
    if container.is_straight:
        return container.outer_radius
    # the side wall's outside begins and ends level with its inside: halve until the place across from z is found
    low, high = container.floor, container.ceiling
    while (middle := (low + high) / 2) not in (low, high):
        if _outside(container, middle)[1] < z:
            low = middle
        else:
            high = middle
    return _outside(container, middle)[0]


def _outside(container: Container, level: float) -> tuple[float, float]:
    """Radius and height z on the outside of the side wall [m] across from a level on its inside."""
    r, z = container.outside(np.array([level]))
    return float(r[0]), float(z[0])


def lies_outside(container: Container, r: float, z: float) -> bool:
    """Tell whether a place [m] is outside of the container; under a base that rises is outside."""
    if not 0.0 <= z <= container.outer_height * (1.0 + 1e-9):
        return True
    return r > outer_radius_at(container, z) * (1.0 + 1e-9) or z < underside(container, r) - 1e-9


def underside(container: Container, r: float) -> float:
    """Height z of the outside of the base [m] at a distance from the axis [m]."""
    return float(container.rise.at(r)) if container.rise else 0.0


def narrowest_between(profile: Profile, low: float, high: float) -> tuple[float, float]:
    """The smallest inner radius between two heights above the inside of the base, and its height [m]."""
    ends = [low, high, *(piece.low[0] for piece in profile.pieces)]
    # where the wall is rounded about a place outside of it, it may be narrowest between the ends of the rounding
    ends += [piece.centre[0] for piece in profile.pieces if piece.centre is not None]
    heights = np.array(sorted({height for height in ends if low <= height <= high}))
    radii = profile.radius(heights)
    narrowest = int(np.argmin(radii))
    return float(radii[narrowest]), float(heights[narrowest])
