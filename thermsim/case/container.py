"""The container: a body of revolution with walls, some of which may be left out."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.case.profile import Profile, Rise, height_of, straight
from thermsim.case.rules import ROUNDING, is_number, material_faults, number_faults, refuse
from thermsim.errors import WHOLE, Fault
from thermsim.physics.materials import Material
from thermsim.text import in_mm

Array = NDArray[np.float64]

#: A product less deep than this is a slip of the pen [m].
SHALLOWEST = 2e-3


@dataclass(frozen=True)
class Wall:
    """One wall of the container: its material and its thickness [m], > 0.

    ``course`` is the thickness of a side wall at each corner of the profile [m], where it is not the same everywhere;
    between them it changes evenly. ``thickness`` is then the largest of them. ``contact`` is a thermal resistance
    between its outside and the medium [m2K/W], that of a label or a sleeve; it is taken into the film coefficients.

    Examples
    --------
    >>> from thermsim import Wall, find_material
    >>> Wall(find_material("soda-lime glass"), 3e-3).thickness
    0.003
    """

    material: Material
    thickness: float
    course: tuple[float, ...] = ()
    contact: float = 0.0

    def __post_init__(self) -> None:
        refuse(self.faults("wall"), material_faults(self.material))

    def faults(self, path: str) -> Iterator[Fault]:
        """Faults of the wall by itself."""
        if not self.course:
            yield from number_faults(self.thickness, f"{path}.thickness", "container.wall", "thickness_mm")
        for place, thickness in enumerate(self.course):
            yield from number_faults(thickness, f"{path}.course[{place}]", "container.wall", "thickness_mm")
        if self.contact != 0.0:
            yield from number_faults(self.contact, f"{path}.contact", "container.wall", "contact_m2K_W")


@dataclass(frozen=True)
class Seam:
    """The double seams of a can, between which its lid and base lie countersunk.

    ``radius`` is that of the seams' outside [m], None where it is not known; ``lid`` and ``base`` are how far the
    edge of a seam stands beyond the outer face of its panel [m]; ``assumed``: they follow from usual allowances, not
    from measuring.
    """

    radius: float | None
    lid: float
    base: float
    assumed: bool = False

    def faults(self, path: str) -> Iterator[Fault]:
        """Faults of the seams."""
        for name, value in (("lid", self.lid), ("base", self.base)):
            yield from number_faults(value, f"{path}.{name}", "container", "countersink_mm")
        if self.radius is not None:
            yield from number_faults(2 * self.radius, f"{path}.radius", "container", "diameter_over_seams_mm")


@dataclass(frozen=True)
class Container:
    """A container: the shape of its inside [m] and its walls; ``None`` where there is no wall.

    The side wall's thickness is measured at right angles to its inner side, the base's and the lid's along the axis.
    The side wall ends at the planes of the base's rim and of the lid, which reach its outer diameter there. A wall
    that is left out is no wall: what is behind it meets the medium. z = 0 is the outside of the base, at its rim
    where it rises; r = 0 the axis.

    ``initial`` is the walls' temperature at the start [degC]; ``None`` means the product's. ``rise`` is how the base
    rises towards the axis; ``None``: it is level. ``stands_in``: it encloses a body that is none of revolution, a
    brick or a pouch, and what is computed are bounds for that; ``brick`` is that body's length, width and thickness
    inside [m]. ``seam`` is what of a can's seams stands beyond its panels and its body, ``scaled`` the factor by
    which inner diameters were changed to hold a volume: both are for who measures.
    """

    profile: Profile
    side: Wall | None = None
    base: Wall | None = None
    lid: Wall | None = None
    initial: float | None = None
    rise: Rise | None = None
    stands_in: bool = False
    seam: Seam | None = None
    brick: tuple[float, float, float] | None = None
    scaled: float = 1.0

    def __post_init__(self) -> None:
        refuse(self.faults())

    @classmethod
    def straight(
        cls,
        inner_diameter: float,
        inner_height: float,
        *,
        side: Wall | None = None,
        base: Wall | None = None,
        lid: Wall | None = None,
        initial: float | None = None,
    ) -> Container:
        """A straight can or jar.

        Parameters
        ----------
        inner_diameter, inner_height : float
            Inside; from the inside of the base to the inside of the lid [m].
        side, base, lid : Wall, optional
            One that is left out is no wall: what is behind it meets the medium.
        initial : float, optional
            The walls' temperature at the start [degC]; the product's where left out.

        Raises
        ------
        CaseError
            If a size is not one of a container.

        Examples
        --------
        >>> from thermsim import Container, Wall, find_material
        >>> tinplate = Wall(find_material("tinplate"), 0.2e-3)
        >>> can = Container.straight(0.073, 0.11, side=tinplate, base=tinplate, lid=tinplate)
        >>> round(can.outer_height, 4)
        0.1104
        """
        return cls(straight(inner_diameter, inner_height), side, base, lid, initial)

    def faults(self, path: str = "container") -> Iterator[Fault]:
        """Faults of the container: its profile, its walls, and how they go together."""
        shape = [*self.profile.faults(f"{path}.profile", self.floor if is_number(self.floor) else 0.0)] or [
            *self.size_faults(path)
        ]
        yield from shape
        of_walls = {name: [*wall.faults(f"{path}.{name}")] for name, wall in self.walls.items()}
        yield from itertools.chain(*of_walls.values())
        if self.initial is not None:
            yield from number_faults(self.initial, f"{path}.initial", "container", "initial_C")
        if self.seam is not None:
            yield from self.seam.faults(f"{path}.seam")
        if not shape and not of_walls.get("side"):
            yield from self._side_faults(path)
        rise = [] if self.rise is None else [*self.rise.faults(f"{path}.rise")]
        yield from rise
        if self.rise is not None and not shape and not rise:
            yield from self._rise_faults(self.rise, f"{path}.rise")

    def size_faults(self, path: str = "container") -> Iterator[Fault]:
        """Faults of a whole that is higher or wider inside than a container may be, or less."""
        yield from number_faults(2 * self.profile.widest, f"{path}.inner_diameter", "container", "inner_diameter_mm")
        yield from number_faults(self.inner_height, f"{path}.inner_height", "container", "inner_height_mm")

    def _side_faults(self, path: str) -> Iterator[Fault]:
        """Faults of a side wall whose thickness cannot follow the profile."""
        corners = self.profile.corners
        if self.side is None:
            return
        if len(self.side.course) not in (0, len(corners)):
            each = f"{len(corners)} numbers, one for each point of the profile"
            if len(corners) == 2:
                each = "two numbers, [at the base, at the lid]"
            rule = f"must be one number or {each}; it holds {len(self.side.course)}"
            yield Fault(f"{path}.side.course", self.side.course, rule)
            return
        for place in (0, len(corners) - 1):
            if corners[place][1] == 0.0:
                rule = "lies on the axis, where a side wall cannot be closed; leave out side, or give the point a "
                yield Fault(f"{path}.profile.corners[{place}]", corners[place], f"{rule}radius above 0")
                return
        fold = self.fold
        if fold is None:
            return
        first = max(k for k, (height, _) in enumerate(corners) if height <= fold[0] + ROUNDING)
        last = min(k for k, (height, _) in enumerate(corners) if height >= fold[1] - ROUNDING)
        named = [self.profile.named(corner) for corner in corners[first : last + 1]]
        where = f"between {named[0]} and {named[-1]}"
        if len(named) == 3:
            where = f"in the rounding at {named[1]}"
        rule = (
            f"the side wall is too thick for the profile {where}: its outside would fold over itself; give a thinner "
            "wall there, or points farther apart"
        )
        yield Fault(path, WHOLE, rule)

    def _rise_faults(self, rise: Rise, path: str) -> Iterator[Fault]:
        """Faults of a base whose rise does not fit into the profile."""
        foot, wide = 2 * self.profile.corners[0][1], in_mm(rise.diameter)
        rule = ""
        if foot == 0.0:
            rule = ": the profile begins on the axis, where there is no base to rise"
        elif rise.diameter > foot + ROUNDING:
            rule = f"is more than the inner diameter at the base, {in_mm(foot)} mm"
            yield Fault(f"{path}.diameter", rise.diameter, rule, "m")
            return
        elif rise.height > self.inner_height - SHALLOWEST:
            rule = f"leaves no room for a product; the container is {in_mm(self.inner_height)} mm high inside"
        elif rise.form == "dome" and rise.height > rise.diameter / 2 + ROUNDING:
            rule = f"is too high for a dome {wide} mm wide, which is at most half as high as it is wide"
            rule += '; make it lower, or choose the form "cone"'
        elif (beyond := rise.beyond(self.profile)) is not None:
            rule = (
                f"takes the base through the side wall: {in_mm(beyond[0])} mm above its rim the base is "
                f"{2000 * beyond[1]:.4g} mm wide, the container {2000 * beyond[2]:.4g} mm; make the rise narrower or "
                "lower"
            )
        if rule:
            yield Fault(f"{path}.height", rise.height, rule, "m")

    @property
    def walls(self) -> Mapping[str, Wall]:
        """The walls that there are, by "side", "base" and "lid"."""
        walls = {"side": self.side, "base": self.base, "lid": self.lid}
        return {name: wall for name, wall in walls.items() if wall is not None}

    @property
    def contacts(self) -> tuple[float, float, float]:
        """Thermal resistances of the labels on side, base and lid [m2K/W]; 0 where there is none."""
        side, base, lid = (wall.contact if wall else 0.0 for wall in (self.side, self.base, self.lid))
        return side, base, lid

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
        """Rise of the base at the axis above its rim [m]; its outside stands at this height there."""
        return self.rise.height if self.rise else 0.0

    @cached_property
    def is_straight(self) -> bool:
        """Tell whether it is a straight cylinder with a level base."""
        return self.profile.is_straight and self.rise is None and not (self.side and self.side.course)

    @property
    def centre(self) -> str:
        """Origin of distances along a probe from the side, in a word."""
        return "axis" if self.brick is None else "middle"

    @property
    def brick_outside(self) -> tuple[float, float]:
        """Length and width of a brick over its side wall [m]; it must be one."""
        if self.brick is None:
            raise ValueError("the container is no brick")
        wall = 2 * self.side.thickness if self.side else 0.0
        return self.brick[0] + wall, self.brick[1] + wall

    def halves(self, edge: str) -> tuple[float, float]:
        """Half of the inside along a stem from the side, and half of it beside that stem [m].

        ``edge`` of a brick that it enters: "long", else the short one, from which it lies along the longer side.
        """
        if self.brick is None:
            return self.profile.narrowest, self.profile.narrowest
        length, width = self.brick[0] / 2, self.brick[1] / 2
        return (length, width) if self.lengthwise(edge) else (width, length)

    def lengthwise(self, edge: str) -> bool:
        """True if a stem through that edge of a brick lies along the first of its sides."""
        return self.brick is not None and (self.brick[0] >= self.brick[1]) == (edge != "long")

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
        """Places r, z on the outside of the side wall [m] across from heights on its inside, floor to ceiling [m].

        Across is at right angles to the wall, at a corner along the line that halves its angle, at the ends level.
        """
        height = np.asarray(z, dtype=float) - self.floor
        r = self.profile.radius(height)
        if self.side is None:
            return r, height + self.floor
        across_z, across_r = np.empty(height.shape), np.empty(height.shape)
        corners = _across_corners(self.profile)
        piece_of = np.searchsorted([piece.high[0] for piece in self.profile.pieces[:-1]], height)
        for k, piece in enumerate(self.profile.pieces):
            here = piece_of == k
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

    def measured(self, outer: float, inside: float) -> float:
        """An outer radius as calipers show it, from that which is computed with and the inner one there [m]."""
        return outer - inside * (1.0 - 1.0 / self.scaled)

    def seam_above(self, wall: str) -> float:
        """Height of a seam's edge beyond the outer face of the lid or the base [m]; 0 without seams."""
        return 0.0 if self.seam is None else {"lid": self.seam.lid, "base": self.seam.base}.get(wall, 0.0)

    @property
    def volume(self) -> float:
        """Volume of the inside [m3], exact."""
        return self.volume_below(self.inner_height)

    def volume_below(self, height: float) -> float:
        """Volume of the inside [m3] below a height above the rim of the base's inside, not below its crown [m]."""
        if self.brick is not None:
            return self.brick[0] * self.brick[1] * height
        return self.profile.volume(height) - (self.rise.volume if self.rise else 0.0)

    def level_of(self, volume: float) -> float:
        """Height [m] above the rim of the base's inside below which it holds a volume [m3].

        Raises
        ------
        ValueError
            If it holds less.
        """
        if self.brick is None:
            return height_of(volume + (self.rise.volume if self.rise else 0.0), self.profile)
        if volume > self.volume * (1 + 1e-12):
            raise ValueError(f"the container holds {1e6 * self.volume:.6g} ml")
        return volume / (self.brick[0] * self.brick[1])


def _across_corners(profile: Profile) -> list[Array]:
    """Steps (z, r) across a wall of thickness 1 at the ends of the profile's pieces, from the base upwards."""
    slopes = [[float(piece.slope(np.asarray(end[0]))) for end in (piece.low, piece.high)] for piece in profile.pieces]
    level = [np.array([0.0, math.hypot(1.0, slope)]) for slope in (slopes[0][0], slopes[-1][1])]
    between = []
    for (_, below), (above, _) in zip(slopes[:-1], slopes[1:], strict=True):
        one, other = (np.array([-slope, 1.0]) / math.hypot(1.0, slope) for slope in (below, above))
        between.append((one + other) / (1.0 + float(one @ other)))
    return [level[0], *between, level[1]]
