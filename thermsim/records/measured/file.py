"""Files of comparisons: a measured run, what was asked, and all that was found, in one HDF5 file.

The logger's file lies in it byte by byte as ``logger_file``, its SHA-256 beside it, and the case file and what that
names as texts, so that whoever reviews the record can compute it again from this file alone.
"""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import h5py
import numpy as np

from thermsim.assess.measured.result import Comparison
from thermsim.quantities import DIFFERENCE, LETHALITY, NUMBER, TEMPERATURE, TIME
from thermsim.records.files.atomic import whole_file
from thermsim.records.files.codec import Stored, Trail, encode
from thermsim.records.files.results import FORMAT, digest_of, fit_for_hdf5, load_as, write_variables
from thermsim.records.files.variables import Variable
from thermsim.records.measured.summary import measured_summary
from thermsim.records.numbers.summary import PROGRAM
from thermsim.text import plain
from thermsim.version import __version__

HOLDS = "comparison"

#: Quantity and meaning of an array by the last name of its trail.
_MEANING = {
    "time": (TIME, TIME.long_name),
    "temperature": (TEMPERATURE, TEMPERATURE.long_name),
    "course": (LETHALITY, "lethality gathered up to each sample"),
    "residuals": (DIFFERENCE, "measured less fitted"),
    "covariance": (NUMBER, "covariance of the parameters, in steps of their own"),
    "correlation": (NUMBER, "correlation of the parameters"),
    "medium": (TEMPERATURE, "temperature of the heating medium"),
    "data": (NUMBER, "the logger's file, byte by byte"),
}


def save_comparison(comparison: Comparison, path: str | Path) -> None:
    """Write a comparison to an HDF5 file, whole or not at all.

    Parameters
    ----------
    comparison : Comparison
    path : str or Path
        An older file of that name is replaced when the new one is complete.

    Raises
    ------
    InputError
        If the file cannot be written.

    Examples
    --------
    >>> import thermsim
    >>> columns = thermsim.Columns(probes=("Can 1 [°C]",), medium="Retort [°C]")
    >>> run = thermsim.read_run("cases/measured_can_run.csv", columns)
    >>> plan = thermsim.Plan(columns, fit=(), design=False)
    >>> found = thermsim.compare(thermsim.read_case("cases/measured_can.toml"), run, plan)
    >>> thermsim.save_comparison(found, "run.h5")
    >>> thermsim.load_comparison("run.h5") == found
    True
    """
    kept: dict[str, tuple[Variable, Stored]] = {}
    file_names: dict[str, str] = {}

    def put(trail: Trail, value: Stored) -> str | None:
        if isinstance(value, str):
            return _put_text(trail, value, kept, file_names)
        name = "logger_file" if trail == ("run", "data") else "_".join(trail)
        quantity, meaning = _MEANING[trail[-1]]
        axes = tuple(f"{name}_axis_{place}" for place in range(value.ndim))
        kept[name] = Variable(name, axes, quantity, f"{meaning} ({'.'.join(trail)})"), value
        return name

    record = json.dumps(encode(comparison, put), allow_nan=False)
    texts = [
        (Variable("record", (), NUMBER, "the whole comparison as JSON"), record),
        (
            Variable("summary", (), NUMBER, "the figures as JSON, in mm, min and degC"),
            json.dumps(measured_summary(comparison), allow_nan=False),
        ),
    ]
    axes = {axis: size for variable, value in kept.values() if isinstance(value, np.ndarray)
            for axis, size in zip(variable.axes, value.shape, strict=True)}  # fmt: skip
    scales = [(Variable(axis, (axis,), NUMBER, "number"), np.arange(size)) for axis, size in axes.items()]
    with whole_file(Path(path)) as part, h5py.File(part, "w", libver=("v110", "v110")) as file:
        write_variables(file, [*kept.values(), *scales, *texts])
        file["logger_file"].attrs["file_name"] = plain(comparison.run.file, 1000)
        file["logger_file"].attrs["sha256"] = comparison.run.sha256
        for name, file_name in file_names.items():
            file[name].attrs["file_name"] = plain(file_name, 1000)
        file.attrs.update(
            {
                "program": PROGRAM,
                "holds": HOLDS,
                "format": FORMAT,
                "version": __version__,
                "created": datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
                "title": plain(comparison.case.title, 200),
                "units_and_axes": "lengths in m, times in s, temperatures in degC",
                "sha256": digest_of(record, {name: value for name, (_, value) in kept.items()}),
            }
        )


def load_comparison(path: str | Path) -> Comparison:
    """Read a comparison back; it is equal to the one that was saved, bit by bit.

    Raises
    ------
    InputError
        As :func:`thermsim.records.files.results.load_result`.

    Examples
    --------
    >>> import thermsim
    >>> thermsim.load_comparison("elsewhere.h5")
    Traceback (most recent call last):
    ...
    thermsim.errors.InputError: elsewhere.h5: no such file
    """
    return load_as(Comparison, HOLDS, path)


def _put_text(
    trail: Trail, text: str, kept: dict[str, tuple[Variable, Stored]], file_names: dict[str, str]
) -> str | None:
    """Texts of files get a variable of their own; others stay in the tree."""
    if not fit_for_hdf5(text):
        return None
    if trail == ("case", "text"):
        variable = Variable("case_text", (), NUMBER, "text of the case file")
    elif trail[:2] == ("case", "attachments"):
        variable = Variable(f"attachment_{len(file_names)}", (), NUMBER, "text of a file that the case file names")
        file_names[variable.name] = trail[2]
    else:
        return None
    kept[variable.name] = variable, text
    return variable.name
