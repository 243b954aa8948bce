"""The case: everything the user said, checked, in SI units and degC."""

from __future__ import annotations

import copy
import dataclasses
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field

from thermsim.case.container import Container
from thermsim.case.keys.tables import FEWEST_OUTPUTS, MOST_OUTPUTS
from thermsim.case.mounting import at_height, mounting_faults, side_faults
from thermsim.case.outline import lies_outside, outer_radius_at, underside
from thermsim.case.probe import Probe, Stock
from thermsim.case.process import Process
from thermsim.case.product import Headspace, Product, fill_faults
from thermsim.case.rules import (
    ROUNDING,
    kept_limit,
    material_faults,
    name_faults,
    number_faults,
    range_faults,
    refuse,
)
from thermsim.case.study import Study
from thermsim.errors import WHOLE, CaseError, Fault
from thermsim.physics.convection import constant_viscosity, find_thickness
from thermsim.physics.materials import Material
from thermsim.quantities import SHOWN
from thermsim.text import in_mm, printed
from thermsim.values import Sealed


@dataclass(frozen=True)
class Lethality:
    """Credit for heat: F = integral of 10^((T - reference)/z) dt.

    ``reference`` [degC], ``z`` [K], ``target`` [s] or None, ``zone`` the cold zone's margin above the least
    lethality (a fraction), ``reach`` temperatures [degC] whose first arrival at the cold spot is reported.

    Examples
    --------
    >>> from thermsim import Lethality
    >>> Lethality(121.1, 10.0, target=360.0).function
    'F0(121.1 degC, z 10 K)'
    """

    reference: float
    z: float
    target: float | None = None
    zone: float = 0.1
    reach: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        refuse(range_faults(self, "lethality", "lethality"))

    @property
    def symbol(self) -> str:
        """Name that the trade has for it (common practice, no source).

        "F0" with the reference of 121.1 degC (250 degF) and z = 10 K (18 degF), "P" below 100 degC, else "F".
        """
        if abs(self.reference - 121.11) < 0.02 and abs(self.z - 10.0) < 0.01:
            return "F0"
        return "P" if self.reference < 100.0 else "F"

    @property
    def function(self) -> str:
        """The symbol with reference and z, which it means nothing without: "F0(121.1 degC, z 10 K)"."""
        return f"{self.symbol}({self.reference_text} degC, z {self.z_text} K)"

    @property
    def z_text(self) -> str:
        """The z value [K] in digits: so many that what was given as 16 degF is told as that."""
        return f"{round(self.z, _digits()):g}"

    @property
    def reference_text(self) -> str:
        """The reference temperature [degC] in digits, likewise."""
        return f"{round(self.reference, _digits()):g}"


def _digits() -> int:
    return 2 if SHOWN.get() == "metric" else 4


@dataclass(frozen=True)
class Point:
    """A further place to follow: name, r and z [m].

    Examples
    --------
    >>> from thermsim import Point
    >>> Point("mid-height", r=0.0, z=0.059)
    Point(name='mid-height', r=0.0, z=0.059)
    """

    name: str
    r: float
    z: float

    def __post_init__(self) -> None:
        refuse(range_faults(self, "point", "points"))


@dataclass(frozen=True)
class Accuracy:
    """Numerical uncertainty that the grid and the time steps must reach.

    ``temperature`` [K], ``lethality`` (a fraction), ``place`` [m].

    Examples
    --------
    >>> from thermsim import Accuracy
    >>> Accuracy(temperature=0.5, lethality=0.05)  # rough, for a first look
    Accuracy(temperature=0.5, lethality=0.05, place=0.0005)
    """

    temperature: float = 0.05
    lethality: float = 0.01
    place: float = 0.5e-3

    def __post_init__(self) -> None:
        refuse(range_faults(self, "accuracy", "accuracy"))


