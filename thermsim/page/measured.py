"""A measured run on the page: a logger's file and its columns, the comparison, and what is filed of it."""

from __future__ import annotations

import functools
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from nicegui import run, ui

from thermsim.assess.measured.model import FITTED
from thermsim.assess.measured.result import USUAL_FIT, Comparison, Plan
from thermsim.errors import InputError
from thermsim.loggers.clock import TIME_UNITS
from thermsim.loggers.logger import columns_in, log_from_text
from thermsim.loggers.run import Columns, said_column
from thermsim.notice import of_severity
from thermsim.page import files
from thermsim.page.bench import Bench, Logged, in_its_units
from thermsim.page.words import download, show, show_drawing, show_upload
from thermsim.quantities import DEPTH, TIME, System
from thermsim.records.measured.sentences import first_sections
from thermsim.records.words.answer import CAUTION
from thermsim.records.words.parts import Notices, Section
from thermsim.systems import row_shown
from thermsim.text import plain

#: What holds where no column, or no depth, is given.
OF_CASE, FOUND = "as the case has it", "found"


def logged(data: bytes, name: str) -> tuple[Logged, str]:
    """A logger's file as it is kept, and its text.

    Raises ``InputError`` if it holds no columns of numbers.
    """
    text, name = files.log_text(data, name), plain(name, 120)
    columns_in(text, name)
    return Logged(name, data), text


def choices(numbers: Iterable[int], headers: Sequence[str]) -> dict[str, str]:
    """Columns by how a plan names them: by header, or by number where several have the same."""
    counts, found = Counter(headers), {}
    for number, header in zip(numbers, headers, strict=True):
        alone = counts[header] == 1
        found[header if alone else str(number)] = plain(header) if alone else f"{number}: {plain(header)}"
    return found


class MeasuredRun:
    """The form of a comparison: the logger's file, which of its columns is what, what is fitted."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self._logged: Logged | None = None
        self._text = ""
        self._row, self._depths = DEPTH, dict[str, ui.number]()
        with ui.row().classes("bar"):
            show_upload("Drop the logger's file (CSV) here", logged, self._take, ".csv,.txt", "run-file")
        self.file = ui.label("").classes("hint").mark("run-name")
        with ui.row().classes("fields") as self.times:
            self.time = _choice("time column", {"": FOUND}, "run-time")
            self.unit = _choice(
                "unit of its times", {"": FOUND, **{unit: unit for unit in TIME_UNITS}}, "run-time-unit"
            )
            for choice in (self.time, self.unit):
                choice.on_value_change(self._read)
        self.times.visible = False
        with ui.row().classes("fields") as self.columns:
            self.medium = _choice("heating medium's column", {"": OF_CASE}, "run-medium")
            self.probes = _choice("probes' columns", {}, "run-probes", several=True)
            self.probes.on_value_change(self.show_depths)
            self.fit = _choice("fitted to the run", {name: name for name in FITTED}, "run-fit", several=True)
            self.fit.value = list(USUAL_FIT)
            self.start = _number("process starts at, min of the record", "0", "run-start")
            self.cooling = _number("cooling starts at, min of the record", "found", "run-cooling")
        self.columns.visible = False
        self.depths = ui.row().classes("fields")

    def _take(self, found: tuple[Logged, str], _: str) -> None:
        self._logged, self._text = found
        headers = columns_in(self._text)
        self.time.set_options({"": FOUND, **choices(range(1, len(headers) + 1), headers)}, value="")
        self.unit.value = ""
        self.times.visible = True
        self._read()

    def _read(self) -> None:
        """Read the file by the time that is said, and offer its columns; say what is not clear."""
        if self._logged is None:
            return
        name = self._logged.name
        try:
            columns = self._times
            log = log_from_text(self._text, name=name, time=said_column(columns.time), time_unit=columns.time_unit)
        except InputError as failure:
            self.file.text, self.columns.visible = str(failure), False
            self.probes.set_options({}, value=[])
            return
        named = choices(log.numbers, log.columns)
        self.file.text = f"{name}: {log.time.size} samples, {log.time[-1] / 60.0:.6g} min"
        self.medium.set_options({"": OF_CASE, **named}, value="")
        self.probes.set_options(named, value=[])
        self.columns.visible = True

    @property
    def _times(self) -> Columns:
        """The time column and its unit, where they are said."""
        return Columns(time=self.time.value or None, time_unit=self.unit.value or None)

    @in_its_units
    def show_depths(self) -> None:
        """Set a field for each probe that may be elsewhere than the case's, in the units that the page is in."""
        depths, self._row = self._said, row_shown(DEPTH)
        self.depths.clear()
        with self.depths:
            self._depths = {
                name: _number(f"insertion of {shown}, {self._row.unit}", OF_CASE, f"run-depth-{place}")
                for place, (name, shown) in enumerate((name, self.probes.options[name]) for name in self.probes.value)
            }
        for name, field in self._depths.items():
            field.value = round(self._row.edge(depths[name]), 4) if name in depths else None

    @property
    def _said(self) -> dict[str, float]:
        """Insertions that are not the case's, by column [m]."""
        return {name: self._row.si_value(field.value) for name, field in self._depths.items() if field.value}

    @property
    def plan(self) -> Plan:
        """The comparison that is asked for."""
        return Plan(
            replace(
                self._times,
                probes=tuple(self.probes.value),
                medium=self.medium.value or None,
                depths=tuple(self._said.items()),
                start=TIME.si_value(self.start.value or 0.0),
                cooling=TIME.si_value(self.cooling.value) if self.cooling.value else None,
            ),
            fit=tuple(self.fit.value),
        )

    def compare(self) -> None:
        """Begin the comparison, if it is said what with."""
        if self._logged is None or not self.probes.value:
            ui.notify("Give the logger's file first, and say which of its columns are the probes'.")
        elif self.bench.case is None:
            ui.notify("The case has faults, see the red fields.")
        else:
            self.bench.compare(self._logged, self.plan)


