"""The case: everything the user said, checked, in SI units and degC."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from thermsim.case.consistency import (
    _ROUNDING,
    _SAME,
    _course,
    _films,
    _number,
    _profile,
    _properties,
    _unless_number,
    _unless_positive,
)
from thermsim.case.container import Container
from thermsim.case.mounting import CLEAR_OF_RISE
from thermsim.case.outline import lies_outside
from thermsim.case.probe import Probe, Stock
from thermsim.case.process import Process
from thermsim.case.product import Headspace, Product
from thermsim.case.side_mounting import at_height, side_faults
from thermsim.case.study import Study
from thermsim.errors import CaseError
from thermsim.physics.materials import Material
from thermsim.text import in_mm, printed


@dataclass(frozen=True)
class Lethality:
    """How heat is credited: F = integral of 10^((T - reference)/z) dt.

    ``reference`` [degC], ``z`` [K], ``target`` [s] or None, ``zone`` the cold zone's margin above the least
    lethality (a fraction), ``reach`` temperatures [degC] whose first arrival at the cold spot is reported.
    """

    reference: float
    z: float
    target: float | None = None
    zone: float = 0.1
    reach: tuple[float, ...] = ()


@dataclass(frozen=True)
class Point:
    """A further place to follow: name, r and z [m]."""

    name: str
    r: float
    z: float


@dataclass(frozen=True)
class Accuracy:
    """Numerical uncertainty that the grid and the time steps must reach.

    ``temperature`` [K], ``lethality`` (a fraction), ``place`` [m].
    """

    temperature: float = 0.05
    lethality: float = 0.01
    place: float = 0.5e-3


@dataclass(frozen=True)
class Case:
    """One container, its product and its process, as the user described them.

    ``fill_height`` is the product's depth above the inside of the base [m]; ``output_every`` the step of the times at
    which temperatures are kept [s], None for a round one; ``probes`` are further ones to compare with ``probe``;
    ``text`` is the case file's own text, ``file`` its name ("" where there is none) and ``attachments`` the files it
    names (file name to text), so that a result can be reproduced from itself; ``notes`` are sentences the reader
    wants shown to the user (assumptions made while reading); ``study`` is what is to be varied, if anything.

    Raises
    ------
    CaseError
        If it cannot be computed: a product deeper than the container, sizes or properties that are not positive,
        stages that do not follow one another, ... with every such fault.
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

    def __post_init__(self) -> None:
        faults = inconsistencies(self)
        if faults:
            raise CaseError(faults)

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
        low, high = self.process.medium_range
        starts = (self.product.initial, self.container.initial, *(p.initial for p in (self.probe, *self.probes) if p))
        known = [start for start in starts if start is not None]
        return min(low, *known), max(high, *known)

    def at_height(self, probe: Probe, z: float) -> Probe:
        """A probe from the side whose height is left open, at that height [m] or the nearest possible."""
        return at_height(probe, z, self.container, self.surface)

    def side_faults(self, probe: Probe) -> list[str]:
        """Where a probe from the side cannot be computed in this case; none for other probes."""
        if probe.entry != "side":
            return []
        return list(side_faults(probe, self.container, self.product.material, self.surface))

    def replace(self, **changes: object) -> Case:
        """Return the case with some of its parts replaced; raises ``CaseError`` like the case itself."""
        return dataclasses.replace(self, **changes)  # type: ignore[arg-type]


def inconsistencies(case: Case) -> list[str]:
    """Every fault for which a case cannot be computed, one line each; none if it can be."""
    found = list(_container(case))
    if not found:  # the rest of the geometry is measured by the container's sizes
        found += [*_fill(case), *_points(case), *_probes(case)]
    found += [*_materials(case), *_process(case), *_credit(case), *_numerics(case)]
    if not found:
        found += _met(case)
    return [f"case: {fault}" for fault in found]