@dataclass(frozen=True, eq=False, repr=False)
class Case(Sealed):
    """One container, its product and its process, as the user described them.

    ``fill_height`` is the product's depth above the inside of the base [m]; ``output_every`` the step of the times at
    which temperatures are kept [s], None for a round one; ``probes`` are further ones to compare with ``probe``;
    ``text`` is the case file's own text, ``file`` its name ("" where there is none) and ``attachments`` the files it
    names (file name to text), so that a result can be reproduced from itself; ``notes`` are sentences the reader
    wants shown to the user (assumptions made while reading); ``study`` is what is to be varied, if anything;
    ``member`` its name in a family of cases, "" where there is none.

    Raises
    ------
    CaseError
        If it cannot be computed: a product deeper than the container, sizes or properties that are not positive,
        stages that do not follow one another, ... with every such fault.

    Examples
    --------
    >>> import thermsim as ts
    >>> can = ts.Container.straight(0.073, 0.110)
    >>> stew = ts.Product(ts.Material("stew", 0.55, 1050.0, 3600.0), initial=60.0)
    >>> process = ts.Process.of(30.0, [("come-up", 600.0, 121.1), ("hold", 4500.0)], film=2000.0)
    >>> case = ts.Case("Can", can, stew, 0.110, ts.Headspace("insulated"), process, ts.Lethality(121.1, 10.0))
    >>> round(1e6 * case.product_volume)
    460
    >>> round(1e6 * case.replace(fill_height=0.100).product_volume)
    419
    """

    title: str
    container: Container
    product: Product
    fill_height: float
    headspace: Headspace
    process: Process
    lethality: Lethality
    points: tuple[Point, ...] = ()
    accuracy: Accuracy = Accuracy()
    probe: Probe | None = None
    stock: Stock | None = None
    probes: tuple[Probe, ...] = ()
    output_every: float | None = None
    text: str = ""
    file: str = ""
    attachments: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    study: Study | None = None
    member: str = ""

    def __post_init__(self) -> None:
        self._refuse()

    def __repr__(self) -> str:
        body, process = self.container, self.process
        inside = f"{in_mm(2 * body.profile.widest)} mm wide and {in_mm(body.inner_height)} mm high inside"
        probe = f", {printed(self.probe.name)} through or on the {self.probe.wall}" if self.probe else ""
        return (
            f"<Case {self.title!r}: {inside}, filled {in_mm(self.fill_height)} mm with {self.product.material.name}; "
            f"{len(process.stages)} stages, {process.end / 60:g} min; {self.lethality.function}{probe}>"
        )

    @property
    def surface(self) -> float:
        """Height z of the product's surface [m]."""
        return self.container.floor + self.fill_height

    @property
    def bottom(self) -> float:
        """Height z of the product's lower end at the axis [m]."""
        return self.container.floor + self.container.crown

    @property
    def product_volume(self) -> float:
        """Volume of the product [m3], exact; what a probe takes up is not taken off."""
        return self.container.volume_below(self.fill_height)

    @property
    def headspace_volume(self) -> float:
        """Volume of the room above the product [m3], exact."""
        return self.container.volume - self.product_volume

    @property
    def headspace_height(self) -> float:
        """Distance from the product's surface to the inside of the lid [m]."""
        return self.container.inner_height - self.fill_height

    @property
    def met(self) -> tuple[float, float]:
        """Lowest and highest temperature of all that is there at the start, and of the medium [degC]."""
        return met(self.container, self.product, self.process, (self.probe, *self.probes))

    def with_thickness(self, thickness: str | float) -> Case:
        """The case with a verdict on whether its product flows while it heats, which its results then speak of.

        ``thickness`` is in words such as "gel/solid" (see ``thermsim keys product``), or a viscosity [Pa s].

        Raises
        ------
        InputError
            If there is no such word; the message offers the nearest, or all.
        """
        viscosity = find_thickness(thickness) if isinstance(thickness, str) else constant_viscosity(thickness)
        flow = self.product.flow_in(self.container, self.fill_height, self.process.medium_range, viscosity)
        return self.replace(product=dataclasses.replace(self.product, flow=flow))

    def at_height(self, probe: Probe, z: float) -> Probe:
        """A probe from the side whose height is left open, at that height [m] or the nearest possible."""
        return at_height(probe, z, self.container, self.surface)

    def side_faults(self, probe: Probe) -> list[str]:
        """Reasons why a probe from the side cannot be computed in this case; none for other probes."""
        if probe.entry != "side":
            return []
        named = f"probe {printed(probe.name)}"
        return [str(fault) for fault in side_faults(probe, named, self.container, self.surface)]

    def replace(self, **changes: object) -> Case:
        """Return the case with some of its parts replaced; raises ``CaseError`` like the case itself.

        What did not change is not checked again.
        """
        unknown = changes.keys() - vars(self).keys()
        if unknown:
            raise TypeError(f"a case has no {' and no '.join(sorted(unknown))}")
        made = copy.copy(self)
        vars(made).update(changes)
        made._refuse({name for name, value in changes.items() if value is not getattr(self, name)})
        return made

    def _refuse(self, changed: Set[str] | None = None) -> None:
        """Raise every fault of the parts that changed, and of how they go with the others; None: of all parts."""
        faults = list(self._faults(changed)) or list(self._known_faults())
        if faults:
            raise CaseError([f"case: {fault}" for fault in faults], faults)

    def _faults(self, changed: Set[str] | None) -> Iterator[Fault]:
        def touched(*parts: str) -> bool:
            return changed is None or not changed.isdisjoint(parts)

        shape = [*self.container.faults()] if touched("container") else []
        if not shape and touched("container", "fill_height"):
            shape = [*fill_faults(self.fill_height, self.container)]
        yield from shape
        if not shape:  # the rest of the geometry is measured by it
            if touched("container", "fill_height", "headspace"):
                yield from self.headspace.faults(left=self.headspace_height)
            if touched("container", "fill_height", "headspace", "points"):
                yield from points_faults(self.points, self.container, self.headspace, self.surface)
            packed = touched("container", "fill_height", "product")
            for path, probe in self._every_probe().items():
                if packed or touched(path.partition("[")[0]):
                    found = [*probe.faults(path)]
                    yield from found or mounting_faults(probe, path, self.container, self.fill_height)
        if touched("product"):
            yield from self.product.faults()
        if touched("process"):
            yield from self.process.faults()
        for part in ("lethality", "accuracy"):
            if touched(part):
                yield from range_faults(getattr(self, part), part, part)
        if touched("stock") and self.stock is not None:
            yield from self.stock.faults()
        if touched("stock", "probe", "probes") and self.stock is not None:
            for path, probe in self._every_probe().items():
                yield from self.stock.misfits(probe, path)
        if touched("process", "output_every"):
            yield from output_faults(self.output_every, self.process)
        if touched("container", "product", "headspace", "process", "probe", "probes"):
            yield from self._material_faults()

    def _every_probe(self) -> Mapping[str, Probe]:
        """The probe and the further ones, by their paths."""
        first = {} if self.probe is None else {"probe": self.probe}
        return first | {f"probes[{place}]": probe for place, probe in enumerate(self.probes)}

    def _material_faults(self) -> Iterator[Fault]:
        """Properties that no material has; what a gas conducts like is made by the program."""
        made = self.headspace.gap is not None
        yield from material_faults(
            *(one for one in self._materials() if not made or one is not self.headspace.material)
        )

    def _materials(self) -> Iterable[Material]:
        """The materials of the case, in order of appearance, each once."""
        walls = self.container.walls.values()
        used = [self.product.material, self.headspace.material, *(wall.material for wall in walls)]
        for probe in self._every_probe().values():
            used += probe.materials
        return list({id(material): material for material in used if material is not None}.values())

    def _known_faults(self) -> Iterator[Fault]:
        """Materials whose properties are not known at the lowest or the highest temperature met."""
        low, high = self.met
        for material in self._materials():
            if material.tabulated is None:
                continue
            first, last = material.tabulated.temperature[0], material.tabulated.temperature[-1]
            if low < first - ROUNDING or high > last + ROUNDING:
                rule = (
                    f"its properties are known from {first:g} to {last:g} degC, the case meets {low:g} to {high:g} "
                    "degC"
                )
                yield Fault(f"material {printed(material.name)}", WHOLE, rule)


