"""Whether a case can be computed, however it was made: what the reader refuses, Python could still build."""

from __future__ import annotations

import math
import numbers
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from thermsim.case.checks import in_mm, printed
from thermsim.case.container import Container
from thermsim.case.materials import Courses, Material
from thermsim.case.mounting import CLEAR_OF_RISE
from thermsim.case.outline import lies_outside, rise_beyond_wall
from thermsim.case.process import Stage
from thermsim.case.profile import Rise
from thermsim.case.side_mounting import side_faults

if TYPE_CHECKING:
    from thermsim.case.case import Case

_ROUNDING = 1e-9  # as a part of a length or a time: what arithmetic may leave over
_SAME = 1e-9  # m; a headspace below it is none


def inconsistencies(case: Case) -> list[str]:
    """Every fault for which a case cannot be computed, one line each; none if it can be."""
    found = list(_container(case))
    if not found:  # the rest of the geometry is measured by the container's sizes
        found += [*_fill(case), *_points(case), *_probes(case)]
    found += [*_materials(case), *_process(case), *_credit(case), *_numerics(case)]
    if not found:
        found += _met(case)
    return [f"case: {fault}" for fault in found]


def _number(value: object) -> bool:
    return isinstance(value, numbers.Real) and not isinstance(value, bool) and math.isfinite(value)


def _unless_positive(name: str, value: object, unit: str) -> Iterator[str]:
    if not (_number(value) and value > 0):  # type: ignore[operator]
        yield f"{name} = {printed(value)} must be a finite number above 0 {unit}".rstrip()


def _unless_number(name: str, value: object, unit: str) -> Iterator[str]:
    if not _number(value):
        yield f"{name} = {printed(value)} must be a finite number, {unit}"


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


def _profile(container: Container) -> Iterator[str]:
    """What is wrong with the shape of the inside; the first fault alone, since others follow from it."""
    corners, rise = container.profile.corners, container.rise
    if len(corners) < 2:
        yield "container.profile needs two corners or more"
        return
    for k, corner in enumerate(corners):
        named = f"container.profile corner {k + 1}"
        if len(corner) != 2 or not all(_number(value) for value in corner):
            yield f"{named}, {printed(corner)}, must be a height and a radius, finite numbers in m"
            return
        if k == 0 and corner[0] != 0.0:
            yield f"{named} is at height {corner[0]:g} m; it must be at 0, the inside of the base"
            return
        if k and corner[0] <= corners[k - 1][0]:
            yield f"{named} is at height {corner[0]:g} m, not above corner {k} at {corners[k - 1][0]:g} m"
            return
        if corner[1] < 0.0 or (corner[1] == 0.0 and 0 < k < len(corners) - 1):
            yield f"{named} has a radius of {corner[1]:g} m; it must be above 0 (0 at the ends alone)"
            return
    if container.profile.widest == 0.0:
        yield "container.profile has no radius above 0"
        return
    if not (_number(container.profile.rounding) and container.profile.rounding >= 0.0):
        yield f"container.profile.rounding = {printed(container.profile.rounding)} must be 0 or more, m"
        return
    try:
        _ = container.profile.pieces
    except ValueError as fault:
        yield f"container.profile: {fault}"
        return
    yield from _points_of_the_wall(container)
    if rise is not None:
        yield from _rise(container, rise)


def _points_of_the_wall(container: Container) -> Iterator[str]:
    """Whether a side wall of its thickness can follow the profile."""
    wall, corners = container.side, container.profile.corners
    if wall is None or not all(_number(t) and t > 0 for t in (wall.thickness, *wall.course)):
        return
    for (_, radius), where in ((corners[0], "begins"), (corners[-1], "ends")):
        if radius == 0.0:
            yield f"container.profile {where} on the axis: a side wall cannot be closed there"
            return
    if len(wall.course) not in (0, len(corners)):
        return
    fold = container.fold
    if fold is not None:
        yield (
            f"container.side is too thick for the profile between heights {in_mm(fold[0])} and {in_mm(fold[1])} mm: "
            "its outside would fold over itself"
        )


