"""The drawing on a bench sheet of a brick or a flat pouch: two sections, along its length and across its width."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.patches import Circle, Rectangle
from matplotlib.text import Text

from thermsim.assess.simulate.result import Result
from thermsim.case.container import Container
from thermsim.case.probe import Probe
from thermsim.figures import style
from thermsim.figures.bench.drawing import FINE, LABEL, SCALES, Drawing
from thermsim.figures.bench.setting import Bench
from thermsim.figures.bench.side import BELOW as UNDER_SIDE
from thermsim.figures.bench.side import draw_side
from thermsim.figures.container.cut import as_cut
from thermsim.figures.container.probe_outline import draw_probe, outer_face, reach
from thermsim.figures.container.section import dimension_line, number_place
from thermsim.quantities import LENGTH, mm

#: Room on paper left and right of the brick, below each section, and between the two [mm].
LEFT, RIGHT, BELOW, BETWEEN = 17.0, 14.0, 13.0, 7.0


def draw_brick(result: Result, bench: Bench, *, ax: Axes, paper: tuple[float, float]) -> Drawing:
    """Draw both sections on axes that are ``paper`` wide and high [mm], in millimetres; see ``draw_bench``."""
    container = result.case.container
    low, high = reach(bench.probe, container)
    sides = container.brick_outside
    room = (paper[0] - LEFT - RIGHT) / mm(sides[0]), (paper[1] - 2 * BELOW - BETWEEN - 6.0) / (2 * (high - low))
    scale = next((scale for scale in SCALES if scale <= min(room)), SCALES[-1])
    left = -mm(sides[0]) / 2 - (LEFT + max(paper[0] - LEFT - RIGHT - mm(sides[0]) * scale, 0.0) / 2) / scale
    step = high - low + (BELOW + BETWEEN) / scale
    probe: tuple[Rectangle, ...] = ()
    dimensions: list[Text] = []
    labels: list[Text] = []
    with style.styled():
        ax.set_axis_off()
        ax.set_xlim(left, left + paper[0] / scale)
        ax.set_ylim(high + 5.0 / scale - paper[1] / scale, high + 5.0 / scale)
        for k, (name, side) in enumerate((("length", sides[0]), ("width", sides[1]))):
            down = -k * step
            parts = _section(result, bench, ax, side, down)
            probe = probe or parts
            words = "edge to hole", f"{name} outside"
            dimensions += _across(ax, words, mm(side) / 2, (0.0, down + low), scale)
            title = f"section {'across' if k else 'along'} the {name}"
            labels.append(ax.text(-mm(side) / 2, down + high + 3.0 / scale, title, fontsize=FINE, va="center"))
        dimensions += _depths(bench, container, ax, -mm(sides[0]) / 2, scale)
        x = mm(sides[0]) / 2 + 1.5 / scale
        tip = outer_face(bench.probe, container) + (-1 if bench.probe.entry == "lid" else 1) * mm(bench.depth)
        ax.plot([mm(bench.probe.tip_radius), x], [tip, tip], color=style.LINE, linewidth=0.5, zorder=4)
        face = outer_face(bench.probe, container)
        clear = max(abs(tip - face), LABEL / scale)  # of the datum's name beside its line
        z = face + math.copysign(clear, tip - face)
        labels.append(ax.text(x + 0.5 / scale, z, "tip", fontsize=FINE, va="center"))
    return Drawing(scale, probe, tuple(labels), tuple(dimensions))


def draw_edge(result: Result, bench: Bench, *, ax: Axes, paper: tuple[float, float]) -> Drawing:
    """Draw a brick with a probe through its edge: cut along the probe, and the edge as it is seen from outside."""
    container, probe = result.case.container, bench.probe
    half = mm(container.halves(probe.edge)[1] + probe.wall_thickness(container))
    upper = paper[0], 0.6 * paper[1]
    drawing = draw_side(as_cut(result), bench, ax=ax, paper=upper, beside=2 * half)
    scale, top, high = drawing.scale, ax.get_ylim()[1], mm(container.outer_height)
    middle, down = sum(ax.get_xlim()) / 2, -(UNDER_SIDE + 6.0) / scale - high
    axis = down + mm(probe.z or 0.0)
    with style.styled():
        ax.set_ylim(top - paper[1] / scale, top)
        face = Rectangle((middle - half, down), 2 * half, high, facecolor=style.WALL, edgecolor=style.LINE)
        ax.add_patch(face)
        radius = mm(_hole(probe)) / 2
        ax.add_patch(Circle((middle, axis), radius, facecolor="white", edgecolor=style.LINE))
        reach = radius + 2.0 / scale
        ax.plot([middle - reach, middle + reach], [axis, axis], color=style.LINE, linewidth=0.4)
        ax.plot([middle, middle], [axis - reach, axis + reach], color=style.LINE, linewidth=0.4)
        title = f"the {probe.wall} from outside"
        label = ax.text(middle - half, down + high + 2.0 / scale, title, fontsize=FINE, va="bottom", ha="left")
        texts = _across(ax, ("end to hole", "outside"), half, (middle, down), scale)
    return Drawing(scale, drawing.probe, (*drawing.labels, label), (*drawing.dimensions, *texts))


def _hole(probe: Probe) -> float:
    """Diameter of the hole that is drawn [m]: as it is drilled where that is known, else of what goes through."""
    if probe.fitting is None:
        return max(segment.diameter for segment in probe.segments)
    return probe.fitting.hole or probe.fitting.diameter


def _section(result: Result, bench: Bench, ax: Axes, side: float, down: float) -> tuple[Rectangle, ...]:
    """Draw the brick cut through the probe's axis, with the probe; ``down`` is where its base lies [mm]."""
    case = result.case
    container = case.container
    wall = container.side.thickness if container.side else 0.0
    half, inner = mm(side) / 2, mm(side / 2 - wall)
    ax.add_patch(
        Rectangle((-half, down), 2 * half, mm(container.outer_height), facecolor=style.WALL, edgecolor=style.LINE)
    )
    ax.add_patch(
        Rectangle((-inner, down + mm(container.floor)), 2 * inner, mm(container.inner_height), facecolor="white")
    )
    ax.add_patch(
        Rectangle((-inner, down + mm(container.floor)), 2 * inner, mm(case.fill_height), facecolor=style.PRODUCT)
    )
    before = len(ax.patches)
    parts = draw_probe(bench.probe, container, ax=ax, fill=True)
    for part in ax.patches[before:]:
        part.set_y(part.get_y() + down)  # type: ignore[attr-defined]
    return parts


