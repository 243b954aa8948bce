"""The section drawing: the container to scale, its materials named, its dimensions given, both cold spots marked."""

from __future__ import annotations

import math
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle
from matplotlib.text import Text

from thermsim.assess.probe.effect import ProbeEffect
from thermsim.assess.simulate.result import Result
from thermsim.case.case import Case
from thermsim.case.container import Container
from thermsim.case.outline import narrowest_between
from thermsim.figures import style
from thermsim.figures.container.cut import across, as_cut
from thermsim.figures.container.outline import mark_cold_spots
from thermsim.figures.container.probe_outline import draw_probe, outer_face, reach
from thermsim.figures.container.section_names import LINE_HEIGHT, draw_names, names_of, spread
from thermsim.figures.container.shape import Shape, shape_of
from thermsim.quantities import LENGTH, mm
from thermsim.systems import told_bare, told_lengths

#: Room on paper for the dimensions at the left, the names at the right, and below and above the container [mm].
LEFT, RIGHT, BELOW, ABOVE = 33.0, 48.0, 15.0, 4.0
#: Width of a letter on paper, on the average [mm].
LETTER = 1.35
#: A dimension shorter than this on paper [mm] has no room for its number.
SHORT = 5.0


@dataclass(frozen=True)
class Section:
    """Artists: product, walls, the names at the right, the dimensions, and the two cold spots.

    ``probe`` are the rectangles of its fitting and segments, the tip's last; none where there is no probe.
    """

    product: Polygon
    walls: tuple[Polygon, ...]
    names: tuple[Text, ...]
    dimensions: tuple[Text, ...]
    least_lethality: Line2D
    slowest_heating: Line2D
    probe: tuple[Rectangle, ...] = ()


def plot_section(result: Result, *, figure: Figure | SubFigure | None = None) -> Figure | SubFigure:
    """Draw the container's section with names and dimensions.

    Parameters
    ----------
    result : Result
        The result of a run.
    figure : Figure or SubFigure, optional
        Where to draw, at least 110 mm wide; a new figure of fitting height where left out.

    Returns
    -------
    Figure or SubFigure
    """
    result = as_cut(result)
    container = result.case.container
    with style.styled():
        if figure is None:
            low, high = _reach(result)
            scale = min((style.WIDTH - LEFT - RIGHT) / (mm(2 * container.outer_radius)), 105.0 / (high - low))
            names = sum(name.height for name in names_of(result, _shape(result)))
            figure = style.new_figure(
                max((high - low) * scale, names - BELOW + 6.0) + BELOW + ABOVE, constrained=False
            )
        draw_section(result, ax=figure.add_axes((0.0, 0.0, 1.0, 1.0)))
    return figure


def draw_section(result: Result, *, ax: Axes) -> Section:
    """Draw the section on an axes, in millimetres of the container, its scale chosen so that all texts find room.

    Parameters
    ----------
    result : Result
        The result of a run.
    ax : Axes
        Where to draw; its size must be final.

    Returns
    -------
    Section
    """
    result = as_cut(result)
    shape = _shape(result)
    radius, (low, high) = mm(result.case.container.outer_radius), _reach(result)
    height = high - low
    box = ax.get_window_extent()
    inch = ax.figure.dpi * style.INCH
    paper = box.width / inch, box.height / inch
    scale = min((paper[0] - LEFT - RIGHT) / (2 * radius), (paper[1] - BELOW - ABOVE) / height)
    with style.styled():
        ax.set_axis_off()
        # one unit is one millimetre of the container in both directions; the container stands in the middle
        left = -radius - LEFT / scale - (paper[0] - LEFT - RIGHT - 2 * radius * scale) / 2 / scale
        bottom = low - BELOW / scale - (paper[1] - BELOW - ABOVE - height * scale) / 2 / scale
        bounds = bottom, bottom + paper[1] / scale
        ax.set_xlim(left, left + paper[0] / scale)
        ax.set_ylim(*bounds)
        ax.set_aspect("equal", adjustable="box")
        product, walls = draw_container(shape, ax=ax)
        probe = _draw_probe(result, ax, scale)
        names = draw_names(names_of(result, shape), radius, ax=ax, scale=scale, bounds=bounds)
        dimensions = _draw_dimensions(shape, ax, scale, low)
        least, slowest = mark_cold_spots(result, ax)
    return Section(product, walls, names, dimensions + probe[1], least, slowest, probe[0])