def _rise(container: Container, rise: Rise) -> Iterator[str]:
    """Whether the base's rise fits the container."""
    if rise.form not in ("dome", "cone"):
        yield f'container.rise.form = {printed(rise.form)} must be "dome" or "cone"'
        return
    faults = [*_unless_positive("container.rise.height", rise.height, "m")]
    faults += _unless_positive("container.rise.diameter", rise.diameter, "m")
    yield from faults
    if faults:
        return
    foot = 2 * container.profile.corners[0][1]
    if rise.diameter > foot * (1 + _ROUNDING):
        yield f"container.rise is {in_mm(rise.diameter)} mm wide, the base inside {in_mm(foot)} mm"
    elif rise.height >= container.inner_height:
        inside = in_mm(container.inner_height)
        yield f"container.rise is {in_mm(rise.height)} mm high, the container inside {inside} mm"
    elif rise.form == "dome" and rise.height > rise.diameter / 2 * (1 + _ROUNDING):
        yield (
            f"container.rise is {in_mm(rise.height)} mm high and {in_mm(rise.diameter)} mm wide: a dome is at most "
            'half as high as it is wide; take form "cone"'
        )
    else:
        beyond = rise_beyond_wall(rise, container.profile)
        if beyond is not None:
            yield f"container.rise passes through the side wall {in_mm(beyond[0])} mm above the base's rim"


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
            yield from side_faults(probe, case)
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


def _properties(material: Material) -> Iterator[str]:
    named = f"material {printed(material.name)}:"
    if material.courses is not None:
        yield from _courses(named, material.courses)
    yield from _unless_positive(f"{named} conductivity", material.conductivity, "W/mK")
    yield from _unless_positive(f"{named} density", material.density, "kg/m3")
    yield from _unless_positive(f"{named} specific_heat", material.specific_heat, "J/kgK")


def _courses(named: str, courses: Courses) -> Iterator[str]:
    """What is wrong with properties over temperature."""
    lengths = {len(values) for values in (courses.temperature, courses.conductivity, courses.capacity)}
    lengths |= {len(courses.downwards)} if courses.downwards else set()
    if len(lengths) > 1 or len(courses.temperature) < 2:
        yield f"{named} courses must have as many values as temperatures, two or more"
        return
    values = (*courses.temperature, *courses.conductivity, *courses.capacity, *courses.downwards)
    if not all(_number(value) for value in values):
        yield f"{named} courses must be finite numbers"
    elif not all(low < high for low, high in pairwise(courses.temperature)):
        yield f"{named} courses: temperatures must grow"
    elif min(*courses.conductivity, *courses.capacity, *courses.downwards) <= 0.0:
        yield f"{named} courses: conductivity and capacity must be above 0"


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


def _course(stage: Stage) -> str:
    """What is wrong with a stage's times and temperatures; "" if nothing is."""
    if stage.time.ndim != 1 or stage.time.size < 2 or stage.time.shape != stage.medium.shape:
        return "time and medium must be two lists of the same length, two or more"
    if not (np.isfinite(stage.time).all() and (np.diff(stage.time) > 0).all()):
        return "time must be finite and growing, s"
    return "" if np.isfinite(stage.medium).all() else "medium must be finite, degC"


def _films(named: str, stage: Stage) -> Iterator[str]:
    film = stage.film
    for name, value in (("side", film.side), ("base", film.base), ("lid", film.lid), ("probe", film.probe)):
        if value is None and name == "probe":
            continue
        # 0 is an insulated surface; NaN is not at least 0
        if not (isinstance(value, numbers.Real) and not isinstance(value, bool) and value >= 0):
            yield f"{named}: film.{name} = {printed(value)} must be a number above 0 W/m2K, or 0 for no heat, or inf"
    if (film.low is None) != (film.high is None):
        yield f"{named}: film.low and film.high belong together: give both or neither"
    elif (
        film.low
        and film.high
        and not all(_number(low) and 0 < low <= high for low, high in zip(film.low, film.high, strict=True))
    ):
        yield f"{named}: film.low must be above 0 W/m2K and nowhere above film.high"


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
