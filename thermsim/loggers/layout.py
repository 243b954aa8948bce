"""Layout of a data logger's text: separator, decimal sign, headers, and the line where the samples begin."""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from thermsim.errors import InputError
from thermsim.loggers.clock import is_clock, is_date, unit_in
from thermsim.text import plain

_LOOK_AT = 400  # lines are enough to see the layout
_CANDIDATES = ((";", "."), (";", ","), ("\t", "."), ("\t", ","), (",", "."), (",", ","))
_BLANKS = {
    *("", "-", "--", "---", "----", "nan", "n/a", "#n/a", "na"),
    *("null", "none", "ol", "err", "error", "inf", "-inf"),
}


@dataclass(frozen=True)
class Layout:
    """Form in which samples are written: the signs between columns and in numbers, the columns and their headers.

    Columns without a header are "column 3"; ``first`` is the index of the line with the first sample, ``example`` its
    cells; ``solid`` are the columns that hold numbers or times in most rows.
    """

    separator: str
    decimal: str
    width: int
    headers: tuple[str, ...]
    first: int
    example: tuple[str, ...]
    solid: tuple[int, ...]

    def number(self, cell: str) -> float:
        """The number in a cell, NaN where there is none."""
        return number_in(cell, self.decimal)


def is_comment(line: str) -> bool:
    """True if a line is a comment."""
    return line.lstrip().startswith(("#", "%", "//", '"#'))


def cells_of(line: str, separator: str) -> list[str]:
    """The cells of a line, quotes and outer blanks taken off."""
    if '"' in line:
        try:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=separator))]
        except csv.Error:
            return [line]
    return [cell.strip() for cell in line.split(separator)]


def number_in(cell: str, decimal: str) -> float:
    """The finite number in a cell, NaN where there is none."""
    if decimal == ",":
        if "." in cell:
            return math.nan
        cell = cell.replace(",", ".")
    try:
        value = float(cell)
    except ValueError:
        return math.nan
    # Python alone reads 1_000 as a number
    return value if math.isfinite(value) and "_" not in cell else math.nan


def reads_as(cell: str, decimal: str) -> bool:
    """True if a cell holds a number or a time."""
    return not math.isnan(number_in(cell, decimal)) or is_clock(cell) or is_date(cell)


def find_layout(lines: Sequence[str], *, name: str, decimal: str | None) -> Layout:
    """Find out how the samples are written by trying every separator with every decimal sign.

    Raises ``InputError`` if no two cells side by side hold numbers or times.
    """
    shown = [(place, line) for place, line in enumerate(lines) if line.strip() and not is_comment(line)]
    some = [line for _, line in shown[:_LOOK_AT]]
    candidates = [pair for pair in _CANDIDATES if decimal in (None, pair[1])]
    scores = [_score(some, *pair) for pair in candidates]
    if not max(scores, default=0.0) > 0:
        raise InputError(
            f"{name}: holds no rows of numbers; columns of times and readings are wanted, separated by ; , or tab"
        )
    separator, sign = candidates[scores.index(max(scores))]
    rows = [cells_of(line, separator) for line in some]
    full = [row for row in rows if sum(reads_as(cell, sign) for cell in row) >= 2]
    width = Counter(len(row) for row in full).most_common(1)[0][0]
    full = [row for row in full if len(row) == width]
    solid = tuple(
        place for place in range(width) if sum(reads_as(row[place], sign) for row in full) > 0.5 * len(full)
    )
    for order, row in enumerate(rows):
        if len(row) >= 2 and _is_sample(row, solid, sign):
            headers = _headers(lines, shown[order][0], separator, width=width)
            _refuse_split_decimals(rows[:order], full, separator, solid, name=name)
            return Layout(separator, sign, width, headers, shown[order][0], tuple(_padded(row, width)), solid)
    raise InputError(f"{name}: holds no rows of numbers below one another")


def from_first_time(layout: Layout, lines: Sequence[str], column: int) -> Layout:
    """The layout with its samples beginning at the first row that has a time, though a reading in it be no number."""
    first = layout.first
    for place in range(layout.first - 1, -1, -1):
        if not lines[place].strip() or is_comment(lines[place]):
            continue
        row = cells_of(lines[place], layout.separator)
        if column >= len(row) or not reads_as(row[column], layout.decimal):
            break
        first = place
    if first == layout.first:
        return layout
    return replace(layout, first=first, headers=_headers(lines, first, layout.separator, width=layout.width))


def _padded(row: Sequence[str], width: int) -> list[str]:
    return [*row, *[""] * (width - len(row))][:width]


def _score(lines: Sequence[str], separator: str, decimal: str) -> float:
    """Score of the lines as rows of numbers: the sum of the shares of their cells that read so."""
    score = 0.0
    for line in lines:
        filled = [cell for cell in cells_of(line, separator) if cell]
        good = sum(reads_as(cell, decimal) for cell in filled)
        score += good / len(filled) if good >= 2 else 0.0
    return score


def _is_sample(row: Sequence[str], solid: Sequence[int], decimal: str) -> bool:
    inside = [row[place] for place in solid if place < len(row)]
    good = sum(reads_as(cell, decimal) for cell in inside)
    blank = sum(cell.lower() in _BLANKS for cell in inside)
    return good >= 1 and good + blank == len(solid)


def _headers(lines: Sequence[str], first: int, separator: str, *, width: int) -> tuple[str, ...]:
    above = [line.strip() for line in lines[:first] if line.strip()][-2:]
    rows = [cells_of(line.lstrip("#%/ "), separator) for line in above]
    names = rows[-1] if rows and len(rows[-1]) >= 2 else []
    units = [unit_in(cell) or cell.strip("[]()") in _UNIT_SIGNS for cell in names if cell]
    if len(rows) == 2 and len(rows[0]) >= 2 and units and all(units) and all(len(cell) <= 8 for cell in names):
        titles = _padded(rows[0], width)
        names = [
            f"{title} [{unit.strip('[]()')}]" if unit else title
            for title, unit in zip(titles, _padded(names, width), strict=True)
        ]
    return tuple(cell or unnamed(place) for place, cell in enumerate(_padded(names, width)))


def unnamed(place: int) -> str:
    """Name of a column without a header; ``place`` counts from 0."""
    return f"column {place + 1}"


#: Numbers with blanks or another separator between them.
_JOINED = re.compile(r"\d(?:\s+|\s*[|^~]\s*)[-+]?\d")
_UNIT_SIGNS = {"°C", "°F", "ºC", "ºF", "degC", "degF", "C", "F", "K", "bar", "mbar", "kPa", "Pa", "psi", "%", "-"}


def _refuse_split_decimals(
    above: Sequence[Sequence[str]], rows: Sequence[Sequence[str]], separator: str, solid: Sequence[int], *, name: str
) -> None:
    """Refuse decimal commas that were taken for separators: between commas, blanks or bars no reading is safe."""
    named = [cell for cell in above[-1] if cell] if above else []
    whole = not any("." in row[place] and not is_date(row[place]) for row in rows for place in solid)
    if separator == "," and len(named) >= 2 and whole and len(solid) > len(named):
        raise InputError(
            f"{name}: {len(named)} headers ({', '.join(plain(header, 20) for header in named[:3])}) stand above "
            f"{len(rows[0])} columns; decimal commas need ; or tab between the columns"
        )
    joined = [cell for row in rows for cell in row if _JOINED.search(cell) and not is_date(cell)]
    if len(joined) > 0.5 * len(rows):
        raise InputError(
            f'{name}: cells such as "{plain(joined[0], 20)}" hold several numbers; ; , or tab separate columns'
        )
