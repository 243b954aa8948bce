"""The shape of the inside: the profile of the side wall, and the base's rise; exact volumes of revolution."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.case.rules import ROUNDING, is_number, number_faults, word_faults
from thermsim.errors import WHOLE, Fault
from thermsim.text import in_mm

Array = NDArray[np.float64]

MOST_POINTS = 200
#: Part of what is left of a straight line that roundings may take: none is to shrink to nothing.
_MOST_ROUNDED = 0.999

#: A corner at which the wall turns by less than this is part of a smooth course [rad].
SMOOTH = math.radians(10.0)
#: ... and by less than this not at all: a point on a straight line.
IN_LINE = 1e-9


@dataclass(frozen=True)
class Piece:
    """A piece of the profile between two heights: straight, or an arc.

    ``low`` and ``high`` are its ends as (height, radius) [m]; ``centre`` (height, radius) and ``rounding`` [m] are
    those of an arc (None and 0 for a straight piece); ``outwards``: the wall turns away from the axis in it.
    """

    low: tuple[float, float]
    high: tuple[float, float]
    centre: tuple[float, float] | None = None
    rounding: float = 0.0
    outwards: bool = False

    def radius(self, height: Array) -> Array:
        """Radius [m] at heights within the piece."""
        if self.centre is None:
            part = (height - self.low[0]) / (self.high[0] - self.low[0])
            return np.asarray(self.low[1] + part * (self.high[1] - self.low[1]))
        depth = np.sqrt(np.maximum(self.rounding**2 - (height - self.centre[0]) ** 2, 0.0))
        return np.asarray(self.centre[1] + (-depth if self.outwards else depth))

    def slope(self, height: Array) -> Array:
        """Change of the radius with the height [m/m]."""
        if self.centre is None:
            return np.full(np.shape(height), (self.high[1] - self.low[1]) / (self.high[0] - self.low[0]))
        along = height - self.centre[0]
        depth = np.sqrt(np.maximum(self.rounding**2 - along**2, 1e-30))
        return np.asarray(along / (depth if self.outwards else -depth))

    def volume(self, height: float) -> float:
        """Volume of revolution [m3] from the piece's lower end up to a height in it."""
        if self.centre is None:
            top = float(self.radius(np.asarray(height)))
            foot = self.low[1]
            # a frustum of a cone
            return math.pi / 3 * (height - self.low[0]) * (foot**2 + foot * top + top**2)

        middle, c = self.centre
        a = self.rounding

        def integral(along: float) -> float:
            # of (c -+ sqrt(a^2 - x^2))^2, c the centre's distance from the axis
            depth = math.sqrt(max(a * a - along * along, 0.0))
            circle = (along * depth + a * a * math.asin(max(-1.0, min(1.0, along / a)))) / 2
            return c * c * along + (-2 if self.outwards else 2) * c * circle + a * a * along - along**3 / 3

        return math.pi * (integral(height - middle) - integral(self.low[0] - middle))


