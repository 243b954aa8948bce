"""Names of a results file's variables, the axes over which they run, and their units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.simulate.result import Result
from thermsim.physics.materials import Material
from thermsim.quantities import (
    CONDUCTIVITY,
    DENSITY,
    DEPTH,
    HEAT_CAPACITY,
    LENGTH,
    LETHALITY,
    NUMBER,
    PART,
    SPECIFIC_HEAT,
    TEMPERATURE,
    TIME,
    Quantity,
    R,
    Z,
)
from thermsim.records.files.codec import Trail
from thermsim.solve.grid.grid import Grid
from thermsim.text import plain


@dataclass(frozen=True)
class Variable:
    """One variable: its name, the axes it runs over, its quantity, and what it is where that says more."""

    name: str
    axes: tuple[str, ...]
    quantity: Quantity
    what: str = ""

    @property
    def units(self) -> str:
        """Its unit as the file names it."""
        return self.quantity.stored

    @property
    def long_name(self) -> str:
        """Description of it."""
        return self.what or self.quantity.long_name

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
        "material": (NUMBER, f"{before}material_number of a quadrilateral; -1 is insulated, -2 outside"),
        "product": (NUMBER, "whether a quadrilateral holds product"),
        "probe": (NUMBER, "whether a quadrilateral is part of a probe or its fitting"),
        "initial": (TEMPERATURE, "temperature at the start"),
    }
    straight = f" in the straight reference section, of the nodes{which}"
    found = {
        "columns": Variable(nodes[0], nodes[:1], R, R.long_name + straight),
        "levels": Variable(nodes[1], nodes[1:], Z, "height" + straight),
        "r": Variable(f"{before}r", nodes, R, f"{R.long_name}, of the nodes{which}"),
        "z": Variable(f"{before}z", nodes, Z, f"{Z.long_name} at its rim, of the nodes{which}"),
        "layer_r": Variable(f"{before}layer_r", cells[:1], NUMBER, _LAYER.format("r") + which),
        "layer_z": Variable(f"{before}layer_z", cells[1:], NUMBER, _LAYER.format("z") + which),
    }
    for name, (quantity, what) in quadrilaterals.items():
        found[name] = Variable(before + name, cells, quantity, what + which)
    return {f"{part}.{name}": variable for name, variable in found.items()}


_FIELD = ("column", "level")
#: Axes and fields of the container with its probe begin so: it has a grid of its own.
PROBED = "probe_"
_WITH_PROBE = ", in the container with its probe"
_STEM_PLANE = ("stem_x", "stem_z")
_TIMES, _STAGE = ("time",), ("stage_{}_time",)
_READ = ("probe.reading", "probe.without_probe")
_LETHALITY, _END = "lethality of the whole process, in the product", "temperature when heating ends"
_PROBED_FIELD = (f"{PROBED}column", f"{PROBED}level")

#: Variables by the trail of the part of a result that they hold; {} is what the asterisk stands for.
STORED: Mapping[str, Variable] = {
    **dict.fromkeys(
        ("time", *(f"{curve}.time" for curve in ("cold_spot.track", "spots.*", "points.*", *_READ))),
        Variable("time", _TIMES, TIME),
    ),
    **_grid_variables("grid", before="", which=""),
    "temperature": Variable("temperature", ("time", *_FIELD), TEMPERATURE, "temperature; NaN where nothing conducts"),
    "end_of_heating": Variable("end_of_heating", _FIELD, TEMPERATURE, _END),
    "lethality": Variable("lethality", _FIELD, LETHALITY, _LETHALITY),
    "heating_lethality": Variable(
        "heating_lethality", _FIELD, LETHALITY, "lethality until heating ends, in the product"
    ),
    "cold_spot.track.r": Variable("track_r", _TIMES, LENGTH, "distance of the coldest point from the axis"),
    "cold_spot.track.z": Variable("track_z", _TIMES, LENGTH, "height of the coldest point"),
    "cold_spot.track.temperature": Variable("track_temperature", _TIMES, TEMPERATURE, "lowest temperature"),
    "spots.0.temperature": Variable(
        "least_lethality_temperature", _TIMES, TEMPERATURE, "temperature at the place of least lethality"
    ),
    "spots.1.temperature": Variable(
        "slowest_heating_temperature",
        _TIMES,
        TEMPERATURE,
        "temperature at the place that is coldest when heating ends",
    ),
    "points.*.temperature": Variable("point_{}_temperature", _TIMES, TEMPERATURE, "temperature at a place followed"),
    **_grid_variables("probe.grid", before=PROBED, which=_WITH_PROBE),
    "probe.end_of_heating": Variable("probe_end_of_heating", _PROBED_FIELD, TEMPERATURE, _END + _WITH_PROBE),
    "probe.lethality": Variable("probe_lethality", _PROBED_FIELD, LETHALITY, _LETHALITY + _WITH_PROBE),
    "probe.section.x": Variable(
        "stem_x",
        ("stem_x",),
        LENGTH,
        "distance from the container's axis towards the entry, in the plane of the stem",
    ),
    "probe.section.z": Variable("stem_z", ("stem_z",), LENGTH, "height above the outside of the base, in that plane"),
    "probe.section.end_of_heating": Variable(
        "stem_end_of_heating", _STEM_PLANE, TEMPERATURE, f"{_END}, in the plane of the stem"
    ),
    "probe.section.without_probe": Variable(
        "stem_without_probe", _STEM_PLANE, TEMPERATURE, "the same in the container without its probe"
    ),
    "probe.section.lethality": Variable(
        "stem_lethality", _STEM_PLANE, LETHALITY, f"{_LETHALITY} in the plane of the stem"
    ),
    "probe.reading.temperature": Variable("probe_reading_temperature", _TIMES, TEMPERATURE, "what the probe reads"),
    "probe.without_probe.temperature": Variable(
        "without_probe_temperature", _TIMES, TEMPERATURE, "temperature where the probe senses, without the probe"
    ),
    "advice.candidates.*.profile.depth": Variable("candidate_{}_depth", ("candidate_{}_depth",), DEPTH),
    "advice.candidates.*.profile.mismatch": Variable(
        "candidate_{}_mismatch",
        ("candidate_{}_depth",),
        PART,
        "mismatch with the least-lethality place, a fraction of its lethality",
    ),
    "advice.candidates.*.profile.heating_mismatch": Variable(
        "candidate_{}_heating_mismatch",
        ("candidate_{}_depth",),
        PART,
        "the same with the slowest-heating place until heating ends",
    ),
    "case.process.stages.*.time": Variable("stage_{}_time", _STAGE, TIME),
    "case.process.stages.*.medium": Variable(
        "stage_{}_medium", _STAGE, TEMPERATURE, "temperature of the heating medium in this stage"
    ),
    "case.text": Variable("case_text", (), NUMBER, "text of the case file"),
}


def variable_at(trail: Trail) -> Variable | None:
    """The variable that holds a part of a result; None if the part has none of its own."""
    dotted = ".".join(trail)
    for pattern, variable in STORED.items():
        if fnmatchcase(dotted, pattern):
            number = next((step for step in trail if step.isdecimal()), "")
            axes = tuple(axis.format(number) for axis in variable.axes)
            return Variable(variable.name.format(number), axes, variable.quantity, variable.what)
    return None


def derived(result: Result) -> list[tuple[Variable, NDArray[Any]]]:
    """Variables for other programs' sake, worked out from what is stored; not read back."""
    medium = Variable("medium", ("time",), TEMPERATURE, "temperature of the heating medium")
    found = [*_about(result.grid, ""), (medium, result.case.process.medium_at(result.time))]
    if result.probe is not None and result.probe.grid is not None:
        found += _about(result.probe.grid, PROBED)
    return found


