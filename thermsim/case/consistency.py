"""Whether a case can be computed, however it was made: what the reader refuses, Python could still build."""

from __future__ import annotations

import math
import numbers
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from thermsim.case.checks import in_mm, printed
from thermsim.case.materials import Material
from thermsim.case.process import Stage

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
    yield from _unless_positive("container.inner_diameter", container.inner_diameter, "m")
    yield from _unless_positive("container.inner_height", container.inner_height, "m")
    for name, wall in (("side", container.side), ("base", container.base), ("lid", container.lid)):
        if wall is not None:
            yield from _unless_positive(f"container.{name}.thickness", wall.thickness, "m")


def _fill(case: Case) -> Iterator[str]:
    filled, height = case.fill_height, case.container.inner_height
    if not (_number(filled) and 0 < filled <= height * (1 + _ROUNDING)):
        yield (
            f"fill_height = {printed(filled)} must be above 0 and at most the container's inner height, "
            f"{height:.6g} m"
        )
        return
    model, material = case.headspace.model, case.headspace.material
    if model not in ("fixed", "insulated"):
        yield f'headspace.model = {printed(model)} must be "fixed" or "insulated"'
    elif model == "fixed" and material is None and height - filled > _SAME:
        yield f'headspace "fixed" needs a material: {in_mm(height - filled)} mm are left above the product'
    elif model == "insulated" and material is not None:
        yield f'headspace "insulated" takes no material, but names {printed(material.name)}; "fixed" takes one'


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
        widest = max([segment.diameter for segment in probe.segments], default=0.0)
        if widest >= container.inner_diameter:
            yield f"{named} is {in_mm(widest)} mm wide, the container inside {in_mm(container.inner_diameter)} mm"
        tip = probe.tip(container)
        low, high = container.floor, container.floor + case.fill_height
        if tip is not None and not low - _ROUNDING <= tip <= high + _ROUNDING:
            yield f"{named}: its tip, at z = {in_mm(tip)} mm, is not in the product, {in_mm(low)} to {in_mm(high)} mm"
        if not 0 <= probe.sensing <= probe.segments[-1].length * (1 + _ROUNDING):
            yield f"{named}: sensing = {printed(probe.sensing)} must be from 0 to the last segment's length, m"


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


def _materials(case: Case) -> Iterator[str]:
    walls = (case.container.side, case.container.base, case.container.lid)
    used = [case.product.material, case.headspace.material, *(wall.material for wall in walls if wall)]
    for probe in (case.probe, *case.probes):
        if probe:
            used += [material for part in probe.segments for material in (part.material, part.core)]
            used += [part.material for part in (probe.fitting, probe.gap) if part]
    # in order of appearance, each once
    for material in dict.fromkeys(material for material in used if material is not None):
        yield from _properties(material)


def _properties(material: Material) -> Iterator[str]:
    named = f"material {printed(material.name)}:"
    yield from _unless_positive(f"{named} conductivity", material.conductivity, "W/mK")
    yield from _unless_positive(f"{named} density", material.density, "kg/m3")
    yield from _unless_positive(f"{named} specific_heat", material.specific_heat, "J/kgK")


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