@dataclass(frozen=True)
class Profile:
    """The inner side of the side wall: corners, straight lines between them, inner corners perhaps rounded.

    Parameters
    ----------
    corners : tuple of (float, float)
        Height above the inside of the base and radius [m], from the base (height 0) upwards; heights grow. The radius
        may be 0 at the ends alone.
    rounding : float
        Radius to which the corners between the ends are rounded [m]; 0: they are sharp.

    Examples
    --------
    >>> from thermsim import Container, Profile
    >>> cup = Container(Profile(((0.0, 0.025), (0.080, 0.035))))  # a straight taper
    >>> round(1e6 * cup.volume)
    228
    """

    corners: tuple[tuple[float, float], ...]
    rounding: float = 0.0

    def faults(self, path: str, base: float = 0.0, closest: float = 0.0) -> Iterator[Fault]:
        """Faults of the profile; of its corners the first kind of fault alone, since others follow.

        ``base`` is the thickness of the base [m], from whose outside heights may have been counted by mistake;
        ``closest`` how far apart heights must be [m]: written by hand, nearer ones are a slip of the pen.
        """
        if not 2 <= len(self.corners) <= MOST_POINTS:
            count = len(self.corners)
            holds = f"holds {count} point{'' if count == 1 else 's'}"
            yield Fault(f"{path}.corners", WHOLE, f"{holds}; it must hold 2 to {MOST_POINTS}: [height, radius] each")
            return
        found = [*self._corner_faults(path)] or [*self._order_faults(path, base, closest)]
        yield from found
        if found:
            return
        if self.rounding != 0.0:
            yield from number_faults(self.rounding, f"{path}.rounding", "container", "rounding_mm")
            if is_number(self.rounding) and self.rounding > 0.0:
                yield from self._rounding_faults(path)

    def _corner_faults(self, path: str) -> Iterator[Fault]:
        """Corners that are at fault by themselves."""
        for place, corner in enumerate(self.corners):
            rule = ""
            if len(corner) != 2 or not all(is_number(value) for value in corner):
                rule = "must be two finite numbers, [height, radius]"
            elif corner[1] < 0.0 or (corner[1] == 0.0 and 0 < place < len(self.corners) - 1):
                rule = "has no radius above 0; only the first and the last point may lie on the axis"
            if rule:
                yield Fault(f"{path}.corners[{place}]", corner, rule)

    def _order_faults(self, path: str, base: float, closest: float) -> Iterator[Fault]:
        """Heights that do not begin at 0, the inside of the base, or do not grow."""
        heights, radii = [corner[0] for corner in self.corners], [corner[1] for corner in self.corners]
        if all(below > above for below, above in pairwise(heights)):
            rule = "has heights that fall from point to point; give the points from the base upwards"
            yield Fault(f"{path}.corners", WHOLE, rule)
            return
        if heights[0] != 0.0 and radii[0] == 0.0 and radii == sorted(set(radii)):
            rule = ": did you mean [radius, height]? The height comes first"
            yield Fault(f"{path}.corners[0]", self.corners[0], rule)
            return
        if heights[0] != 0.0:
            rule = "must be at height 0: heights count from the inside of the base"
            if abs(heights[0] - base) < ROUNDING:
                rule += (
                    f"; it is as high as the base is thick: take {in_mm(base)} mm off every height, so that they "
                    "count from the inside of the base"
                )
            yield Fault(f"{path}.corners[0]", self.corners[0], rule)
        for place, (below, above) in enumerate(pairwise(heights), start=1):
            if above <= below or above - below < closest - ROUNDING:
                apart = f", by {in_mm(closest)} mm or more" if closest else ""
                rule = (
                    f"must be higher than the point before it, [{in_mm(below)}, {in_mm(radii[place - 1])}] mm{apart}"
                )
                yield Fault(f"{path}.corners[{place}]", self.corners[place], rule)

    def _rounding_faults(self, path: str) -> Iterator[Fault]:
        """A rounding for which there is no corner or no room."""
        turning = self.turning
        if len(turning) == 2:
            rule = ": the profile has no corner between its ends to be rounded; leave it out"
            yield Fault(f"{path}.rounding", self.rounding, rule, "m")
            return
        # how much of the straight lines beside a corner a rounding of 1 takes; nothing at the ends
        threes = zip(turning[:-2], turning[1:-1], turning[2:], strict=True)
        cuts = [0.0, *(math.tan(abs(turn_at(*three)) / 2) for three in threes), 0.0]
        lines = zip(turning[:-1], turning[1:], cuts[:-1], cuts[1:], strict=True)
        room, low, high = min((math.dist(low, high) / (one + other), low, high) for low, high, one, other in lines)
        most = _MOST_ROUNDED * room
        if self.rounding > most:
            step = 10.0 ** (math.floor(math.log10(1000 * most)) - 2)
            rule = (
                f"does not fit between {self.named(low)} and {self.named(high)}; there is room for "
                f"{step * math.floor(1000 * most / step):.3g} mm at most"
            )
            yield Fault(f"{path}.rounding", self.rounding, rule, "m")

    def named(self, corner: tuple[float, float]) -> str:
        """A corner with its number from 1, as messages name it."""
        return f"point {self.corners.index(corner) + 1} = [{in_mm(corner[0])}, {in_mm(corner[1])}]"

    @property
    def height(self) -> float:
        """Height of the inside [m]."""
        return self.corners[-1][0]

    @property
    def widest(self) -> float:
        """Largest radius [m]."""
        return max(radius for _, radius in self.corners)

    @property
    def narrowest(self) -> float:
        """Smallest radius [m]."""
        return min(radius for _, radius in self.corners)

    @cached_property
    def is_straight(self) -> bool:
        """Tell whether the radius is the same at all heights."""
        return self.widest == self.narrowest

    @cached_property
    def pieces(self) -> tuple[Piece, ...]:
        """The profile's pieces from the base upwards; corners need the room that their rounding takes."""
        corners = self.turning
        if self.rounding == 0.0:
            return tuple(itertools.starmap(Piece, pairwise(corners)))
        found: list[Piece] = []
        start = corners[0]
        for before, here, after in zip(corners[:-2], corners[1:-1], corners[2:], strict=True):
            turn = turn_at(before, here, after)
            cut = self.rounding * math.tan(abs(turn) / 2)
            length, room_after = math.dist(before, here), math.dist(here, after)
            along = ((here[0] - before[0]) / length, (here[1] - before[1]) / length)
            onwards = ((after[0] - here[0]) / room_after, (after[1] - here[1]) / room_after)
            begin = (here[0] - cut * along[0], here[1] - cut * along[1])
            end = (here[0] + cut * onwards[0], here[1] + cut * onwards[1])
            side = math.copysign(self.rounding, turn)
            centre = (begin[0] - side * along[1], begin[1] + side * along[0])
            if begin[0] > start[0]:
                found.append(Piece(start, begin))
            found.append(Piece(begin, end, centre, self.rounding, outwards=turn > 0.0))
            start = end
        return (*found, Piece(start, corners[-1]))

    @cached_property
    def turning(self) -> tuple[tuple[float, float], ...]:
        """The ends and the corners at which the wall turns, without points that lie on a straight line."""
        kept = [self.corners[0]]
        for here, after in zip(self.corners[1:-1], self.corners[2:], strict=True):
            if abs(turn_at(kept[-1], here, after)) > IN_LINE:
                kept.append(here)
        return (*kept, self.corners[-1])

    @property
    def bends(self) -> tuple[float, ...]:
        """Heights [m] between the ends where the wall turns sharply, or a rounding of a sharp turn begins or ends."""
        found: list[float] = []
        corners = self.turning
        if self.rounding == 0.0:
            threes = zip(corners[:-2], corners[1:-1], corners[2:], strict=True)
            found += [three[1][0] for three in threes if abs(turn_at(*three)) > SMOOTH]
        for piece in self.pieces:
            if piece.centre is not None and abs(math.dist(piece.low, piece.high)) > SMOOTH * piece.rounding:
                found += [piece.low[0], piece.high[0]]
        return tuple(sorted({z for z in found if 0.0 < z < self.height}))

    def radius(self, height: ArrayLike) -> Array:
        """Radius [m] at heights above the inside of the base [m]; beyond the ends that of the end."""
        return self._of_pieces("radius", height)

    def slope(self, height: ArrayLike) -> Array:
        """Change of the radius with the height [m/m]; at a corner that of the piece above."""
        return self._of_pieces("slope", height)

    def _of_pieces(self, what: Literal["radius", "slope"], height: ArrayLike) -> Array:
        within = np.clip(np.asarray(height, dtype=float), 0.0, self.height)
        ends = np.array([piece.high[0] for piece in self.pieces[:-1]])
        piece_of = np.searchsorted(ends, within, side="right")
        values = np.empty(within.shape)
        for k, piece in enumerate(self.pieces):
            here = piece_of == k
            if here.any():
                values[here] = getattr(piece, what)(within[here])
        return values

    def volume(self, height: float) -> float:
        """Volume of revolution [m3] below a height above the inside of the base [m], exact."""
        return sum(piece.volume(min(height, piece.high[0])) for piece in self.pieces if height > piece.low[0])


