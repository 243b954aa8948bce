"""The figures below the answer: histories, ladder of depths, bounds of the headspace, a number varied, comparison."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import run, ui

from thermsim.assess.depth.bracket import Bracket
from thermsim.assess.measured.result import Comparison
from thermsim.assess.simulate.result import Result
from thermsim.page import charts, files
from thermsim.page.bench import MOST_KEPT, Bench, Change, in_its_units
from thermsim.page.form.fields import place_in_words
from thermsim.page.measured import MeasuredRun, show_comparison
from thermsim.page.scan import Scan, ends_about, scannable
from thermsim.page.words import show, show_drawing, show_table
from thermsim.quantities import DEPTH
from thermsim.records.words.answer import bench_sections, verdict_sections
from thermsim.records.words.bracket import bracket_section
from thermsim.systems import row_shown

#: What can be looked at: what it is called, and what it is for.
TABS = {
    "histories": ("Histories", ""),
    "depth": (
        "How deep",
        "How deep the probe should go, through which wall, with the hardware at hand. The case's probe and those it "
        "is compared with are each solved at many depths; from the side that takes up to half a minute a probe.",
    ),
    "headspace": (
        "Headspace bounds",
        "How far the cold spot, and the depth for it, move between a headspace that lets no heat through and a wet "
        "one.",
    ),
    "scan": (
        "Vary a number",
        "What one number of the case does to the cold spot; a few values, without the probe. Several numbers, or how "
        "far they spread, are a study ([study] in the case, thermsim study CASE); several containers in one table of "
        "settings a family (thermsim depth CASE CASE): both on the command line.",
    ),
    "measured": (
        "Measured run",
        "A logger's file beside this case: what each container got, corrected for its probe, and the record of it. "
        "The case is that of the run, its probe as it was mounted, with its insertion.",
    ),
    "compare": ("Compare", "Keep an answer under a name, change the case, and see both side by side."),
}


class Figures:
    """The figures of one page."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self._found: dict[str, object] = {}
        self._works: dict[str, tuple[ui.linear_progress, ui.button, ui.label]] = {}
        with ui.tabs().props("dense no-caps align=left").classes("tabs") as tabs:
            for name, (words, _) in TABS.items():
                ui.tab(name, label=words).mark(f"tab-{name}")
        with ui.tab_panels(tabs, value="histories", animated=False).props("keep-alive").classes("panels"):
            with ui.tab_panel("histories"):
                self.histories = ui.echart({}).classes("chart").mark("histories")
            with self._panel("depth"):
                self._begin("depth", "Find the depth", bench.recommend)
                self.depth = ui.column().classes("found")
            with self._panel("headspace"):
                self._begin("headspace", "Find the bounds", bench.bound_headspace)
                self.headspace = ui.column().classes("found")
            with self._panel("scan"):
                with ui.row().classes("bar"):
                    self.path = ui.select([], label="number", on_change=self._offer_ends)
                    self.path.props("dense outlined").classes("path").mark("scan-path")
                    self.ends = [
                        ui.number(words).props("dense outlined").mark(f"scan-{words}") for words in ("from", "to")
                    ]
                self._begin("scan", "Vary it", self._scan)
                self.scan = ui.column().classes("found")
            with self._panel("measured"):
                self.run = MeasuredRun(bench)
                self._begin("measured", "Compare it", self.run.compare)
                self.measured = ui.column().classes("found")
            with self._panel("compare"):
                with ui.row().classes("bar"):
                    self.name = ui.input("name of the present answer").props("dense outlined").mark("keep-name")
                    ui.button("Keep it", on_click=self._keep).props("no-caps").mark("keep")
                self.compare = ui.column().classes("found")
        self.show("shape")

    @staticmethod
    def _panel(name: str) -> ui.tab_panel:
        """A panel that begins with what it is for."""
        panel = ui.tab_panel(name)
        with panel:
            ui.label(TABS[name][1]).classes("hint")
        return panel

    def _begin(self, name: str, words: str, act: Callable[[], None]) -> None:
        """A button that begins work, how far that is, and one that stops it."""
        with ui.row().classes("bar"):
            ui.button(words, on_click=lambda: act()).props("no-caps").mark(f"begin-{name}")
            bar = ui.linear_progress(0, show_value=False).props('aria-label="Progress"').classes("progress wide")
            halt = ui.button("Stop", on_click=lambda: self.bench.stop(name)).props("flat no-caps")
            halt.mark(f"stop-{name}")
            told = ui.label("").classes("hint").mark(f"work-{name}")
        self._works[name] = bar, halt, told

    @in_its_units
    def show(self, change: Change) -> None:
        """Follow a change of the bench."""
        bench = self.bench
        if change == "units":
            self._found.clear()
        if change in ("answer", "kept", "shape", "units"):
            kept = [(one.name, one.result) for one in bench.kept]
            if bench.result is not None:
                self.histories.options.clear()
                self.histories.options.update(charts.histories(bench.result, kept))
                self.histories.update()
            self._show_kept()
        if change in ("shape", "units"):
            self.path.set_options({place.path: place_in_words(place) for place in scannable(bench.shown)})
            if change == "units":
                self._offer_ends()
                self.run.show_depths()
        for name in ("depth", "headspace", "scan", "measured"):
            job = bench.jobs[name]
            bar, halt, words = self._works[name]
            bar.visible = halt.visible = job.running
            bar.value = job.part
            old = job.of is not None and job.of.text != bench.draft.text and job.found is not None
            words.text = job.failed or ("of the case as it was; ask again" if old else "")
            if self._found.get(name) is not job.found:
                self._found[name] = job.found
                getattr(self, f"_show_{name}")()

    async def _show_ladder(self, result: Result) -> None:
        svg = await run.io_bound(files.made, files.ladder_svg, result, self.bench.system) or ""
        with self.depth:
            show_drawing(svg)

    def _show_depth(self) -> None:
        self.depth.clear()
        result = self.bench.jobs["depth"].found
        if not isinstance(result, Result) or result.advice is None:
            return
        row = row_shown(DEPTH)
        depth = round(row.edge(result.advice.own.recommended(result.advice.criterion).depth), row.digits)
        with self.depth:
            show([*verdict_sections(result), *bench_sections(result)[:-1]])
            if result.advice.own.probe.mount == "through":  # a stack is as high as its parts
                words = f"Set the probe to {row.name} {depth:g} {row.unit}"
                take = ui.button(words, on_click=lambda: self.bench.take_depth(row.key(), depth))
                take.props("outline no-caps").mark("take-depth")
            ui.timer(0.01, lambda: self._show_ladder(result), once=True)

    def _show_headspace(self) -> None:
        self.headspace.clear()
        found = self.bench.jobs["headspace"].found
        if isinstance(found, Bracket):
            with self.headspace:
                show([bracket_section(found)])

    def _offer_ends(self) -> None:
        """Ends about the present value of the number that is chosen, to be changed."""
        chosen = [place.value for place in scannable(self.bench.shown) if place.path == self.path.value]
        ends = ends_about(chosen[0]) if chosen and chosen[0] else (None, None)
        for field, end in zip(self.ends, ends, strict=True):
            field.value = end

    def _scan(self) -> None:
        low, high = (field.value for field in self.ends)
        if self.path.value and low is not None and high is not None:
            self.bench.scan(self.path.value, (low, high))
        else:
            ui.notify("Choose a number, and say from where to where it is to be varied.")

    def _show_scan(self) -> None:
        self.scan.clear()
        found = self.bench.jobs["scan"].found
        if isinstance(found, Scan):
            with self.scan:
                ui.echart(charts.scan_chart(found, place_in_words(found.place))).classes("chart").mark("scan")
                for words in found.refused:
                    ui.label(words).classes("hint")

    def _show_measured(self) -> None:
        self.measured.clear()
        found = self.bench.jobs["measured"].found
        if isinstance(found, Comparison):
            with self.measured:
                show_comparison(found, self.bench)

    def _keep(self) -> None:
        bench = self.bench
        if not bench.fresh:
            ui.notify("There is no answer of the case as it stands yet.")
        elif len(bench.kept) >= MOST_KEPT:
            ui.notify(f"{MOST_KEPT} answers are kept; let one go first.")
        else:
            bench.keep(self.name.value.strip() or f"answer {len(bench.kept) + 1}")
            self.name.value = ""

    def _show_kept(self) -> None:
        bench = self.bench
        self.compare.clear()
        with self.compare:
            show_table(*files.compared(bench.compared()))
            with ui.row().classes("bar"):
                for place, one in enumerate(bench.kept):
                    ui.button(f"Open {one.name}", on_click=lambda one=one: bench.edit(one.draft)).props(
                        "flat dense no-caps"
                    )
                    ui.button(icon="close", on_click=lambda place=place: bench.forget(place)).props(
                        f'flat dense round size=sm aria-label="Let go of answer {place + 1}"'
                    )