def _container(case: Case) -> Iterator[str]:
    container = case.container
    yield from _profile(container)
    for name, wall in (("side", container.side), ("base", container.base), ("lid", container.lid)):
        if wall is not None:
            for thickness in (wall.thickness, *wall.course):
                yield from _unless_positive(f"container.{name}.thickness", thickness, "m")
    if container.side and container.side.course and len(container.side.course) != len(container.profile.corners):
        yield (
            f"container.side.course has {len(container.side.course)} thicknesses, the profile "
            f"{len(container.profile.corners)} corners: it must have one for each"
        )


def _fill(case: Case) -> Iterator[str]:
    filled, height = case.fill_height, case.container.inner_height
    if not (_number(filled) and 0 < filled <= height * (1 + _ROUNDING)):
        yield (
            f"fill_height = {printed(filled)} must be above 0 and at most the container's inner height, "
            f"{height:.6g} m"
        )
        return
    if filled <= case.container.crown:
        yield f"fill_height = {filled:.6g} m does not cover the base, which rises to {case.container.crown:.6g} m"
        return
    model, material = case.headspace.model, case.headspace.material
    if model not in ("fixed", "insulated", "air", "humid"):
        yield f'headspace.model = {printed(model)} must be "fixed", "insulated", "air" or "humid"'
    elif model in ("air", "humid"):
        yield from _gas(case)
    elif model == "fixed" and material is None and height - filled > _SAME:
        yield f'headspace "fixed" needs a material: {in_mm(height - filled)} mm are left above the product'
    elif model == "insulated" and material is not None:
        yield f'headspace "insulated" takes no material, but names {printed(material.name)}; "fixed" takes one'


def _gas(case: Case) -> Iterator[str]:
    """Whether a headspace of gas was made for the room that there is."""
    headspace = case.headspace
    if headspace.gap is None or headspace.material is None:
        yield f'headspace "{headspace.model}" needs its gap and the material made from it: see gas_headspace'
    elif abs(headspace.gap.thickness - case.headspace_height) > _SAME:
        yield (
            f"headspace.gap is {in_mm(headspace.gap.thickness)} mm high, but {in_mm(case.headspace_height)} mm are "
            "left above the product: make it anew by gas_headspace"
        )


def _probes(case: Case) -> Iterator[str]:
    """What the solver cannot place: the reader says more of a file's probes, and says it better."""
    container = case.container
    for probe in (*((case.probe,) if case.probe else ()), *case.probes):
        named = f"probe {printed(probe.name)}"
        if not probe.segments:
            yield f"{named} has no segments"
            continue
        for segment in probe.segments:
            yield from _unless_positive(f"{named}: diameter", segment.diameter, "m")
            yield from _unless_positive(f"{named}: length", segment.length, "m")
        if not 0 <= probe.sensing <= probe.segments[-1].length * (1 + _ROUNDING):
            yield f"{named}: sensing = {printed(probe.sensing)} must be from 0 to the last segment's length, m"
        if probe.entry == "side":
            yield from side_faults(probe, container, case.product.material, case.surface)
            continue
        if probe.z is not None:
            yield f'{named}: z has a meaning only with entry "side"; leave it None'
        narrowest = 2 * container.profile.narrowest
        if probe.widest >= narrowest:
            yield (
                f"{named} is {in_mm(probe.widest)} mm wide, the container inside {in_mm(narrowest)} mm at its "
                "narrowest"
            )
        tip = probe.tip(container)
        low, high = case.bottom, case.surface
        if container.rise is not None and probe.entry == "lid":
            low += CLEAR_OF_RISE
        elif container.rise is not None and probe.widest >= container.rise.diameter:
            wide = in_mm(container.rise.diameter)
            yield f"{named} is {in_mm(probe.widest)} mm wide, the rise of the base that it stands on {wide} mm"
        if tip is not None and not low - _ROUNDING <= tip <= high + _ROUNDING:
            yield f"{named}: its tip, at z = {in_mm(tip)} mm, is not in the product, {in_mm(low)} to {in_mm(high)} mm"