def met(
    container: Container, product: Product, process: Process, probes: Iterable[Probe | None]
) -> tuple[float, float]:
    """Lowest and highest temperature of product, walls, probes and medium [degC]; NaN where one is not known."""
    if not process.stages:
        return math.nan, math.nan
    low, high = process.medium_range
    known = (product.initial, container.initial, *(probe.initial for probe in probes if probe))
    starts = [start for start in known if start is not None]
    return min(low, *starts), max(high, *starts)


def points_faults(
    points: Sequence[Point], container: Container, headspace: Headspace, surface: float
) -> Iterator[Fault]:
    """Faults of points where no temperature is computed; ``surface`` is the height z of the product's surface [m]."""
    yield from name_faults([point.name for point in points], [f"points[{k}]" for k in range(len(points))], "point")
    outer = (container.outer_radius, container.outer_height) if points else (0.0, 0.0)
    for place, point in enumerate(points):
        path = f"points[{place}]"
        found = [*range_faults(point, path, "points")]
        yield from found or _place_faults(point, path, container, outer)
        inside = not found and surface < point.z < container.ceiling and point.r < container.radius_at(point.z)
        if headspace.model == "insulated" and inside:
            rule = "lies in the insulated headspace, where no temperature is computed; the product ends at z = "
            yield Fault(f"{path}.z", point.z, f"{rule}{in_mm(surface)} mm", "m")


