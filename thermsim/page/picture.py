"""The section on the page: drawn as the case changes, fields over time, read off and dragged by the pointer."""

from __future__ import annotations

import asyncio
import base64
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from nicegui import ui
from nicegui.element import Element
from nicegui.events import GenericEventArguments, ValueChangeEventArguments

from thermsim.assess.depth.limits import reachable_depths
from thermsim.assess.simulate.result import Result
from thermsim.case.case import Case
from thermsim.case.keys.paths import Trail
from thermsim.case.probe import Probe
from thermsim.figures import style
from thermsim.figures.container import live, pixels
from thermsim.figures.container.maps import lethality_levels, temperature_at, temperature_levels
from thermsim.figures.container.probe_outline import outer_face
from thermsim.page.bench import PATIENCE, Bench, in_its_units
from thermsim.quantities import LENGTH, LETHALITY, TEMPERATURE, TIME, R, System, Z, minutes, mm
from thermsim.systems import row_shown, shown_in, told

View = Literal["materials", "temperature", "heating", "lethality"]
VIEWS: dict[str, str] = {
    "materials": "Materials",
    "temperature": "Temperature at a time",
    "heating": "When heating ends",
    "lethality": "Lethality",
}
WIDTH, HEIGHT = 560, 480
#: A pointer nearer than this to the surface or the tip takes hold of it [px].
HOLD = 9.0
#: Steps of what is dragged, in mm or in; pictures of the process that play in a second, and in all.
STEPS: dict[System, float] = {"metric": 0.5, "us": 0.02}
PER_SECOND, FRAMES = 8, 120


@dataclass(frozen=True)
class Pointer:
    """A move of the pointer: the browser's name of it, and pixels of the picture."""

    kind: str
    x: float
    y: float


class Section(Element, component="section.js"):
    """A picture under a drawing, with what is read off below; its size is in its pixels, shown as wide as can be."""

    def __init__(self, size: tuple[int, int], on_pointer: Callable[[Pointer], None]) -> None:
        super().__init__()
        self._props["width"], self._props["height"] = size
        # what a page that is opened later begins with
        self._shown = self._props["shown_first"] = {"source": "", "drawing": "", "read": "", "old": False}

        def told(event: GenericEventArguments) -> None:
            on_pointer(Pointer(str(event.args["kind"]), float(event.args["x"]), float(event.args["y"])))

        self.on("pointer", told)

    @property
    def drawing(self) -> str:
        """The drawing over the picture, as SVG."""
        return str(self._shown["drawing"])

    def show(self, **changes: str | bool) -> None:
        """Change the picture's ``source``, the ``drawing`` (SVG), what is ``read`` off, whether it is ``old``."""
        changes = {name: value for name, value in changes.items() if self._shown[name] != value}
        if changes:
            self._shown.update(changes)
            self.run_method("show", changes)