def turn_at(before: tuple[float, float], here: tuple[float, float], after: tuple[float, float]) -> float:
    """Angle by which the wall turns at a corner, upwards [rad], given as (height, radius); above 0: outwards."""
    return math.atan2(after[1] - here[1], after[0] - here[0]) - math.atan2(here[1] - before[1], here[0] - before[0])


def straight(diameter: float, height: float) -> Profile:
    """The profile of a straight container: diameter and height inside [m]."""
    return Profile(((0.0, diameter / 2), (height, diameter / 2)))


@dataclass(frozen=True)
class Rise:
    """A base that rises towards the axis (a punt): its height there and its diameter [m].

    A "dome" is a cap of a sphere, a "cone" straight from the rim to the axis.

    Examples
    --------
    >>> from thermsim import Container, Profile, Rise
    >>> jar = Container(Profile(((0.0, 0.033), (0.113, 0.033))), rise=Rise(0.006, 0.050))
    >>> round(jar.crown, 4)
    0.006
    """

    height: float
    diameter: float
    form: Literal["dome", "cone"] = "dome"

    def faults(self, path: str) -> Iterator[Fault]:
        """Faults of the rise by itself."""
        yield from number_faults(self.height, f"{path}.height", "container", "base_rise_mm")
        yield from number_faults(self.diameter, f"{path}.diameter", "container", "base_rise_diameter_mm")
        yield from word_faults(self.form, f"{path}.form", ("dome", "cone"))

    def at(self, r: ArrayLike, *, level: float = 0.0) -> Array:
        """Height of the base above its rim [m] at distances from the axis [m].

        ``level`` is the radius [m] within which it is taken as level at its full height, under a probe; outside of
        it the course is drawn together so that the rim stays.
        """
        r, foot = np.asarray(r, dtype=float), self.diameter / 2
        if self.form == "cone":
            away = np.clip((r - level) / (foot - level), 0.0, 1.0)
            return np.asarray(self.height * (1.0 - away))
        # a dome is smooth in r squared, and so it stays
        away = np.clip((r**2 - level**2) / (foot**2 - level**2), 0.0, 1.0)
        return np.asarray(np.sqrt(self._sphere**2 - away * foot**2) - (self._sphere - self.height))

    @property
    def _sphere(self) -> float:
        """Radius of the sphere of which a dome is a cap [m]."""
        return ((self.diameter / 2) ** 2 + self.height**2) / (2 * self.height)

    def beyond(self, profile: Profile) -> tuple[float, float, float] | None:
        """Height above the rim at which the rise comes through a side wall that leans inwards, with both radii [m].

        None where it does not.
        """
        heights = np.linspace(0.0, self.height, 401)[1:-1]
        if self.form == "cone":
            radius = self.diameter / 2 * (1.0 - heights / self.height)
        else:
            radius = np.sqrt(np.maximum(self._sphere**2 - (heights + self._sphere - self.height) ** 2, 0.0))
        wall = profile.radius(heights)
        through = np.flatnonzero(radius > wall * (1.0 + 1e-9))
        if through.size == 0:
            return None
        first = through[0]
        return float(heights[first]), float(radius[first]), float(wall[first])

    @property
    def volume(self) -> float:
        """Volume under the rise [m3], exact: a cap of a sphere, or a cone."""
        foot = self.diameter / 2
        if self.form == "cone":
            return math.pi / 3 * foot**2 * self.height
        return math.pi / 6 * self.height * (3 * foot**2 + self.height**2)


def height_of(volume: float, profile: Profile) -> float:
    """Height [m] above the inside of the base below which the profile holds a volume [m3].

    Raises ``ValueError`` if the profile holds less.
    """
    whole = profile.volume(profile.height)
    if volume > whole * (1 + 1e-12):
        raise ValueError(f"the container holds {1e6 * whole:.6g} ml")
    if volume >= whole:
        return profile.height
    if profile.is_straight:
        return volume / (math.pi * profile.widest**2)
    from scipy.optimize import brentq  # only here: reading a case is to be quick

    return float(brentq(lambda height: profile.volume(height) - volume, 0.0, profile.height, xtol=1e-15, rtol=1e-14))