def _shape(result: Result) -> Shape:
    return shape_of(result.case, result.probe.probe if result.probe else None)


def _reach(result: Result) -> tuple[float, float]:
    """Lowest and highest z [mm] of what is drawn."""
    return reach(result.probe.probe if result.probe else None, result.case.container)


def draw_container(shape: Shape, *, ax: Axes) -> tuple[Polygon, tuple[Polygon, ...]]:
    """Product, headspace and walls; a line round each wall keeps a thin one visible. Returns product and walls."""
    product = Polygon(shape.product, closed=True, facecolor=style.PRODUCT, edgecolor="none")
    ax.add_patch(product)
    if shape.headspace is not None:
        insulated = shape.case.headspace.model == "insulated"
        ax.add_patch(
            Polygon(
                shape.headspace,
                closed=True,
                facecolor="white" if insulated else style.HEADSPACE,
                edgecolor=style.PALE,
                linewidth=0.0,
                hatch="////" if insulated else None,
            )
        )
        ax.plot(*shape.surface.T, color=style.LINE, linewidth=0.7)
    # where there is no wall a dashed line shows what meets the medium
    for edge in shape.open_edges:
        ax.plot(*edge.T, color=style.LINE, linewidth=0.9, linestyle=(0, (3, 2)))
    walls = tuple(
        Polygon(
            outline,
            closed=True,
            facecolor=style.WALL,
            edgecolor=style.LINE,
            linewidth=0.9,
            joinstyle="miter",
            zorder=3,
        )
        for part in shape.walls
        for outline in part.outlines
    )
    for wall in walls:
        ax.add_patch(wall)
    ax.plot([0, 0], [0, mm(shape.case.container.outer_height)], color=style.PALE, linewidth=0.6, linestyle="-.")
    return product, walls


def _draw_probe(result: Result, ax: Axes, scale: float) -> tuple[tuple[Rectangle, ...], tuple[Text, ...]]:
    """The probe, and how deep its tip stands below the outer face of the wall it enters, left of the stem."""
    effect, container = result.probe, result.case.container
    if effect is None:
        return (), ()
    parts = draw_probe(effect.probe, container, ax=ax, fill=True)
    if effect.probe.entry == "side":
        return parts, (_depth_from_side(effect, result.case, parts, ax, scale),)
    tip, face = mm(effect.reading.z), outer_face(effect.probe, container)
    widest = max(part.get_width() / 2 for part in parts)
    x = -(widest + mm(_narrowest(container, LENGTH.si_value(tip), LENGTH.si_value(face)))) / 2
    dimension_line(ax, (x, tip), (x, face))
    for z in {tip, face if 0.0 < face < tip else tip}:
        ax.plot([x - 1.0 / scale, 0.0], [z, z], color=style.LINE, linewidth=0.4, zorder=3.5)
    word = "tip at" if effect.probe.mount == "inside" else "insertion"
    words = told_bare(f"{word} {LENGTH.number(effect.depth)}")
    # a text longer than its line reaches beyond the tip, not across the wall
    inwards = 1.0 if tip > face else -1.0
    middle = face + inwards * max(abs(tip - face) / 2, (LETTER / 2 * len(words) + 1.5) / scale)
    text = ax.text(x - 0.8 / scale, middle, words, va="center", ha="right", fontsize=style.SMALL, rotation=90)
    return parts, (text,)


def _depth_from_side(effect: ProbeEffect, case: Case, parts: tuple[Rectangle, ...], ax: Axes, scale: float) -> Text:
    """Draw how deep the tip of a probe from the side stands; what sticks out is cut off before the names."""
    container = case.container
    face, last = outer_face(effect.probe, container), mm(container.outer_radius) + 2.2 / scale
    for part in parts:
        part.set_width(max(min(part.get_x() + part.get_width(), last) - part.get_x(), 0.0))
    tip = face - mm(effect.depth)
    ends = min(part.get_y() for part in parts), max(part.get_y() + part.get_height() for part in parts)
    # above the probe; below it where the words would stand on the product's surface or on the lid
    lines, room = (mm(case.surface), mm(container.ceiling)), (LINE_HEIGHT + 3.8) / scale
    up = -1.0 if any(0.0 < line - ends[1] < room for line in lines) else 1.0
    z = ends[up > 0.0] + up * 2.5 / scale
    dimension_line(ax, (tip, z), (face, z))
    for x in (tip, face):
        ax.plot([x, x], [mm(effect.reading.z), z + up * 1.0 / scale], color=style.LINE, linewidth=0.4, zorder=3.5)
    word = "tip at" if effect.probe.mount == "inside" else "insertion"
    words = told_bare(f"{word} {LENGTH.number(effect.depth)}")
    inside = mm(container.radius_at(effect.reading.z)) - (LETTER / 2 * len(words) + 1.0) / scale
    middle = min((tip + face) / 2, inside)
    return ax.text(
        middle, z + up * 0.8 / scale, words, va="bottom" if up > 0.0 else "top", ha="center",
        fontsize=style.SMALL, zorder=5,
    )  # fmt: skip


