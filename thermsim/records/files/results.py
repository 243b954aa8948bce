"""Results files: everything a run found out, in one HDF5 file that says what it holds.

At the root lie the fields and curves as variables with named axes, ``units`` and ``long_name``, in SI units and degC
(the numbers as computed, nothing rounded). Fields run over the columns and levels of the straight reference section;
``r`` and ``z`` say where that is in the container. ``record`` is the whole result as JSON, in which
``{"stored": name}`` stands for the variable of that name; ``summary`` holds the figures in mm, min and degC, the keys
of :func:`thermsim.records.numbers.summary.summary`. The groups ``mesh`` and ``probe_mesh`` show the same
fields as lists, for viewers (see :mod:`thermsim.records.files.mesh`).
"""

from __future__ import annotations

import datetime
import hashlib
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import TypeVar

import h5py
import numpy as np

from thermsim.assess.simulate.result import Result
from thermsim.errors import InputError
from thermsim.quantities import NUMBER
from thermsim.records.files.atomic import whole_file
from thermsim.records.files.codec import Stored, Trail, decode, encode
from thermsim.records.files.guarded import Guarded
from thermsim.records.files.heaps import check_texts
from thermsim.records.files.mesh import write_meshes
from thermsim.records.files.variables import Variable, derived, places, variable_at
from thermsim.records.numbers.summary import PROGRAM, summary
from thermsim.text import plain
from thermsim.version import __version__

T = TypeVar("T")

#: Format of the results files that this program writes and reads.
FORMAT = 3
#: Arrays of at least this many values are compressed.
BIG = 1000

_CONVENTIONS = (
    "lengths in m, times in s, temperatures in degC, heat in J; fields are [time, column, level], their places are "
    "r[column, level] from the axis and z[column, level] from the outside of the base at its rim upwards"
)


def save_result(result: Result, path: str | Path) -> None:
    """Write a result to an HDF5 file, whole or not at all.

    Parameters
    ----------
    result : Result
        The result; its case is stored with it, whether or not it came from a case file.
    path : str or Path
        The file. An older one of that name is replaced when the new one is complete.

    Raises
    ------
    InputError
        If the file cannot be written.

    Examples
    --------
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> result = thermsim.simulate(case)
    >>> thermsim.save_result(result, "jar.h5")
    >>> thermsim.load_result("jar.h5") == result
    True
    """
    kept: dict[str, tuple[Variable, Stored]] = {}
    file_names: dict[str, str] = {}

    def put(trail: Trail, value: Stored) -> str | None:
        variable = variable_at(trail)
        if trail[:2] == ("case", "attachments"):
            variable = Variable(
                f"attachment_{len(file_names)}", (), NUMBER, "text of a file that the case file names"
            )
        if isinstance(value, str) and (variable is None or not fit_for_hdf5(value)):
            return None
        if variable is None:
            raise TypeError(f"{'.'.join(trail)}: no variable is laid out for this array")
        if variable.name in kept and not np.array_equal(kept[variable.name][1], value):
            raise ValueError(f"{'.'.join(trail)}: differs from the other {variable.name} of this result")
        if variable.name.startswith("attachment_"):
            file_names[variable.name] = trail[2]
        kept[variable.name] = variable, value
        return variable.name

    record = json.dumps(encode(result, put), allow_nan=False)
    attributes = {
        "program": PROGRAM,
        "format": FORMAT,
        "version": __version__,
        "created": datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
        "title": plain(result.case.title, 200),
        "units_and_axes": _CONVENTIONS,
        "sha256": digest_of(record, {name: value for name, (_, value) in kept.items()}),
    }
    texts = [
        (Variable("record", (), NUMBER, "the whole result as JSON"), record),
        (
            Variable("summary", (), NUMBER, "the figures as JSON, in mm, min and degC"),
            json.dumps(summary(result), allow_nan=False),
        ),
    ]
    # the same versions of the format's parts that HDF5 1.10 reads, with checksums on them
    with whole_file(Path(path)) as part, h5py.File(part, "w", libver=("v110", "v110")) as file:
        write_variables(file, [*kept.values(), *derived(result), *texts])
        for name, place in places(result).items():
            file[name].attrs.update(place)
        for name, file_name in file_names.items():
            file[name].attrs["file_name"] = plain(file_name, 1000)
        write_meshes(file, result)
        file.attrs.update(attributes)


def load_result(path: str | Path) -> Result:
    """Read a result back; it is equal to the one that was saved, bit by bit.

    Raises
    ------
    InputError
        If there is no such file, it is no results file, was written in a format that this program does not read, or
        is damaged.

    Examples
    --------
    >>> import thermsim
    >>> thermsim.load_result("elsewhere.h5")
    Traceback (most recent call last):
    ...
    thermsim.errors.InputError: elsewhere.h5: no such file
    """
    return load_as(Result, "result", path)


def no_file(path: Path) -> InputError:
    """The error for a path that is no file; of a folder the results that lie in it are offered."""
    shown = plain(os.fspath(path), 200)
    if not path.exists():
        return InputError(f"{shown}: no such file")
    inside = [f'; did you mean "{plain(os.fspath(one), 200)}"?' for one in sorted(path.glob("*.h5"))]
    return InputError(f"{shown}: is not a file{inside[0] if inside else ''}")