def _place_faults(point: Point, path: str, container: Container, outer: tuple[float, float]) -> Iterator[Fault]:
    """Faults of a point outside a container, whose greatest radius and whose height [m] are given."""
    radius, height = outer
    if point.r > radius * (1 + ROUNDING):
        widest = "" if container.is_straight else " at its widest"
        rule = f"lies outside the container, whose outer radius is {in_mm(radius)} mm{widest}"
        yield Fault(f"{path}.r", point.r, rule, "m")
    elif point.z > height * (1 + ROUNDING):
        yield Fault(f"{path}.z", point.z, f"lies above the container, which is {in_mm(height)} mm high", "m")
    elif lies_outside(container, point.r, point.z):
        there = outer_radius_at(container, point.z)
        where = f"outside the container, whose outer radius is {in_mm(there)} mm at that height"
        if point.r <= there * (1 + ROUNDING):
            where = f"under the base, whose outside rises to {in_mm(underside(container, point.r))} mm there"
        yield Fault(path, WHOLE, f"r = {in_mm(point.r)} mm, z = {in_mm(point.z)} mm lies {where}")


def output_faults(every: float | None, process: Process) -> Iterator[Fault]:
    """Faults of a step of the times at which temperatures are kept [s]: too many of them, or too few."""
    if every is None:
        return
    found = [*number_faults(every, "output_every", "output", "every_min")]
    yield from found
    if found or not process.stages:
        return
    minutes = process.end / 60
    rule = ""
    if process.end > MOST_OUTPUTS * every * (1 + ROUNDING):
        limit = f"at least {kept_limit(minutes / MOST_OUTPUTS, 3, up=True):g}"
        rule = f"asks for more than {MOST_OUTPUTS} times; in a process of {minutes:g} min it must be {limit} min"
    elif process.end < FEWEST_OUTPUTS * every * (1 - ROUNDING):
        limit = f"at most {kept_limit(minutes / FEWEST_OUTPUTS, 3, up=False):g}"
        rule = f"asks for fewer than {FEWEST_OUTPUTS} times; in a process of {minutes:g} min it must be {limit} min"
    if rule:
        yield Fault("output_every", every, rule, "s")
