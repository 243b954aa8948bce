"""What the variables of a results file are called, over which axes they run, and in which units they are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.result import Result
from thermsim.case.checks import plain
from thermsim.records.codec import Trail


@dataclass(frozen=True)
class Variable:
    """One variable: its name, the axes it runs over, its unit, and what it is."""

    name: str
    axes: tuple[str, ...]
    units: str
    long_name: str


_FIELD, _CELLS = ("r", "z"), ("r_cell", "z_cell")
_LAYER = "number of the body's layer, counted along {}, in which the interval between nodes lies"

#: Variables by the trail of the part of a result that they hold; {} is what the asterisk stands for.
STORED: Mapping[str, Variable] = {
    "time": Variable("time", ("time",), "s", "process time"),
    "grid.r": Variable("r", ("r",), "m", "distance from the axis, of the nodes"),
    "grid.z": Variable("z", ("z",), "m", "height above the outside of the base, of the nodes"),
    "grid.layer_r": Variable("layer_r", ("r_cell",), "1", _LAYER.format("r")),
    "grid.layer_z": Variable("layer_z", ("z_cell",), "1", _LAYER.format("z")),
    "grid.material": Variable("material", _CELLS, "1", "material_number of a rectangle; -1 is insulated, -2 outside"),
    "grid.product": Variable("product", _CELLS, "1", "whether a rectangle holds product"),
    "grid.probe": Variable("probe", _CELLS, "1", "whether a rectangle is part of a probe or its fitting"),
    "grid.initial": Variable("initial", _CELLS, "degC", "temperature at the start"),
    "temperature": Variable("temperature", ("time", "r", "z"), "degC", "temperature; NaN where nothing conducts"),
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
    grid = result.grid
    numbers = Variable("material_number", ("material_number",), "1", "number of a material")
    found: list[tuple[Variable, NDArray[Any]]] = [
        (Variable("r_cell", ("r_cell",), "m", "middle of the interval between nodes"), _middles(grid.r)),
        (Variable("z_cell", ("z_cell",), "m", "middle of the interval between nodes"), _middles(grid.z)),
        (
            Variable("medium", ("time",), "degC", "temperature of the heating medium"),
            result.case.process.medium_at(result.time),
        ),
        (numbers, np.arange(len(grid.materials))),
    ]
    for name, units in (("conductivity", "W m-1 K-1"), ("density", "kg m-3"), ("specific_heat", "J kg-1 K-1")):
        values = np.array([getattr(material, name) for material in grid.materials])
        found.append((Variable(f"material_{name}", numbers.axes, units, f"{name.replace('_', ' ')}"), values))
    for name, what in (("name", "name of the material"), ("source", "where the material's properties come from")):
        texts = np.array([plain(getattr(material, name), 1000) for material in grid.materials], dtype=object)
        found.append((Variable(f"material_{name}", numbers.axes, "1", what), texts))
    return found


def places(result: Result) -> dict[str, dict[str, str | float]]:
    """Further attributes of the curves, by variable: which place they belong to."""
    names = ["least_lethality", "slowest_heating", *(f"point_{k}" for k in range(len(result.points)))]
    return {
        f"{name}_temperature": {"place": plain(curve.name, 1000), "r_m": curve.r, "z_m": curve.z}
        for name, curve in zip(names, (*result.spots, *result.points), strict=True)
    }


def _middles(nodes: NDArray[np.float64]) -> NDArray[np.float64]:
    return (nodes[1:] + nodes[:-1]) / 2
