"""The drawing on a bench sheet of a probe from the side: the section through it, with what is set and measured."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.text import Text

from thermsim.assess.simulate.result import Result
from thermsim.case.container import Container
from thermsim.figures import style
from thermsim.figures.bench.drawing import FINE, SCALES, Drawing, draw_bar, mark_band
from thermsim.figures.bench.setting import Bench, hole_height
from thermsim.figures.container.cut import across
from thermsim.figures.container.outline import mark_cold_spots
from thermsim.figures.container.probe_outline import draw_probe, outer_face
from thermsim.figures.container.section import dimension_line, draw_container, number_place
from thermsim.figures.container.shape import shape_of
from thermsim.quantities import LENGTH, mm

#: Room on paper left of the container, right of the probe's end, below and above the container [mm].
LEFT, RIGHT, BELOW, ABOVE = 4.0, 11.0, 26.0, 9.0
#: A number in bold type is as wide as this on paper [mm].
WIDE = 10.0


def draw_side(result: Result, bench: Bench, *, ax: Axes, paper: tuple[float, float], beside: float = 0.0) -> Drawing:
    """Draw on axes that are ``paper`` wide and high [mm], in millimetres of the container; the probe at the right.

    Parameters
    ----------
    result : Result
        The result of a recommendation.
    bench : Bench
        What is to be set.
    ax : Axes
        Where to draw.
    paper : (float, float)
        Width and height of the axes on paper [mm].
    beside : float, optional
        Width of what else is to be drawn at the same scale [mm].

    Returns
    -------
    Drawing
    """
    container = result.case.container
    radius, end = mm(container.outer_radius), _outer_end(bench, container)
    room = (
        (paper[0] - LEFT - RIGHT) / max(radius + end, beside),
        (paper[1] - BELOW - ABOVE) / (mm(container.outer_height)),
    )
    scale = next((scale for scale in SCALES if scale <= min(room)), SCALES[-1])
    spare = max(paper[0] - LEFT - RIGHT - (radius + end) * scale, 0.0)
    left, top = -radius - (LEFT + spare / 2) / scale, mm(container.outer_height) + ABOVE / scale
    with style.styled():
        ax.set_axis_off()
        ax.set_xlim(left, left + paper[0] / scale)
        ax.set_ylim(top - paper[1] / scale, top)
        draw_container(shape_of(result.case), ax=ax)
        parts = draw_probe(bench.probe, container, ax=ax, fill=True)
        if result.case.product.convects:
            mark_band(result, ax)
        else:
            mark_cold_spots(result, ax)
        dimensions = (
            *_along(bench, container, ax, scale),
            *_height(bench, container, end, ax, scale),
            *_size(container, radius, ax, scale),
        )
        labels = _labels(bench, container, ax, scale, (left, top), result.case.product.convects)
    return Drawing(scale, parts, labels, dimensions)


def _outer_end(bench: Bench, container: Container) -> float:
    """Farthest that the probe or its fitting reaches from the axis [mm]."""
    radius = container.outer_radius
    fitting = bench.probe.fitting
    outside = [0.0, fitting.outside if fitting else 0.0]
    if bench.probe.mount == "through":
        outside.append(bench.stick_out)
    return mm(radius + max(outside))


def _along(bench: Bench, container: Container, ax: Axes, scale: float) -> tuple[Text, ...]:
    """Dimension lines below the container, from the datum to the tip and to the outer end."""
    face, z = outer_face(bench.probe, container), -5.0 / scale
    axis = mm(bench.probe.z or 0.0)
    ends = [(face - mm(bench.depth), LENGTH.number(bench.depth))]
    if bench.probe.mount == "through":
        ends.append((face + mm(bench.stick_out), LENGTH.number(bench.stick_out)))
    texts = []
    for end, text in ends:
        dimension_line(ax, (face, z), (end, z))
        ax.plot([end, end], [axis, z - 1.0 / scale], color=style.LINE, linewidth=0.4, zorder=3.5)
        texts.append(
            ax.text(
                number_place(face, end, scale, short=WIDE),
                z - 1.0 / scale,
                text,
                va="top",
                ha="center",
                fontsize=style.TYPE + 1,
                weight="bold",
            )
        )
    top = mm(container.outer_height) + 2.0 / scale
    ax.plot([face, face], [z - 4.0 / scale, top], color=style.LOUD, linewidth=0.9, zorder=3.6)
    texts.append(ax.text(face + 0.8 / scale, top, "datum", va="center", ha="left", fontsize=FINE, color=style.LOUD))
    return tuple(texts)


def _height(bench: Bench, container: Container, end: float, ax: Axes, scale: float) -> tuple[Text, ...]:
    """Draw the height of the probe's axis above what the container stands on, right of the probe's end."""
    seam = container.seam_above("base")
    axis, x, stands = mm(bench.probe.z or 0.0), end + 4.0 / scale, -mm(seam)
    dimension_line(ax, (x, stands), (x, axis))
    for z, start in ((stands, 0.0), (axis, end)):
        ax.plot([start, x + 1.0 / scale], [z, z], color=style.LINE, linewidth=0.4, zorder=0.6)
    height = ax.text(
        x + 1.0 / scale, axis / 2, LENGTH.number(hole_height(bench.probe, container)), va="center", ha="left",
        fontsize=style.TYPE + 1, weight="bold", rotation=90,
    )  # fmt: skip
    if not seam:
        return (height,)
    panel = f"above the table (base: {LENGTH.number(bench.probe.z or 0.0)})"
    return height, ax.text(x + 5.5 / scale, stands, panel, va="bottom", ha="left", fontsize=FINE, rotation=90)


def _size(container: Container, radius: float, ax: Axes, scale: float) -> tuple[Text, ...]:
    """The outer diameter, and a bar for scale under it."""
    z, widest = -13.5 / scale, container.measured(container.outer_radius, container.profile.widest)
    dimension_line(ax, (-radius, z), (radius, z))
    diameter = ax.text(
        -radius,
        z - 0.9 / scale,
        f"outer {across(container)} {LENGTH.number(2 * widest)}",
        va="top",
        ha="left",
        fontsize=FINE,
    )
    return diameter, draw_bar(ax, -radius, -22.0 / scale)


def _labels(
    bench: Bench, container: Container, ax: Axes, scale: float, corner: tuple[float, float], convects: bool
) -> tuple[Text, ...]:
    """Confirmation depths as ticks across the probe; what ticks and marks mean, above the container."""
    face, axis = outer_face(bench.probe, container), mm(bench.probe.z or 0.0)
    for rung in bench.confirmation:
        x = face - mm(rung.depth)
        ax.plot([x, x], [axis - 2.0 / scale, axis + 2.0 / scale], color=style.TARGET, linewidth=1.4, zorder=5)
    entries = [("▼ least lethality", style.LEAST_LETHALITY), ("● slowest heating", style.SLOWEST_HEATING)]
    if convects:
        entries = [("hatched: look here", style.LEAST_LETHALITY)]
    if bench.confirmation:
        entries.append(("| confirm (table below)", style.TARGET))
    texts, x = [], corner[0] + 1.0 / scale
    for text, colour in entries:
        texts.append(ax.text(x, corner[1] - 1.0 / scale, text, va="top", ha="left", fontsize=FINE, color=colour))
        x += (1.45 * len(text) + 4.0) / scale
    return tuple(texts)
