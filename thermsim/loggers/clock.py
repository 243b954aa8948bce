"""Times as data loggers write them: numbers with a unit, clock times, dates with times; all to seconds."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.errors import InputError
from thermsim.text import plain

Floats = NDArray[np.float64]

_WORDS = {
    1.0: ("s", "sec", "secs", "second", "seconds", "sek", "sekunde", "sekunden"),
    60.0: ("min", "mins", "minute", "minutes", "minuten"),
    3600.0: ("h", "hr", "hrs", "hour", "hours", "std", "stunde", "stunden"),
}
_UNITS = {word: seconds for seconds, words in _WORDS.items() for word in words}
CLOCKS = ("hh:mm:ss", "hh:mm", "mm:ss")
TIME_UNITS = ("s", "min", "h", *CLOCKS)

_CLOCK = re.compile(r"(\d{1,4}):(\d{1,2})(?::(\d{1,2}))?(?:[.,](\d{1,9}))?\s*(?:([AaPp])\.?[Mm]\.?)?", re.ASCII)
_DATE = re.compile(
    r"(\d{1,4})([-/.])(\d{1,2})\2(\d{1,4})(?:[T,]|\s)\s*(\d[^Z+-]*?)\s*(?:Z|([+-])(\d{2}):?(\d{2}))?", re.ASCII
)
_DAY = 86400.0
#: Two samples of one process are no further apart [s].
LONGEST_PAUSE = 25 * _DAY


def is_clock(cell: str) -> bool:
    """True if a cell holds a time of day or an elapsed time with colons."""
    return _CLOCK.fullmatch(cell.strip()) is not None


def is_date(cell: str) -> bool:
    """True if a cell holds a date with a time."""
    match = _DATE.fullmatch(cell.strip())
    return match is not None and is_clock(match.group(5))


def unit_in(header: str) -> str | None:
    """Unit of time that a column's header names, one of :data:`TIME_UNITS`; ``None`` if it names none."""
    lower = header.lower()
    for clock in CLOCKS:
        if re.search(rf"(?<![a-z:]){clock}(?![a-z:])", lower):
            return clock
    found = [token for token in re.findall(r"[^\W\d_]+", lower) if token in _UNITS]
    return {1.0: "s", 60.0: "min", 3600.0: "h"}[_UNITS[found[-1]]] if found else None


def elapsed(
    cells: Sequence[str], lines: Sequence[int], *, name: str, header: str, unit: str | None, decimal: str
) -> Floats:
    """Times [s] since the first one, never falling, from the ``cells`` of the time column and their ``lines``.

    ``unit`` is one of :data:`TIME_UNITS`, None: that in the header; ``name`` the file's, for the messages;
    ``decimal`` the sign of times that are plain numbers.

    Raises ``InputError`` if a time cannot be read, its unit is not known, or times go backwards or repeat.
    """
    unit = unit or unit_in(header)
    if is_date(cells[0]):
        time = _from_dates(cells, lines, name)
    elif is_clock(cells[0]):
        time = _from_clock(cells, lines, name=name, unit=unit)
    elif unit in ("s", "min", "h"):
        time = _each(cells, lines, lambda cell: float(cell.replace(decimal, ".")), name) * _UNITS[unit]
    elif unit:
        raise InputError(f'{name} line {lines[0]}: time "{plain(cells[0])}" is not written as {unit}')
    else:
        raise InputError(
            f'{name}: the unit of the time column "{plain(header)}" is not known; write it into the header, as in '
            f'"Time [min]", or say it (--time-unit with a run, csv_time_unit in a case: {", ".join(TIME_UNITS)})'
        )
    _check_growing(time, cells, lines, name)
    late = np.flatnonzero(np.diff(time) > LONGEST_PAUSE)
    if late.size:
        place = int(late[0]) + 1
        days = (time[place] - time[place - 1]) / _DAY
        raise InputError(
            f'{name} line {lines[place]}: time "{plain(cells[place])}" lies {days:.3g} days after the one before it, '
            f'"{plain(cells[place - 1])}"; are day, month and year, or the unit of time, what they seem?'
        )
    return np.asarray(time - time[0])


def _each(cells: Sequence[str], lines: Sequence[int], read: Callable[[str], float], name: str) -> Floats:
    time = np.empty(len(cells))
    for place, cell in enumerate(cells):
        try:
            time[place] = read(cell)
        except ValueError:
            raise InputError(
                f'{name} line {lines[place]}: time "{plain(cell)}" cannot be read like the first, "{plain(cells[0])}"'
            ) from None
    return time


def _by_minutes(read: Callable[[str], float]) -> Callable[[str], float]:
    """The same for times that mostly end in hh:mm:ss: each minute is read once, its seconds are added."""
    minutes: dict[str, float] = {}

    def read_quickly(cell: str) -> float:
        minute, seconds = cell[:-2], cell[-2:]
        if minute.count(":") != 2 or minute[-1] != ":" or not (seconds.isdecimal() and seconds < "60"):
            return read(cell)
        if minute not in minutes:
            minutes[minute] = read(minute + "00")
        return minutes[minute] + int(seconds)

    return read_quickly


