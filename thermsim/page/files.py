"""Files that the page leaves behind, and those that it opens, as the command line writes and reads them."""

from __future__ import annotations

import csv
import io
import tempfile
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from thermsim.assess.measured.result import Comparison
from thermsim.assess.simulate.result import Result
from thermsim.case.file.reader import LARGEST_CASE
from thermsim.errors import InputError
from thermsim.figures.files import inline_svg, report_of, save_bench_sheet
from thermsim.figures.measured.files import draw_measured, save_measured_pdf
from thermsim.figures.probe.ladder import plot_ladder
from thermsim.loggers.logger import decoded
from thermsim.page.draft import Draft, draft_of_bytes, draft_of_text
from thermsim.quantities import LENGTH, LETHALITY, TEMPERATURE, TIME, System
from thermsim.records.files.results import load_result, save_result
from thermsim.records.measured.file import save_comparison
from thermsim.records.measured.report import measured_report_html
from thermsim.records.measured.sheets import save_sheets
from thermsim.systems import shown_in, told_columns
from thermsim.text import plain, stamp
from thermsim.version import PROGRAM

#: The largest files that are opened [bytes].
LARGEST_RESULT, LARGEST_LOG = 200_000_000, 20_000_000
LARGEST_UPLOAD = max(LARGEST_CASE, LARGEST_LOG, LARGEST_RESULT)

Thing = TypeVar("Thing")
Made = TypeVar("Made")

#: Held while something is drawn: the settings of figures are one for all threads.
_DRAWING = threading.Lock()


def made(make: Callable[[Thing], Made], of: Thing, system: System) -> Made:
    """A file or figure of a result or a comparison, in the units of a system and beside the page."""
    with _DRAWING, shown_in(system):
        return make(of)


def ladder_svg(result: Result) -> str:
    """The ladder of depths as an SVG element."""
    return inline_svg(plot_ladder(result), "ladder")


def result_bytes(result: Result) -> bytes:
    """The results file."""
    return _written(lambda path: save_result(result, path), "result.h5")


def bench_sheet_bytes(result: Result) -> bytes:
    """The bench sheet of a recommendation, as PDF."""
    return _written(lambda path: save_bench_sheet(result, path, date=stamp()[:10]), "bench-sheet.pdf")


def report_bytes(result: Result) -> bytes:
    """The report as one page of HTML."""
    return report_of(result, "case.toml", when=stamp()).encode("utf-8")


def measured_svgs(found: Comparison) -> dict[str, str]:
    """The figures of a comparison as SVG elements, by title."""
    return draw_measured(found, None).svgs


def record_html(found: Comparison) -> bytes:
    """The record of a measured run as one page of HTML."""
    return measured_report_html(found, measured_svgs(found), program=PROGRAM, when=stamp()).encode("utf-8")


def record_pdf(found: Comparison) -> bytes:
    """The same as PDF."""
    return _written(lambda path: save_measured_pdf(found, path, program=PROGRAM, when=stamp()), "record.pdf")


def comparison_bytes(found: Comparison) -> bytes:
    """The results file of a measured run, which holds the logger's bytes and the case."""
    return _written(lambda path: save_comparison(found, path), "comparison.h5")


def comparison_tables(found: Comparison) -> bytes:
    """Its tables as a workbook."""
    return _written(lambda path: save_sheets(found, path.parent), "comparison.xlsx")


def _written(write: Callable[[Path], object], name: str) -> bytes:
    """The bytes of a file that is written to a folder of its own."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        write(path)
        return path.read_bytes()


def compared(kept: Sequence[tuple[str, Result]]) -> tuple[list[str], list[list[str]]]:
    """Heads and rows of answers beside each other, in the units that are asked for."""
    heads = [
        "answer",
        LETHALITY.axis("least lethality"),
        LENGTH.axis("r"),
        LENGTH.axis("z"),
        TEMPERATURE.axis("slowest heating, end of heating"),
        "target",
        TIME.axis("hold needed"),
        LENGTH.axis("insertion"),
        LETHALITY.axis("lethality by the probe"),
    ]
    rows = []
    for name, result in kept:
        least, slowest, target = result.cold_spot.least_lethality, result.cold_spot.slowest_heating, result.target
        probe = result.probe
        hold = None if target is None else target.required_hold
        rows.append(
            [
                plain(name, 80),
                LETHALITY.number(least.lethality),
                LENGTH.number(least.r),
                LENGTH.number(least.z),
                TEMPERATURE.number(slowest.end_of_heating),
                "" if target is None else "reached" if target.reached else "NOT reached",
                "" if hold is None else TIME.number(hold),
                "" if probe is None else LENGTH.number(probe.depth),
                "" if probe is None else LETHALITY.number(probe.reading.lethality),
            ]
        )
    return told_columns(heads, rows)


def compared_csv(kept: Sequence[tuple[str, Result]]) -> bytes:
    """The same as CSV; a text that a spreadsheet would take for a formula is kept from being one."""
    heads, rows = compared(kept)
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(heads)
    writer.writerows([f"'{row[0]}" if row[0][:1] in "=+-@" else row[0], *row[1:]] for row in rows)
    return text.getvalue().encode("utf-8")


def opened(data: bytes, name: str) -> tuple[Draft, Result | None]:
    """A case file, or a results file and the case in it.

    Raises ``InputError`` if it is neither, in the words of the command line.
    """
    if name.lower().endswith((".h5", ".hdf5")):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "result.h5"
            path.write_bytes(data)
            try:
                result = load_result(path)
            except InputError as failure:
                raise InputError(str(failure).replace(str(path), plain(name, 120))) from None
        case = result.case
        if not case.text:
            raise InputError(f"{plain(name, 120)}: its case was made in a program, and is not kept as a text")
        return draft_of_text(case.text, case.file or "case.toml", case.attachments), result
    return draft_of_bytes(data, name), None


def log_text(data: bytes, name: str) -> str:
    """The text of a logger's file."""
    if len(data) > LARGEST_LOG:
        raise InputError(f"{plain(name, 120)}: too large for a logger's file")
    return decoded(data, plain(name, 120))


def with_log(draft: Draft, name: str, text: str) -> Draft:
    """The draft with a logger's file as its process, in place of the stages."""
    kept = {key: value for key, value in draft.table("process").items() if key not in ("stage", "start_C")}
    return replace(draft.with_value(("process",), {**kept, "csv": name}), attachments={name: text})