def _across(ax: Axes, words: tuple[str, str], half: float, below: tuple[float, float], scale: float) -> list[Text]:
    """Dimension lines [mm] from an edge to the hole's centre and over the whole side, below its middle."""
    (middle, z), texts = below, []
    for k, (what, end) in enumerate(zip(words, (middle, middle + half), strict=True)):
        y = z - (2.5 + 5.0 * k) / scale
        dimension_line(ax, (middle - half, y), (end, y))
        text = f"{what} {LENGTH.number(LENGTH.si_value(end - middle + half))}"
        texts.append(ax.text(middle - half, y - 0.8 / scale, text, va="top", ha="left", fontsize=FINE))
    return texts


def _depths(bench: Bench, container: Container, ax: Axes, edge: float, scale: float) -> list[Text]:
    """Depth and stick-out left of the first section, from the datum."""
    probe, face, x = bench.probe, outer_face(bench.probe, container), edge - 5.0 / scale
    inwards = -1.0 if probe.entry == "lid" else 1.0
    ends = [(face + inwards * mm(bench.depth), bench.depth)]
    if probe.mount == "through":
        ends.append((face - inwards * mm(bench.stick_out), bench.stick_out))
    texts = []
    for end, length in ends:
        dimension_line(ax, (x, face), (x, end))
        ax.plot([x - 1.0 / scale, 0.0], [end, end], color=style.LINE, linewidth=0.4, zorder=3.5)
        texts.append(
            ax.text(
                x - 1.2 / scale,
                number_place(face, end, scale),
                LENGTH.number(length),
                va="center",
                ha="right",
                fontsize=style.TYPE + 1,
                weight="bold",
            )
        )
    ax.plot([x - 2.0 / scale, -edge + 2.0 / scale], [face, face], color=style.LOUD, linewidth=0.9, zorder=3.6)
    texts.append(ax.text(-edge + 2.5 / scale, face, "datum", va="center", ha="left", fontsize=FINE, color=style.LOUD))
    return texts
