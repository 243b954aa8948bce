"""The container: a straight body of revolution with walls, some of which may be left out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from thermsim.case.materials import Material


@dataclass(frozen=True)
class Wall:
    """One wall of the container: its material and its thickness [m], > 0."""

    material: Material
    thickness: float


@dataclass(frozen=True)
class Container:
    """A straight container: inner sizes [m] and its walls; ``None`` where there is no wall.

    The base and the lid reach the outer diameter; the side wall stands between them. A wall that is left out
    is no wall: what is behind it meets the medium. z = 0 is the outside of the base, r = 0 the axis.

    ``initial`` is the walls' temperature at the start [degC]; ``None`` means the product's.
    """

    inner_diameter: float
    inner_height: float
    side: Wall | None = None
    base: Wall | None = None
    lid: Wall | None = None
    initial: float | None = None

    @property
    def inner_radius(self) -> float:
        """Inner radius [m]."""
        return self.inner_diameter / 2

    @property
    def outer_radius(self) -> float:
        """Outer radius [m]."""
        return self.inner_radius + (self.side.thickness if self.side else 0.0)

    @property
    def floor(self) -> float:
        """Height z of the inside of the base [m]."""
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
    def inner_area(self) -> float:
        """Area of the cross-section inside the side wall [m2]."""
        return math.pi * self.inner_radius**2