def _clock_seconds(cell: str, *, minutes_first: bool = False) -> float:
    match = _CLOCK.fullmatch(cell)
    if match is None:
        raise ValueError("not a clock time")
    first, second, third, fraction, half = match.groups()
    a, b, c = int(first), int(second), int(third or 0)
    if third is None and minutes_first:
        a, b, c = 0, a, b
    elif b > 59 or (third is None and fraction):
        raise ValueError("minutes past 59 or with a fraction")
    if c > 59:
        raise ValueError("seconds past 59")
    if half:
        if not 1 <= a <= 12:
            raise ValueError("hours past 12 with am or pm")
        a = a % 12 + (12 if half in "pP" else 0)
    return a * 3600.0 + b * 60.0 + c + (float(f"0.{fraction}") if fraction else 0.0)


def _from_clock(cells: Sequence[str], lines: Sequence[int], *, name: str, unit: str | None) -> Floats:
    if cells[0].count(":") == 1 and unit not in ("hh:mm", "mm:ss"):
        raise InputError(
            f'{name} line {lines[0]}: time "{plain(cells[0])}" may be hh:mm or mm:ss; write which into the header, '
            f'as in "Time [mm:ss]", or say it (--time-unit with a run, csv_time_unit in a case)'
        )
    read = _by_minutes(lambda cell: _clock_seconds(cell.strip(), minutes_first=unit == "mm:ss"))
    time = _each(cells, lines, read, name)
    # A clock that falls back by more than half a day has passed midnight.
    days = np.cumsum(np.diff(time, prepend=time[0]) < -_DAY / 2)
    return time + _DAY * days if float(time.max()) < _DAY else time


def _from_dates(cells: Sequence[str], lines: Sequence[int], name: str) -> Floats:
    def read_with(day_first: bool) -> Floats:
        days: dict[tuple[str | None, ...], float] = {}

        def read(cell: str) -> float:
            match = _DATE.fullmatch(cell.strip())
            if match is None:
                raise ValueError("not a date with a time")
            a, sign, b, c, clock, *offset = match.groups()
            date = (a, sign, b, c, *offset)
            if date not in days:
                days[date] = _start_of_day((a, b, c), day_first) - _offset(*offset)
            return days[date] + _clock_seconds(clock)

        return _each(cells, lines, _by_minutes(read), name)

    first = _DATE.fullmatch(cells[0].strip())
    if first is None or len(first.group(1)) == 4 or first.group(2) == ".":
        return read_with(True)
    return _whichever_grows(read_with, cells, lines, name)


def _whichever_grows(
    read_with: Callable[[bool], Floats], cells: Sequence[str], lines: Sequence[int], name: str
) -> Floats:
    """Times from dates like 03/04/2024: the reading that is possible and runs forwards."""
    possible: list[Floats] = []
    failure = InputError("")
    for day_first in (False, True):
        try:
            time = read_with(day_first)
            _check_growing(time, cells, lines, name)
        except InputError as problem:
            failure = problem
        else:
            possible.append(time - time[0])
    if not possible:
        raise failure
    if len(possible) == 2 and not np.array_equal(possible[0], possible[1]):
        raise InputError(
            f'{name} line {lines[0]}: date "{plain(cells[0])}" may begin with the month or with the day; write dates '
            "as 2024-12-31 or 31.12.2024"
        )
    return possible[0]


def _start_of_day(parts: tuple[str, str, str], day_first: bool) -> float:
    """Start of a day [s] after some fixed day; the parts of its date are in the order in which they are written."""
    a, b, c = (int(part) for part in parts)
    if len(parts[0]) == 4:
        return datetime.date(a, b, c).toordinal() * _DAY
    month, day = (b, a) if day_first else (a, b)
    return datetime.date(c + 2000 if c < 100 else c, month, day).toordinal() * _DAY


def _offset(sign: str | None, hours: str | None, minutes: str | None) -> float:
    """Lead of a clock over universal time [s]."""
    if not (sign and hours and minutes):
        return 0.0
    return (int(hours) * 3600.0 + int(minutes) * 60.0) * (-1 if sign == "-" else 1)


def _check_growing(time: Floats, cells: Sequence[str], lines: Sequence[int], name: str) -> None:
    steps = np.diff(time)
    bad = np.flatnonzero(~(steps >= 0.0))
    if bad.size:
        place = int(bad[0])
        raise InputError(
            f'{name} line {lines[place + 1]}: time "{plain(cells[place + 1])}" is earlier than the one before it, '
            f'"{plain(cells[place])}" on line {lines[place]}; times must not go back'
        )