class Picture:
    """The section of one page."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.view: View = "temperature"
        self.time = self._heated = math.nan
        self._held: Literal["", "fill", "tip"] = ""
        self._ghost = ""
        self._silent = False
        self._painted = ""
        self._later: asyncio.TimerHandle | None = None
        self.canvas: pixels.Canvas | None = None
        with ui.row().classes("bar"):
            self.views = ui.toggle(VIEWS, value=self.view, on_change=self._look).props("dense no-caps").mark("view")
        self.section = Section((WIDTH, HEIGHT), self._pointed).classes("section").mark("picture")
        with ui.row().classes("bar") as self.play_bar:
            self.play = ui.button(icon="play_arrow", on_click=self._play).props('flat dense round aria-label="Play"')
            self.play.mark("play")
            self.slider = self._slider("Time", "time", self._set_moment)
            self.clock = ui.label("").classes("clock")
        with ui.row().classes("bar"):
            self.fill = self._slider("Headspace in the drawing", "fill-slider", self._set_headspace).props("label")
            self.fill_words = ui.label("").classes("clock")
        with ui.row().classes("bar") as self.depth_bar:
            self.depth = self._slider("Insertion in the drawing", "depth-slider", self._set_depth).props("label")
            self.depth_words = ui.label("").classes("clock")
        self.timer = ui.timer(1.0 / PER_SECOND, self._tick, active=False)
        self.draw()

    def _slider(self, what: str, mark: str, act: Callable[[float], None]) -> ui.slider:
        """A slider that acts when it is moved by hand."""

        def moved(event: ValueChangeEventArguments[Any]) -> None:
            if not self._silent and event.value is not None:
                with shown_in(self.bench.system):
                    act(float(event.value))

        slider = ui.slider(min=0, max=1, step=0.1, on_change=moved).props(f'dense aria-label="{what}"')
        return slider.classes("grow").mark(mark)

    # -- drawing

    @in_its_units
    def wait(self) -> None:
        """Let the last picture stand until there is a new one; if that takes long, outlines serve."""
        self._hurry()
        if self.bench.seen is not None:
            self.draw()
            return
        self._follow(self.bench.case, self.bench.result)
        if self.bench.case is None:
            self.section.show(old=True)
        else:
            self._later = asyncio.get_running_loop().call_later(PATIENCE, self.draw)

    def settle(self) -> None:
        """Draw the answer, unless what is drawn of its case is all that there is to it."""
        result = self.bench.seen
        if result is None or result.probe is not None or self._painted != self.bench.draft.text:
            self.draw()
        else:
            self._follow(self.bench.case, result)

    @in_its_units
    def draw(self, *, alone: bool = False) -> None:
        """Draw all anew: case, answer or view changed; ``alone`` without the sliders, which would take longer."""
        self._hurry()
        case, result = self.bench.case, self.bench.seen
        if alone:
            self._set_time(result)
        else:
            self._follow(case, result or self.bench.result)
        if case is None:
            return
        self.canvas = live.canvas_of(case, WIDTH, HEIGHT)
        self._paint(case, result)
        self._painted = "" if result is None else self.bench.draft.text

    def _hurry(self) -> None:
        """Forget that outlines were to be drawn later."""
        if self._later is not None:
            self._later.cancel()
        self._later = None

    def _paint(self, case: Case, result: Result | None) -> None:
        canvas = self.canvas
        if canvas is None:
            return
        view: View = self.view if result is not None else "materials"
        parts = live.outlines_svg(case, canvas, filled=view == "materials")
        if result is None or view == "materials":
            picture = pixels.blank_png(canvas)
        else:
            field, scale = self._field(result, view)
            picture = pixels.field_png(result.grid, field, scale, canvas)
            parts += live.scale_svg(scale, canvas)
        if result is not None:
            parts += live.marks_svg(result, canvas, zone=view != "materials") + live.names_svg(result, canvas)
        source = "data:image/png;base64," + base64.b64encode(picture).decode("ascii")
        self.section.show(source=source, drawing=parts + self._ghost, old=False)

    def _field(self, result: Result, view: View) -> tuple[pixels.Array, pixels.Scale]:
        """The field that is shown of a result, and its colours; while it plays they stay, else they follow it."""
        if view == "lethality":
            field = minutes(result.lethality)
            bands, lines = lethality_levels(field)
            return field, _scale(bands, lines, LETHALITY.axis(), style.LETHALITY_MAP)
        degrees = row_shown(TEMPERATURE)
        field = temperature_at(result, None if view == "heating" else self.time)
        levels = temperature_levels(result.temperature if self.timer.active else field)
        bands, lines = (np.asarray(degrees.edge(level)) for level in levels)
        return degrees.edge(field), _scale(bands, lines, degrees.axis(), style.TEMPERATURE_MAP)

    def _set_time(self, result: Result | None) -> None:
        """Go on looking at the end of heating, unless another time of the process was chosen."""
        if result is None:
            return
        if self.time == self._heated or math.isnan(self.time) or self.time > result.case.process.end:
            self.time = result.case.process.heated_until
        self._heated = result.case.process.heated_until

    def _follow(self, case: Case | None, result: Result | None) -> None:
        """Set sliders to the case and to the answer's process."""
        self._silent = True
        self._set_time(result)
        if result is not None:
            end = minutes(result.case.process.end)
            self.slider.props(f"max={end} step={max(0.1, round(end / FRAMES, 1))}")
            self.slider.value = minutes(self.time)
            self.clock.text = TIME.text(self.time)
        self.play_bar.visible = self.view == "temperature" and result is not None
        if case is not None:
            row = row_shown(LENGTH)
            step = STEPS[self.bench.system]
            self.fill.props(f"max={row.edge(case.container.inner_height - case.container.crown):.3f} step={step}")
            self.fill.value = round(row.edge(case.headspace_height), 4)
            self.fill_words.text = told(f"headspace {LENGTH.text(case.headspace_height)}")
        probe = case.probe if case is not None else None
        limits = reachable_depths(case, probe) if case is not None and probe is not None else None
        self.depth_bar.visible = probe is not None and probe.mount == "through" and limits is not None
        if case is not None and probe is not None and limits is not None and self.depth_bar.visible:
            low, high = (row.edge(end) for end in limits)
            ends = f"min={math.ceil(low / step) * step:.3f} max={math.floor(high / step) * step:.3f}"
            self.depth.props(f"{ends} step={step}")
            self.depth.value = low if probe.insertion is None else row.edge(probe.insertion)
            words = "not set" if probe.insertion is None else LENGTH.text(probe.insertion)
            self.depth_words.text = told(f"insertion {words}")
        self._silent = False

    # -- time

    def _look(self) -> None:
        self.view = self.views.value
        self.timer.active = False
        self._show_playing()
        self.draw()

    def _play(self) -> None:
        result = self.bench.result
        if result is None:
            return
        self.timer.active = not self.timer.active
        if not self.timer.active:
            self.draw()
        if self.timer.active and self.time >= result.case.process.end - 1e-9:
            self.time = 0.0
        self._show_playing()

    def _show_playing(self) -> None:
        self.play.props(f"icon={'pause' if self.timer.active else 'play_arrow'}")

    def _tick(self) -> None:
        result = self.bench.seen
        if result is None:
            return
        self.time = min(self.time + result.case.process.end / FRAMES, result.case.process.end)
        if self.time >= result.case.process.end:
            self.timer.active = False
            self._show_playing()
        self.draw()

    def _set_moment(self, time: float) -> None:
        """Look at a time [min] of the process."""
        self.time = TIME.si_value(time)
        self.draw()

    # -- what is moved

    def _set_headspace(self, headspace: float) -> None:
        """Let the case have a headspace, in the unit shown; a fill that is given by its height stays given so."""
        draft, case, row = self.bench.draft, self.bench.case, row_shown(LENGTH)
        if case is None:
            return
        height = ("fill", row.key("height"))
        if self.bench.shown.value(height) is not None:
            value = round(row.edge(case.container.inner_height) - headspace, 4)
            self.bench.edit(draft.with_value(height, value), who=self, of=height)
        else:
            self.bench.edit(draft.with_value(("fill",), {row.key("headspace"): headspace}), who=self, of=height)

    def _set_depth(self, depth: float) -> None:
        trail: Trail = ("probe", row_shown(LENGTH).key("insertion"))
        self.bench.edit(self.bench.draft.with_value(trail, depth), who=self, of=trail)

    # -- the pointer

    @in_its_units
    def _pointed(self, event: Pointer) -> None:
        case, canvas = self.bench.case, self.canvas
        if canvas is None or case is None:
            return
        x, y = event.x, event.y
        if event.kind == "pointerdown":
            self._held = self._held_at(case, canvas, x, y)
        elif event.kind in ("pointerup", "pointerleave"):
            if self._held:
                self._drop(case, canvas, x, y)
            elif event.kind == "pointerleave":
                self.section.show(read="")
        elif self._held:
            self._drag(case, canvas, x, y)
        else:
            self.section.show(read=self._read_off(canvas, x, y))

    def _held_at(self, case: Case, canvas: pixels.Canvas, x: float, y: float) -> Literal["", "fill", "tip"]:
        """The thing that the pointer takes hold of."""
        tip = _tip(case, canvas)
        if tip is not None and math.hypot(x - tip[0], y - tip[1]) < 1.6 * HOLD:
            return "tip"
        r, _ = canvas.place(x, y)
        level = canvas.at(0.0, mm(case.surface))[1]
        return "fill" if abs(y - level) < HOLD and abs(r) < mm(case.container.outer_radius) else ""

    def _drag(self, case: Case, canvas: pixels.Canvas, x: float, y: float) -> None:
        """Show where what is held would go."""
        value = self._at_pointer(case, canvas, x, y)
        if value is None:
            return
        words = f"{'headspace' if self._held == 'fill' else 'insertion'} {value:g} {row_shown(LENGTH).unit}"
        reach = canvas.scale * mm(case.container.outer_radius)
        left, right = canvas.axis - reach, canvas.axis + reach
        self._ghost = (
            f'<line x1="{left:.1f}" y1="{y:.1f}" x2="{right:.1f}" y2="{y:.1f}" stroke="{style.LOUD}" '
            f'stroke-width="2" stroke-dasharray="6 3"/>'
            + live.text_svg(right - 4, y - 6, words, colour=style.LOUD, anchor="end")
        )
        self._paint(case, self.bench.seen)
        self.section.show(read=words)

    def _drop(self, case: Case, canvas: pixels.Canvas, x: float, y: float) -> None:
        value, held = self._at_pointer(case, canvas, x, y), self._held
        self._held, self._ghost = "", ""
        if value is not None and held == "fill":
            self._set_headspace(value)
        elif value is not None:
            self._set_depth(value)
        self.draw()

    def _at_pointer(self, case: Case, canvas: pixels.Canvas, x: float, y: float) -> float | None:
        """Headspace or insertion at the pointer, in the unit shown and to the step."""
        r, z = canvas.place(x, y)
        row, step = row_shown(LENGTH), STEPS[self.bench.system]
        if self._held == "fill":
            away, least = mm(case.container.ceiling) - z, 0.0
        elif case.probe is None:
            return None
        else:
            face, least = outer_face(case.probe, case.container), step
            away = face - r if case.probe.entry == "side" else abs(face - z)
        return max(least, round(round(row.edge(LENGTH.si_value(away)) / step) * step, 4))

    def _read_off(self, canvas: pixels.Canvas, x: float, y: float) -> str:
        """Place, temperature and lethality under the pointer."""
        result = self.bench.seen
        r, z = canvas.place(x, y)
        if result is None:
            return ""
        time = None if self.view == "heating" else self.time
        temperature, lethality = (
            pixels.value_at(result.grid, field, canvas, x, y)
            for field in (temperature_at(result, time), result.lethality)
        )
        if math.isnan(temperature):
            return ""
        when = "when heating ends" if time is None else f"after {TIME.text(time)}"
        place = f"r = {R.text(LENGTH.si_value(abs(r)))}, z = {Z.text(LENGTH.si_value(z))}"
        read = told(f"{place}: {TEMPERATURE.text(temperature)} {when}").replace("deg", "°")
        return (
            read if math.isnan(lethality) else f"{read}, {result.case.lethality.symbol} = {LETHALITY.text(lethality)}"
        )


def _scale(bands: pixels.Array, lines: pixels.Array, label: str, colours: str) -> pixels.Scale:
    return pixels.Scale(tuple(map(float, bands)), tuple(map(float, lines)), label, colours)


def _tip(case: Case, canvas: pixels.Canvas) -> tuple[float, float] | None:
    """Pixels of the tip of a probe whose depth can be set."""
    probe: Probe | None = case.probe
    if probe is None or probe.mount != "through" or probe.insertion is None:
        return None
    face = outer_face(probe, case.container)
    if probe.entry == "side":
        return None if probe.z is None else canvas.at(face - mm(probe.insertion), mm(probe.z))
    inwards = -1.0 if probe.entry == "lid" else 1.0
    return canvas.at(0.0, face + inwards * mm(probe.insertion))