def _points(case: Case) -> Iterator[str]:
    radius, height = case.container.outer_radius, case.container.outer_height
    for place, point in enumerate(case.points):
        named = f"points[{place}] {printed(point.name)}"
        if not (_number(point.r) and _number(point.z)):
            yield f"{named}: r = {printed(point.r)}, z = {printed(point.z)} must be finite numbers, m"
        elif not (0 <= point.r <= radius * (1 + _ROUNDING) and 0 <= point.z <= height * (1 + _ROUNDING)):
            yield (
                f"{named}: r = {point.r:g} m, z = {point.z:g} m lies outside the container, whose outer radius is "
                f"{radius:.6g} m and whose height is {height:.6g} m"
            )
        elif lies_outside(case.container, point.r, point.z):
            yield f"{named}: r = {point.r:g} m, z = {point.z:g} m lies beside the container, or under its base"


def _materials(case: Case) -> Iterator[str]:
    for material in _used(case):
        yield from _properties(material)


def _used(case: Case) -> Iterable[Material]:
    """The materials of a case, in order of appearance, each once."""
    walls = (case.container.side, case.container.base, case.container.lid)
    used = [case.product.material, case.headspace.material, *(wall.material for wall in walls if wall)]
    for probe in (case.probe, *case.probes):
        if probe:
            used += [material for part in probe.segments for material in (part.material, part.core)]
            used += [part.material for part in (probe.fitting, probe.gap) if part]
    return dict.fromkeys(material for material in used if material is not None)


def _met(case: Case) -> Iterator[str]:
    """Materials whose properties are not known at temperatures that the case meets."""
    starts = (
        case.product.initial,
        case.container.initial,
        *(probe.initial for probe in (case.probe, *case.probes) if probe),
    )
    met = [start for start in starts if start is not None] + [
        float(value) for stage in case.process.stages for value in (stage.medium.min(), stage.medium.max())
    ]
    low, high = min(met), max(met)
    for material in _used(case):
        if material.courses is None:
            continue
        first, last = material.courses.temperature[0], material.courses.temperature[-1]
        if low < first - _ROUNDING or high > last + _ROUNDING:
            yield (
                f"material {printed(material.name)}: its properties are known from {first:g} to {last:g} degC, the "
                f"case meets {low:g} to {high:g} degC"
            )


def _process(case: Case) -> Iterator[str]:
    stages = case.process.stages
    if not stages:
        yield "process.stages is empty; at least one is needed"
    end = 0.0
    for place, stage in enumerate(stages):
        named = f"process.stages[{place}] {printed(stage.name)}"
        fault = _course(stage)
        if fault:
            yield f"{named}: {fault}"
            return  # nothing can be said about the stages after it
        if abs(stage.start - end) > _ROUNDING * max(1.0, abs(end)):
            before = "the stage before it ends at" if place else "the process begins at"
            yield f"{named}: begins at {stage.start:.9g} s, but {before} {end:.9g} s"
        end = stage.end
        yield from _films(named, stage)


def _credit(case: Case) -> Iterator[str]:
    yield from _unless_number("product.initial", case.product.initial, "degC")
    if case.container.initial is not None:
        yield from _unless_number("container.initial", case.container.initial, "degC")
    yield from _unless_number("lethality.reference", case.lethality.reference, "degC")
    yield from _unless_positive("lethality.z", case.lethality.z, "K")
    if case.lethality.target is not None:
        yield from _unless_positive("lethality.target", case.lethality.target, "s")
    yield from _unless_positive("lethality.zone", case.lethality.zone, "")


def _numerics(case: Case) -> Iterator[str]:
    yield from _unless_positive("accuracy.temperature", case.accuracy.temperature, "K")
    yield from _unless_positive("accuracy.lethality", case.accuracy.lethality, "")
    yield from _unless_positive("accuracy.place", case.accuracy.place, "m")
    if case.output_every is not None:
        yield from _unless_positive("output_every", case.output_every, "s")
