"""What the variables of a results file are called, over which axes they run, and in which units they are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.simulate.result import Result
from thermsim.physics.materials import Material
from thermsim.records.files.codec import Trail
from thermsim.solve.grid.grid import Grid
from thermsim.text import plain


@dataclass(frozen=True)
class Variable:
    """One variable: its name, the axes it runs over, its unit, and what it is."""

    name: str
    axes: tuple[str, ...]
    units: str
    long_name: str

    @property
    def places(self) -> str:
        """Names of the variables that say where its values lie; "" where none do.

        Source: coordinate variables over two axes, climate and forecast (CF) metadata conventions, chapter 5.2; from
        memory.
        """
        if len(self.axes) < 2:
            return ""
        column, level = self.axes[-2:]
        r, z = column.replace("column", "r"), level.replace("level", "z")
        return f"{r} {z}" if r != column and z != level and self.name not in (r, z) else ""


_LAYER = "number of the body's layer, counted along {}, in which the interval between nodes lies"


def _grid_variables(part: str, *, before: str, which: str) -> dict[str, Variable]:
    """The variables of a grid, the names of its axes and variables beginning with ``before``."""
    nodes, cells = ((f"{before}column{of}", f"{before}level{of}") for of in ("", "_cell"))
    quadrilaterals = {
        "material": ("1", f"{before}material_number of a quadrilateral; -1 is insulated, -2 outside"),
        "product": ("1", "whether a quadrilateral holds product"),
        "probe": ("1", "whether a quadrilateral is part of a probe or its fitting"),
        "initial": ("degC", "temperature at the start"),
    }
    found = {
        "columns": Variable(
            nodes[0], nodes[:1], "m", f"distance from the axis in the straight reference section, of the nodes{which}"
        ),
        "levels": Variable(
            nodes[1], nodes[1:], "m", f"height in the straight reference section, of the nodes{which}"
        ),
        "r": Variable(f"{before}r", nodes, "m", f"distance from the axis, of the nodes{which}"),
        "z": Variable(
            f"{before}z", nodes, "m", f"height above the outside of the base at its rim, of the nodes{which}"
        ),
        "layer_r": Variable(f"{before}layer_r", cells[:1], "1", _LAYER.format("r") + which),
        "layer_z": Variable(f"{before}layer_z", cells[1:], "1", _LAYER.format("z") + which),
    }
    for name, (units, what) in quadrilaterals.items():
        found[name] = Variable(before + name, cells, units, what + which)
    return {f"{part}.{name}": variable for name, variable in found.items()}


_FIELD = ("column", "level")
#: Axes and fields of the container with its probe begin so: it has a grid of its own.
PROBED = "probe_"
_WITH_PROBE = ", in the container with its probe"
_STEM_PLANE = ("stem_x", "stem_z")
_PROBED_FIELD = (f"{PROBED}column", f"{PROBED}level")

#: Variables by the trail of the part of a result that they hold; {} is what the asterisk stands for.
STORED: Mapping[str, Variable] = {
    "time": Variable("time", ("time",), "s", "process time"),
    **_grid_variables("grid", before="", which=""),
    "temperature": Variable("temperature", ("time", *_FIELD), "degC", "temperature; NaN where nothing conducts"),
    "end_of_heating": Variable("end_of_heating", _FIELD, "degC", "temperature when heating ends"),
    "lethality": Variable("lethality", _FIELD, "s", "lethality of the whole process, in the product"),
    "heating_lethality": Variable("heating_lethality", _FIELD, "s", "lethality until heating ends, in the product"),
    "cold_spot.track.time": Variable("time", ("time",), "s", "process time"),
    "cold_spot.track.r": Variable("track_r", ("time",), "m", "distance of the coldest point from the axis"),
    "cold_spot.track.z": Variable("track_z", ("time",), "m", "height of the coldest point"),
    "cold_spot.track.temperature": Variable("track_temperature", ("time",), "degC", "lowest temperature"),
    "spots.*.time": Variable("time", ("time",), "s", "process time"),
    "spots.0.temperature": Variable(
        "least_lethality_temperature", ("time",), "degC", "temperature at the place of least lethality"
    ),
    "spots.1.temperature": Variable(
        "slowest_heating_temperature", ("time",), "degC", "temperature at the place that is coldest when heating ends"
    ),
    "points.*.time": Variable("time", ("time",), "s", "process time"),
    "points.*.temperature": Variable("point_{}_temperature", ("time",), "degC", "temperature at a place followed"),
    **_grid_variables("probe.grid", before=PROBED, which=_WITH_PROBE),
    "probe.end_of_heating": Variable(
        "probe_end_of_heating", _PROBED_FIELD, "degC", f"temperature when heating ends{_WITH_PROBE}"
    ),
    "probe.lethality": Variable(
        "probe_lethality", _PROBED_FIELD, "s", f"lethality of the whole process, in the product{_WITH_PROBE}"
    ),
    "probe.section.x": Variable(
        "stem_x", ("stem_x",), "m", "distance from the container's axis towards the entry, in the plane of the stem"
    ),
    "probe.section.z": Variable("stem_z", ("stem_z",), "m", "height above the outside of the base, in that plane"),
    "probe.section.end_of_heating": Variable(
        "stem_end_of_heating", _STEM_PLANE, "degC", "temperature when heating ends, in the plane of the stem"
    ),
    "probe.section.without_probe": Variable(
        "stem_without_probe", _STEM_PLANE, "degC", "the same in the container without its probe"
    ),
    "probe.section.lethality": Variable(
        "stem_lethality", _STEM_PLANE, "s", "lethality of the whole process, in the product in the plane of the stem"
    ),
    "probe.reading.time": Variable("time", ("time",), "s", "process time"),
    "probe.reading.temperature": Variable("probe_reading_temperature", ("time",), "degC", "what the probe reads"),
    "probe.without_probe.time": Variable("time", ("time",), "s", "process time"),
    "probe.without_probe.temperature": Variable(
        "without_probe_temperature", ("time",), "degC", "temperature where the probe senses, without the probe"
    ),
    "advice.candidates.*.profile.depth": Variable(
        "candidate_{}_depth", ("candidate_{}_depth",), "m", "insertion depths, outer face of the wall to the tip"
    ),
    "advice.candidates.*.profile.mismatch": Variable(
        "candidate_{}_mismatch",
        ("candidate_{}_depth",),
        "1",
        "mismatch with the least-lethality place, a fraction of its lethality",
    ),
    "advice.candidates.*.profile.heating_mismatch": Variable(
        "candidate_{}_heating_mismatch",
        ("candidate_{}_depth",),
        "1",
        "the same with the slowest-heating place until heating ends",
    ),
    "case.process.stages.*.time": Variable("stage_{}_time", ("stage_{}_time",), "s", "process time"),
    "case.process.stages.*.medium": Variable(
        "stage_{}_medium", ("stage_{}_time",), "degC", "temperature of the heating medium in this stage"
    ),
    "case.text": Variable("case_text", (), "1", "text of the case file"),
}


def variable_at(trail: Trail) -> Variable | None:
    """The variable that holds a part of a result; None if the part has none of its own."""
    dotted = ".".join(trail)
    for pattern, variable in STORED.items():
        if fnmatchcase(dotted, pattern):
            number = next((step for step in trail if step.isdecimal()), "")
            axes = tuple(axis.format(number) for axis in variable.axes)
            return Variable(variable.name.format(number), axes, variable.units, variable.long_name)
    return None


def derived(result: Result) -> list[tuple[Variable, NDArray[Any]]]:
    """Variables for other programs' sake, worked out from what is stored; not read back."""
    medium = Variable("medium", ("time",), "degC", "temperature of the heating medium")
    found = [*_about(result.grid, ""), (medium, result.case.process.medium_at(result.time))]
    if result.probe is not None and result.probe.grid is not None:
        found += _about(result.probe.grid, PROBED)
    return found


