"""Columns of a data logger's file, told apart by their headers and by what they hold."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.errors import InputError
from thermsim.loggers.clock import is_clock, is_date
from thermsim.loggers.layout import Layout
from thermsim.text import did_you_mean, nearest, plain, printed

_TIME_WORDS = {
    *("time", "times", "elapsed", "timestamp", "datetime", "clock", "hour", "minutes", "seconds"),
    *("zeit", "uhrzeit", "zeitstempel", "heure", "tiempo", "hora"),
}
_SHORT_TIME = re.compile(r"t(?=[^a-z0-9]+(s|sec|min|h|hh:mm(:ss)?|mm:ss)\b)|t[_ /](s|sec|min|h)$")


def named(name: str, headers: Sequence[str], file: str) -> int:
    """Index of the header of that name; upper and lower case count only where they must."""
    for same in (str, str.casefold):
        found = [place for place, header in enumerate(headers) if same(header) == same(name.strip())]
        if len(found) == 1:
            return found[0]
        if found:
            raise InputError(
                f'{file}: column "{plain(name)}" stands there {len(found)} times; give its number instead'
            )
    close = nearest(name, headers)
    offered = (
        did_you_mean(name, headers) if close else f"there are {', '.join(printed(header) for header in headers)}"
    )
    raise InputError(f"{file}: has no column {printed(name)}; {offered}")


def time_column(layout: Layout, choice: str | int | None, name: str) -> int:
    """Index of the time column: the one chosen, or the one that its header or its cells show to be it.

    Raises ``InputError`` if there is no such column, or more than one that may be it.
    """
    if isinstance(choice, int):
        if not 1 <= choice <= layout.width:
            raise InputError(f"{name}: has no column {printed(choice)}; its columns run from 1 to {layout.width}")
        return choice - 1
    if choice is not None:
        return named(choice, layout.headers, name)
    titled = [place for place in layout.solid if _is_time(layout.headers[place])]
    dated = [place for place in layout.solid if is_date(layout.example[place])]
    clocked = [place for place in layout.solid if is_clock(layout.example[place])]
    for candidates in (titled, dated, clocked):
        if len(candidates) == 1:
            return candidates[0]
    if titled or dated or clocked:
        some = [layout.headers[place] for place in titled or dated or clocked]
        raise InputError(
            f"{name}: which column is the time is not clear ({', '.join(printed(header) for header in some)}); "
            "name it (--time with a run, csv_time in a case)"
        )
    return layout.solid[0]


def _is_time(header: str) -> bool:
    words = re.findall(r"[^\W\d_]+", header.lower())
    return not _TIME_WORDS.isdisjoint(words) or _SHORT_TIME.match(header.lower()) is not None


def is_temperature(header: str) -> bool:
    """True if a header says that its column is a temperature."""
    if re.search(r"(?:^|[^A-Za-z])T\d*(?:$|[^A-Za-z])", header):
        return True
    return re.search(r"temp|°|deg ?[CF]\b|(?:[\[(_ ]|^)[CFK](?:[\])]|$)", header, re.IGNORECASE) is not None


#: A sign or a word of the scale, or its letter alone at the end or before a bracket.
_FAHRENHEIT = re.compile(r"(?:[°º]|deg(?:ree)?s?[. _]*)\s*F\b|fahrenheit|(?<![^\W_])F(?=[\])}]|$)", re.IGNORECASE)
_KELVIN = re.compile(r"kelvin|(?<![^\W_])K(?=[\])}]|$)", re.IGNORECASE)
_THERMOCOUPLE = re.compile(r"(?:type|typ|tc|couple)[ _-]*K$", re.IGNORECASE)


def _is_label(header: str, headers: Sequence[str]) -> bool:
    """True if a letter at the end counts columns: "probe F" beside "probe E"."""
    return any(len(other) == len(header) and other[:-1] == header[:-1] != "" for other in headers if other != header)


def in_celsius(
    values: NDArray[np.float64], header: str, notes: list[str], headers: Sequence[str] = ()
) -> NDArray[np.float64]:
    """Readings in degC; where the header says degF or K they are turned, and a note is added.

    ``headers`` are those of all columns: among others a letter may be a column's own.
    """
    if header[-1:].isalpha() and (_is_label(header, headers) or _THERMOCOUPLE.search(header)):
        return values
    if _FAHRENHEIT.search(header):
        notes.append(f'column "{plain(header)}" is turned from degF into degC.')
        return (values - 32.0) / 1.8
    if _KELVIN.search(header):
        notes.append(f'column "{plain(header)}" is turned from K into degC.')
        return values - 273.15
    return values
