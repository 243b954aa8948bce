"""The samples of a data logger's file as columns of cells: all at once where its lines are plain, else by lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.errors import InputError
from thermsim.loggers.layout import Layout, cells_of, is_comment, reads_as
from thermsim.text import plain

_LONGEST_END = 20  # lines after the last sample; more than that is a part of the record that cannot be read
#: What makes a line more than cells between separators: quotes, and what comments begin with.
_NOT_PLAIN = ('"', "#", "%", "//")


@dataclass(frozen=True)
class Samples:
    """The rows from the first sample on: cells one row after another, and the line on which each row stands."""

    flat: list[str]
    lines: Sequence[int]
    layout: Layout

    def cells(self, place: int) -> list[str]:
        """Cells of one column."""
        return self.flat[place :: self.layout.width]

    def numbers(self, place: int) -> NDArray[np.float64]:
        """Numbers of one column, NaN where a cell holds none; what :meth:`Layout.number` makes of each cell."""
        cells = self.cells(place)
        try:
            return _all_numbers(cells, self.layout.decimal)
        except ValueError:
            return np.array([self.layout.number(cell) for cell in cells], dtype=float)


def samples_of(lines: Sequence[str], layout: Layout, column: int, *, name: str, notes: list[str]) -> Samples:
    """The samples in the lines of a file, whose times stand in a ``column``; what was left out is added to ``notes``.

    Raises ``InputError`` if a line without a time stands between samples, or too many follow the last sample.
    """
    quick = _plain_samples(lines, layout, column)
    found = quick if quick is not None else _line_by_line(lines, layout, column, name=name, notes=notes)
    if lines[-1].strip() and _cut_short(found.cells(layout.width - 1), layout.decimal):
        notes.append(f"line {found.lines[-1]}, the last, is cut short and is skipped.")
        return Samples(found.flat[: -layout.width], found.lines[:-1], layout)
    return found


def _cut_short(cells: Sequence[str], decimal: str) -> bool:
    """True if the last cell of a file has fewer decimals than all before it, which have the same number of them."""
    *before, last = (len(cell.partition(decimal)[2]) for cell in cells[-50:])
    return len(before) >= 5 and len(set(before)) == 1 and last < before[0]


def _all_numbers(cells: list[str], decimal: str) -> NDArray[np.float64]:
    """All cells as numbers; ``ValueError`` where one may not be one."""
    text = "".join(cells)
    if "_" in text or (decimal == "," and "." in text):
        raise ValueError("not plain numbers")
    if decimal == ",":
        cells = "\n".join(cells).replace(",", ".").split("\n")
    values = np.array(list(map(float, cells)))
    values[~np.isfinite(values)] = np.nan
    return values


def _plain_samples(lines: Sequence[str], layout: Layout, column: int) -> Samples | None:
    """The samples if every line to the end is one, of plain cells, as many as there are columns; else None."""
    end = len(lines)
    while end > layout.first and not lines[end - 1].strip():
        end -= 1
    body = lines[layout.first : end]
    between = layout.width - 1
    if not between or any(line.count(layout.separator) != between for line in body):
        return None
    text = layout.separator.join(body)
    if any(mark in text for mark in _NOT_PLAIN):
        return None
    flat = [cell.strip() for cell in text.split(layout.separator)]
    samples = Samples(flat, range(layout.first + 1, end + 1), layout)
    cells = samples.cells(column)
    try:
        good = bool(np.isfinite(_all_numbers(cells, layout.decimal)).all())
    except ValueError:
        # whether a cell is a time goes by where its digits stand
        good = reads_as(cells[0], layout.decimal) and _written_alike(cells)
        good = good or all(reads_as(cell, layout.decimal) for cell in cells)
    return samples if good else None


def _written_alike(cells: list[str]) -> bool:
    """True if all cells have digits where the first has them, and otherwise the same characters."""
    size = len(cells[0])
    if any(len(cell) != size for cell in cells):
        return False
    first, *_ = signs = np.array(cells, dtype=f"U{size}").view(np.uint32).reshape(-1, size)
    digit = (first >= ord("0")) & (first <= ord("9"))
    inside = (signs[:, digit] >= ord("0")) & (signs[:, digit] <= ord("9"))
    return bool(inside.all() and (signs[:, ~digit] == first[~digit]).all())


def _line_by_line(lines: Sequence[str], layout: Layout, column: int, *, name: str, notes: list[str]) -> Samples:
    flat: list[str] = []
    where: list[int] = []
    strange: list[int] = []
    longer: list[int] = []
    for number, line in enumerate(lines[layout.first :], start=layout.first + 1):
        if not line.strip() or is_comment(line):
            continue
        row = cells_of(line, layout.separator)
        if not any(row):
            continue
        if column >= len(row) or not reads_as(row[column], layout.decimal):
            strange.append(number)
            if len(row) == layout.width and row[column][:1].isdigit():
                raise InputError(
                    f'{name} line {number}: time "{plain(row[column])}" cannot be read; numbers are written without '
                    "signs between thousands"
                )
            continue
        if strange and flat:
            raise InputError(
                f'{name} line {strange[0]}: "{plain(lines[strange[0] - 1].strip())}" has no time in column '
                f"{column + 1} although samples follow; delete the line or complete it"
            )
        if any(row[layout.width :]):
            longer.append(number)
        row.extend([""] * (layout.width - len(row)))
        flat += row[: layout.width]
        where.append(number)
    if len(strange) > _LONGEST_END:
        raise InputError(
            f'{name} line {strange[0]}: "{plain(lines[strange[0] - 1].strip())}" and {len(strange) - 1} more lines '
            f"have no time in column {column + 1}; at most {_LONGEST_END} may follow the last sample"
        )
    if strange and flat:
        notes.append(f"lines after the last sample (from line {strange[0]} on) are skipped.")
    if longer and layout.separator == layout.decimal:
        raise InputError(
            f'{name} line {longer[0]}: "{plain(lines[longer[0] - 1].strip())}" has more than {layout.width} cells: '
            "decimal commas between commas must stand in quotes, or ; or tab between the columns"
        )
    if longer:
        notes.append(
            f"{len(longer)} line{'s have' if len(longer) > 1 else ' has'} more than {layout.width} cells (line "
            f"{longer[0]}{' the first' if len(longer) > 1 else ''}); the cells beyond are skipped."
        )
    return Samples(flat, where, layout)