def _narrowest(container: Container, *ends: float) -> float:
    """Least inner radius between two heights z [m]."""
    low, high = (min(max(end - container.floor, 0.0), container.inner_height) for end in sorted(ends))
    return narrowest_between(container.profile, low, high)[0]


def _draw_dimensions(shape: Shape, ax: Axes, scale: float, lowest: float) -> tuple[Text, ...]:
    """Dimension lines [mm]: fill height, headspace, inner height at the left, inner diameter of the base below."""
    case, container = shape.case, shape.case.container
    outer, inner = mm(container.outer_radius), mm(container.radius_at(container.floor))
    floor, surface, ceiling = mm(container.floor), mm(case.surface), mm(container.ceiling)
    near, far = -outer - 3.5 / scale, -outer - 20.5 / scale
    spans = [(near, floor, surface, f"fill\n{LENGTH.number(case.fill_height)}")]
    if case.headspace_height > 0.0:
        spans.insert(0, (near, surface, ceiling, f"headspace\n{LENGTH.number(case.headspace_height)}"))
    wanted = [(low + high) / 2 for _, low, high, _ in spans]
    two_lines = (2 * LINE_HEIGHT + 1.2) / scale
    middles = spread(wanted, [two_lines] * len(spans), min(wanted) - two_lines, max(wanted) + two_lines)
    spans.append((far, floor, ceiling, f"inner\nheight\n{LENGTH.number(container.inner_height)}"))
    middles.append((floor + ceiling) / 2)
    texts = []
    for (x, low, high, text), middle in zip(spans, middles, strict=True):
        dimension_line(ax, (x, low), (x, high))
        written = ax.text(x - 1.2 / scale, middle, told_bare(text), va="center", ha="right", fontsize=style.SMALL)
        # no extension line runs through a text
        written.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 0.4})
        texts.append(written)
    for z in {floor, surface, ceiling}:
        reach = near if z == surface != ceiling else far
        ax.plot(
            [reach - 1.0 / scale, mm(-container.radius_at(LENGTH.si_value(z)))],
            [z, z],
            color=style.PALE,
            linewidth=0.4,
            zorder=0.5,
        )
    below = lowest - 4.0 / scale
    if inner > 0.0:
        dimension_line(ax, (-inner, below), (inner, below))
    for x in (-inner, inner):
        ax.plot([x, x], [below - 1.0 / scale, floor], color=style.PALE, linewidth=0.4, zorder=0.5)
    at_base = "" if container.profile.is_straight else " at the base"
    origin = "the outside of the base" if container.rise is None else "the rim of the base"
    what = across(container)
    width = (
        f"inner {what} {LENGTH.number(LENGTH.si_value(2 * inner))}{at_base}" if inner > 0.0 else "pointed at the base"
    )
    text = f"{told_bare(width)}\n(all in {told_lengths()}; z from {origin})"
    texts.append(ax.text(0.0, below - 1.2 / scale, text, va="top", ha="center", fontsize=style.SMALL))
    return tuple(texts)


def number_place(face: float, end: float, scale: float, *, short: float = SHORT) -> float:
    """Place of the number of a dimension from a face to an end: half-way or, where that is short on paper, beyond."""
    if abs(end - face) * scale >= short:
        return (face + end) / 2
    return end + math.copysign(short / 2 / scale, end - face)


def dimension_line(ax: Axes, start: tuple[float, float], end: tuple[float, float]) -> None:
    """A line with arrows at both ends."""
    looks = {
        "arrowstyle": "<->",
        "linewidth": 0.6,
        "color": style.LINE,
        "shrinkA": 0,
        "shrinkB": 0,
        "mutation_scale": 5,
    }
    ax.annotate("", start, end, arrowprops=looks)