def _about(grid: Grid, before: str) -> list[tuple[Variable, NDArray[Any]]]:
    """The quadrilaterals' places and the materials of a grid."""
    column, level = f"{before}column_cell", f"{before}level_cell"
    number = f"{before}material_number"
    numbers = Variable(number, (number,), "1", "number of a material")
    found: list[tuple[Variable, NDArray[Any]]] = [
        (Variable(axis, (axis,), "m", "middle of the interval between nodes"), (lines[1:] + lines[:-1]) / 2)
        for axis, lines in ((column, grid.columns), (level, grid.levels))
    ]
    for name, nodes, what in (("r", grid.r, "distance from the axis"), ("z", grid.z, "height")):
        middle = (nodes[1:, 1:] + nodes[:-1, 1:] + nodes[1:, :-1] + nodes[:-1, :-1]) / 4
        found.append((Variable(f"{before}{name}_cell", (column, level), "m", f"{what}, mean of the corners"), middle))
    found.append((numbers, np.arange(len(grid.materials))))
    # single numbers: where properties change those at the temperature that the source names
    for name, units in (("conductivity", "W m-1 K-1"), ("density", "kg m-3"), ("specific_heat", "J kg-1 K-1")):
        values = np.array([getattr(material, name) for material in grid.materials])
        found.append((Variable(f"{before}material_{name}", numbers.axes, units, name.replace("_", " ")), values))
    for number_, material in enumerate(grid.materials):
        found += _courses(material, f"{before}material_{number_}")
    for name, what in (("name", "name of the material"), ("source", "where the material's properties come from")):
        texts = np.array([plain(getattr(material, name), 1000) for material in grid.materials], dtype=object)
        found.append((Variable(f"{before}material_{name}", numbers.axes, "1", what), texts))
    return found


def _courses(material: Material, before: str) -> Iterator[tuple[Variable, NDArray[Any]]]:
    """A material's properties over temperature, where they change."""
    courses = material.courses
    if courses is None:
        return
    axis = f"{before}_temperature"
    of = f" of {plain(material.name, 200)}"
    yield (
        Variable(axis, (axis,), "degC", f"temperatures at which the properties{of} are known"),
        np.array(courses.temperature),
    )
    for name, units, what, values in (
        ("conductivity", "W m-1 K-1", "conductivity", courses.conductivity),
        ("heat_capacity", "J m-3 K-1", "heat capacity by volume", courses.capacity),
        ("downwards", "W m-1 K-1", "conductivity for heat that flows downwards", courses.downwards),
    ):
        if values:
            yield Variable(f"{before}_{name}_over_temperature", (axis,), units, what + of), np.array(values)


def places(result: Result) -> dict[str, dict[str, str | float]]:
    """Further attributes of the curves, by variable: which place they belong to."""
    curves = [*result.spots, *result.points]
    names = ["least_lethality", "slowest_heating", *(f"point_{k}" for k in range(len(result.points)))]
    if result.probe is not None:
        curves += [result.probe.reading, result.probe.without_probe]
        names += ["probe_reading", "without_probe"]
    return {
        f"{name}_temperature": {"place": plain(curve.name, 1000), "r_m": curve.r, "z_m": curve.z}
        for name, curve in zip(names, curves, strict=True)
    }
