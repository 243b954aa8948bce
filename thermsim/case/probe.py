"""The probe: a stack of coaxial cylinders, on the axis or along a radius, its fitting, and the hardware at hand."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from thermsim.case.container import Container
from thermsim.case.keys.tables import EDGES, ENTRIES, MOUNTS
from thermsim.case.rules import ROUNDING, is_number, material_faults, number_faults, range_faults, refuse, word_faults
from thermsim.errors import Fault
from thermsim.physics.materials import Material
from thermsim.text import in_mm

Entry = Literal["lid", "base", "side"]
Mount = Literal["through", "inside"]


@dataclass(frozen=True)
class Segment:
    """One cylinder of the stack: outer diameter and length [m], > 0, and what it is made of.

    A solid rod has ``wall`` None. A tube has a ``wall`` thickness [m] and a ``core`` that fills it. A ``spacer`` is
    one whose length is made up of the spacers at hand.

    Examples
    --------
    >>> from thermsim import Segment, find_material
    >>> Segment(0.003, 0.094, find_material("stainless steel")).radius
    0.0015
    """

    diameter: float
    length: float
    material: Material
    wall: float | None = None
    core: Material | None = None
    spacer: bool = False

    def __post_init__(self) -> None:
        refuse(self.faults("segment"), material_faults(self.material, self.core))

    def faults(self, path: str) -> Iterator[Fault]:
        """Faults of the segment by itself."""
        yield from range_faults(self, path, "probe.segments")
        if (self.wall is None) != (self.core is None):
            lacking, other = ("wall", "core") if self.wall is None else ("core", "wall")
            yield Fault(f"{path}.{lacking}", None, f"must be given beside {other}")
        elif self.wall is not None and is_number(self.wall) and self.wall >= self.diameter / 2:
            rule = f"leaves no room for a core; it must be less than {in_mm(self.diameter / 2)} mm"
            yield Fault(f"{path}.wall", self.wall, rule, "m")

    @property
    def radius(self) -> float:
        """Outer radius [m]."""
        return self.diameter / 2


@dataclass(frozen=True)
class Gap:
    """A layer between the stem and the product that hinders the heat: thickness [m] and what fills it.

    Examples
    --------
    >>> from thermsim import Gap, find_material
    >>> Gap(1e-4, find_material("water")).thickness
    0.0001
    """

    thickness: float
    material: Material

    def __post_init__(self) -> None:
        refuse(range_faults(self, "gap", "probe.gap"), material_faults(self.material))


@dataclass(frozen=True)
class Fitting:
    """A gland, boss or insert in the wall: outer diameter, how far it reaches inside and outside of it [m].

    ``hole`` is the diameter of the hole that is drilled for it [m], None where that is not known; ``thread`` the name
    of its thread or body, for whoever drills it. Neither is computed with.

    Examples
    --------
    >>> from thermsim import Fitting, find_material
    >>> Fitting(0.012, inside=0.004, outside=0.010, material=find_material("stainless steel")).diameter
    0.012
    """

    diameter: float
    inside: float
    outside: float
    material: Material
    hole: float | None = None
    thread: str = ""

    def __post_init__(self) -> None:
        refuse(range_faults(self, "fitting", "probe.fitting"), material_faults(self.material))


@dataclass(frozen=True)
class Probe:
    """A probe or a logger body on the axis, or along a radius where it enters from the side.

    Places along it are heights z, but of one from the side distances from the container's axis towards its entry:
    below 0 beyond the axis.

    Parameters
    ----------
    entry : {"lid", "base", "side"}
        The wall it enters, hangs from or stands on.
    mount : {"through", "inside"}
        ``through``: passes the wall; ``inside``: stands on, or hangs from, the inside of that wall.
    segments : tuple of Segment
        The outer end, or the foot, first; the tip last.
    insertion : float or None
        Outer face of the wall to the tip [m]; None where it is to be recommended. With ``inside`` the stack's own
        length places the tip, and this must be None.
    sensing : float
        Length at the tip over which the sensor averages [m]; 0: the tip's face.
    fitting : Fitting or None
    gap : Gap or None
        Contact resistance round the stem, where it stands in the product.
    film : float or None
        Film coefficient of the parts outside [W/m2K]; None: that of the wall they stick out of.
    initial : float or None
        Temperature at the start [degC]; None: the product's.
    z : float or None
        Height of its axis above the outside of the base [m] where it enters from the side; None: the cold spot's, and
        with the other entries.
    edge : {"", "short", "long"}
        Of a brick the edge that it enters from the side; "": the short one.

    Examples
    --------
    >>> from thermsim import Probe, Segment, find_material
    >>> stem = Segment(0.003, 0.094, find_material("stainless steel"))
    >>> Probe("lid", "through", (stem,), insertion=0.054, sensing=0.002).length
    0.094
    """

    entry: Entry
    mount: Mount
    segments: tuple[Segment, ...]
    insertion: float | None = None
    sensing: float = 0.0
    fitting: Fitting | None = None
    gap: Gap | None = None
    film: float | None = None
    initial: float | None = None
    name: str = "probe"
    z: float | None = None
    edge: str = ""

    def __post_init__(self) -> None:
        refuse(self.faults())

    def faults(self, path: str = "probe") -> Iterator[Fault]:
        """Faults of the probe by itself, wherever it is to be put."""
        yield from word_faults(self.entry, f"{path}.entry", ENTRIES)
        yield from word_faults(self.mount, f"{path}.mount", MOUNTS)
        yield from range_faults(self, path, "probe")
        if not self.segments:
            yield Fault(f"{path}.segments", (), "holds no segment")
        for place, segment in enumerate(self.segments):
            yield from segment.faults(f"{path}.segments[{place}]")
        for name, part in (("fitting", self.fitting), ("gap", self.gap)):
            if part is not None:
                yield from range_faults(part, f"{path}.{name}", f"probe.{name}")
        if self.z is not None and self.entry != "side":
            yield Fault(f"{path}.z", self.z, 'has a meaning only with entry = "side"; leave it out', "m")
        if self.edge:
            yield from word_faults(self.edge, f"{path}.edge", EDGES)
            if self.entry != "side":
                yield Fault(f"{path}.edge", self.edge, 'has a meaning only with entry = "side"; leave it out')
        yield from self._meaning_faults(path)

    def _meaning_faults(self, path: str) -> Iterator[Fault]:
        """Faults of keys without meaning for the way in which the probe is mounted."""
        spacers = [f"{path}.segments[{k}].spacer" for k, segment in enumerate(self.segments) if segment.spacer]
        if self.mount == "through":
            for spacer in spacers:
                yield Fault(spacer, True, 'has a meaning only with mount = "inside"; leave it out')
            return
        for spacer in spacers[1:]:
            yield Fault(spacer, True, "is said of an earlier segment already; only one can be made up of spacers")
        if self.insertion is not None:
            rule = 'has no meaning with mount = "inside": the segments\' lengths place the tip; leave it out'
            yield Fault(f"{path}.insertion", self.insertion, rule, "m")
        if self.film is not None and (self.fitting is None or self.fitting.outside == 0.0):
            rule = 'has no meaning with mount = "inside": nothing is outside; leave it out'
            yield Fault(f"{path}.film", self.film, rule, "W/m2K")

    @property
    def wall(self) -> str:
        """The wall that is entered, in words."""
        if self.entry != "side":
            return self.entry
        return f"{self.edge} edge" if self.edge else "side wall"

    @property
    def sticks_out(self) -> bool:
        """Tell whether a part of it or of its fitting is outside the container."""
        return self.mount == "through" or (self.fitting is not None and self.fitting.outside > 0.0)

    @property
    def materials(self) -> list[Material]:
        """The materials of its parts, one by one."""
        parts = [material for segment in self.segments for material in (segment.material, segment.core)]
        return [one for one in (*parts, *(part.material for part in (self.fitting, self.gap) if part)) if one]

    @property
    def length(self) -> float:
        """Length of the whole stack [m]."""
        return sum(segment.length for segment in self.segments)

    @property
    def tip_radius(self) -> float:
        """Radius of the last segment [m]."""
        return self.segments[-1].radius

    @property
    def fixed_length(self) -> float:
        """Length of the stack without its spacer [m]."""
        return sum(segment.length for segment in self.segments if not segment.spacer)

    @property
    def widest(self) -> float:
        """Largest diameter of its segments, with the gap round them, and its fitting [m]."""
        gap = 2 * self.gap.thickness if self.gap else 0.0
        fitting = self.fitting.diameter if self.fitting else 0.0
        return max(fitting, *(segment.diameter + gap for segment in self.segments))

    def fitted(self, container: Container) -> tuple[float, float]:
        """Places along the probe of the fitting's two ends [m], the lower first; ``ValueError`` if there is none."""
        if self.fitting is None:
            raise ValueError("the probe has no fitting")
        if self.entry == "side":
            outer = self.side_face(container)
            inner = outer - self.wall_thickness(container)
            return inner - self.fitting.inside, outer + self.fitting.outside
        if self.entry == "lid":
            return container.ceiling - self.fitting.inside, container.outer_height + self.fitting.outside
        return container.crown - self.fitting.outside, container.crown + container.floor + self.fitting.inside

    def wall_thickness(self, container: Container) -> float:
        """Thickness of the wall that is entered [m]; 0 where there is none."""
        wall = container.walls.get(self.entry)
        return wall.thickness if wall else 0.0

    def side_face(self, container: Container) -> float:
        """From the container's axis to the outer face of the side wall that is entered from the side [m]."""
        if container.brick is None:
            return container.outer_radius
        return container.halves(self.edge)[0] + self.wall_thickness(container)

    def depth(self, container: Container) -> float | None:
        """Outer face of the entered wall to the tip [m]; None where it is still to be recommended."""
        if self.mount == "inside":
            return self.length + self.wall_thickness(container)
        return self.insertion

    def at_height(self, z: float) -> Probe:
        """The same probe from the side with its axis at another height [m]."""
        return dataclasses.replace(self, z=z)

    def of_length(self, length: float) -> Probe:
        """The same probe as long as that [m]: its outer end is made longer, or cut off."""
        kept: list[Segment] = []
        left = length
        for segment in reversed(self.segments):
            if left > 0.0:
                kept.insert(0, dataclasses.replace(segment, length=min(segment.length, left)))
                left -= segment.length
        if left > 0.0:
            kept[0] = dataclasses.replace(kept[0], length=kept[0].length + left)
        return dataclasses.replace(self, segments=tuple(kept))

    def at_depth(self, depth: float, container: Container) -> Probe:
        """The same probe with its tip at another depth below the outer face of the entered wall [m].

        Through the wall it is pushed in or drawn out; inside, its spacer gets another length (none at all where the
        rest of the stack just fits).

        Raises
        ------
        ValueError
            If an inside probe has no spacer to change, or the rest of its stack is too long for the depth.
        """
        if self.mount == "through":
            return dataclasses.replace(self, insertion=depth)
        deeper = depth - (self.length + self.wall_thickness(container))
        if abs(deeper) < 1e-9:
            return self
        spacers = [segment for segment in self.segments if segment.spacer]
        if len(spacers) != 1:
            raise ValueError("only a stack with one spacer can be set to another depth")
        height = spacers[0].length + deeper
        if height < -1e-9:
            raise ValueError("the stack is too long for this depth even without its spacer")
        segments = tuple(
            dataclasses.replace(segment, length=height) if segment.spacer else segment
            for segment in self.segments
            if not (segment.spacer and height <= 1e-9)
        )
        return dataclasses.replace(self, segments=segments)

    def tip(self, container: Container) -> float | None:
        """Place along the probe of the tip's face [m]; None where it is still to be recommended."""
        depth = self.depth(container)
        if depth is None:
            return None
        if self.entry == "side":
            return self.side_face(container) - depth
        return container.outer_height - depth if self.entry == "lid" else container.crown + depth

    def sensed(self, container: Container) -> tuple[float, float]:
        """Lower and upper place of the length over which the sensor averages [m]; alike for the tip's face.

        Raises
        ------
        ValueError
            If the insertion is not known yet.
        """
        tip = self.tip(container)
        if tip is None:
            raise ValueError("the probe's insertion is not known yet")
        return (tip - self.sensing, tip) if self.entry == "base" else (tip, tip + self.sensing)

    def placed(self, container: Container) -> Iterator[tuple[Segment, float, float]]:
        """Each segment with the places of its lower and upper end [m], the tip's segment first."""
        low, high = self.sensed(container)
        away, end = (-1.0, high) if self.entry == "base" else (1.0, low)
        for segment in reversed(self.segments):
            start, end = end, end + away * segment.length
            yield segment, min(start, end), max(start, end)


