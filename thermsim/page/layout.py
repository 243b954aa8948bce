"""The page: the form at the left, the answer and the section beside it, the figures below."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import app, run, ui

from thermsim.assess.simulate.result import Result
from thermsim.notice import of_severity
from thermsim.page import files
from thermsim.page.bench import Bench, Change, in_its_units
from thermsim.page.figures import Figures
from thermsim.page.form.form import Form
from thermsim.page.form.samples import new_draft
from thermsim.page.picture import Picture
from thermsim.page.words import download, show, show_upload
from thermsim.quantities import System
from thermsim.records.words.answer import CAUTION, bench_sections, in_sentences, verdict_sections
from thermsim.records.words.parts import Notices, Section, briefly, flow_first, paragraphs

#: How buttons on the page's head look.
ON_HEAD = "dense flat no-caps color=white"
#: What is on the switch of units.
UNITS: dict[System, str] = {"metric": "mm °C", "us": "in °F"}
#: Pages of one server, at most: each has a bench of its own.
MOST_BENCHES = 20


class Page:
    """One page in one browser's tab, on a bench that other tabs may share."""

    def __init__(self, bench: Bench, style: str) -> None:
        self.bench = bench
        self._shown: Result | None = None
        self._shown_advice: Result | None = None
        ui.add_css(style)
        ui.colors(primary="#0b5a80", negative="#b00020")
        with ui.header().classes("head"):
            ui.label("thermsim").classes("name")
            self.title = ui.label("").classes("grow")
            self.status = ui.label("").classes("status").mark("status").props('role="status"')
            self.bar = ui.linear_progress(0, show_value=False).props('aria-label="Progress"').classes("progress")
            self.halt = ui.button("Stop", on_click=lambda: bench.stop("answer")).props(ON_HEAD)
            self.units = ui.toggle(UNITS, value=bench.system, on_change=lambda event: bench.tell_in(event.value))
            self.units.props('dense no-caps unelevated aria-label="Units"').classes("units").mark("units")
            ui.button("Undo", on_click=bench.back).props(f"{ON_HEAD} icon=undo").mark("undo")
            self._open_menu()
            self._save_menu()
        with ui.row().classes("whole"):
            with ui.column().classes("left"):
                self.form = Form(bench)
            with ui.column().classes("right"):
                self.stale = ui.label("").classes("stale").mark("stale")
                self.short = ui.column().classes("short-answer").mark("short").props('role="status"')
                with ui.row().classes("beside"):
                    with ui.column().classes("drawn"):
                        self.picture = Picture(bench)
                    self.answer = ui.column().classes("answer").mark("answer")
                self.figures = Figures(bench)
        self._show_answer()
        self._show_work()
        bench.listeners.add(self._told)
        ui.context.client.on_delete(lambda: bench.listeners.discard(self._told))
        if not bench.jobs["answer"].running:
            app.on_startup(bench.solve) if not app.is_started else bench.solve()

    @in_its_units
    def _told(self, change: Change, who: object) -> None:
        """Follow a change of the bench."""
        if change == "units":
            self.form.build()
        elif change == "value" and who is self.form:
            self.form.show_faults()
        elif change in ("shape", "value"):
            self.form.follow()
        if change in ("shape", "value"):
            self.picture.wait()
            self._show_answer()
        elif change == "drawn":
            self.picture.draw(alone=True)
        elif change == "answer":
            self.picture.settle()
            self._show_answer()
        elif change == "units":
            self.units.value = self.bench.system
            self.picture.draw()
            self._show_answer(anew=True)
        elif change == "work" and self._advised() is not self._shown_advice:
            self._show_answer(anew=True)
        if change not in ("value", "drawn"):
            self.figures.show(change)
        self._show_work()

    def _advised(self) -> Result | None:
        """The recommendation, if there is one of the answer that is shown."""
        found, result = self.bench.advice, self.bench.result
        return found if found is not None and result is not None and found.case.text == result.case.text else None

    @in_its_units
    def _show_answer(self, *, anew: bool = False) -> None:
        """The answer in words, the shortest first; of an older case it stays, and says so."""
        bench, result = self.bench, self.bench.result
        self.title.text = str(bench.draft.value(("title",)) or "")
        if self._shown is result and not anew:
            return
        self._shown, self._shown_advice = result, self._advised()
        self.short.clear()
        with self.short:
            if result is not None:
                flows, _ = flow_first(result.notices)
                show([*flows, Section("", (paragraphs([" ".join(in_sentences(self._shown_advice or result))]),))])
        self.answer.clear()
        with self.answer:
            if result is not None:
                show([*verdict_sections(result)[len(flows) :], *bench_sections(result)])
                severe = of_severity(result.notices, "warning")
                notes = of_severity(result.notices, "note")
                show([Section("", (briefly(severe),))])
                words = "Warnings in full, and notes" if severe else "Notes"
                with ui.expansion(f"{words} ({len(severe) + len(notes)})").classes("notes").props("dense"):
                    show([Section("", (Notices((*severe, *notes)),))])
                ui.label(CAUTION[1]).classes("hint")

    def _show_work(self) -> None:
        """Tell how far the work is, and whether the answer is an older one."""
        job = self.bench.jobs["answer"]
        faults = len(self.bench.faults)
        late = self.bench.late
        stale = self.bench.result is not None and (late or faults > 0)
        self.stale.visible = stale
        if stale:
            why = job.failed.removesuffix(".") or "work on the new one was stopped"
            if faults:
                why = "the case has faults, see the red fields"
            elif job.running:
                why = "the new one is being worked out"
            self.stale.text = f"This is the last good answer, of the case as it was: {why}."
        for part in (self.short, self.answer):
            part.classes(add="old" if stale else "", remove="" if stale else "old")
        self.bar.visible = self.halt.visible = job.running and late
        self.bar.value = job.part if late else 0.0
        if faults:
            self.status.text = f"{faults} fault{'s' if faults > 1 else ''}"
        elif job.running:
            self.status.text = "solving" if late else ""
        else:
            self.status.text = job.failed or ("" if self.bench.fresh else "stopped")

    # -- files

    def _open_menu(self) -> None:
        with ui.button("Open").props(f"{ON_HEAD} icon=folder_open"), ui.menu(), ui.column().classes("menu"):
            words, act = "Drop a .toml or .h5 file here", lambda found, _: self.bench.open(*found)
            show_upload(words, files.opened, act, ".toml,.h5,.hdf5", "open")
            ui.button("A new case", on_click=lambda: self.bench.open(new_draft())).props("flat no-caps").mark("new")

    def _save_menu(self) -> None:
        with ui.button("Save").props(f"{ON_HEAD} icon=download"), ui.menu():
            for words, act, mark in (
                ("Case (TOML)", self._save_case, "case"),
                ("Logger's file of the case", self._save_logs, "log"),
                ("Report (HTML)", lambda: self._save(files.report_bytes, "report.html"), "report"),
                ("Results file (HDF5)", lambda: self._save(files.result_bytes, "result.h5"), "result"),
                ("Bench sheet (PDF)", self._save_sheet, "sheet"),
                ("Comparison (CSV)", self._save_compared, "compared"),
            ):
                if mark == "report":
                    ui.separator()
                ui.menu_item(words, act).mark(f"save-{mark}")

    def _save_case(self) -> None:
        draft = self.bench.draft
        name = draft.name if draft.name.endswith(".toml") else "case.toml"
        ui.download.content(draft.text.encode("utf-8"), name)

    def _save_logs(self) -> None:
        for name, text in self.bench.draft.attachments.items():
            ui.download.content(text.encode("utf-8"), name)
        if not self.bench.draft.attachments:
            ui.notify("The process is not from a logger's file.")

    async def _save(self, make: Callable[..., bytes], name: str) -> None:
        result = self.bench.result
        if result is None or not self.bench.fresh:
            ui.notify("There is no answer of the case as it stands yet.")
            return
        advised = self.bench.advice
        if advised is not None and advised.case.text == result.case.text:
            result = advised
        await download(make, result, name, self.bench.system)

    async def _save_sheet(self) -> None:
        advised = self.bench.advice
        if advised is None:
            ui.notify("The bench sheet needs a recommendation: add a probe, and ask for its depth below.")
            return
        made = await run.io_bound(files.made, files.bench_sheet_bytes, advised, self.bench.system)
        ui.download.content(made or b"", "bench-sheet.pdf")

    @in_its_units
    def _save_compared(self) -> None:
        ui.download.content(files.compared_csv(self.bench.compared()), "comparison.csv")
