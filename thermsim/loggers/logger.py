"""The one reader of CSV files as data loggers write them: retort records and measured runs alike."""

from __future__ import annotations

import codecs
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from thermsim.errors import InputError
from thermsim.loggers.clock import elapsed
from thermsim.loggers.columns import in_celsius, is_temperature, named, time_column
from thermsim.loggers.layout import Layout, find_layout, from_first_time, unnamed
from thermsim.loggers.samples import samples_of
from thermsim.loggers.textfile import read_bytes
from thermsim.text import plain, printed
from thermsim.values import copy_arrays

LARGEST_LOG = 200_000_000  # bytes
#: Degree signs before C or F of DOS and Macintosh code pages, as they look in Latin-1.
_OTHER_DEGREES = re.compile(r"[ø¡](?=\s?[CF]\b)")
# How zip archives begin, which spreadsheets are, and older spreadsheets.
_SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
_PAUSE = 10.0  # usual steps between samples; a longer one ...
_LONG = 120.0  # s; ... that also lasts longer than this is a pause


@dataclass(frozen=True)
class Log:
    """Record of a data logger: ``name`` of the file, what each sample holds, and what was assumed or left out.

    ``time`` (n,) is that from the first sample [s], strictly growing from 0, n >= 2; ``columns`` are the headers of
    all columns but the time's; ``values`` (n, n_columns) the readings, temperatures in degC, NaN where a cell is
    blank or holds no number; ``numbers`` each column's place in the file, from 1, ``lines`` (n,) each sample's line.
    """

    name: str
    time: NDArray[np.float64]
    columns: tuple[str, ...]
    values: NDArray[np.float64]
    numbers: tuple[int, ...]
    lines: NDArray[np.int64]
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        copy_arrays(self, time=float, values=float, lines=int)


def log_text(path: str | Path, *, limit: int) -> str:
    """Text of a data logger's file of at most ``limit`` bytes; an ``InputError`` as of the two that it calls."""
    return decoded(read_bytes(path, limit=limit, what="a data logger's file"), plain(Path(path).name, 120))


def decoded(data: bytes, name: str) -> str:
    """Text of the bytes of a data logger's file of that name, whatever its encoding.

    Raises ``InputError`` if they are binary.
    """
    if data.startswith(_SPREADSHEETS) or Path(name).suffix.lower() in (".xlsx", ".xls", ".ods"):
        raise InputError(f"{name}: looks like a spreadsheet: export it as CSV")
    wide = _wide(data)
    try:
        text = data.decode(wide or "utf-8-sig")
    except UnicodeDecodeError:
        if wide:
            raise InputError(
                f"{name}: is not a text file: it begins like UTF-16, but is none or is cut short"
            ) from None
        # of the single-byte encodings some have another degree sign
        text = _OTHER_DEGREES.sub("°", data.decode("latin-1"))
    if "\0" in text:
        raise InputError(f"{name}: is not a text file (it holds NUL bytes)")
    return text