@dataclass(frozen=True)
class Stock:
    """Hardware at hand: what insertions can be had.

    Parameters
    ----------
    lengths : tuple of float
        Lengths of the probes at hand, from the outer end to the tip [m].
    travel : tuple of (float, float) or None
        How far a probe may stick out of the wall's outer face, least and most [m]: an adjustable fitting; with both
        alike, or None for no fitting that can be set.
    spacers : tuple of float
        Heights of the spacers at hand [m], each any number of times.
    most_spacers : int
        How many may be stacked.

    Examples
    --------
    >>> from thermsim import Stock
    >>> Stock(spacers=(0.005, 0.010), most_spacers=2).spacers
    (0.005, 0.01)
    """

    lengths: tuple[float, ...] = ()
    travel: tuple[float, float] | None = None
    spacers: tuple[float, ...] = ()
    most_spacers: int = 3

    def __post_init__(self) -> None:
        refuse(self.faults())

    def stick_out(self, probe: Probe, length: float) -> tuple[float, float]:
        """Least and most that a probe of a length may stick out [m]: no less than what its fitting holds outside."""
        least, most = self.travel or (0.0, length)
        return max(least, probe.fitting.outside if probe.fitting else 0.0), min(most, length)

    def misfits(self, probe: Probe, path: str) -> Iterator[Fault]:
        """Faults where a probe's fitting holds more outside than the hardware lets stick out."""
        if self.travel is None or probe.mount != "through" or probe.fitting is None:
            return
        outside, most = probe.fitting.outside, self.travel[1]
        if outside > most + ROUNDING:
            rule = f"does not fit under the stick-out: [stock] lets the probe stick out {in_mm(most)} mm at most; "
            rule += "give a lower fitting or more stick-out"
            yield Fault(f"{path}.fitting.outside", outside, rule, "m")

    def faults(self, path: str = "stock") -> Iterator[Fault]:
        """Faults of the hardware at hand by itself."""
        for name, key, values in (
            ("lengths", "probe_lengths_mm", self.lengths),
            ("travel", "stick_out_mm", self.travel or ()),
            ("spacers", "spacers_mm", self.spacers),
        ):
            for place, value in enumerate(values):
                yield from number_faults(value, f"{path}.{name}[{place}]", "stock", key)
        yield from range_faults(self, path, "stock")
        if self.travel is not None and self.travel[0] > self.travel[1]:
            rule = ": the first is the least and must not be more than the second, the most"
            yield Fault(f"{path}.travel", self.travel, rule)