def load_as(kind: type[T], holds: str, path: str | Path) -> T:
    """Like :func:`load_result`, for any dataclass that a file of this program holds.

    Parameters
    ----------
    kind : type
        The dataclass.
    holds : str
        What the file says of itself that it holds: "result" or "comparison".
    path : str or Path
    """
    path, shown = Path(path), plain(os.fspath(path), 200)
    try:
        if not path.is_file():
            raise no_file(path)
        if not h5py.is_hdf5(path):
            raise InputError(f"{shown}: is not a results file of {PROGRAM} (it is not in HDF5), or is cut short")
        check_texts(path)
        with h5py.File(path, "r", locking="best-effort") as file:
            _check_format(file, shown, holds)
            return _read(kind, file, path.stat().st_size)
    except InputError:
        raise
    except PermissionError:
        raise InputError(f"{shown}: cannot be read: permission denied") from None
    except Exception as failure:
        # HDF5 and what is built on it report damage by almost any kind of exception
        reason = plain(str(failure).splitlines()[0] if str(failure) else type(failure).__name__, 120)
        raise InputError(f"{shown}: is damaged or cut short; run its case again ({reason})") from failure


def holds(path: str | Path) -> str:
    """Content of a file of this program: "result", "comparison" or "study"; "" where it is none or cannot be read."""
    try:
        check_texts(Path(path))
        with h5py.File(path, "r", locking="best-effort") as file:
            return str(file.attrs.get("holds", "result")) if file.attrs.get("program") == PROGRAM else ""
    except Exception:  # whatever is wrong with it is said by what reads it
        return ""


#: What a file may hold.
_HELD = ("result", "comparison", "study")


def _check_format(file: h5py.File, shown: str, wanted: str) -> None:
    found = file.attrs.get("holds", "result")
    if file.attrs.get("program") == PROGRAM and found != wanted and found in _HELD:
        raise InputError(f"{shown}: holds a {found}, not a {wanted}; thermsim show and report read it")
    if file.attrs.get("program") != PROGRAM:
        raise InputError(f"{shown}: is an HDF5 file, but not a results file of {PROGRAM}")
    found = file.attrs.get("format")
    if found != FORMAT:
        by = plain(str(file.attrs.get("version", "unknown")), 20)
        raise InputError(
            f"{shown}: is a results file of format {plain(str(found), 20)}, written by {PROGRAM} {by}; this is "
            f"{PROGRAM} {__version__}, which reads format {FORMAT}; run its case again with this one"
        )


def write_variables(file: h5py.File, variables: list[tuple[Variable, Stored]]) -> None:
    """Write the variables, then tie their axes to the variables of the axes' names."""
    for variable, value in variables:
        if isinstance(value, np.ndarray) and value.dtype == bool:
            # other programs know no boolean; this attribute tells those that do
            data = file.create_dataset(variable.name, data=value.astype(np.int8))
            data.attrs["dtype"] = "bool"
        elif isinstance(value, str) or value.dtype == object:
            data = file.create_dataset(variable.name, data=value, dtype=h5py.string_dtype())
        else:
            packing = {"compression": "gzip", "compression_opts": 4, "shuffle": True} if value.size >= BIG else {}
            data = file.create_dataset(variable.name, data=value, **packing)
        data.attrs["units"] = variable.units
        data.attrs["long_name"] = variable.long_name
        if variable.places:
            data.attrs["coordinates"] = variable.places
        if variable.axes == (variable.name,):
            data.make_scale(variable.name)
    for variable, _ in variables:
        for place, axis in enumerate(variable.axes):
            if axis != variable.name:
                file[variable.name].dims[place].attach_scale(file[axis])


def _read(kind: type[T], file: h5py.File, size: int) -> T:
    """The dataclass in a file of so many bytes; any exception means damage."""
    kept: dict[str, Stored] = {}
    guarded = Guarded(file, size)

    def get(name: str) -> Stored:
        if name not in kept:
            kept[name] = guarded.value(name)
        return kept[name]

    record = guarded.text("record")
    result = decode(kind, json.loads(record), get)
    if digest_of(record, kept) != file.attrs["sha256"]:
        raise ValueError("its contents are not those that were written")
    if isinstance(result, Result):
        _check_axes(result)
    return result


def _check_axes(result: Result) -> None:
    """Refuse arrays over the same axis that are not of the same length."""
    lengths: dict[str, int] = {}

    def put(trail: Trail, value: Stored) -> str | None:
        variable = variable_at(trail)
        if variable is not None and isinstance(value, np.ndarray):
            if len(variable.axes) != value.ndim:
                raise ValueError(f"part {'.'.join(trail)} has {value.ndim} axes")
            for axis, length in zip(variable.axes, value.shape, strict=True):
                if lengths.setdefault(axis, length) != length:
                    raise ValueError(f"part {'.'.join(trail)} has another number of {axis} than the others")
        return None if isinstance(value, str) else "checked"

    encode(result, put)


def digest_of(record: str, kept: Mapping[str, Stored]) -> str:
    """SHA-256 of all that is read back, as hexadecimal digits."""
    digest = hashlib.sha256(record.encode("utf-8"))
    for name, value in sorted(kept.items(), key=lambda item: item[0]):
        digest.update(name.encode("utf-8"))
        if isinstance(value, str):
            digest.update(value.encode("utf-8"))
        else:
            digest.update(f"{value.dtype.str} {value.shape}".encode())
            digest.update(np.ascontiguousarray(value).tobytes())
    return digest.hexdigest()


def fit_for_hdf5(text: str) -> bool:
    """Tell whether HDF5 can hold a text as it is: UTF-8 without NUL."""
    return "\0" not in text and text == text.encode("utf-8", "replace").decode("utf-8")