def _about(grid: Grid, before: str) -> list[tuple[Variable, NDArray[Any]]]:
    """The quadrilaterals' places and the materials of a grid."""
    column, level = f"{before}column_cell", f"{before}level_cell"
    number = f"{before}material_number"
    numbers = Variable(number, (number,), NUMBER, "number of a material")
    found: list[tuple[Variable, NDArray[Any]]] = [
        (Variable(axis, (axis,), LENGTH, "middle of the interval between nodes"), (lines[1:] + lines[:-1]) / 2)
        for axis, lines in ((column, grid.columns), (level, grid.levels))
    ]
    for name, nodes, what in (("r", grid.r, "distance from the axis"), ("z", grid.z, "height")):
        middle = (nodes[1:, 1:] + nodes[:-1, 1:] + nodes[1:, :-1] + nodes[:-1, :-1]) / 4
        mean = Variable(f"{before}{name}_cell", (column, level), LENGTH, f"{what}, mean of the corners")
        found.append((mean, middle))
    found.append((numbers, np.arange(len(grid.materials))))
    # single numbers: where properties change those at the temperature that the source names
    for of in (CONDUCTIVITY, DENSITY, SPECIFIC_HEAT):
        values = np.array([getattr(material, of.name) for material in grid.materials])
        found.append((Variable(f"{before}material_{of.name}", numbers.axes, of), values))
    for number_, material in enumerate(grid.materials):
        found += _tables(material, f"{before}material_{number_}")
    for name, what in (("name", "name of the material"), ("source", "where the material's properties come from")):
        texts = np.array([plain(getattr(material, name), 1000) for material in grid.materials], dtype=object)
        found.append((Variable(f"{before}material_{name}", numbers.axes, NUMBER, what), texts))
    return found


def _tables(material: Material, before: str) -> Iterator[tuple[Variable, NDArray[Any]]]:
    """A material's properties over temperature, where they change."""
    tabulated = material.tabulated
    if tabulated is None:
        return
    axis = f"{before}_temperature"
    of = f" of {plain(material.name, 200)}"
    yield (
        Variable(axis, (axis,), TEMPERATURE, f"temperatures at which the properties{of} are known"),
        np.array(tabulated.temperature),
    )
    for name, quantity, what, values in (
        ("conductivity", CONDUCTIVITY, CONDUCTIVITY.long_name, tabulated.conductivity),
        ("heat_capacity", HEAT_CAPACITY, HEAT_CAPACITY.long_name, tabulated.capacity),
        ("downwards", CONDUCTIVITY, "conductivity for heat that flows downwards", tabulated.downwards),
    ):
        if values:
            yield Variable(f"{before}_{name}_over_temperature", (axis,), quantity, what + of), np.array(values)


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