def _choice(words: str, options: dict[str, str], mark: str, *, several: bool = False) -> ui.select:
    choice = ui.select(options, label=words, multiple=several)
    return choice.props("dense outlined use-chips" if several else "dense outlined").classes("field").mark(mark)


def _number(words: str, blank: str, mark: str) -> ui.number:
    """A field for a number, and what holds where it is left blank."""
    field = ui.number(words, min=0.0).props(f'dense outlined clearable stack-label placeholder="{blank}"')
    return field.classes("field").mark(mark)


def show_comparison(found: Comparison, bench: Bench) -> None:
    """Set a comparison: the answer first, what can be filed, then every check and all that is noted, its curves."""
    sections = first_sections(found)
    show(section for section in sections if not section.detail)
    with ui.row().classes("bar"):
        for words, make, name in RECORDS:
            act = functools.partial(download, make, found, name, bench.system)
            ui.button(words, on_click=act).props("outline no-caps").mark(f"save-{name}")
    with ui.expansion("Every check, and holds for the target").classes("notes").props("dense"):
        show(section for section in sections if section.detail)
    rest = of_severity(found.notices, "warning", "note")
    with ui.expansion(f"Warnings and notes ({len(rest)})").classes("notes").props("dense"):
        show([Section("", (Notices(rest),))])
    ui.label(CAUTION[1]).classes("hint")
    curves = ui.column().classes("found").mark("run-curves")
    ui.timer(0.01, functools.partial(_draw, found, curves, bench.system), once=True)


#: What is filed of a run: what the button says, what makes it, and the file's name.
RECORDS: tuple[tuple[str, Callable[[Comparison], bytes], str], ...] = (
    ("Record (HTML)", files.record_html, "record.html"),
    ("Record (PDF)", files.record_pdf, "record.pdf"),
    ("Results file (HDF5)", files.comparison_bytes, "comparison.h5"),
    ("Tables (XLSX)", files.comparison_tables, "comparison.xlsx"),
)


async def _draw(found: Comparison, place: ui.column, system: System) -> None:
    drawn = await run.io_bound(files.made, files.measured_svgs, found, system) or {}
    with place:
        for title, svg in drawn.items():
            ui.label(title).classes("title")
            show_drawing(svg)
