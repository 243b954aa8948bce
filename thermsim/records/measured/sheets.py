"""A comparison for spreadsheets: a row a container, curves and fits as columns; CSV files and one workbook."""

from __future__ import annotations

import csv
import importlib.util
import io
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from thermsim.assess.measured.model import FITTED
from thermsim.assess.measured.result import Comparison
from thermsim.quantities import TEMPERATURE, TIME
from thermsim.records.files.atomic import whole_file, write_text
from thermsim.records.measured.rows import cells_of

Value = float | str
#: A name, heads, and rows.
Sheet = tuple[str, Sequence[str], Sequence[Sequence[Value]]]
#: A text that begins so would be computed by a spreadsheet.
_COMPUTED = ("=", "+", "-", "@", "\t", "\r")
#: What the workbook is written with; without it there are CSV files alone.
WRITER = "openpyxl"


def sheets(found: Comparison) -> tuple[Sheet, ...]:
    """The containers, the curves and the fits, each as heads and rows."""
    rows = [cells_of(one) for one in found.containers]
    containers: Sheet = (
        "containers",
        [cell.head for cell in rows[0]],
        [[cell.shown for cell in row] for row in rows],
    )
    return containers, ("curves", *_curves(found)), ("fits", _FIT_HEADS, list(_fits(found)))


def _curves(found: Comparison) -> tuple[list[str], list[list[Value]]]:
    """Time, medium, and of every container what was read, fitted and corrected, blank where there is nothing."""
    time = np.unique(np.concatenate([one.time for one in found.containers]))
    heads = [f"time [{TIME.unit}]", f"medium [{TEMPERATURE.unit}]"]
    columns = [time / TIME.times, found.process.medium_at(time)]
    for one in found.containers:
        place = np.searchsorted(time, one.time)
        curves = [("read", one.time, one.temperature)]
        if one.fitted is not None:
            curves.append(("fitted", one.time, one.fitted.temperature))
        if one.corrected is not None:
            inside = time[(time >= one.corrected.time[0]) & (time <= one.corrected.time[-1])]
            curves.append(("cold spot", inside, np.interp(inside, one.corrected.time, one.corrected.temperature)))
        for name, when, values in curves:
            column = np.full(time.size, np.nan)
            column[place if when is one.time else np.searchsorted(time, when)] = values
            heads.append(f"{one.name}, {name} [{TEMPERATURE.unit}]")
            columns.append(column)
    table = np.column_stack(columns).tolist()
    return heads, [["" if np.isnan(value) else round(value, 4) for value in row] for row in table]


_FIT_HEADS = ("can", "parameter", "unit", "value", "from", "to", "by itself", "residual rms [K]")


def _fits(found: Comparison) -> Iterator[list[Value]]:
    for one in found.containers:
        alone = {estimate.name: estimate.value for estimate in one.own}
        for estimate in one.fit.estimates if one.fit is not None else ():
            quantity = FITTED[estimate.name][0]
            yield [
                one.name,
                estimate.name,
                quantity.unit,
                *(float(f"{quantity.edge(value):.7g}") for value in (estimate.value, estimate.low, estimate.high)),
                float(f"{quantity.edge(alone[estimate.name]):.7g}") if estimate.name in alone else "",
                round(one.fit.rms, 4) if one.fit is not None else "",
            ]


def save_sheets(found: Comparison, folder: Path) -> list[Path]:
    """Write one CSV file a sheet into an existing folder and, where its writer is installed, a workbook of all.

    Raises
    ------
    InputError
        If a file cannot be written.
    """
    written = []
    for name, heads, rows in sheets(found):
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow([_as_text(head) for head in heads])
        writer.writerows([[_as_text(value) if isinstance(value, str) else value for value in row] for row in rows])
        path = folder / f"{name}.csv"
        write_text(path, text.getvalue())
        written.append(path)
    if importlib.util.find_spec(WRITER) is not None:
        written.append(_workbook(found, folder / "comparison.xlsx"))
    return written


def _as_text(value: str) -> str:
    """A user's own words so that no spreadsheet computes them."""
    return f"'{value}" if value.startswith(_COMPUTED) and value != "-" else value


def _workbook(found: Comparison, path: Path) -> Path:
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font

    book = Workbook()
    book.remove(book.active)
    for name, heads, rows in sheets(found):
        sheet = book.create_sheet(name)
        for number, row in enumerate([heads, *rows], 1):
            for place, value in enumerate(row, 1):
                cell = sheet.cell(number, place)
                cell.value = value
                if isinstance(value, str):
                    cell.data_type = "s"  # no formula, whatever it begins with
        for cell in sheet[1]:
            cell.font, cell.alignment = Font(bold=True), Alignment(wrap_text=True, vertical="top")
        sheet.freeze_panes = "B2"
        for place in range(1, len(heads) + 1):
            sheet.column_dimensions[sheet.cell(1, place).column_letter].width = 14
    with whole_file(path) as part:
        book.save(part)
    return path
