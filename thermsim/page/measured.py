"""A measured run on the page: a logger's file and its columns, the comparison, and what is filed of it."""

from __future__ import annotations

import functools
from collections import Counter
from collections.abc import Callable

from nicegui import run, ui

from thermsim.assess.measured.model import FITTED
from thermsim.assess.measured.result import USUAL_FIT, Comparison, Plan
from thermsim.loggers.logger import Log, log_from_text
from thermsim.loggers.run import Columns
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
OF_CASE = "as the case has it"


def logged(data: bytes, name: str) -> tuple[Logged, Log]:
    """A logger's file as it is kept, and what is in it.

    Raises ``InputError`` as :func:`thermsim.loggers.logger.log_from_text`.
    """
    text, name = files.log_text(data, name), plain(name, 120)
    return Logged(name, data), log_from_text(text, name=name)


def choices(log: Log) -> dict[str, str]:
    """The columns of readings by how a plan names them: by header, or by number where several have the same."""
    counts, found = Counter(log.columns), {}
    for number, header in zip(log.numbers, log.columns, strict=True):
        alone = counts[header] == 1
        found[header if alone else str(number)] = plain(header) if alone else f"{number}: {plain(header)}"
    return found


class MeasuredRun:
    """The form of a comparison: the logger's file, which of its columns is what, what is fitted."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self._logged: Logged | None = None
        self._row, self._depths = DEPTH, dict[str, ui.number]()
        with ui.row().classes("bar"):
            show_upload("Drop the logger's file (CSV) here", logged, self._take, ".csv,.txt", "run-file")
            self.file = ui.label("").classes("hint").mark("run-name")
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

    def _take(self, found: tuple[Logged, Log], _: str) -> None:
        self._logged, log = found
        named = choices(log)
        self.file.text = f"{self._logged.name}: {log.time.size} samples, {log.time[-1] / 60.0:.6g} min"
        self.medium.set_options({"": OF_CASE, **named}, value="")
        self.probes.set_options(named, value=[])
        self.columns.visible = True

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
            Columns(
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