def _wide(data: bytes) -> str:
    """The two-byte encoding of a text, by its mark or by the NUL that goes with each plain letter; "" if none."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    start = data[:2000]
    for encoding, high in (("utf-16-le", start[1::2]), ("utf-16-be", start[::2])):
        if high and high.count(0) > 0.8 * len(high) and start.count(0) == high.count(0):
            return encoding
    return ""


def log_from_text(
    text: str,
    *,
    name: str = "log.csv",
    time: str | int | None = None,
    time_unit: str | None = None,
    decimal: str | None = None,
) -> Log:
    """The record in the text of a data logger's file of that name.

    Columns are separated by ``;``, ``,`` or tabs; decimals have a point or a comma. Lines before the columns'
    headers are passed over. Times are numbers with a unit in their header, clock times (midnight may pass), or
    dates with times; a sample whose time is that of the one before is passed over, with a note. Columns in degF or K
    by their header are turned into degC.

    Raises ``InputError`` with the file's name and, where there is one, the line: a file that holds no numbers, a time
    column or a unit that is not clear, times that go backwards, fewer than two samples.

    Parameters
    ----------
    time : str or int or None
        The time column: header or number from 1; ``None``: found by its header or what it holds.
    time_unit : str or None
        "s", "min", "h", "hh:mm:ss", "hh:mm" or "mm:ss"; ``None``: from the header.
    decimal : str or None
        "." or ","; ``None``: found by looking.
    """
    lines = _lines(text)
    layout = find_layout(lines, name=name, decimal=decimal)
    column = time_column(layout, time, name)
    layout = from_first_time(layout, lines, column)
    notes: list[str] = []
    samples = samples_of(lines, layout, column, name=name, notes=notes)
    where = samples.lines
    header = layout.headers[column]
    if len(where) < 2:
        raise InputError(f"{name}: has {len(where)} sample{'' if len(where) == 1 else 's'}; at least two are needed")
    seconds = elapsed(samples.cells(column), where, name=name, header=header, unit=time_unit, decimal=layout.decimal)
    others = [place for place in range(layout.width) if place != column]
    values = np.column_stack([samples.numbers(place) for place in others]) if others else np.empty((len(where), 0))
    again = np.flatnonzero(np.diff(seconds) == 0.0) + 1
    if again.size:
        notes.append(_on_repeats(where, again))
        keep = np.setdiff1d(np.arange(seconds.size), again)
        seconds, values, where = seconds[keep], values[keep], [where[place] for place in keep]
        if seconds.size < 2:
            raise InputError(f"{name}: all samples have the same time; at least two times are needed")
    filled = np.asarray(np.isfinite(values).any(axis=0))
    kept = [place for place, full in zip(others, filled, strict=True) if full]
    if not kept:
        raise InputError(f"{name}: no column beside the time holds numbers")
    values = values[:, filled]
    for place, number in enumerate(kept):
        values[:, place] = in_celsius(values[:, place], layout.headers[number], notes, layout.headers)
    _note_unnamed(layout, [column, *kept], notes)
    notes += pauses(seconds, where)
    return Log(
        name,
        seconds,
        tuple(layout.headers[place] for place in kept),
        values,
        tuple(place + 1 for place in kept),
        np.array(where),
        tuple(f"{name}: {note}" for note in notes),
    )


def columns_in(text: str, name: str = "log.csv") -> tuple[str, ...]:
    """The headers of all columns in the text of a logger's file, in its order.

    Raises ``InputError`` if it holds no columns of numbers.
    """
    return find_layout(_lines(text), name=name, decimal=None).headers


def _lines(text: str) -> list[str]:
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")


def find_column(log: Log, choice: str | int | None) -> int:
    """Index into ``log.columns`` of the temperature column that is meant.

    ``choice`` is a header, a number from 1 as the columns stand in the file, or ``None``: the only column, or the
    only one whose header says that it is a temperature.

    Raises ``InputError`` if there is no such column, or more than one.
    """
    offered = ", ".join(
        f'{number} "{plain(header)}"' for number, header in zip(log.numbers, log.columns, strict=True)
    )
    if isinstance(choice, int):
        if choice in log.numbers:
            return log.numbers.index(choice)
        raise InputError(f"{log.name}: column {printed(choice)} is not a column of readings; there are {offered}")
    if choice is not None:
        return named(choice, log.columns, log.name)
    warm = [place for place, header in enumerate(log.columns) if is_temperature(header)]
    for candidates in (range(len(log.columns)), warm):
        if len(candidates) == 1:
            return candidates[0]
    raise InputError(
        f"{log.name}: which column is the temperature is not clear; name the medium's and each probe's (--medium and "
        f"--probe on the command line), of {offered}"
    )


def _on_repeats(where: Sequence[int], again: NDArray[np.intp]) -> str:
    return (
        f"{again.size} sample{'s repeat' if again.size > 1 else ' repeats'} the time of the one before "
        f"({lines_named([where[place] for place in again])}): the first of each time is kept."
    )


def lines_named(lines: Sequence[int]) -> str:
    """Lines of a file in words, the first few of them."""
    more = ", ..." if len(lines) > 5 else ""
    return f"line{'s' if len(lines) > 1 else ''} {', '.join(map(str, lines[:5]))}{more}"


def _note_unnamed(layout: Layout, used: Sequence[int], notes: list[str]) -> None:
    """Rows that go on beyond the last header: a header may be missing, or a cell be one too many."""
    named = [place for place, header in enumerate(layout.headers) if header != unnamed(place)]
    if named and max(used) > named[-1]:
        notes.append(
            f"rows have {max(used) + 1} cells under {named[-1] + 1} headers: check that each column stands under its "
            "own header."
        )


def long_pauses(seconds: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Steps between samples that are pauses, shape (n - 1,); ``seconds`` are the samples' times, shape (n,)."""
    steps = np.diff(seconds)
    return np.asarray((steps > _PAUSE * np.median(steps)) & (steps > _LONG))


def pause_at(seconds: NDArray[np.float64], time: float) -> tuple[float, float] | None:
    """The pause between samples in which a time lies [s], its beginning counted; None where it lies in none."""
    for place in np.flatnonzero(long_pauses(seconds)).tolist():
        if seconds[place] <= time < seconds[place + 1]:
            return float(seconds[place]), float(seconds[place + 1])
    return None


def pauses(seconds: NDArray[np.float64], where: Sequence[int], besides: Collection[int] = ()) -> list[str]:
    """Pauses in the samples as one sentence at most, or none; ``besides`` are lines not to be named."""
    steps = np.diff(seconds)
    long = [place for place in np.flatnonzero(long_pauses(seconds)).tolist() if where[place + 1] not in besides]
    if not long:
        return []
    shown = ", ".join(
        f"for {steps[place] / 60:.3g} min from {seconds[place] / 60:.4g} min on (before line {where[place + 1]})"
        for place in long[:3]
    )
    more = f" and {len(long) - 3} more times" if len(long) > 3 else ""
    return [
        f"no samples {shown}{more}; usually one is taken every {np.median(steps) / 60:.3g} min. In between the "
        "temperature is interpolated linearly."
    ]
