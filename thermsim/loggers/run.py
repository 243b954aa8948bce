"""A measured run: the probes' and the medium's columns of a data logger's file, cleaned, on the process's clock.

The file itself is never altered: its bytes are kept as they are, and what is left out of the curves is said.
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.errors import InputError
from thermsim.loggers.cleaning import cleaned
from thermsim.loggers.logger import LARGEST_LOG, Log, decoded, find_column, log_from_text
from thermsim.loggers.textfile import read_bytes
from thermsim.text import plain

Floats = NDArray[np.float64]

#: Fewer samples than this are no curve.
FEWEST = 20


@dataclass(frozen=True)
class Columns:
    """Columns of the file to be read, and the way in which it is read.

    Parameters
    ----------
    probes : tuple of str
        Columns of the probes by header or number, each in a container of its own; empty: the only temperature
        beside the medium's.
    medium : str or None
        Column of the heating medium; None: the medium is that of the case.
    depths : tuple of (str, float)
        Column and insertion [m] of probes that are not where the case's probe is.
    own_clocks : tuple of str
        Columns that a clock of their own has timed; all others have one clock.
    start : float
        Time of the record at which the process starts [s].
    cooling : float or None
        Time of the record at which cooling starts [s]; None: found from the medium's column.
    time, time_unit, decimal : str or None
        As for :func:`thermsim.loggers.logger.log_from_text`.

    Examples
    --------
    >>> from thermsim import Columns
    >>> Columns(probes=("Can 1", "Can 2"), medium="Retort", depths=(("Can 2", 0.075),)).medium
    'Retort'
    """

    probes: tuple[str, ...] = ()
    medium: str | None = None
    depths: tuple[tuple[str, float], ...] = ()
    own_clocks: tuple[str, ...] = ()
    start: float = 0.0
    cooling: float | None = None
    time: str | None = None
    time_unit: str | None = None
    decimal: str | None = None


@dataclass(frozen=True)
class Course:
    """One column of a run, cleaned: ``time`` [s] of the process and ``temperature`` [degC], both of shape (n,).

    ``insertion`` is the probe's own [m]; None where it is the case's, and for the medium. ``own_clock``: its times
    are another clock's than those of the other columns. ``number`` is the column's place in the file, from 1.
    """

    name: str
    time: Floats
    temperature: Floats
    insertion: float | None = None
    own_clock: bool = False
    number: int = 0


@dataclass(frozen=True)
class Run:
    """A measured run: name, SHA-256 and bytes of the data logger's file, and how it was read.

    ``courses`` are what the probes read, ``medium`` what the medium's column holds, if there is one; ``notes`` say
    what was assumed, dropped or turned, one sentence each.
    """

    file: str
    sha256: str
    data: NDArray[np.uint8]
    columns: Columns
    courses: tuple[Course, ...]
    medium: Course | None
    notes: tuple[str, ...]


def read_run(path: str | Path, columns: Columns = Columns()) -> Run:
    """Read a measured run.

    Parameters
    ----------
    path : str or Path
        A data logger's file, at most 200 MB.
    columns : Columns, optional
        Which column is what.

    Raises
    ------
    InputError
        As :func:`thermsim.loggers.logger.log_from_text`; or if a column is not there, is named twice, or holds too
        few readings that can be temperatures.

    Examples
    --------
    >>> import thermsim
    >>> columns = thermsim.Columns(probes=("Can 1 [°C]",), medium="Retort [°C]")
    >>> run = thermsim.read_run("cases/measured_can_run.csv", columns)
    >>> run.courses[0].time[:3]
    array([ 0., 30., 60.])
    """
    data = read_bytes(path, limit=LARGEST_LOG, what="a data logger's file")
    return run_from_bytes(data, columns, name=plain(Path(path).name, 120))


def run_from_bytes(data: bytes, columns: Columns = Columns(), *, name: str = "run.csv") -> Run:
    """Like :func:`read_run`, from the bytes of a file."""
    log = log_from_text(
        decoded(data, name),
        name=name,
        time=said_column(columns.time),
        time_unit=columns.time_unit,
        decimal=columns.decimal,
    )
    medium = None if columns.medium is None else _found(log, columns.medium)
    probes = _probe_columns(log, columns, medium)
    depths = _depths(log, columns, probes)
    notes = [*log.notes, *_on_sampling(log)]
    if columns.start >= log.time[-1]:
        raise InputError(
            f"{name}: the process is said to start at {columns.start / 60:g} min, but the record ends at "
            f"{log.time[-1] / 60:.6g} min"
        )
    if columns.start > 0.0:
        early = int((log.time < columns.start).sum())
        notes.append(f"{name}: {early} samples before the process starts ({columns.start / 60:g} min) are left out.")
    own = [_found(log, choice) for choice in columns.own_clocks]
    if stray := [plain(log.columns[place]) for place in own if place not in probes]:
        raise InputError(f'{name}: a clock of its own is said of column "{stray[0]}", which is not a probe')
    courses = tuple(
        replace(
            _course(log, place, columns.start, depths.get(place), notes, of_medium=False),
            own_clock=place in own,
            number=log.numbers[place],
        )
        for place in probes
    )
    of_medium = None if medium is None else _course(log, medium, columns.start, None, notes, of_medium=True)
    stored = np.frombuffer(data, dtype=np.uint8)
    return Run(name, hashlib.sha256(data).hexdigest(), stored, columns, courses, of_medium, tuple(notes))


def run_from_arrays(
    time: ArrayLike,
    probes: Mapping[str, ArrayLike],
    medium: ArrayLike | None = None,
    *,
    depths: Mapping[str, float] | None = None,
    cooling: float | None = None,
) -> Run:
    """Like :func:`read_run`, from arrays: they are written as a file and read like one, and are as well refused.

    Parameters
    ----------
    time : array-like, shape (n,)
        Times [s], growing; 0 is the start of the process.
    probes : mapping of str to array-like, shape (n,)
        What each probe reads [degC], each in a container of its own, by a name; NaN where a reading is missing.
    medium : array-like, shape (n,), optional
        The heating medium [degC]; left out, it is that of the case.
    depths : mapping of str to float, optional
        Insertions [m] of probes that are not where the case's probe is.
    cooling : float, optional
        When cooling starts [s]; left out, it is found.

    Raises
    ------
    InputError
        As :func:`read_run`; or if the arrays are not of one length.

    Examples
    --------
    >>> import numpy as np
    >>> import thermsim
    >>> time = np.arange(0.0, 3600.0, 30.0)
    >>> run = thermsim.run_from_arrays(time, {"Can 1": 110.0 - 70.0 * np.exp(-time / 900.0)})
    >>> [(course.name, course.time.size) for course in run.courses]
    [('Can 1 [C]', 120)]
    """
    named = {f"{plain(name)} [C]": readings for name, readings in probes.items()}
    columns = {"Time [s]": time, **named, **({} if medium is None else {"Medium [C]": medium})}
    arrays = {name: np.array(values, dtype=float) for name, values in columns.items()}
    if len({array.shape for array in arrays.values()}) > 1 or arrays["Time [s]"].ndim != 1:
        shapes = ", ".join(f"{name} {array.shape}" for name, array in arrays.items())
        raise InputError(f"time and readings must be lists of the same length; their shapes are {shapes}")
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(arrays)
    rows = zip(*(array.tolist() for array in arrays.values()), strict=True)
    writer.writerows([["" if math.isnan(value) else repr(value) for value in row] for row in rows])
    given = Columns(
        probes=tuple(named),
        medium=None if medium is None else "Medium [C]",
        depths=tuple((f"{plain(name)} [C]", depth) for name, depth in (depths or {}).items()),
        cooling=cooling,
    )
    return run_from_bytes(text.getvalue().encode("utf-8"), given, name="arrays.csv")


def said_column(choice: str | None) -> str | int | None:
    """A column by its header, or by its number from 1 where it is said by that."""
    return int(choice) if choice is not None and choice.isascii() and choice.isdecimal() else choice


def _found(log: Log, choice: str) -> int:
    """Index of a column of readings by its header or, where no header is spelt like that, by its number."""
    return find_column(log, choice if choice in log.columns else said_column(choice))


def _probe_columns(log: Log, columns: Columns, medium: int | None) -> list[int]:
    if columns.probes:
        found = [_found(log, choice) for choice in columns.probes]
    else:
        left = [place for place in range(len(log.columns)) if place != medium]
        if not left:
            raise InputError(f"{log.name}: holds no column beside the medium's; name the probe's")
        found = [left[find_column(_only(log, left), None)]]
    for order, place in enumerate(found):
        header = plain(log.columns[place])
        if place in found[:order]:
            raise InputError(f'{log.name}: column "{header}" is named twice as a probe; name each column once')
        if place == medium:
            raise InputError(
                f'{log.name}: column "{header}" is named as the medium and as a probe; it is one of them'
            )
    return found


def _only(log: Log, places: Sequence[int]) -> Log:
    """The log with some of its columns."""
    columns, numbers = tuple(log.columns[k] for k in places), tuple(log.numbers[k] for k in places)
    return replace(log, columns=columns, values=log.values[:, list(places)], numbers=numbers)


def _depths(log: Log, columns: Columns, probes: Sequence[int]) -> dict[int, float]:
    depths: dict[int, float] = {}
    for choice, depth in columns.depths:
        place = _found(log, choice)
        header = plain(log.columns[place])
        if place not in probes:
            named = ", ".join(f'"{plain(log.columns[probe])}"' for probe in probes)
            raise InputError(
                f'{log.name}: a depth is given for column "{header}", which is not a probe; probes: {named}'
            )
        if place in depths:
            raise InputError(f'{log.name}: two depths are given for column "{header}"; give one')
        depths[place] = depth
    return depths


def _course(
    log: Log, place: int, start: float, insertion: float | None, notes: list[str], *, of_medium: bool
) -> Course:
    """One column without what cannot be a reading, its times from the start of the process."""
    header = plain(log.columns[place])
    result = cleaned(log, place, of_medium=of_medium)
    notes += [f"{log.name}: {note}" for note in result.notes]
    kept = result.time >= start
    if kept.sum() < FEWEST:
        raise InputError(
            f'{log.name}: column "{header}" has {int(kept.sum())} usable readings after the start of the process; at '
            f"least {FEWEST} are needed"
        )
    return Course(header, result.time[kept] - start, result.temperature[kept], insertion)


def _on_sampling(log: Log) -> list[str]:
    """That samples are not evenly spaced, where they are not."""
    steps = np.diff(log.time)
    usual = float(np.median(steps))
    odd = int((np.abs(steps - usual) > 0.5 * usual).sum())
    if not odd:
        return []
    return [
        f"{log.name}: sampled every {usual:g} s; {odd} interval{'s differ' if odd > 1 else ' differs'} by more than "
        f"half of that ({steps.min():g} to {steps.max():g} s)."
    ]
