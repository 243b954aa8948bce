"""Results as the tables of other libraries: fields for xarray, runs for pandas. SI units and degC."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermsim.assess.simulate.cautions import CONDUCTION_ONLY, NO_VALIDATION
from thermsim.assess.simulate.result import Result
from thermsim.assess.study.plan import StudyResult
from thermsim.quantities import TEMPERATURE, TIME, Quantity, R, Z
from thermsim.records.files.variables import variable_at
from thermsim.text import plain
from thermsim.version import PROGRAM

if TYPE_CHECKING:
    from pandas import DataFrame
    from xarray import Dataset

#: The parts of a result that are handed out, by their names.
_FIELDS = ("temperature", "end_of_heating", "lethality", "heating_lethality")
_TRACK = tuple(f"cold_spot.track.{name}" for name in ("r", "z", "temperature"))


def dataset_of(result: Result) -> Dataset:
    """As :meth:`thermsim.assess.simulate.result.Result.to_xarray`."""
    try:
        import xarray
    except ImportError:
        raise ImportError('to_xarray needs xarray: pip install "thermsim[xarray]"') from None
    paths = [*_FIELDS, *_TRACK, *(f"spots.{k}.temperature" for k in range(2))]
    paths += [f"points.{k}.temperature" for k in range(len(result.points))]
    if result.probe is not None:
        paths += ["probe.reading.temperature", "probe.without_probe.temperature"]
    grid, straight = result.grid, result.case.container.is_straight
    axes = {"time": "time", "column": "r", "level": "z"} if straight else {}
    medium = result.case.process.medium_at(result.time)
    found: dict[str, Any] = {"medium": (["time"], medium, _about(TEMPERATURE, "temperature of the heating medium"))}
    for path in paths:
        variable = variable_at(tuple(path.split(".")))
        if variable is not None:
            named = [axes.get(axis, axis) for axis in variable.axes]
            found[variable.name] = named, _part(result, path), _about(variable.quantity, variable.long_name)
    coordinates = {
        "time": (["time"], result.time, _about(TIME)),
        "r": (["r"], grid.r[:, 0], _about(R)) if straight else (["column", "level"], grid.r, _about(R)),
        "z": (["z"], grid.z[0], _about(Z)) if straight else (["column", "level"], grid.z, _about(Z)),
    }
    cautions = f"{NO_VALIDATION} {CONDUCTION_ONLY}"
    return xarray.Dataset(
        found, coordinates, {"title": plain(result.case.title, 200), "source": PROGRAM, "comment": cautions}
    )


def _about(quantity: Quantity, words: str = "") -> dict[str, str]:
    return {"units": quantity.stored, "long_name": words or quantity.long_name}


def _part(result: Result, path: str) -> Any:
    """The part of a result that a dotted path leads to."""
    part: Any = result
    for step in path.split("."):
        part = part[int(step)] if step.isdecimal() else getattr(part, step)
    return part


def dataframe_of(result: StudyResult) -> DataFrame:
    """As :meth:`thermsim.assess.study.plan.StudyResult.to_dataframe`."""
    try:
        import pandas
    except ImportError:
        raise ImportError("to_dataframe needs pandas: pip install pandas") from None
    reasons = [result.failures.get(run, "") for run in range(result.plan.runs)]
    columns = {**result.values, **result.figures, "failure": np.array(reasons, dtype=object)}
    return pandas.DataFrame(columns).rename_axis("run")
